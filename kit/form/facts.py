"""What does knowing the form save a student, and what should they know about it?

Everything here is computed from the unfolded tune and its sections, pick-ups left out of
every count. The sentences are for students and can be printed as they are.

Source: that a form is learnt by its sections is common practice of teaching; the reference
test is the 32-bar AABA, whose A is three quarters of the tune.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.form.differences import (
    BarDifference,
    MovedSection,
    bar_key,
    differences,
    moved_sections,
)
from kit.form.harmony import (
    Cadence,
    Pedal,
    Turnaround,
    cadences,
    changes,
    key_centre,
    pedals,
    turnaround,
)
from kit.form.names import form_name
from kit.form.sections import Form
from kit.form.wording import (
    bars_words,
    counted,
    listed,
    number_word,
    ordinal,
    share_words,
)
from kit.tune.model import Tune
from kit.tune.pitch import Key

__all__ = ["FormFacts", "RhythmCell", "Share", "form_facts"]

_INTERVAL_WORDS = (
    "", "half step", "whole step", "minor third", "major third", "fourth", "tritone",
    "fifth", "minor sixth", "major sixth", "minor seventh", "major seventh", "octave",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Share:
    """What one label is worth: `bars` of the tune's `of` bars, played `times` times."""

    label: str
    times: int
    bars: int
    of: int

    @property
    def fraction(self) -> Fraction:
        """Its share of the tune, exactly."""
        return Fraction(self.bars, self.of)


@dataclass(frozen=True, slots=True)
class RhythmCell:
    """A bar's rhythm that comes back: printed numbers of the bars that have it."""

    onsets: tuple[Fraction, ...]
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class FormFacts:
    """What `form_facts` knows; `sentences` says the parts worth saying.

    `keys` holds one key centre per section, in the order of the form.
    """

    name: str
    pattern: str
    bar_count: int
    different_bars: int
    shares: tuple[Share, ...]
    differences: tuple[BarDifference, ...]
    moved: tuple[MovedSection, ...]
    keys: tuple[Key, ...]
    cadences: tuple[Cadence, ...]
    turnarounds: tuple[Turnaround, ...]
    pedals: tuple[Pedal, ...]
    rhythm_cells: tuple[RhythmCell, ...]
    sentences: tuple[str, ...]


def form_facts(played: Tune, form: Form) -> FormFacts:
    """Work out the facts about a tune's form.

    Parameters
    ----------
    played : Tune
        The unfolded tune, at concert pitch or already in a written key: chords and keys in
        the sentences are named as they stand in it.
    form : Form
        Its sections.

    Raises
    ------
    ValueError
        If the form has no sections.
    """
    if not form.sections:
        raise ValueError("form facts need at least one section")
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    chords = changes(played)
    shares = _shares(form)
    keys = tuple(
        key_centre(changes(played, s.first, s.last), played.key) for s in form.sections
    )
    facts = FormFacts(
        name=form_name(played, form),
        pattern=form.pattern,
        bar_count=form.bar_count,
        different_bars=len({bar_key(played, index) for index in full}),
        shares=shares,
        differences=differences(played, form),
        moved=moved_sections(played, form),
        keys=keys,
        cadences=cadences(chords, played.key),
        turnarounds=_turnarounds(played, form),
        pedals=pedals(chords),
        rhythm_cells=_rhythm_cells(played, full),
        sentences=(),
    )
    return _with_sentences(facts, played, form)


def _with_sentences(facts: FormFacts, played: Tune, form: Form) -> FormFacts:
    spoken = (
        *_form_sentences(facts, form),
        *_difference_sentences(facts, form),
        *_moved_sentences(facts, form),
        *_key_sentences(facts, played, form),
        *_harmony_sentences(facts, played),
        *_rhythm_sentences(facts),
    )
    return replace(facts, sentences=spoken)


def _shares(form: Form) -> tuple[Share, ...]:
    total = form.bar_count
    bars: Counter[str] = Counter()
    times: Counter[str] = Counter()
    for section in form.sections:
        bars[section.label] += section.bar_count
        times[section.label] += 1
    return tuple(Share(label, times[label], bars[label], total) for label in form.labels)


def _turnarounds(played: Tune, form: Form) -> tuple[Turnaround, ...]:
    found = (turnaround(played, s.first, s.last) for s in form.sections)
    return tuple(item for item in found if item is not None)


def _rhythm_cells(played: Tune, full: Iterable[int]) -> tuple[RhythmCell, ...]:
    """Find rhythms of three attacks or more in three bars or more, most frequent first."""
    places: dict[tuple[Fraction, ...], list[int]] = defaultdict(list)
    for index in full:
        notes = played.bars[index].notes
        held = index > 0 and any(note.tied for note in played.bars[index - 1].notes[-1:])
        onsets = []
        for note in notes:
            if note.pitch is not None and not held:
                onsets.append(note.onset)
            held = note.tied
        places[tuple(onsets)].append(played.bars[index].number)
    cells = [
        RhythmCell(onsets, tuple(bars))
        for onsets, bars in places.items()
        if len(onsets) >= 3 and len(bars) >= 3
    ]
    return tuple(sorted(cells, key=lambda cell: (-len(cell.bars), cell.bars)))


def _form_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    lengths = {section.bar_count for section in form.sections}
    count = len(form.sections)
    if count == 1:
        yield f"The tune is a single section of {counted(facts.bar_count, 'bar')}."
    elif len(lengths) == 1:
        yield (
            f"The form is {facts.pattern}: {number_word(count)} sections of "
            f"{counted(lengths.pop(), 'bar')}, {facts.bar_count} bars in all."
        )
    else:
        each = listed([str(section.bar_count) for section in form.sections])
        yield (
            f"The form is {facts.pattern}: sections of {each} bars, {facts.bar_count} bars "
            f"in all."
        )
    most = max(facts.shares, key=lambda share: share.bars)
    if most.times > 1 and len(facts.shares) > 1:
        yield (
            f"Learn the {most.label} section and you know {most.bars} of the {most.of} "
            f"bars: {share_words(most.bars, most.of)} of the tune."
        )
    saved = facts.bar_count - facts.different_bars
    if saved > 0:
        yield (
            f"Only {facts.different_bars} of the {facts.bar_count} bars are different from "
            f"one another; the others come back note for note with the same chords."
        )


def _difference_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    for place, section in enumerate(form.sections):
        time = form.occurrence(place)
        if time == 1:
            continue
        here = [item for item in facts.differences if item.section == place]
        the_section = f"The {ordinal(time)} {section.label}"
        if not here:
            yield f"{the_section} is exactly like the first."
            continue
        where = bars_words(item.number for item in here)
        if len(here) > 4:
            yield f"{the_section} differs from the first in {where}."
            continue
        if len(here) == 1:
            only = f"only in {where}, which {here[0].words}"
            yield f"{the_section} differs from the first {only}."
            continue
        how = "; ".join(f"bar {item.number} {item.words}" for item in here)
        yield f"{the_section} differs from the first only in {where}: {how}."


def _moved_sentences(facts: FormFacts, form: Form) -> Iterator[str]:
    for item in facts.moved:
        octaves, rest = divmod(abs(item.semitones), 12)
        size = "octave" if octaves and not rest else _INTERVAL_WORDS[rest]
        article = "an" if size == "octave" else "a"
        yield (
            f"{form.sections[item.section].label} is the melody of "
            f"{form.sections[item.model].label} moved {article} {size} "
            f"{'up' if item.semitones > 0 else 'down'}."
        )


def _key_sentences(facts: FormFacts, played: Tune, form: Form) -> Iterator[str]:
    if not any(bar.chords for bar in played.bars):
        yield f"The tune is in {played.key}."
        return
    labels_in: dict[str, list[str]] = defaultdict(list)
    for key, section in zip(facts.keys, form.sections, strict=True):
        if section.label not in labels_in[str(key)]:
            labels_in[str(key)].append(section.label)
    used = {key: labels for key, labels in labels_in.items() if labels}
    if len(used) == 1:
        yield f"The tune stays in {next(iter(used))} throughout."
        return
    parts = [f"{listed(labels)} in {key}" for key, labels in used.items()]
    yield f"The key centres are {listed(parts)}."


def _harmony_sentences(facts: FormFacts, played: Tune) -> Iterator[str]:
    spots: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for cadence in facts.cadences:
        if cadence.kind == "ii–V–I":
            chords = " ".join(str(symbol) for symbol in cadence.chords)
            spots[cadence.numerals, str(cadence.goal), chords].append(
                played.bars[cadence.first].number
            )
    for (kind, goal, chords), numbers in spots.items():
        if len(numbers) == 1:
            yield f"A {kind} to {goal} ({chords}) starts in bar {numbers[0]}."
            continue
        yield (
            f"A {kind} to {goal} ({chords}) comes {number_word(len(numbers))} times, "
            f"starting in {bars_words(numbers)}."
        )
    ends = {
        " ".join(str(symbol) for symbol in item.chords): item for item in facts.turnarounds
    }
    for chords, item in ends.items():
        where = range(played.bars[item.first].number, played.bars[item.last].number + 1)
        yield f"A turnaround leads back in {bars_words(where)}: {chords}."
    for pedal in facts.pedals:
        where = range(played.bars[pedal.first].number, played.bars[pedal.last].number + 1)
        yield f"The bass stays on {pedal.note} in {bars_words(where)}."


def _rhythm_sentences(facts: FormFacts) -> Iterator[str]:
    if facts.rhythm_cells:
        cell = facts.rhythm_cells[0]
        bars = sorted(set(cell.bars))
        if len(bars) > 2:
            yield (
                f"The rhythm of bar {bars[0]} is worth clapping first: it comes back in "
                f"{bars_words(bars[1:])}."
            )
