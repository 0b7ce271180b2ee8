import re
from dataclasses import replace
from pathlib import Path

import pytest

from kit.engrave.drawing import engrave_excerpt
from kit.engrave.pair import ABOVE, engrave_pair
from kit.lesson.lesson import open_lesson

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def parts():
    lesson = open_lesson(ROOT / "lessons" / "the-girl-i-left-behind-me")
    return tuple(lesson.part(name, "clarinet") for name in ("beginner", "intermediate"))


def ids(svg, pattern):
    return re.findall(rf'data-id="({pattern})"', svg)


def test_every_note_of_both_parts_is_there_once(parts):
    svg = engrave_pair(*parts, first=0, last=4).svg
    for part, mark in zip(parts, (ABOVE, ""), strict=True):
        alone = ids(engrave_excerpt(part, first=0, last=4).svg, r"b\d+n\d+")
        assert sorted(ids(svg, rf"{mark}b\d+n\d+")) == sorted(mark + name for name in alone)


def test_bars_are_shared_by_both_staves(parts):
    svg = engrave_pair(*parts, first=1, last=4).svg
    assert ids(svg, r"s?b\d+") == ["b1", "b2", "b3", "b4"]
    assert svg.count('class="staff"') == 8


def test_changes_stand_once_if_they_are_the_same_and_twice_if_not(parts):
    lower = parts[1]
    svg = engrave_pair(*parts, first=1, last=4).svg
    upper_chords = ids(svg, rf"{ABOVE}b\d+c\d+")
    assert upper_chords
    assert ids(svg, r"b\d+c\d+") == []
    bars = list(lower.tune.bars)
    bars[2] = replace(bars[2], chords=bars[1].chords)
    other = replace(lower, tune=replace(lower.tune, bars=tuple(bars)))
    svg = engrave_pair(parts[0], other, first=1, last=4).svg
    assert ids(svg, rf"{ABOVE}b\d+c\d+") == upper_chords
    assert "b2c0" in ids(svg, r"b\d+c\d+")


def test_a_bar_that_is_not_there_is_refused(parts):
    with pytest.raises(ValueError, match="there are no bars"):
        engrave_pair(*parts, first=0, last=999)
