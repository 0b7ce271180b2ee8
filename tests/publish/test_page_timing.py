from __future__ import annotations

import pytest

from kit.publish.page_timing import note_spans, route_rows


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
