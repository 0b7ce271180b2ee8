"""What stands in the learning notes of a handout, after the music?

Each section is made by one function from the lesson, the level and the instrument; what it
says is named in the written key. A new section is a new function in `SECTIONS`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import cast

from kit.form.facts import form_facts
from kit.form.wording import bars_words, listed
from kit.instruments.part import Part
from kit.instruments.table import LEVEL_NAMES
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.prose import Block
from kit.levels.difficulty import difficulty_by_bar
from kit.publish.handout._level_changes import level_changes
from kit.publish.handout.notes import NotesFigure, NotesSection, paragraph, points
from kit.solo.guide import SectionScale, scale_guide
from kit.solo.guide_tones import guide_tone_line
from kit.solo.phrases import LevelName
from kit.solo.practice import practice_plan
from kit.solo.sample import solo_phrases
from kit.tune.model import Tune
from kit.tune.pitch import Pitch

__all__ = ["SECTIONS"]

_PHRASES = 4
"""Two questions with their answers."""


def form_section(lesson: Lesson, level: Level, instrument: str) -> NotesSection | None:
    """Say what the form saves a student."""
    sentences = form_facts(_played(lesson, level, instrument), level.form).sentences
    if not sentences:
        return None
    return NotesSection("Form to memorise", (points(sentences),))


def changes_section(lesson: Lesson, level: Level, instrument: str) -> NotesSection | None:
    """Say what is new since the level below, unless that gives away what is not free."""
    place = lesson.level_names.index(level.name)
    if place == 0:
        return None
    lower = lesson.level_names[place - 1]
    tiers = lesson.settings.tiers
    if tiers.of("handout", level.name) == "free" and lower not in tiers.free_levels:
        return None
    changes = level_changes(
        lesson.part(lower, instrument),
        lesson.part(level.name, instrument),
        bars=min(len(lesson.level(lower).head.bars), len(level.head.bars)),
        solo=level.solo,
    )
    title = lesson.level(lower).settings.title.lower()
    blocks = [paragraph(text) for text in changes.summary]
    if changes.lines:
        blocks.append(points(changes.lines))
    return NotesSection(f"New since {title}", tuple(blocks)) if blocks else None


def solo_section(lesson: Lesson, level: Level, instrument: str) -> NotesSection | None:
    """Name the range, the scales and, where there is a solo to play, the guide tones."""
    part = lesson.part(level.name, instrument)
    guide = scale_guide(_played(lesson, level, instrument), level.form)
    if not guide:
        return None
    blocks = [_range_of(part)]
    soloed = _has_solo(level)
    said: dict[str, str] = {}
    for section in guide:
        blocks.append(paragraph(_where_what(section, guide)))
        if soloed:
            blocks.extend(paragraph(text) for text in section.two_fives)
            care = _care(section, said)
            blocks.extend([points(care)] if care else [])
    if not soloed:
        return NotesSection("Range and scale", tuple(blocks))
    what = "what a solo can do with the ideas of the tune, two bars at a time."
    blocks.append(paragraph(what, strong="Phrases to begin with:"))
    blocks.append(points(_phrases(lesson, level, instrument)))
    return NotesSection(
        "Scales and guide tones", tuple(blocks), _guide_figures(part, level)
    )


def _where_what(section: SectionScale, guide: Sequence[SectionScale]) -> str:
    """Name a section's scale, by the first section that has it for the same reason."""
    same = next(s for s in guide if (s.scale, s.reason) == (section.scale, section.reason))
    if same.label == section.label:
        return section.sentence
    where = f"{section.label} ({bars_words(section.numbers)})"
    return f"{where}: {section.scale}, as in {same.label}."


def _care(section: SectionScale, said: dict[str, str]) -> list[str]:
    """Give a section's advice; what an earlier one said alike is only referred to.

    `said` has the section in which each sentence stands, and is added to.
    """
    fresh = []
    again: dict[str, list[str]] = {}
    for advice in section.chords:
        if not advice.care:
            continue
        label = said.setdefault(advice.sentence, section.label)
        if label != section.label:
            again.setdefault(label, []).append(str(advice.symbol))
        elif advice.sentence not in fresh:
            fresh.append(advice.sentence)
    return fresh + [
        f"Over {listed(list(dict.fromkeys(symbols)))}, as in {label}."
        for label, symbols in again.items()
    ]


def _phrases(lesson: Lesson, level: Level, instrument: str) -> tuple[str, ...]:
    """Say what the first phrases of a sample solo do with the tune's idea."""
    name = level.name if level.name in LEVEL_NAMES else "intermediate"
    plan = solo_phrases(
        _played(lesson, level, instrument),
        level.form,
        level=cast("LevelName", name),
        most=_PHRASES,
        tempo_qpm=level.tempo_qpm,
    )
    return tuple(phrase.text for phrase in plan)


def _range_of(part: Part) -> Block:
    pitches = [note.pitch for bar in part.tune.bars for note in bar.notes if note.pitch]
    low, high = min(pitches), max(pitches)
    return paragraph(f"{low} to {high} as you read it.", strong="Range of the part:")


def _guide_figures(part: Part, level: Level) -> tuple[NotesFigure, ...]:
    """Write the guide tones of each different section, in the middle of the range."""
    comfortable = part.instrument.comfortable_range(level.name)
    middle = _middle(comfortable.low, comfortable.high)
    guide = guide_tone_line(part.tune, around=middle)
    line = replace(part, tune=replace(guide, feel="", tempo_qpm=None))
    figures = []
    for label in level.form.labels:
        section = next(s for s in level.form.sections if s.label == label)
        indices = level.order[section.first : section.last + 1]
        first, last = min(indices), max(indices)
        numbers = [part.tune.bars[index].number for index in range(first, last + 1)]
        what = "the third or seventh of each chord"
        caption = f"Guide tones of {label}, {bars_words(numbers)}: {what}."
        figures.append(NotesFigure(caption, line, first, last))
    return tuple(figures)


def _middle(low: Pitch, high: Pitch) -> Pitch:
    """Give a natural note about halfway between two."""
    octave, step = divmod((low.diatonic + high.diatonic) // 2, 7)
    return Pitch("CDEFGAB"[step], 0, octave)


def _played(lesson: Lesson, level: Level, instrument: str) -> Tune:
    """Give the head once through, as the instrument reads it."""
    written = lesson.part(level.name, instrument).tune
    return replace(written, bars=tuple(written.bars[index] for index in level.order))


def practice_section(lesson: Lesson, level: Level, instrument: str) -> NotesSection | None:
    """Lay the practice out in steps with boxes to tick."""
    played = _played(lesson, level, instrument)
    part = lesson.part(level.name, instrument)
    sheet = part.tune
    bars = difficulty_by_bar(sheet, level.tempo_qpm, instrument=part.instrument)
    steps = practice_plan(
        form_facts(played, level.form),
        # A student sets a metronome to felt beats, dotted quarters in 6/8.
        tempo_qpm=level.settings.tempo,
        # Nobody can loop a pick-up by itself.
        hardest=tuple(bar for bar in bars if not sheet.bars[bar.bar].pickup),
        solo_scales=_solo_scales(played, level),
        level=level.settings.title.lower(),
        rests=False,  # the cautions stand at the foot of the sheet
    )
    told = tuple((paragraph(step.text, strong=f"{step.title}."),) for step in steps)
    return NotesSection("Practice steps", steps=told)


def _solo_scales(played: Tune, level: Level) -> tuple[str, ...]:
    if not _has_solo(level):
        return ()
    return tuple(str(section.scale) for section in scale_guide(played, level.form))


def _has_solo(level: Level) -> bool:
    return any(passage.play == "solo" for passage in level.settings.route)


SectionMaker = Callable[[Lesson, Level, str], NotesSection | None]
SECTIONS: tuple[SectionMaker, ...] = (
    form_section,
    changes_section,
    solo_section,
    practice_section,
)
