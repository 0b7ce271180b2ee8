"""Every chord kind of MusicXML 4.0 against music21.harmony.

Source: music21's CHORD_TYPES table (music21.harmony, BSD licence), which follows the kind
list of MusicXML 4.0. Where the two differ, `EXPLAINED` says why.
"""

import pytest
from music21 import harmony

from kit.tune.chord import KINDS, ChordSymbol
from kit.tune.pitch import NoteName

EXPLAINED = {
    "other": "has no notes of its own",
    "none": "is the absence of a chord",
    "Neapolitan": "music21 10.5 gives 1, flat 2, 3, flat 5 over the tonic; the one of any "
    "harmony textbook is the major triad on the flat second degree (common practice)",
}


def music21_pitch_classes(kind):
    symbol = harmony.ChordSymbol(root="C", kind=kind)
    return frozenset(pitch.pitchClass for pitch in symbol.pitches)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - set(EXPLAINED)))
def test_kind_has_the_pitch_classes_music21_gives(kind):
    assert ChordSymbol(NoteName("C"), kind).pitch_classes == music21_pitch_classes(kind)


def test_the_neapolitan_is_the_major_triad_on_the_flat_second():
    # Common practice: D flat, F, A flat in C.
    assert ChordSymbol(NoteName("C"), "Neapolitan").pitch_classes == {1, 5, 8}
