"""The tables of fingerings against acoustics.

Source: a valve lowers a partial by 2, 1 or 3 half steps, a position of the slide by one
half step more than the last; partials of a tube are whole multiples of its lowest note (any
handbook of acoustics). A register key raises the clarinet, closed at one end, to its third
partial, a twelfth; the octave key raises the conical saxophone and oboe by an octave,
blowing the flute, and their fingerings repeat there.
"""

from math import log2

import pytest

from kit.instruments._fingerings import FINGERING_NAMES, fingerings
from kit.instruments.table import all_instruments
from kit.tune.pitch import Pitch

VALVES = {"1": 2, "2": 1, "3": 3, "T": 0}


def midi(name):
    return Pitch.parse(name).midi


def partials(lowest, *, seventh=False):
    """Give the partials up to the 16th as MIDI numbers, those far out of tune left out."""
    out_of_tune = {11, 13, 14} | (set() if seventh else {7})
    return {lowest + round(12 * log2(number)) for number in set(range(1, 17)) - out_of_tune}


def ways(name):
    table = fingerings(name)
    return [(note, grip) for note, grips in table.grips.items() for grip in grips]


@pytest.mark.parametrize(("note", "grip"), ways("three-valves"))
def test_valves_lower_a_partial_to_the_note(note, grip):
    assert note + sum(VALVES[valve] for valve in grip) in partials(midi("C3"))


@pytest.mark.parametrize(("note", "grip"), ways("horn"))
def test_the_horns_valves_lower_a_partial_of_either_side(note, grip):
    lowest = midi("F2") if "T" in grip else midi("C2")
    assert note + sum(VALVES[valve] for valve in grip) in partials(lowest)


@pytest.mark.parametrize(("note", "grip"), ways("trombone"))
def test_positions_lower_a_partial_to_the_note(note, grip):
    """The seventh partial is used by trombonists, who can bring it into tune."""
    position = int(grip["slide"])
    assert 1 <= position <= 7
    assert note + position - 1 in partials(midi("Bb1"), seventh=True)


def test_no_usual_position_is_on_the_seventh_partial_but_where_it_is_common():
    """G4 in 2nd and F sharp 4 in 3rd position: common practice."""
    usual = {note: grips[0] for note, grips in fingerings("trombone").grips.items()}
    plain = partials(midi("Bb1"))
    odd = {
        note for note, grip in usual.items() if note + int(grip["slide"]) - 1 not in plain
    }
    assert odd == {midi("G4"), midi("F#4")}


REPEATS = [
    ("saxophone", "D4", "C#5", 12, {"O"}),
    ("clarinet", "E3", "F4", 19, {"REG"}),
    ("oboe", "E4", "G#4", 12, {"O1"}),
    ("oboe", "A4", "C5", 12, {"O2"}),
    ("flute", "E4", "C#5", 12, set()),
]


@pytest.mark.parametrize(("name", "first", "last", "up", "key"), REPEATS)
def test_the_next_register_has_the_same_fingers(name, first, last, up, key):
    grips = fingerings(name).grips
    for note in range(midi(first), midi(last) + 1):
        higher = [{**dict.fromkeys(key, ""), **grip} for grip in grips[note]]
        assert [dict(grip) for grip in grips[note + up]][: len(higher)] == higher[
            : len(grips[note + up])
        ]


@pytest.mark.parametrize("name", FINGERING_NAMES)
def test_every_note_of_a_table_has_a_way_of_its_own(name):
    """Within a register; what repeats at the octave is told by breath or octave key."""
    grips = fingerings(name).grips
    assert set(grips) <= set(range(min(grips), max(grips) + 1))
    for note, some in grips.items():
        assert some
        if fingerings(name).hands == "fingers":
            near = [grips[n][0] for n in range(note - 4, note) if n in grips]
            assert some[0] not in near


@pytest.mark.parametrize(
    "player", [each for each in all_instruments() if each.fingering], ids=lambda p: p.slug
)
def test_the_table_holds_what_an_intermediate_player_plays(player):
    """All but the oboe and the bassoon, whose tables end where players differ."""
    name, up = player.fingering
    notes = set(fingerings(name).grips)
    reach = player.comfortable_range("intermediate")
    needed = set(range(reach.low.midi - up.semitones, reach.high.midi - up.semitones + 1))
    missing = needed - notes
    if name == "bassoon":
        assert min(missing) > midi("D4")
    else:
        assert not missing
