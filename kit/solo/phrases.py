"""Where does a soloist play, where rest, and what does each phrase do?

A section is cut into phrases of two bars, in turn a question that ends open and an answer
that comes to rest. Each takes up an idea of the tune, has its rhythm to borrow, a rest at
its end, and a note to aim at.

Conventions
-----------
* A question aims at a guide tone of its last chord that is not its root; an answer at the
  root. Notes are named in the key of the sheet.
* Rhythms are made of the tune's own cells (`kit.solo._plan`). Where the tune has none to
  give, they come from phrases.toml, kept for two bars of four beats and cut to the meter.

Source: question and answer, and rests, are common practice of jazz teaching.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.form.harmony import changes
from kit.form.sections import Form
from kit.form.wording import bars_words
from kit.levels.steps import plain_name
from kit.solo._develop import Move
from kit.solo._limits import LevelName, limits_of
from kit.solo._melody import Melody
from kit.solo._plan import Planned, Role, planned
from kit.solo._prompts import RhythmPrompt, rhythm_prompts
from kit.solo._words import planned_words
from kit.solo.guide_tones import guide_tones
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune
from kit.tune.pitch import Key, NoteName

__all__ = [
    "LevelName",
    "Phrase",
    "RhythmPrompt",
    "melody_of",
    "phrase_of",
    "phrase_plan",
    "rhythm_prompts",
]

_BEATS_A_MINUTE = 100
"""Felt beats, where the sheet has no tempo: what a new lesson begins with."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """Two bars of a solo (or one, where a section has an odd number).

    Parameters
    ----------
    label : str
        Of its section.
    numbers : tuple of int
        Printed bars.
    role : "question" or "answer"
        Whether it ends open or comes to rest.
    move : str
        What it does with the idea, one of `kit.solo._develop.Move`.
    does : str
        The same in words, as part of a sentence.
    chords : tuple of ChordSymbol
        Under it.
    rhythm : RhythmPrompt
        From its first bar line; empty where it rests throughout.
    rest : Fraction
        The silence at its end in quarter notes, up to its last bar line.
    aim : NoteName or None
        The note to end on, None where there is no chord.
    text : str
        All of this in one sentence.
    """

    label: str
    numbers: tuple[int, ...]
    role: Role
    move: Move
    does: str
    chords: tuple[ChordSymbol, ...]
    rhythm: RhythmPrompt
    rest: Fraction
    aim: NoteName | None
    text: str


def phrase_plan(
    sheet: Tune,
    form: Form,
    *,
    level: LevelName = "beginner",
    seed: int = 0,
    tempo_qpm: float | None = None,
    breath_s: float | None = None,
) -> tuple[Phrase, ...]:
    """Plan the phrases of a solo over the whole form.

    Parameters
    ----------
    sheet : Tune
        Unfolded, in the key the player reads.
    form : Form
        Its sections.
    level : "beginner", "intermediate" or "advanced"
        Which rhythms are offered.
    seed : int
        Another seed gives another plan.
    tempo_qpm : float, optional
        Quarter notes a minute; the sheet's own, or 100 beats, unless said.
    breath_s : float, optional
        What one breath of the player carries; what the level's does unless said.

    Raises
    ------
    ValueError
        For another level, or a tempo that is not above zero.
    """
    melody = melody_of(sheet, form, level=level, tempo_qpm=tempo_qpm, breath_s=breath_s)
    plan = planned(sheet, form, melody, form.sections, seed=seed)
    phrases: list[Phrase] = []
    for one in plan:
        phrases.append(phrase_of(one, sheet, melody, after=phrases[-1:]))
    return tuple(phrases)


def melody_of(
    sheet: Tune,
    form: Form,
    *,
    level: LevelName,
    tempo_qpm: float | None = None,
    breath_s: float | None = None,
) -> Melody:
    """Give a sheet's melody as a level plays it, for `kit.solo._plan`.

    Takes and raises what `phrase_plan` does.
    """
    tempo = tempo_qpm or sheet.tempo_qpm or _BEATS_A_MINUTE * float(sheet.meter.pulse)
    return Melody(sheet, form, limits_of(level, tempo_qpm=tempo, breath_s=breath_s))


def phrase_of(
    plan: Planned,
    laid: Tune,
    melody: Melody,
    *,
    does: str = "",
    after: Sequence[Phrase] = (),
) -> Phrase:
    """Put a planned phrase into words.

    Parameters
    ----------
    plan : Planned
        Of bars of `laid`.
    laid : Tune
        The bars that are soloed over.
    melody : Melody
        Where the idea comes from.
    does : str
        What it does, if that is known better than from the plan.
    after : sequence of Phrase
        Those told just before it: a rhythm is counted out once while it stays.
    """
    bars = [laid.bars[k] for k in plan.bars]
    numbers = tuple(bar.number for bar in bars)
    chords = tuple(c.symbol for c in changes(laid, plan.bars[0], plan.bars[-1]))
    aim = _aim(chords, plan.role, bars[-1].key)
    rhythm = RhythmPrompt(tuple((s.onset, s.duration) for s in plan.strokes))
    does = does or planned_words(plan, melody)
    text = _begin(plan, numbers, does)
    if plan.strokes:
        stays = bool(after) and after[-1].rhythm == rhythm
        text += "The same rhythm" if stays else _borrowed(rhythm, bars)
        text += _ending(aim, chords, plan.role)
    return Phrase(
        plan.label,
        numbers,
        plan.role,
        plan.move,
        does,
        chords,
        rhythm,
        plan.rest,
        aim,
        text,
    )


def _aim(chords: Sequence[ChordSymbol], role: str, key: Key) -> NoteName | None:
    sounding = [symbol for symbol in chords if symbol.root is not None]
    if not sounding:
        return None
    last = sounding[-1]
    root = last.root
    assert root is not None
    if abs(root.alter) > 1:
        # Nobody aims for B double flat.
        root = plain_name(root)
    if role == "answer":
        return root
    open_notes = [n for n in guide_tones(last, key) if n.pitch_class != root.pitch_class]
    return open_notes[0] if open_notes else root


def _begin(plan: Planned, numbers: Sequence[int], does: str) -> str:
    where = bars_words(numbers)
    where = f"{where[:1].upper()}{where[1:]}"
    if not plan.strokes:
        return f"{where}: {does}."
    what = f"{plan.role}, {does}" if does else plan.role
    return f"{where}: {what}. "


def _borrowed(rhythm: RhythmPrompt, bars: Sequence[Bar]) -> str:
    counted = rhythm.counted(*(bar.meter for bar in bars))
    return f"Rhythm to borrow: {counted}, then rest"


def _ending(aim: NoteName | None, chords: Sequence[ChordSymbol], role: str) -> str:
    if aim is None:
        return "."
    over = next(symbol for symbol in reversed(chords) if symbol.root is not None)
    end = "end open, on" if role == "question" else "come to rest on"
    return f"; {end} {aim} ({over})."
