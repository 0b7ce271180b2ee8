"""At what pitch does each letter of an ABC tune sound?

Conventions
-----------
* An accidental holds to the end of its bar, in all octaves unless the file says otherwise
  (ABC 2.1, section 11.3, "propagate-accidentals"), and over a tie (common practice).
* ``C`` is middle C, ``c`` the octave above; a comma is an octave down, an apostrophe up.
* The pitch is the one that sounds: octave and transposition of the key field are applied.

Source: ABC standard 2.1, sections 4.1, 4.2 and 11.3.
"""

from __future__ import annotations

import re

from kit.tune._bar_draft import NoteDraft
from kit.tune.abc._fields import AbcKey
from kit.tune.pitch import Interval, Pitch

__all__ = ["AbcPitches"]

_ALTER = {"^^": 2, "__": -2, "^": 1, "_": -1, "=": 0}
_UNISON = Interval(0, 0)


class AbcPitches:
    """Knows the key and the accidentals in force.

    Parameters
    ----------
    key : AbcKey
        May be set anew where the key changes.
    propagation : "pitch", "octave" or "not"
        How far an accidental reaches within its bar.
    """

    def __init__(self, key: AbcKey, propagation: str) -> None:
        self.key = key
        self._propagation = propagation
        self._accidentals: dict[str, int] = {}

    def end_bar(self) -> None:
        """Forget the accidentals at a bar line."""
        self._accidentals = {}

    def of(self, note: re.Match[str], last: NoteDraft | None) -> Pitch:
        """Give the pitch of a note as matched by `abc_tokens.NOTE`.

        Parameters
        ----------
        note : re.Match
        last : NoteDraft, optional
            The note before it, which may be tied to it.
        """
        step = note["letter"].upper()
        octave = 4 + note["letter"].islower() + self.key.octaves
        octave += note["octave"].count("'") - note["octave"].count(",")
        spot = step if self._propagation == "pitch" else f"{step}{octave}"
        if note["accidental"]:
            alter = _ALTER[note["accidental"]]
            if self._propagation != "not":
                self._accidentals[spot] = alter
        elif spot in self._accidentals:
            alter = self._accidentals[spot]
        else:
            alter = self._held_over(step, octave, last)
        return self._sounding(Pitch(step, alter, octave))

    def _held_over(self, step: str, octave: int, last: NoteDraft | None) -> int:
        """Give the alteration of the tied note before, or that of the key."""
        plain = self.key.alter_of(step)
        if last is None or not last.tied or last.pitch is None:
            return plain
        # The tied note sounds transposed already: find the sign that brings it there.
        for alter in (plain, 0, 1, -1, 2, -2):
            if self._sounding(Pitch(step, alter, octave)) == last.pitch:
                return alter
        return plain

    def _sounding(self, pitch: Pitch) -> Pitch:
        moved = self.key.transposition
        return pitch + moved if moved != _UNISON else pitch
