"""How are the facts about a form said to a student?

Whole English sentences, the most useful first; what is not worth saying is left out.
Chords and keys are named as they stand in the tune, so that a written part speaks in the
player's key.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from kit.form._blues import lines_of
from kit.form._key_sentences import key_sentences
from kit.form._knowledge import FormFacts
from kit.form.differences import BarDifference
from kit.form.harmony import changes
from kit.form.names import blues_of
from kit.form.sections import Form
from kit.form.wording import (
    bars_words,
    counted,
    listed,
    number_word,
    ordinal,
)
from kit.tune.model import Tune

__all__ = ["fact_sentences"]

_MOST_WAYS = 2
"""Of more ways to the same goal, the first two are named."""
_INTERVAL_WORDS = (
    "", "half step", "whole step", "minor third", "major third", "fourth", "tritone",
    "fifth", "minor sixth", "major sixth", "minor seventh", "major seventh", "octave",
)  # fmt: skip


def fact_sentences(facts: FormFacts, played: Tune, form: Form) -> tuple[str, ...]:
    """Say what the facts come to; their own `sentences` are not looked at."""
    return (
        *_form_sentences(facts, form),
        *_difference_sentences(facts, form),
        *_moved_sentences(facts, form),
        *key_sentences(facts.centres, played, form),
        *_harmony_sentences(facts, played, form),
        *_rhythm_sentences(facts),
    )


def _form_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    yield _shape_sentence(facts, form)
    most = max(facts.shares, key=lambda share: share.bars)
    if most.times > 1 and len(facts.shares) > 1:
        yield most.sentence
    new, every = facts.different_bars, facts.bar_count
    if new < every:
        rest = "the other one comes" if every - new == 1 else "the others come"
        chords = " with the same chords" if facts.has_chords else ""
        few = "Only " if 4 * new <= 3 * every else ""
        verb = "is" if new == 1 else "are"
        yield (
            f"{few}{new} of the {every} bars {verb} new; {rest} back note for note{chords}."
        )


def _shape_sentence(facts: FormFacts, form: Form) -> str:
    lengths = {section.bar_count for section in form.sections}
    count = len(form.sections)
    name = f"a {facts.name}"
    if count == 1:
        if facts.name.endswith("blues"):
            lines = lines_of(facts.name)
            each = f"{number_word(len(lines))} lines of {number_word(lines[0])} bars"
            return f"The form is {name}: {each}."
        return f"The tune is a single section of {counted(facts.bar_count, 'bar')}."
    pattern = facts.pattern
    if facts.name.startswith("verse and refrain"):
        pattern = "verse and refrain" + ("" if " " in pattern else f", {pattern}")
    elif "blues" in facts.name:
        pattern = name if " " in pattern else f"{name}, {pattern}"
    elif " " in pattern:
        pattern = listed(pattern.split())
    if len(lengths) == 1:
        return (
            f"The form is {pattern}: {number_word(count)} sections of "
            f"{counted(lengths.pop(), 'bar')}, {facts.bar_count} bars in all."
        )
    each = listed([str(section.bar_count) for section in form.sections])
    return f"The form is {pattern}: sections of {each} bars, {facts.bar_count} bars in all."


def _difference_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    times = form.occurrences
    # A section that returns in another key has a sentence of its own.
    elsewhere = {item.section for item in facts.moved}
    returning = [
        place for place, time in enumerate(times) if time > 1 and place not in elsewhere
    ]
    different: dict[int, list[BarDifference]] = defaultdict(list)
    for item in facts.differences:
        different[item.section].append(item)
    if len(returning) > 1 and not facts.differences:
        labels = list(dict.fromkeys(form.sections[place].label for place in returning))
        come, they = ("comes", "it is") if len(labels) == 1 else ("come", "they are")
        yield f"When {listed(labels)} {come} back, {they} exactly like the first time."
        returning = []
    said: dict[tuple[object, ...], int] = {}
    for place in returning:
        section = form.sections[place]
        here = different[place]
        the_section = f"The {ordinal(times[place])} {section.label}"
        what = (section.label, *((item.model, item.words) for item in here))
        like = said.setdefault(what, times[place])
        if not here or like != times[place]:
            model = "first" if not here else ordinal(like)
            yield f"{the_section} is exactly like the {model}."
            continue
        where = bars_words(item.number for item in here)
        if len(here) > 4:
            yield f"{the_section} differs from the first in {where}."
        elif len(here) == 1:
            yield (
                f"{the_section} differs from the first only in {where}, which "
                f"{here[0].words}."
            )
        else:
            how = "; ".join(f"bar {item.number} {item.words}" for item in here)
            yield f"{the_section} differs from the first only in {where}: {how}."
    for ending in facts.shared_endings:
        yield (
            f"The end of {ending.label} ({bars_words(ending.numbers)}) is the end of "
            f"{ending.model} ({bars_words(ending.model_numbers)})."
        )


def _moved_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    for item in facts.moved:
        octaves, rest = divmod(abs(item.semitones), 12)
        size = "octave" if octaves and not rest else _INTERVAL_WORDS[rest]
        article = "an" if size == "octave" else "a"
        section, model = form.sections[item.section], form.sections[item.model]
        way = "up" if item.semitones > 0 else "down"
        if section.label == model.label:
            time = ordinal(form.occurrence(item.section))
            varied = [d.number for d in facts.differences if d.section == item.section]
            but = f", varied in {bars_words(varied)}" if varied else ""
            moved = f"{article} {size} {way}{but}"
            yield f"The {time} {section.label} is the first moved {moved}."
            continue
        yield (
            f"{section.label} is the melody of {model.label} moved {article} {size} {way}."
        )


def _harmony_sentences(facts: FormFacts, played: Tune, form: Form) -> Iterator[str]:
    yield from _cadence_sentences(facts, played)
    yield from _blues_sentences(facts, played, form)
    ends = {
        " ".join(str(symbol) for symbol in item.chords): item for item in facts.turnarounds
    }
    for chords, item in ends.items():
        where = range(played.bars[item.first].number, played.bars[item.last].number + 1)
        yield f"A turnaround leads back in {bars_words(where)}: {chords}."
    for pedal in facts.pedals:
        where = range(played.bars[pedal.first].number, played.bars[pedal.last].number + 1)
        yield f"The bass stays on {pedal.note} in {bars_words(where)}."


def _cadence_sentences(facts: FormFacts, played: Tune) -> Iterator[str]:
    """Name each goal once, with the chords that lead there and where they start."""
    spots: dict[tuple[str, str], dict[str, list[int]]] = defaultdict(dict)
    for cadence in facts.cadences:
        if cadence.kind == "ii–V–I":
            chords = " ".join(str(symbol) for symbol in cadence.chords)
            bars = spots[cadence.numerals, str(cadence.goal)].setdefault(chords, [])
            bars.append(played.bars[cadence.first].number)
    for (kind, goal), by_chords in spots.items():
        ways = listed(list(by_chords)[:_MOST_WAYS], last="or")
        numbers = [number for bars in by_chords.values() for number in bars]
        if len(numbers) == 1:
            yield f"A {kind} to {goal} ({ways}) starts in {bars_words(numbers)}."
            continue
        often = "twice" if len(numbers) == 2 else f"{number_word(len(numbers))} times"
        yield (
            f"A {kind} to {goal} ({ways}) comes {often}, starting in {bars_words(numbers)}."
        )


def _blues_sentences(facts: FormFacts, played: Tune, form: Form) -> Iterator[str]:
    """Say where a blues goes: home, to the fourth, home, and the last line."""
    if "blues" not in facts.name:
        return
    blues = blues_of(played, form)
    if blues is None:
        return
    begin = form.core.sections[0].first
    full = [k for k in range(begin, len(played.bars)) if not played.bars[k].pickup]
    bar = {k: full[k - 1] for k in (1, blues.fourth, blues.home, blues.last)}
    number = {k: played.bars[index].number for k, index in bar.items()}
    home, fourth = (_chord_at(played, bar[k]) for k in (1, blues.fourth))
    arrival = full[blues.bars - blues.lines[-1] // 2]
    last = " ".join(str(c.symbol) for c in changes(played, bar[blues.last], arrival))
    yield (
        f"The changes start at home on {home}, go to the fourth, {fourth}, in bar "
        f"{number[blues.fourth]}, are home again in bar {number[blues.home]}, and the last "
        f"line ({last}) leads home from bar {number[blues.last]}."
    )


def _chord_at(played: Tune, index: int) -> str:
    return str(changes(played, index, index)[0].symbol)


def _rhythm_sentences(facts: FormFacts) -> Iterator[str]:
    if facts.rhythm_cells:
        cell = facts.rhythm_cells[0]
        bars = sorted(set(cell.bars))
        if len(bars) > 2:
            yield (
                f"The rhythm of bar {bars[0]} is worth clapping first: it comes back in "
                f"{bars_words(bars[1:])}."
            )
