"""Chord voicings against music21.harmony, an independent reading of MusicXML's kinds."""

from __future__ import annotations

import pytest
from music21 import harmony

from kit.band._voicing import allowed_tensions, voice
from kit.tune.chord import KINDS, ChordSymbol, degree_interval
from kit.tune.pitch import NoteName

# Kinds that music21's table holds under these names or the given one.
THEIR_NAME = {"dominant": "dominant-seventh", "major-minor": "minor-major-seventh"}
# music21 reads the Neapolitan as 1 ♭2 3 ♭5; we take the triad on the lowered second.
COMPARED = [
    kind for kind, row in KINDS.items()
    if row.notes and kind != "Neapolitan"
    and THEIR_NAME.get(kind, kind) in harmony.CHORD_TYPES
]  # fmt: skip


def test_most_kinds_are_compared() -> None:
    assert len(COMPARED) >= 25


@pytest.mark.parametrize("kind", COMPARED)
def test_a_voicing_is_chord_notes_by_music21_and_allowed_tensions(kind: str) -> None:
    root = NoteName("C")
    symbol = ChordSymbol(root, kind)
    theirs = harmony.ChordSymbol(root="C", kind=THEIR_NAME.get(kind, kind))
    chord = {pitch.pitchClass for pitch in theirs.pitches}
    extra = {
        (root + degree_interval(*note)).pitch_class for note in allowed_tensions(symbol)
    }
    assert {midi % 12 for midi in voice(symbol)} <= chord | extra
