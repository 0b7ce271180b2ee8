"""Is it a blues, and which?

A blues is known by its changes: from home to the fourth, home again, and over the dominant
home. Which bar has which is in blues.toml, with the common substitutions; the melody is not
looked at.

Conventions
-----------
* Bars of a chorus are counted from 1.
* Home is the root of the chorus's first chord: key signatures of lead sheets are of little
  help, since a blues has the flat seventh in its home chord.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kit.tune.model import ChordEvent, Tune

__all__ = ["BluesChorus", "blues_chorus", "blues_within", "lines_of"]

_DEGREES = {
    "I": 0, "bII": 1, "II": 2, "bIII": 3, "III": 4, "IV": 5, "#IV": 6, "V": 7, "bVI": 8,
    "VI": 9, "bVII": 10, "VII": 11,
}  # fmt: skip
_FRAMES = (0, 1, 2, 4, 8)
"""How many bars an intro or a coda of a blues has (common practice)."""

Chords = Sequence[Sequence[ChordEvent]]


@dataclass(frozen=True, slots=True)
class BluesChorus:
    """A row of blues.toml: what a chorus is called, and where its stations are.

    `lines` are the bars of its lines; `fourth`, `home` and `last` are bars of the chorus:
    where the fourth comes, where home comes back, and where the last line begins.
    """

    name: str
    lines: tuple[int, ...]
    fourth: int
    home: int
    last: int
    sevenths: bool
    stations: tuple[tuple[int, frozenset[int]], ...]

    @property
    def bars(self) -> int:
        """Bars of a chorus."""
        return sum(self.lines)

    def fits(self, chords: Chords) -> bool:
        """Whether the chords in force in so many bars are those of this chorus."""
        roots = [_first_root(chords[bar - 1]) for bar, _ in self.stations]
        home = roots[0]
        if home is None or any(root is None for root in roots):
            return False
        stations = zip(roots, self.stations, strict=True)
        if any((root - home) % 12 not in allowed for root, (_, allowed) in stations):  # type: ignore[operator]
            return False
        return not self.sevenths or _has_sevenths(self, chords)


def _has_sevenths(chorus: BluesChorus, chords: Chords) -> bool:
    """Whether home or the fourth sounds as a blues has it."""
    rests = (chords[0][0], chords[chorus.fourth - 1][0])
    return any(one.symbol.kind.startswith(("dominant", "minor")) for one in rests)


@cache
def _choruses() -> tuple[BluesChorus, ...]:
    table = files("kit.form").joinpath("blues.toml").read_text(encoding="utf-8")
    return tuple(_chorus(row) for row in tomllib.loads(table)["chorus"])


def _chorus(row: dict[str, object]) -> BluesChorus:
    fields = {key: value for key, value in row.items() if key != "source"}
    stations = tuple(
        (int(bar), frozenset(_DEGREES[degree] for degree in degrees.split()))
        for bar, degrees in dict(row["stations"]).items()  # type: ignore[call-overload]
    )
    fields |= {"stations": stations, "lines": tuple(row["lines"])}  # type: ignore[arg-type]
    return BluesChorus(**fields)  # type: ignore[arg-type]


def lines_of(name: str) -> tuple[int, ...]:
    """Give the bars of each line of a blues by its name.

    Raises
    ------
    KeyError
        If no blues has the name.
    """
    for chorus in _choruses():
        if chorus.name == name:
            return chorus.lines
    raise KeyError(name)


def _first_root(chords: Sequence[ChordEvent]) -> int | None:
    root = chords[0].symbol.root if chords else None
    return None if root is None else root.pitch_class


def _is_bluesy(chorus: BluesChorus, chords: Chords) -> bool:
    """Whether home and the fourth are both dominant sevenths, or both minor."""
    kinds = [chords[bar - 1][0].symbol.kind for bar in (1, chorus.fourth)]
    return any(all(kind.startswith(one) for kind in kinds) for one in ("dominant", "minor"))


def blues_chorus(played: Tune, bars: Sequence[int]) -> BluesChorus | None:
    """Say which blues some bars are, one chorus after another; None if they are none.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    bars : sequence of int
        Indices of full bars, whole choruses of them.
    """
    chords = played.all_chords_in_force()
    return _chorus_of([chords[index] for index in bars])


def _chorus_of(chords: Chords) -> BluesChorus | None:
    for chorus in _choruses():
        size = chorus.bars
        starts = range(0, len(chords), size)
        whole = bool(chords) and len(chords) % size == 0
        if whole and all(chorus.fits(chords[start : start + size]) for start in starts):
            return chorus
    return None


def blues_within(played: Tune, full: Sequence[int]) -> tuple[int, BluesChorus, int] | None:
    """Find the choruses of a blues, with what may stand before and after them.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    full : sequence of int
        The indices of its full bars.

    Returns
    -------
    (int, BluesChorus, int) or None
        The bars of an intro, what a chorus is, and how many there are; what is left over
        is a coda.
    """
    in_force = played.all_chords_in_force()
    chords = [in_force[index] for index in full]
    ways = [
        (len(chords) - count * chorus.bars, intro, chorus, count)
        for chorus in _choruses()
        for intro in _FRAMES
        for count in [(len(chords) - intro) // chorus.bars]
        if count > 0 and len(chords) - intro - count * chorus.bars in _FRAMES
    ]
    # Choruses and nothing else first: four bars that say the last line again make a blues
    # of 16 bars, and no blues of 12 with a coda.
    for left_over, intro, chorus, count in sorted(ways, key=lambda way: way[0]):
        found = _chorus_of(chords[intro : intro + count * chorus.bars])
        # Within other music the stations alone may be met by chance.
        if found == chorus and (not left_over or _is_bluesy(chorus, chords[intro:])):
            return intro, chorus, count
    return None
