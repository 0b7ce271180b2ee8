from __future__ import annotations

import random
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.band._voicing import REGISTER, allowed_tensions, movement, voice
from kit.tune.chord import KINDS, ChordSymbol, Degree, degree_interval
from kit.tune.pitch import Key, NoteName

PLAYABLE = [kind for kind, row in KINDS.items() if row.notes]
ROOTS = [NoteName.from_fifths(fifths) for fifths in range(-6, 7)]


@given(st.sampled_from(PLAYABLE), st.sampled_from(ROOTS), st.booleans(), st.integers(-7, 7))
def test_a_voicing_holds_chord_notes_and_allowed_tensions_only(
    kind: str, root: NoteName, to_minor: bool, fifths: int
) -> None:
    symbol = ChordSymbol(root, kind)
    key = Key(fifths)
    extra = {
        (root + degree_interval(*note)).pitch_class
        for note in allowed_tensions(symbol, key=key, to_minor=to_minor)
    }
    layout = voice(symbol, key=key, to_minor=to_minor)
    assert {midi % 12 for midi in layout} <= symbol.pitch_classes | extra
    assert REGISTER[0] <= layout[0] <= layout[-1] <= REGISTER[1]
    assert len(set(layout)) == len(layout)


@pytest.mark.parametrize(
    "kind", ["dominant", "minor-seventh", "major-seventh", "half-diminished"]
)
def test_third_and_seventh_are_always_there(kind: str) -> None:
    for root in ROOTS:
        symbol = ChordSymbol(root, kind)
        classes = {midi % 12 for midi in voice(symbol)}
        third, seventh = symbol.degree(3), symbol.degree(7)
        assert third is not None
        assert seventh is not None
        assert {third.pitch_class, seventh.pitch_class} <= classes


def test_an_altered_note_is_always_there() -> None:
    symbol = ChordSymbol(NoteName("G"), "dominant", (Degree(9, -1),))
    assert 8 in {midi % 12 for midi in voice(symbol)}


@pytest.mark.parametrize("kind", PLAYABLE)
def test_tensions_do_not_grind_against_a_chord_note(kind: str) -> None:
    """A tension a semitone above a chord note is kept for dominants (common practice)."""
    symbol = ChordSymbol(NoteName("C"), kind)
    for note in allowed_tensions(symbol):
        tension = (NoteName("C") + degree_interval(*note)).pitch_class
        assert (tension - 1) % 12 not in symbol.pitch_classes


def test_tensions_stay_in_the_key() -> None:
    iii = ChordSymbol(NoteName("E"), "minor-seventh")
    assert (9, 0) not in allowed_tensions(iii, key=Key.parse("C major"))
    assert (9, 0) in allowed_tensions(iii, key=Key.parse("D major"))


def test_a_dominant_to_minor_is_altered() -> None:
    layout = voice(ChordSymbol(NoteName("G"), "dominant"), to_minor=True)
    assert not {9, 4} & {midi % 12 for midi in layout}, "no natural ninth or thirteenth"


def test_no_minor_ninth_over_a_sounding_melody_note() -> None:
    symbol = ChordSymbol(NoteName("C"), "major-seventh")
    layout = voice(symbol, melody=(71,), key=Key(0))
    assert all((midi - 71) % 12 != 1 for midi in layout)


def test_voices_move_far_less_than_by_chance() -> None:
    """Mean movement per voice over a cycle of ii-V-I against random layouts."""
    rng = random.Random(3)
    led: list[float] = []
    chance: list[float] = []
    before: tuple[int, ...] = ()
    blind: tuple[int, ...] = ()
    for tonic in range(0, -12, -1):
        for shift, kind in ((2, "minor-seventh"), (1, "dominant"), (0, "major-seventh")):
            symbol = ChordSymbol(NoteName.from_fifths(tonic % 12 - 5 + shift), kind)
            layout = voice(symbol, before=before)
            classes = sorted({midi % 12 for midi in layout})
            scattered = tuple(
                sorted(
                    rng.choice([m for m in range(50, 75) if m % 12 == c]) for c in classes
                )
            )
            if before:
                led.append(movement(before, layout))
                chance.append(movement(blind, scattered))
            before, blind = layout, scattered
    assert sum(led) / len(led) < 1.6
    assert sum(led) / len(led) < 0.7 * sum(chance) / len(chance)


def test_no_second_lies_low() -> None:
    for kind in PLAYABLE:
        for root in ROOTS:
            layout = voice(ChordSymbol(root, kind), key=Key(0))
            assert all(b - a > 2 or a >= 53 for a, b in pairwise(layout)), (
                root,
                kind,
                layout,
            )


def test_no_chord_has_no_voicing() -> None:
    with pytest.raises(ValueError, match="no voicing"):
        voice(ChordSymbol(None, "none"))
