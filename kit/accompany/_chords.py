"""From which chords can one choose in a mode, and what does each of them do there?

The table is ``chords.toml`` beside this module; its head says what stands in a row.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from kit.tune.chord import KINDS, ChordSymbol, degree_interval
from kit.tune.pitch import Key

__all__ = ["Candidate", "Function", "candidates", "table_of"]

Function = Literal["T", "S", "D"]
"""Tonic, subdominant, dominant."""

_TABLE_OF_MODE = {
    "major": "major", "ionian": "major", "minor": "minor", "aeolian": "minor",
    "dorian": "dorian", "mixolydian": "mixolydian", "lydian": "lydian",
    "phrygian": "phrygian",
    # Its own tonic chord is diminished and bears no tune: accompanied as minor.
    "locrian": "minor",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Candidate:
    """A chord over the tonic of a mode.

    Parameters
    ----------
    numeral, function, share, leads_to
        As in the table, `share` as a fraction.
    root : int
        Semitones above the tonic.
    tones : tuple of int
        Root, third and fifth in semitones above the tonic, 0 to 11.
    degree, alter, kind
        For spelling.
    """

    numeral: str
    function: Function
    share: float
    degree: int
    alter: int
    kind: str
    root: int
    tones: tuple[int, ...]
    leads_to: str = ""

    @property
    def is_home(self) -> bool:
        """Whether it is the tonic chord of its mode."""
        return self.root == 0

    @property
    def is_dominant(self) -> bool:
        """Whether it is the major chord on the fifth degree."""
        return self.root == 7 and self.kind == "major"

    def symbol(self, key: Key, *, seventh: bool = False) -> ChordSymbol:
        """Spell it in a key, a major chord with a minor seventh if asked for."""
        kind = "dominant" if seventh and self.kind == "major" else self.kind
        return ChordSymbol(key.tonic + degree_interval(self.degree, self.alter), kind)


@cache
def candidates(mode: str) -> tuple[Candidate, ...]:
    """Give the chords of a mode, the usual ones first.

    Examples
    --------
    >>> [chord.numeral for chord in candidates("dorian")[:3]]
    ['i', '♭VII', 'IV']
    """
    rows = _table()[table_of(mode)]
    whole = sum(row["share"] for row in rows)
    found = [_candidate(row, whole) for row in rows]
    return tuple(sorted(found, key=lambda chord: -chord.share))


def table_of(mode: str) -> str:
    """Name the mode whose chords serve for a mode.

    Examples
    --------
    >>> table_of("aeolian")
    'minor'
    """
    return _TABLE_OF_MODE.get(mode, "major")


@cache
def _table() -> Mapping[str, list[dict[str, Any]]]:
    return tomllib.loads(files("kit.accompany").joinpath("chords.toml").read_text("utf-8"))


def _candidate(row: Mapping[str, Any], whole: float) -> Candidate:
    degree, alter = row["degree"], row.get("alter", 0)
    root = degree_interval(degree, alter).semitones % 12
    tones = [degree_interval(*note).semitones for note in KINDS[row["kind"]].notes]
    return Candidate(
        numeral=row["numeral"],
        function=row["function"],
        share=row["share"] / whole,
        degree=degree,
        alter=alter,
        kind=row["kind"],
        root=root,
        tones=tuple((root + tone) % 12 for tone in tones),
        leads_to=row.get("leads_to", ""),
    )
