"""What may a student play in a solo: scale, phrases, guide tones, in their own key?

The advice comes from `kit.solo`; here it is put in the order in which it is used: one scale
for a section first, then phrases, then the guide tones, then the chords one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import cast

from kit.engrave.drawing import engrave_excerpt
from kit.engrave.engraver import PHONE, SCREEN
from kit.figures._page import Asked, in_two_widths
from kit.figures.figure import Figure, draw, markup
from kit.figures.written import Written, written
from kit.form.wording import bars_words
from kit.instruments.part import Part
from kit.instruments.table import LEVEL_NAMES
from kit.lesson.choices import stretch_of
from kit.lesson.lesson import Lesson
from kit.solo.guide import SectionScale, scale_guide
from kit.solo.guide_tones import guide_tone_line
from kit.solo.phrases import LevelName, Phrase
from kit.solo.sample import solo_phrases

__all__ = ["on_page", "solo_guide"]

PHRASES_SHOWN = 4
"""Two questions with their answers: eight bars are enough to get going."""


@dataclass(frozen=True, slots=True)
class _Chord:
    """A row of the table of chords."""

    symbol: str
    bars: str
    good: str
    care: str
    scale: str


@dataclass(frozen=True, slots=True)
class _Section:
    """One different section of the form with all advice for it."""

    label: str
    bars: str
    scale: str
    notes: tuple[str, ...]
    reason: str
    later: str
    chords: tuple[_Chord, ...]
    guide_tones: str
    """The line of guide tones as a drawing."""


def solo_guide(
    lesson: Lesson, *, level: str, instrument: str, bars_per_line: int = 4
) -> Figure:
    """Give scale, phrases and guide tones for a solo over the lesson's form.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str
        Whose changes, in whose written key.
    bars_per_line : int
        How many bars of guide tones stand in a line.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    """
    music = written(lesson, level=level, instrument=instrument)
    scales = scale_guide(music.played, music.form)
    phrases = _phrases(music, level)
    title = "Your own solo"
    aside = f"{music.player}, in {music.sheet.key}"
    sections = [
        _section(music, lesson.part(level, instrument), scale, bars_per_line)
        for scale in scales
    ]
    words = "\n".join(
        (
            f"{title}, {aside}.",
            *(_sentences(scales)),
            *(phrase.text for phrase in phrases),
            *(
                []
                if scales
                else ["The tune has no changes: stay with the notes of its key."]
            ),
        )
    )
    html = draw(
        "solo_guide",
        title=title,
        aside=aside,
        sections=[(section, markup(section.guide_tones)) for section in sections],
        phrases=phrases,
        key=music.sheet.key,
    )
    return Figure(
        "solo-guide", title, html, words, {"level": level, "instrument": instrument}
    )


def on_page(asked: Asked) -> str:
    """Draw it at two widths."""
    draw = partial(solo_guide, asked.lesson, level=asked.level, instrument=asked.instrument)
    return in_two_widths(draw)


def _phrases(music: Written, level: str) -> tuple[Phrase, ...]:
    name = level if level in LEVEL_NAMES else "intermediate"
    return solo_phrases(
        music.played,
        music.form,
        level=cast("LevelName", name),
        most=PHRASES_SHOWN,
        tempo_qpm=music.level.tempo_qpm,
    )


def _sentences(scales: Sequence[SectionScale]) -> list[str]:
    spoken = []
    for scale in scales:
        spoken.append(scale.sentence)
        spoken.append(f"Later: {scale.later}")
        spoken.extend(
            f"{chord.sentence} Its own scale: {chord.scale_words}."
            for chord in scale.chords
        )
    return spoken


def _section(
    music: Written, part: Part, scale: SectionScale, bars_per_line: int
) -> _Section:
    chords = tuple(
        _Chord(
            symbol=str(chord.symbol),
            bars=bars_words(chord.numbers),
            good=" ".join(str(note) for note in chord.good) or "–",
            care="; ".join(f"{note}, {why}" for note, why in chord.care) or "–",
            scale=chord.scale_words or "–",
        )
        for chord in scale.chords
    )
    return _Section(
        label=scale.label,
        bars=bars_words(scale.numbers),
        scale=str(scale.scale),
        notes=tuple(str(note) for note in scale.scale.notes),
        reason=scale.reason,
        later=scale.later,
        chords=chords,
        guide_tones=_guide_tones(part, music, scale.label, bars_per_line),
    )


def _guide_tones(part: Part, music: Written, label: str, bars_per_line: int) -> str:
    """Draw the guide tones of the first section with this label."""
    where = stretch_of(music.level, section=label)
    line = replace(guide_tone_line(part.tune), title="Guide tones", tempo_qpm=None)
    drawing = engrave_excerpt(
        replace(part, tune=line),
        first=where.first,
        last=where.last,
        page=replace(
            PHONE if bars_per_line <= 2 else SCREEN,
            bars_per_line=bars_per_line,
            fill_last_line=0.0,
        ),
    )
    return drawing.svg
