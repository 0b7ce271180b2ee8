"""Where does a soloist play, and where rest?

A section is cut into phrases of two bars, in turn a question that ends open and an answer
that comes to rest. Each has a rhythm to borrow, a rest at its end, and a note to aim at.

Conventions
-----------
* A question aims at a guide tone of its last chord that is not its root; an answer at the
  root. Notes are named in the key of the sheet.
* Prompts are kept in phrases.toml for two bars of four beats and cut to the meter at hand;
  a note that would reach into the rest is cut or dropped.

Source: question and answer, and rests, are common practice of jazz teaching.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Literal

from kit.form.harmony import changes
from kit.form.sections import Form, Section
from kit.form.wording import bars_words
from kit.levels.steps import plain_name
from kit.solo.guide_tones import guide_tones
from kit.tune.chord import ChordSymbol
from kit.tune.model import Meter, Tune
from kit.tune.pitch import Key, NoteName

__all__ = ["LevelName", "Phrase", "RhythmPrompt", "phrase_plan", "rhythm_prompts"]

LevelName = Literal["beginner", "intermediate", "advanced"]
_LEVELS = ("beginner", "intermediate", "advanced")


@dataclass(frozen=True, slots=True)
class RhythmPrompt:
    """A rhythm to play any notes to: onset and length of each, in quarter notes."""

    notes: tuple[tuple[Fraction, Fraction], ...]

    def counted(self, meter: Meter) -> str:
        """Say it as one counts it: ``1 2 & (3) & | 1``, bars parted by strokes.

        A beat in brackets is counted but not played.
        """
        bars: dict[int, list[str]] = {}
        spoken: set[tuple[int, int]] = set()
        for onset, _ in self.notes:
            bar, inside = divmod(onset, meter.bar_length)
            beat, rest = divmod(inside / Fraction(4, meter.beat_type), 1)
            words = bars.setdefault(int(bar), [])
            number = str(int(beat) + 1)
            if rest and (int(bar), int(beat)) not in spoken:
                number = f"({number})"
            elif rest:
                number = ""
            spoken.add((int(bar), int(beat)))
            sign = "" if not rest else "&" if rest == Fraction(1, 2) else "a"
            words.append(" ".join(part for part in (number, sign) if part))
        last = max(bars, default=0)
        return " | ".join(" ".join(bars.get(k, ["–"])) for k in range(last + 1))


@dataclass(frozen=True, slots=True)
class Phrase:
    """Two bars of a solo (or one, where a section has an odd number).

    `numbers` are printed bars, `rest` the silence at the end in quarter notes, `aim` the
    note to end on, None where there is no chord.
    """

    label: str
    numbers: tuple[int, ...]
    role: Literal["question", "answer"]
    chords: tuple[ChordSymbol, ...]
    rhythm: RhythmPrompt
    rest: Fraction
    aim: NoteName | None
    text: str


@cache
def _prompts(level: str, role: str) -> tuple[RhythmPrompt, ...]:
    text = files("kit.solo").joinpath("phrases.toml").read_text(encoding="utf-8")
    return tuple(
        RhythmPrompt(
            tuple(
                (Fraction(beat) - 1, Fraction(length))
                for beat, length in zip(row["beats"], row["lengths"], strict=True)
            )
        )
        for row in tomllib.loads(text)["prompts"]
        if row["level"] == level and row["role"] == role
    )


def rhythm_prompts(meter: Meter) -> tuple[tuple[str, RhythmPrompt], ...]:
    """Give all rhythms to borrow with their level, from easy to hard, cut to a meter.

    Harder is what has more notes off the beat, then what has more notes.
    """
    rest = _rest(meter)
    found = [
        (level, _cut(prompt, 2 * meter.bar_length - rest, meter))
        for level in _LEVELS
        for role in ("question", "answer")
        for prompt in _prompts(level, role)
    ]

    def hardness(item: tuple[str, RhythmPrompt]) -> tuple[int, int, int]:
        onsets = [onset for onset, _ in item[1].notes]
        off_beat = sum(onset % meter.pulse != 0 for onset in onsets)
        return _LEVELS.index(item[0]), off_beat, len(onsets)

    return tuple(sorted(found, key=hardness))


def _rest(meter: Meter) -> Fraction:
    """Give the silence at a phrase's end: half a bar or a little more."""
    return (meter.pulses + 1) // 2 * meter.pulse


def phrase_plan(
    sheet: Tune, form: Form, *, level: LevelName = "beginner"
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

    Raises
    ------
    ValueError
        For another level.
    """
    if level not in _LEVELS:
        raise ValueError(f"{level!r} is not one of {', '.join(_LEVELS)}")
    plan: list[Phrase] = []
    for section in form.sections:
        bars = [
            k for k in range(section.first, section.last + 1) if not sheet.bars[k].pickup
        ]
        for turn, start in enumerate(range(0, len(bars), 2)):
            plan.append(_phrase(sheet, section, bars[start : start + 2], turn, level))
    return tuple(plan)


def _phrase(
    sheet: Tune, section: Section, bars: Sequence[int], turn: int, level: str
) -> Phrase:
    role: Literal["question", "answer"] = "question" if turn % 2 == 0 else "answer"
    meter = sheet.bars[bars[0]].meter
    length = sum((sheet.bars[k].meter.bar_length for k in bars), Fraction(0))
    chords = tuple(c.symbol for c in changes(sheet, bars[0], bars[-1]))
    offered = _prompts(level, role)
    rest = _rest(meter)
    rhythm = _cut(offered[turn // 2 % len(offered)], length - rest, meter)
    aim = _aim(chords, role, sheet.bars[bars[-1]].key)
    numbers = tuple(sheet.bars[k].number for k in bars)
    return Phrase(
        section.label, numbers, role, chords, rhythm, rest, aim,
        _text(numbers, role, aim, chords, rhythm, meter),
    )  # fmt: skip


def _cut(prompt: RhythmPrompt, end: Fraction, meter: Meter) -> RhythmPrompt:
    """Fit a rhythm of two bars of four beats to a meter and leave the rest silent."""
    kept = []
    for onset, length in prompt.notes:
        bar, inside = divmod(onset, 4)
        if inside >= meter.bar_length:
            continue
        moved = bar * meter.bar_length + inside
        if moved < end:
            room = min(length, end - moved, meter.bar_length * (bar + 1) - moved)
            kept.append((moved, room))
    return RhythmPrompt(tuple(kept))


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


def _text(
    numbers: Sequence[int],
    role: str,
    aim: NoteName | None,
    chords: Sequence[ChordSymbol],
    rhythm: RhythmPrompt,
    meter: Meter,
) -> str:
    where = bars_words(numbers)
    start = (
        f"{where[:1].upper()}{where[1:]}: {role}. Rhythm to borrow: {rhythm.counted(meter)}"
    )
    if aim is None:
        return f"{start}, then rest."
    over = next(symbol for symbol in reversed(chords) if symbol.root is not None)
    end = "end open, on" if role == "question" else "come to rest on"
    return f"{start}, then rest; {end} {aim} ({over})."
