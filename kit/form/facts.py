"""What does knowing the form save a student, and what should they know about it?

Everything here is computed from the unfolded tune and its sections, pick-ups left out of
every count. The sentences (`kit.form._sentences`) are for students and can be printed as
they are.

Source: that a form is learnt by its sections is common practice of teaching; the reference
test is the 32-bar AABA, whose A is three quarters of the tune.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from kit.form._key_sentences import key_words
from kit.form._knowledge import FormFacts, RhythmCell, Share
from kit.form._sentences import fact_sentences
from kit.form.differences import bar_keys, differences, moved_sections, shared_endings
from kit.form.harmony import Turnaround, cadences, changes, pedals, turnaround
from kit.form.key_centres import key_centres, main_key
from kit.form.names import form_name
from kit.form.sections import Form
from kit.tune.model import Meter, Tune

__all__ = ["FormFacts", "RhythmCell", "Share", "form_facts"]


# Charts, guides and plans of one part all ask for the same facts.
@lru_cache(maxsize=32)
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
    keys_of_bars = bar_keys(played)
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    chords = changes(played)
    shares = _shares(form)
    centres = tuple(key_centres(played, s.first, s.last) for s in form.sections)
    keys = tuple(
        main_key(found, played.bars[section.first].key)
        for found, section in zip(centres, form.sections, strict=True)
    )
    facts = FormFacts(
        name=form_name(played, form),
        pattern=form.pattern,
        bar_count=form.bar_count,
        different_bars=len({keys_of_bars[index] for index in full}),
        shares=shares,
        differences=differences(played, form),
        moved=moved_sections(played, form),
        keys=keys,
        cadences=cadences(chords, played.key),
        turnarounds=_turnarounds(played, form),
        pedals=pedals(chords),
        rhythm_cells=_rhythm_cells(played, full),
        sentences=(),
        shared_endings=shared_endings(played, form),
        has_chords=bool(chords),
        centres=centres,
        key_words=tuple(
            key_words(found, played, played.bars[section.first].key)
            for found, section in zip(centres, form.sections, strict=True)
        ),
    )
    return replace(facts, sentences=fact_sentences(facts, played, form))


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
    """Find rhythms worth knowing in three bars or more, most frequent first."""
    places: dict[tuple[Fraction, ...], list[int]] = defaultdict(list)
    for index in full:
        notes = played.bars[index].notes
        # Only attacks make a rhythm: a note tied over is not struck again.
        held = index > 0 and any(note.tied for note in played.bars[index - 1].notes[-1:])
        onsets = []
        for note in notes:
            if note.pitch is not None and not held:
                onsets.append(note.onset)
            held = note.tied
        if _is_worth_clapping(onsets, played.bars[index].meter):
            places[tuple(onsets)].append(played.bars[index].number)
    cells = [
        RhythmCell(onsets, tuple(bars)) for onsets, bars in places.items() if len(bars) >= 3
    ]
    return tuple(sorted(cells, key=lambda cell: (-len(cell.bars), cell.bars)))


def _is_worth_clapping(onsets: Sequence[Fraction], meter: Meter) -> bool:
    """Whether a rhythm has three attacks or more, one off the beat, and is not all even."""
    # In cut time too quarters are counted: only what lies between them is off the beat.
    beat = meter.pulse if meter.is_compound else min(meter.pulse, Fraction(1))
    off_beat = any(onset % beat for onset in onsets)
    gaps = {later - earlier for earlier, later in pairwise(onsets)}
    return len(onsets) >= 3 and off_beat and len(gaps) > 1
