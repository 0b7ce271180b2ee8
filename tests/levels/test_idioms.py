"""Idioms: told by words or by the music, each with its tempo, route and vocabulary."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.levels.edits import OPERATIONS
from kit.levels.idioms import idiom_named, idiom_of, idioms
from kit.tune.model import Meter


@pytest.mark.parametrize(
    ("meter", "feel", "named"),
    [
        ("6/8", "jig", "jig"),
        ("9/8", "slip jig", "slip jig"),
        ("2/2", "Reel", "reel"),
        ("2/4", "Hornpipe", "hornpipe"),
        ("4/4", "Strathspey", "strathspey"),
        ("6/8", "Quick step", "march"),
        ("3/4", "Waltz", "waltz"),
        ("4/4", "Medium swing", "jazz"),
        ("4/4", "Hymn", "hymn"),
        ("4/4", "Slow air", "air"),
    ],
)
def test_a_word_names_the_idiom(build, meter, feel, named):
    tune = replace(build("c4|", meter="4/4"), feel=feel)
    bar = replace(tune.bars[0], meter=Meter.parse(meter))
    assert idiom_of(replace(tune, bars=(bar,))).name == named


def test_a_word_for_a_dance_in_another_meter_is_passed_over(build):
    """Ryan's has reels in 2/4 that call themselves jigs in the title."""
    tune = replace(build("c/d/e/f/|" * 8, meter="2/4"), title="Clog Jig")
    assert idiom_of(tune).name == "hornpipe"


BLUES = (
    '"C7"c4|"F7"c4|"C7"c4|"C7"c4|"F7"c4|"F7"c4|"C7"c4|"C7"c4|"G7"d4|"F7"c4|"C7"c4|"G7"d4|'
)


@pytest.mark.parametrize(
    ("body", "meter", "named"),
    [
        (BLUES, "4/4", "blues"),
        ('"Dm7"d4|"G7"f4|"Cmaj7"e4|"Cmaj7"e4|', "4/4", "jazz"),
        ("c/d/e/ f/g/a/|" * 8, "6/8", "jig"),
        ("c3/2 e/ d|" * 8, "6/8", "air"),
        ("c/d/e/f/ g/f/e/d/|" * 8, "2/2", "reel"),
        ('"C"c2 e|"G"d3|"C"e2 c|"G"B3|', "3/4", "waltz"),
        ('"C"c "F"d "C"e "G"d|' * 8, "4/4", "hymn"),
        ('"C"c d e f|"G"g2 d2|', "4/4", "song"),
    ],
)
def test_without_words_the_music_decides(build, body, meter, named):
    assert idiom_of(build(body, meter=meter)).name == named


def test_a_reel_in_cut_time_is_not_140_half_notes(build):
    """Dancing tempo of a reel: 104 to 120 half notes (common practice)."""
    for meter, body, beats in (("2/2", "c4|", 1), ("4/4", "c4|", 2), ("2/4", "c2|", 1)):
        tune = replace(build(body, meter=meter), feel="reel")
        tempi = idiom_of(tune).ladder(tune)
        assert 104 <= tempi[-1] / beats <= 120
        assert tempi[0] < tempi[1] < tempi[2]


def test_a_jig_is_counted_in_dotted_quarters(build):
    tune = replace(build("c/d/e/ f/g/a/|", meter="6/8"), feel="jig")
    assert 108 <= idiom_of(tune).ladder(tune)[-1] <= 127


def test_a_files_own_tempo_is_the_fastest_levels_within_the_idiom(build):
    tune = replace(build('"Dm7"d4|"G7"f4|'), tempo_qpm=200.0)
    assert idiom_of(tune).ladder(tune)[-1] == 200
    reel = replace(build("c d e f|", meter="2/2"), feel="reel", tempo_qpm=999.0)
    assert idiom_of(reel).ladder(reel)[-1] == idiom_named("reel").range[1]


def test_every_row_is_complete_and_names_known_edits():
    for idiom in idioms().values():
        assert set(idiom.edits) <= set(OPERATIONS), idiom.name
        assert idiom.range[0] <= idiom.tempo <= idiom.range[1]
        assert list(idiom.steps) == sorted(set(idiom.steps))


@pytest.mark.parametrize("name", ["reel", "jig", "slip jig", "hornpipe", "hymn", "air"])
def test_no_dance_air_or_hymn_has_jazz_in_it(name):
    idiom = idiom_named(name)
    jazz = {"tritone substitute", "ii before V", "early", "scoop", "ghost", "enclosure"}
    assert not jazz & set(idiom.edits)
    assert not idiom.solo
    assert idiom.tag == 1
    assert not idiom.chromatic
