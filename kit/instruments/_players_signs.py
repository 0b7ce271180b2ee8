"""Which signs of a sheet speak to players of other instruments only?

A fiddle tune has bowings, and a saxophonist has no bow. Such signs are left out of a part,
and kept beside it, so that the sheet can be had back.

Source: common practice; the signs are MusicXML's ``technical`` ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kit.tune.model import Bar

__all__ = ["SignsLeftOut", "with_own_signs", "with_signs_as_before"]

_BOWINGS = frozenset({"up-bow", "down-bow", "open-string"})
# The horn player's hand, the trumpeter's plunger: of the winds only brass has them.
_HANDS = frozenset({"stopped", "open"})
_FOREIGN = dict.fromkeys(
    ("saxophone", "clarinet", "double reed", "flute", "recorder", "voice"),
    _BOWINGS | _HANDS,
) | {"brass": _BOWINGS}
"""By family; strings, scores and a teacher's own kinds of instrument keep every sign."""


@dataclass(frozen=True, slots=True)
class SignsLeftOut:
    """A note some of whose signs were left out; `was` are all that it had, in order."""

    bar: int
    position: int
    was: tuple[str, ...]


def with_own_signs(
    bars: Sequence[Bar], family: str
) -> tuple[tuple[Bar, ...], tuple[SignsLeftOut, ...]]:
    """Leave out what no player of a family reads, and say where.

    Parameters
    ----------
    bars : sequence of Bar
        Of a part.
    family : str
        As the table of instruments names it.
    """
    foreign = _FOREIGN.get(family, frozenset())
    left_out: list[SignsLeftOut] = []
    mended = list(bars)
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            own = tuple(mark for mark in note.marks if mark not in foreign)
            if own != note.marks:
                left_out.append(SignsLeftOut(index, position, note.marks))
                _set_signs(mended, index, position, own)
    return tuple(mended), tuple(left_out)


def with_signs_as_before(
    bars: Sequence[Bar], left_out: Sequence[SignsLeftOut]
) -> tuple[Bar, ...]:
    """Put back what was left out."""
    restored = list(bars)
    for place in left_out:
        _set_signs(restored, place.bar, place.position, place.was)
    return tuple(restored)


def _set_signs(bars: list[Bar], index: int, position: int, signs: tuple[str, ...]) -> None:
    notes = list(bars[index].notes)
    notes[position] = replace(notes[position], marks=signs)
    bars[index] = replace(bars[index], notes=tuple(notes))
