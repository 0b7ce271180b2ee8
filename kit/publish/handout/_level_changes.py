"""What is new in a level, said briefly enough for paper?

Changes of the same kind are told once with all their bars. A level that is a new version
of the tune, with something new almost everywhere, is summed up; only its changes of harmony
are listed, because those a player has to know beforehand.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from kit.form.wording import bars_words, counted, listed
from kit.instruments.octave_apart import by_octaves, octave_sentence, octaves_apart
from kit.instruments.part import Part
from kit.levels.compare import Difference, compare
from kit.levels.kinds import kind_words
from kit.publish._wording import capital
from kit.tune.model import Bar, Tune

__all__ = ["LevelChanges", "level_changes"]

MOST_LINES = 16
"""More than this a student does not read; the differences are then summed up."""

_PLACE = re.compile(r"^bars? [^:]*: ")


@dataclass(frozen=True, slots=True)
class LevelChanges:
    """Sentences that sum the changes up, and one line for each change told in full."""

    summary: tuple[str, ...]
    lines: tuple[str, ...]


def level_changes(
    lower: Part, upper: Part, *, bars: int, solo: tuple[int, int] | None = None
) -> LevelChanges:
    """Say what the upper part does otherwise, in the key it is written in.

    Parameters
    ----------
    lower, upper : Part
        Two levels as the same instrument reads them.
    bars : int
        How many bars both heads have.
    solo : (int, int), optional
        First index and number of bars of the upper level's written solo.
    """
    octaves = octaves_apart(lower, upper)
    found = compare(_head(lower.tune, bars), _head(by_octaves(upper.tune, -octaves), bars))
    summary = [octave_sentence(octaves)] if octaves else []
    lines = _lines(found)
    if len(lines) > MOST_LINES:
        notes = [item for item in found if item.lower_ids or item.upper_ids]
        summary.append(_new_version(notes, upper.tune.bars[:bars]))
        lines = _lines(item for item in found if item not in notes)
        summary.extend(["The new changes:"] if lines else [])
    if solo is not None:
        numbers = [bar.number for bar in upper.tune.bars[solo[0] : sum(solo)]]
        lines.append(f"{capital(bars_words(numbers))}: a written solo.")
    if not (lines or summary):
        summary.append("The notes and the changes are the same; tempo and route are not.")
    return LevelChanges(tuple(summary), tuple(lines))


def _head(tune: Tune, bars: int) -> Tune:
    return replace(tune, bars=tune.bars[:bars])


def _lines(found: Iterable[Difference]) -> list[str]:
    bars: dict[str, list[int]] = {}
    for item in found:
        bars.setdefault(_PLACE.sub("", item.text), []).append(item.bar_number)
    return [f"{capital(bars_words(numbers))}: {text}." for text, numbers in bars.items()]


def _new_version(notes: Sequence[Difference], head: Sequence[Bar]) -> str:
    bars = sum(not bar.pickup for bar in head)
    touched = len({item.bar_number for item in notes})
    kinds = Counter(kind_words(item.kind).several for item in notes)
    usual = listed([words for words, _ in kinds.most_common(4)])
    where = f"in {touched} of the {counted(bars, 'bar')}"
    sentence = f"This is a new version of the melody, with something else {where}"
    return f"{sentence}: {usual}." if usual else f"{sentence}."
