"""What does a part ask of its instrument: from where to where, and what lies beyond?

The lowest and the highest written note stand against what lies well at the level and what
the instrument has; each note beyond is named with its bars. Grace notes count as notes. A
part that lies in another octave than usual, all of it or some notes, says why.

Sources: the ranges of `kit/instruments/instruments.toml`, where theirs stand, or a lesson's
own rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from kit.check.players import name_in_text
from kit.figures.figure import Figure, draw
from kit.form.wording import bars_words
from kit.instruments.octave_apart import why_this_octave
from kit.instruments.part import Part
from kit.instruments.table import Range
from kit.lesson.lesson import Lesson
from kit.tune.pitch import Pitch

__all__ = ["part_range"]

SCALE_WIDTH = 360.0
"""Of the drawing, in its own units; a letter is about seven of them wide."""


class _Bar(NamedTuple):
    """A range on the scale: whose, its name and ends, where it lies, what of it strains.

    Spans are left end and width, in the units of the drawing.
    """

    of: str
    name: str
    ends: str
    span: tuple[float, float]
    strained: tuple[tuple[float, float], ...] = ()


class _Scale(NamedTuple):
    """The drawing: ranges under each other, and where each C is."""

    width: float
    bars: tuple[_Bar, ...]
    octaves: tuple[tuple[str, float], ...]


def part_range(lesson: Lesson, *, level: str, instrument: str) -> Figure:
    """Show what a part asks of the instrument, in written notes.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str
        Whose part; what lies well is what the instrument table says for the level.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    """
    part = lesson.part(level, instrument)
    player = name_in_text(part.instrument.name)
    title = f"Range: {lesson.level(level).settings.title.lower()}"
    aside = f"{player}, in {part.tune.key}"
    places = _places(part)
    scale = _scale(part, places)
    sentences = [*_ends_said(places), *_beyond(part, places), *why_this_octave(part)]
    words = "\n".join(
        (
            f"{title}, {aside}.",
            *(f"{bar.name}: {bar.ends}." for bar in scale.bars),
            *sentences,
        )
    )
    html = draw("part_range", title=title, aside=aside, scale=scale, sentences=sentences)
    options = {"level": level, "instrument": instrument}
    return Figure("part-range", title, html, words, options)


def _places(part: Part) -> dict[Pitch, list[int]]:
    """Give the printed numbers of the bars in which each pitch is written, lowest first."""
    found: dict[int, tuple[Pitch, list[int]]] = {}
    for bar in part.tune.bars:
        for note in bar.notes:
            for pitch in (note.pitch, *(grace.pitch for grace in note.graces)):
                if pitch is not None:
                    # C♯ and D♭ are one note to the player: the first name stands for both.
                    found.setdefault(pitch.midi, (pitch, []))[1].append(bar.number)
    return dict(found[midi] for midi in sorted(found))


def _ends_said(places: Mapping[Pitch, Sequence[int]]) -> list[str]:
    return [
        f"{name} note: {pitch}, {bars_words(places[pitch])}."
        for name, pitch in zip(("Lowest", "Highest"), _ends(places), strict=False)
    ]


def _ends(places: Mapping[Pitch, Sequence[int]]) -> tuple[Pitch, ...]:
    """Give the lowest and the highest note, nothing where there is none."""
    pitches = tuple(places)
    return (pitches[0], pitches[-1]) if pitches else ()


def _beyond(part: Part, places: Mapping[Pitch, Sequence[int]]) -> list[str]:
    """Name the notes that do not lie well, or say that there are none."""
    if not places:
        return ["The part has no notes."]
    instrument = part.instrument
    comfortable, full = instrument.comfortable_range(part.level), instrument.range_written
    return [
        f"{pitch}, {bars_words(numbers)}: {_why(pitch, comfortable, full)}."
        for pitch, numbers in places.items()
        if comfortable.excess(pitch)
    ] or ["Every note lies well."]


def _why(pitch: Pitch, comfortable: Range, full: Range) -> str:
    where = "below" if pitch.midi < comfortable.low.midi else "above"
    return f"{where} what {'the instrument has' if full.excess(pitch) else 'lies well'}"


def _scale(part: Part, places: Mapping[Pitch, Sequence[int]]) -> _Scale:
    """Lay the ranges side by side; a semitone is as wide everywhere."""
    instrument = part.instrument
    comfortable, full = instrument.comfortable_range(part.level), instrument.range_written
    ends = _ends(places)
    heard = [pitch.midi for pitch in (*ends, full.low, full.high)]
    lowest, highest = min(heard), max(heard)
    step = SCALE_WIDTH / (highest - lowest + 1)

    def span(low: int, high: int) -> tuple[float, float]:
        return round((low - lowest) * step, 1), round((high - low + 1) * step, 1)

    def bar(of: str, name: str, within: Range) -> _Bar:
        return _Bar(of, name, str(within), span(within.low.midi, within.high.midi))

    bars = [bar("instrument", instrument.name, full)]
    if comfortable != full:
        bars.append(bar("level", "Lies well at this level", comfortable))
    if ends:
        asked = Range(*ends)
        low, high = asked.low.midi, asked.high.midi
        strained = (
            (low, min(high, comfortable.low.midi - 1)),
            (max(low, comfortable.high.midi + 1), high),
        )
        shown = tuple(span(first, last) for first, last in strained if first <= last)
        bars.append(bar("part", "This part", asked)._replace(strained=shown))
    every_c = range(-(-lowest // 12) * 12, highest + 1, 12)
    octaves = tuple((f"C{midi // 12 - 1}", span(midi, midi)[0]) for midi in every_c)
    return _Scale(SCALE_WIDTH, tuple(bars), octaves)
