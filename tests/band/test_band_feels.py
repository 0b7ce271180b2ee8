from __future__ import annotations

from fractions import Fraction

import pytest

from kit.band._drums import VOICES
from kit.band.feel import beat_groups, feel_names, load_feel
from kit.tune.model import Meter

NAMES = {
    "medium-swing", "fast-swing", "two-beat", "ballad", "jazz-waltz", "shuffle-blues",
    "bossa-nova", "samba", "son-montuno", "cha-cha", "calypso", "reggae", "second-line",
    "tango", "habanera", "polka", "march", "reel", "jig", "hornpipe", "waltz", "hymn",
    "gospel-twelve-eight", "funk", "rock", "pop", "straight-eighths", "six-eight",
}  # fmt: skip


def test_there_is_a_file_for_each_promised_feel() -> None:
    assert set(feel_names()) >= NAMES


@pytest.mark.parametrize("name", feel_names())
def test_every_feel_serves_groups_of_two_three_and_four_beats(name: str) -> None:
    feel = load_feel(name)
    for table in (feel.bass, feel.comp, feel.drums):
        assert {2, 3, 4} <= set(table)
        assert all(table[beats] for beats in (2, 3, 4))


@pytest.mark.parametrize("name", feel_names())
def test_patterns_stay_inside_their_group_and_name_known_voices(name: str) -> None:
    feel = load_feel(name)
    for beats, patterns in feel.drums.items():
        for hit in (hit for pattern in patterns for hit in pattern):
            assert 0 <= hit.at < beats
            assert hit.voice in VOICES
            assert 1 <= hit.velocity <= 127
    for beats, comp in feel.comp.items():
        assert all(0 <= at < beats and length > 0 for p in comp for at, length in p.hits)
    for beats, bass in feel.bass.items():
        for pattern in bass:
            # A bass that is ahead of the bar has no note on it; roots come by rule.
            assert pattern[0].at == 0 or pattern[0].early
            assert pattern[0].degree == 1 or pattern[0].early or feel.cycle > 1
            assert all(note.at < beats for note in pattern)
    for fill in (*feel.fills["small"], *feel.fills["big"]):
        assert all(hit.at < 2 and hit.voice in VOICES for hit in fill)


@pytest.mark.parametrize("name", feel_names())
def test_every_feel_has_a_kit_and_programs_of_general_midi(name: str) -> None:
    feel = load_feel(name)
    assert 0 <= feel.chord_program <= 31
    assert 32 <= feel.bass_program <= 39
    assert feel.swing in ("by-tempo", "straight", "triplet", "light")


@pytest.mark.parametrize("name", feel_names())
def test_every_feel_has_words_for_a_teacher_and_tempi_by_meter(name: str) -> None:
    feel = load_feel(name)
    assert feel.words.endswith(".")
    assert 20 < len(feel.words) < 130
    for meter, (slow, fast) in feel.tempi.items():
        assert str(Meter.parse(meter)) == meter
        assert 20 <= slow < fast <= 400


@pytest.mark.parametrize("name", [n for n in feel_names() if load_feel(n).cycle > 1])
def test_figures_of_several_bars_are_whole(name: str) -> None:
    feel = load_feel(name)
    for table in (feel.bass, feel.comp, feel.drums):
        for patterns in table.values():
            assert len(patterns) == 1 or len(patterns) % feel.cycle == 0


def test_a_figure_of_four_beats_fits_a_bar_of_two() -> None:
    feel = load_feel("bossa-nova")
    four = {hit.at for hit in feel.drums[4][0] if hit.voice == "side_stick"}
    two = {hit.at for hit in feel.drums[2][0] if hit.voice == "side_stick"}
    assert {2 * at for at in two} == four


def test_groups_add_up_to_the_bar() -> None:
    assert all(sum(beat_groups(beats)) == beats for beats in range(1, 30))


def test_an_unknown_feel_is_refused_with_the_list() -> None:
    with pytest.raises(ValueError, match="medium-swing"):
        load_feel("../medium-swing")


def test_thirds_are_read_as_thirds() -> None:
    places = {hit.at for hit in load_feel("six-eight").drums[2][0]}
    assert Fraction(2, 3) in places
