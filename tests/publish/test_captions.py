"""Captions and chapters, read by a registry library, fit the timing map."""

import io

import pytest
import webvtt

from kit.publish.recording.captions import bar_words, captions_vtt
from kit.route.timing import chapters, chapters_vtt, timing_map, vtt_text


def read(text):
    return list(webvtt.from_buffer(io.BytesIO(text.encode())))


def seconds(time):
    """Read ``00:01:02.500``; the library's own count drops the milliseconds."""
    hours, minutes, rest = time.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


@pytest.fixture(scope="module", params=["easy", "hard"])
def level(request, lesson):
    return lesson.level(request.param)


def test_each_bar_has_one_cue_that_begins_with_it(level):
    bars = timing_map(level.route, level.tempo_qpm)["bars"]
    cues = read(captions_vtt(level))
    assert cues[0].text == "Count-in"
    assert len(cues) == len(bars) + 1
    for cue, bar in zip(cues[1:], bars, strict=True):
        assert seconds(cue.start) == pytest.approx(bar["start"], abs=0.001)
        assert str(bar["number"] or "pick-up") in cue.text
        assert bar["section"] in cue.text


@pytest.mark.parametrize("write", [captions_vtt, lambda level: chapters_vtt(
    level.route, level.tempo_qpm)])  # fmt: skip
def test_cues_follow_one_another_without_gap_or_overlap(level, write):
    cues = read(write(level))
    ends = [seconds(cue.end) for cue in cues]
    assert [seconds(cue.start) for cue in cues] == [0, *ends[:-1]]
    assert ends[-1] == pytest.approx(level.count_in_s + level.seconds, abs=0.001)


def test_chapters_are_the_sections_in_the_order_played(level):
    titles = [title for _, _, title in chapters(level.route, level.tempo_qpm)]
    assert [cue.text for cue in read(chapters_vtt(level.route, level.tempo_qpm))] == titles
    assert titles[:2] == ["Count-in", "Head A, bar 1"]


def test_solo_and_tag_are_told_apart():
    bar = {"kind": "solo", "section": "A", "number": 5}
    assert bar_words(bar) == "Solo A, bar 5"
    assert bar_words(bar | {"kind": "tag"}) == "Tag A, bar 5"
    assert bar_words(bar | {"kind": "head", "number": 0}) == "A, pick-up"


def test_hostile_section_names_stay_text():
    assert vtt_text("<b>A & B</b>\n\n00:00 --> 01:00") == (
        "&lt;b>A &amp; B&lt;/b> 00:00 → 01:00"
    )
