from __future__ import annotations

import shutil

import pytest

from kit.lesson.lesson import open_lesson
from kit.publish.page.timing import click_rows, note_spans, route_rows
from kit.tracks.rendition import rendition


def test_straight_eighths_divide_the_bar_evenly(lesson):
    first = note_spans(lesson.level("easy"))[1]
    assert [round(start, 3) for _, start, _ in first] == [0.0, 0.25, 0.5, 0.75]


def test_swung_off_beats_come_late_and_beats_stay(lesson):
    spans = note_spans(lesson.level("hard"))[7]
    straight = note_spans(lesson.level("easy"))[7]
    assert len(spans) == len(straight)
    for (_, swung, _), (_, even, _) in zip(spans, straight, strict=True):
        if (even * 4) % 1 == 0:
            assert swung == pytest.approx(even, abs=1e-4)
        else:
            assert 0.02 < swung - even < 0.125


def test_a_pickup_is_counted_from_the_end_of_its_bar(lesson):
    (_, start, off_beat), (_, second, end) = note_spans(lesson.level("hard"))[0]
    assert start == 0
    assert off_beat == second > 0.55
    assert end == pytest.approx(1.0)


def test_rests_light_nothing(lesson):
    bar = lesson.level("easy").sheet.bars[7]
    lit = {position for position, _, _ in note_spans(lesson.level("easy"))[7]}
    assert lit == {k for k, note in enumerate(bar.notes) if not note.is_rest}


def test_each_row_ends_where_the_map_says(lesson):
    level = lesson.level("hard")
    rows = route_rows(level)
    assert len(rows) == len(level.route.bars)
    assert rows[-1][1] == pytest.approx(level.count_in_s + level.seconds, abs=1e-5)


def test_the_pages_metronome_clicks_on_the_beats_of_every_full_bar(lesson):
    clicks = click_rows(lesson, "easy")
    rows = route_rows(lesson.level("easy"))
    full = [(row[0], row[1], int(row[9])) for row in rows if row[9] > 1]
    assert len(full) < len(rows), "a pick-up has no click of its own"
    assert [second for second, strong in clicks if strong] == pytest.approx(
        [start for start, _, _ in full], abs=1e-4
    )
    beats = [
        start + n * (end - start) / count
        for start, end, count in full
        for n in range(count)
    ]
    assert [second for second, _ in clicks] == pytest.approx(beats, abs=1e-4)


@pytest.mark.parametrize(
    ("meter", "more"),
    [
        ("4/4", ""),
        ("2/2", ""),
        ("4/4", 'section_feels = { B = "bossa-nova" }'),
        ("4/4", 'section_feels = { A = "straight-eighths" }'),
    ],
)
def test_notes_light_when_the_melody_player_plays_them(folder, tmp_path, meter, more):
    place = shutil.copytree(folder, tmp_path / "fish")
    for name in ("tune.abc", "levels/hard.abc"):
        text = (place / name).read_text(encoding="utf-8")
        (place / name).write_text(text.replace("M:4/4", f"M:{meter}"), encoding="utf-8")
    settings = (place / "lesson.toml").read_text(encoding="utf-8")
    feel = 'feel = "medium-swing"\n'
    settings = settings.replace(feel, f"{feel}steady = true\n{more}\n")
    (place / "lesson.toml").write_text(settings, encoding="utf-8")
    lesson = open_lesson(place)
    level = lesson.level("hard")
    played = sorted(
        note.start_s for note in rendition(lesson, "hard").perform().of("melody")
    )
    spans = note_spans(level)
    lit = sorted(
        start + share * (end - start)
        for start, end, sheet_index, *_, melody, _ in route_rows(level)
        for _, share, _ in (spans[sheet_index] if melody else ())
    )
    assert len(lit) > 40
    for moment in lit:
        assert min(abs(moment - other) for other in played) < 0.012
