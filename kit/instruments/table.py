"""Which instruments there are, and what each of them needs.

Conventions
-----------
* `written_above_concert` goes from the sounding to the written pitch: a major sixth for
  the alto saxophone.
* All ranges are written pitches, lowest and highest.
* Levels are called beginner, intermediate and advanced; a level of any other name is
  treated like intermediate.

The table is `instruments.toml`, where its sources stand; a lesson may add rows or overrule
them.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from kit.errors import LessonError
from kit.instruments._fingerings import FINGERING_NAMES
from kit.tune.musicxml.write import CLEFS
from kit.tune.pitch import Interval, Pitch

__all__ = ["LEVEL_NAMES", "Break", "Instrument", "Range", "all_instruments", "instrument"]

LEVEL_NAMES = ("beginner", "intermediate", "advanced")
Vibrato = Literal["always", "swing", "never"]
VIBRATO_CENTS = 11.0
"""Added to what the sampled sounds have of their own (our choice)."""
VIBRATOS: tuple[Vibrato, ...] = ("always", "swing", "never")
_ROW_KEYS = frozenset(
    {
        "name", "family", "written", "clef", "range", "program", "levels",
        "breath_s", "breaks", "fingering", "vibrato",
    }
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Range:
    """The written pitches from lowest to highest, both included."""

    low: Pitch
    high: Pitch

    def __contains__(self, pitch: Pitch) -> bool:
        """Whether a pitch lies in the range, by sound."""
        return self.low.midi <= pitch.midi <= self.high.midi

    def excess(self, pitch: Pitch) -> int:
        """How many semitones a pitch lies outside, 0 inside."""
        return max(self.low.midi - pitch.midi, pitch.midi - self.high.midi, 0)

    def __str__(self) -> str:
        """Print as ``D4 to A5``."""
        return f"{self.low} to {self.high}"


@dataclass(frozen=True, slots=True)
class Break:
    """An awkward crossing between two written pitches, and why it is one."""

    below: Pitch
    above: Pitch
    why: str

    def crossed_by(self, first: Pitch, second: Pitch) -> bool:
        """Whether two pitches in a row cross it within a fifth.

        Wider leaps change the register in any case.

        Parameters
        ----------
        first, second : Pitch
            Written pitches, in either order.
        """
        low, high = sorted((first, second))
        crosses = low.midi <= self.below.midi and high.midi >= self.above.midi
        # Half steps: a fifth.
        return crosses and high.midi - low.midi <= 7


@dataclass(frozen=True, slots=True)
class Instrument:
    """One row of the table."""

    slug: str
    name: str
    family: str
    written_above_concert: Interval
    clef: str
    range_written: Range
    comfortable: tuple[tuple[str, Range], ...]
    gm_program: int
    breath_s: tuple[tuple[str, float], ...] = ()
    breaks: tuple[Break, ...] = ()
    fingering: tuple[str, Interval] | None = None
    vibrato: Vibrato = "always"

    @classmethod
    def from_row(cls, slug: str, row: Mapping[str, Any]) -> Instrument:
        """Read one table of `instruments.toml`, or a lesson's own of the same kind.

        Raises
        ------
        LessonError
            If an entry is missing, unknown or makes no sense.
        """
        unknown = sorted(set(row) - _ROW_KEYS)
        if unknown:
            raise LessonError(
                f'the instrument {slug} has an unknown entry "{unknown[0]}"',
                remedy=f"the entries are {', '.join(sorted(_ROW_KEYS))}",
            )
        try:
            return cls._from_checked_row(slug, row)
        except KeyError as error:
            raise LessonError(
                f'the instrument {slug} lacks the entry "{error.args[0]}"',
                remedy="add it to the instrument's table",
            ) from error
        except (ValueError, TypeError, AttributeError) as error:
            raise LessonError(
                f"the instrument {slug} cannot be used: {error}",
                remedy="compare it with a row of the instrument table",
            ) from error

    @classmethod
    def _from_checked_row(cls, slug: str, row: Mapping[str, Any]) -> Instrument:
        name = _text(row["name"], "name")
        full = _range(row["range"])
        clef = row.get("clef", "treble")
        if clef not in CLEFS:
            raise ValueError(f"no clef {clef!r}; there are {', '.join(CLEFS)}")
        program = row.get("program", 0)
        if not isinstance(program, int) or not 0 <= program <= 127:
            raise ValueError("program is a number from 0 to 127")
        levels = {level: _range(ends) for level, ends in row.get("levels", {}).items()}
        for level, comfortable in levels.items():
            if comfortable.low not in full or comfortable.high not in full:
                raise ValueError(f"the {level} range leaves the instrument's range")
        breaths = row.get("breath_s", {})
        vibrato = row.get("vibrato", "always")
        if vibrato not in VIBRATOS:
            raise ValueError(f"vibrato is one of {', '.join(VIBRATOS)}, not {vibrato!r}")
        return cls(
            slug=slug,
            name=name,
            family=_text(row.get("family", "other"), "family"),
            written_above_concert=Interval.parse(_text(row["written"], "written")),
            clef=clef,
            range_written=full,
            comfortable=tuple(levels.items()),
            gm_program=program,
            breath_s=tuple((at, float(length)) for at, length in breaths.items()),
            breaks=tuple(
                Break(Pitch.parse(below), Pitch.parse(above), _text(why, "breaks"))
                for below, above, why in row.get("breaks", ())
            ),
            fingering=_fingering(row["fingering"]) if "fingering" in row else None,
            vibrato=vibrato,
        )

    def comfortable_range(self, level: str) -> Range:
        """Give the written range that lies well at a level."""
        ranges = dict(self.comfortable)
        return ranges.get(level) or ranges.get("intermediate") or self.range_written

    def vibrato_cents(self, level: str, *, swings: bool) -> float:
        """Give the depth of vibrato that a player of a level has, each way.

        Parameters
        ----------
        level : str
            Beginners are taught a steady tone first and have half of it, and none on what
            has it in swung music only (common practice).
        swings : bool
            Whether the music is swung.
        """
        is_beginner = level == LEVEL_NAMES[0]
        if self.vibrato == "never":
            return 0.0
        if self.vibrato == "swing" and (is_beginner or not swings):
            return 0.0
        return VIBRATO_CENTS / 2 if is_beginner else VIBRATO_CENTS

    def breath_length_s(self, level: str) -> float | None:
        """Give the seconds that one breath carries at a level, None if it takes none."""
        lengths = dict(self.breath_s)
        return lengths.get(level) or lengths.get("intermediate")

    @property
    def transposes(self) -> bool:
        """Whether the written pitch differs from the sounding one."""
        return self.written_above_concert != Interval(0, 0)


def _text(value: object, entry: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{entry} is a text in quotation marks")
    return value


def _range(ends: object) -> Range:
    if not isinstance(ends, list | tuple) or len(ends) != 2:
        raise ValueError('a range is two notes, such as ["D4", "A5"]')
    low, high = (Pitch.parse(_text(end, "range")) for end in ends)
    if low.midi >= high.midi:
        raise ValueError(f"a range goes upward, not from {low} to {high}")
    return Range(low, high)


def _fingering(entry: object) -> tuple[str, Interval]:
    """Read which table of fingerings serves, and how far above it the notes are written."""
    name, up = entry if isinstance(entry, list) and len(entry) == 2 else (entry, "P1")
    if name not in FINGERING_NAMES:
        raise ValueError(f"fingering is one of {', '.join(FINGERING_NAMES)}, not {name!r}")
    return name, Interval.parse(_text(up, "fingering"))


@cache
def _rows() -> dict[str, dict[str, Any]]:
    text = files("kit.instruments").joinpath("instruments.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _table() -> dict[str, Instrument]:
    return {slug: Instrument.from_row(slug, row) for slug, row in _rows().items()}


def all_instruments() -> tuple[Instrument, ...]:
    """Give every instrument of the table, in its order."""
    return tuple(_table().values())


def instrument(
    slug: str, extra: Mapping[str, Mapping[str, Any] | Instrument] | None = None
) -> Instrument:
    """Find an instrument.

    Parameters
    ----------
    slug : str
        Its short name: ``alto-sax``.
    extra : mapping, optional
        Rows of the lesson's own, by slug; they come before the table's. A row that names
        an instrument of the table need only hold what differs.

    Raises
    ------
    LessonError
        If there is no such instrument, or the lesson's row cannot be used.

    Examples
    --------
    >>> instrument("alto-sax").written_above_concert.name
    'M6'
    """
    table = _table()
    row = (extra or {}).get(slug)
    if isinstance(row, Instrument):
        return row
    if row is not None:
        return Instrument.from_row(slug, {**_rows().get(slug, {}), **row})
    if slug in table:
        return table[slug]
    choices = [*table, *(extra or {})]
    near = get_close_matches(slug, choices, n=3, cutoff=0.5)
    near += [name for name in choices if slug and slug in name and name not in near]
    if near:
        remedy = f"did you mean {' or '.join(near[:3])}"
    else:
        remedy = f"there are {', '.join(choices)}"
    raise LessonError(f'no instrument "{slug}"', remedy=remedy)
