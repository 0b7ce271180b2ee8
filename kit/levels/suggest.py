"""Which edits might a teacher make for a harder level?

`suggestions` lists candidates with a reason, best first; `draft_edits` chooses a sparing,
varied handful that all apply. A teacher is expected to keep about half.

Conventions
-----------
* Everything is decided by the music and a seed; the same input gives the same draft.
* Phrase ends (the last bar of a section) and bars that already have an edit are left alone.
* The intermediate level learns each section once: what is done in one A is done in the
  same bar of every A that is alike. The advanced level varies from one A to the next.

Source: the choices are common practice of jazz phrasing; the ranking is our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random
from typing import Literal

from kit.errors import LevelError
from kit.form.differences import bar_key
from kit.form.harmony import is_dominant
from kit.form.sections import Form
from kit.levels.edit import Edit, OptionValue
from kit.levels.edits import apply_edit
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune
from kit.tune.unfold import playing_order

__all__ = ["Suggestion", "draft_edits", "suggestions"]

LevelName = Literal["intermediate", "advanced"]
_SHARE = {"intermediate": Fraction(3, 8), "advanced": Fraction(5, 8)}
"""How many bars get an edit in a draft, of all that may."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A candidate edit with its rank (higher is better) and its reason."""

    edit: Edit
    rank: float
    reason: str


@dataclass(frozen=True, slots=True)
class _Spot:
    """A note in its surroundings."""

    bar: Bar
    beat: Fraction
    sound: Sound
    before: Sound | None
    after: Sound | None
    starts_phrase: bool

    @property
    def strong(self) -> bool:
        """Whether it stands on the first or middle beat."""
        half = self.bar.meter.bar_length / 2
        return self.onset in (0, half)

    @property
    def onset(self) -> Fraction:
        """Quarter notes from the start of the full bar."""
        return (self.beat - 1) * Fraction(4, self.bar.meter.beat_type)

    @property
    def room(self) -> Fraction:
        """Time from the start of the sound before, in quarter notes."""
        return self.sound.start - self.before.start if self.before else Fraction(0)

    def edit(self, do: str, **options: OptionValue) -> Edit:
        named = tuple((name.rstrip("_"), value) for name, value in options.items())
        return Edit(self.bar.number, self.beat, do, named)


def suggestions(tune: Tune, form: Form, *, level: LevelName) -> tuple[Suggestion, ...]:
    """List candidate edits for a level, best first; each applies to the tune as it is.

    Parameters
    ----------
    tune : Tune
        As written, repeats not unfolded.
    form : Form
        Sections over the unfolded tune.
    level : "intermediate" or "advanced"
        How bold they may be.

    Raises
    ------
    ValueError
        For another level.
    """
    if level not in _SHARE:
        raise ValueError(f"drafts are made for intermediate and advanced, not {level!r}")
    ends = _phrase_ends(tune, form)
    found: list[Suggestion] = []
    for index, spot in _spots(tune):
        if index not in ends:
            found += _for_note(spot, level)
    if level == "advanced":
        found += _for_chords(tune, ends)
    found = [item for item in found if _applies(tune, item.edit)]
    return tuple(sorted(found, key=lambda s: (-s.rank, s.edit.bar, s.edit.beat, s.edit.do)))


def _applies(tune: Tune, edit: Edit) -> bool:
    try:
        apply_edit(tune, edit)
    except LevelError:
        return False
    return True


def _phrase_ends(tune: Tune, form: Form) -> frozenset[int]:
    order = playing_order(tune)
    return frozenset(order[section.last] for section in form.sections)


def _spots(tune: Tune) -> Iterator[tuple[int, _Spot]]:
    starts = bar_starts(tune)
    sounds = sounds_of(tune)
    index = 0
    seen: dict[int, int] = {}
    for number_index, bar in enumerate(tune.bars):
        seen.setdefault(bar.number, number_index)
    for place, sound in enumerate(sounds):
        while sound.start >= starts[index + 1]:
            index += 1
        bar = tune.bars[index]
        if bar.pickup or seen[bar.number] != index:
            continue
        before = sounds[place - 1] if place else None
        beat = (sound.start - starts[index]) / Fraction(4, bar.meter.beat_type) + 1
        after = sounds[place + 1] if place + 1 < len(sounds) else None
        breath = before is None or sound.start - before.end >= Fraction(1, 2)
        yield index, _Spot(bar, beat, sound, before, after, starts_phrase=breath)


def _for_note(spot: _Spot, level: LevelName) -> Iterator[Suggestion]:
    bold = level == "advanced"
    long = spot.sound.duration >= spot.bar.meter.pulse * 2
    if spot.strong and spot.sound.duration >= spot.bar.meter.pulse and spot.before:
        rank = 3.0 + (1.0 if long else 0) + (0.5 if spot.onset else 0)
        if spot.room > Fraction(1, 2):
            yield Suggestion(
                spot.edit("early", by="eighth"),
                rank,
                "a long note on a strong beat swings when it comes an eighth early",
            )
    if spot.starts_phrase and spot.sound.duration >= 1 and spot.onset.denominator == 1:
        yield Suggestion(
            spot.edit("late", by="eighth"),
            2.2 if bold else 1.5,
            "the start of a phrase can wait an eighth",
        )
    rises = spot.before is not None and spot.sound.pitch > spot.before.pitch
    if rises and spot.sound.duration >= 1 and not spot.sound.graces:
        yield Suggestion(
            spot.edit("grace", from_="below", step="chromatic"),
            2.6 + (0.6 if long else 0),
            "a note reached from below takes a grace note well",
        )
    if long and not spot.starts_phrase:
        yield Suggestion(
            spot.edit("repeat", times=2),
            2.0,
            "a long note can be struck again",
        )
    yield from _between_notes(spot, bold=bold)


def _between_notes(spot: _Spot, *, bold: bool) -> Iterator[Suggestion]:
    after, by = spot.after, Fraction(1, 2)
    joined = after is not None and after.start == spot.sound.end
    if after is not None and joined and spot.sound.duration > by:
        leap = abs(after.pitch.midi - spot.sound.pitch.midi)
        if leap in (3, 4):
            yield Suggestion(
                spot.edit("passing note", by="eighth", step="scale"),
                2.4,
                "a third can be filled with the note between",
            )
    if bold and spot.strong and spot.room >= Fraction(3, 2):
        yield Suggestion(
            spot.edit("enclosure", by="eighth", from_="above"),
            2.9,
            "there is room before this note to close in on it from both sides",
        )
    if bold and spot.strong and spot.room >= 1 and not spot.starts_phrase:
        yield Suggestion(
            spot.edit("approach", by="eighth", from_="below", step="chromatic"),
            2.3,
            "a half step from below leads to a strong beat",
        )
    if not joined and after is not None and after.start - spot.sound.end >= 2:
        yield Suggestion(
            spot.edit("fill", by="eighth", notes=3 if bold else 2),
            2.1 if bold else 1.2,
            "a rest of two beats can hold a short fill",
        )
    if spot.sound.duration >= 3 and not joined:
        yield Suggestion(spot.edit("fall"), 1.4, "a last long note can fall off")


@dataclass(frozen=True, slots=True)
class _Resolution:
    """A dominant that goes down a fifth, with the melody over it as pitch classes."""

    bar: Bar
    beat: Fraction
    dominant: ChordSymbol
    goal: ChordSymbol
    duration: Fraction
    melody: tuple[tuple[Fraction, int], ...]


def _resolutions(tune: Tune, ends: frozenset[int]) -> Iterator[_Resolution]:
    sounds, starts = sounds_of(tune), bar_starts(tune)
    events = [
        (index, event.onset, event.symbol)
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
        if not bar.pickup
    ]
    for (index, onset, symbol), (then, there, goal) in pairwise(events):
        if index in ends or symbol.root is None or goal.root is None:
            continue
        fourth_up = (goal.root.pitch_class - symbol.root.pitch_class) % 12 == 5
        if is_dominant(symbol) and fourth_up:
            start, end = starts[index] + onset, starts[then] + there
            bar = tune.bars[index]
            melody = [(s.start - start, s.pitch.midi % 12) for s in sounds]
            yield _Resolution(
                bar,
                onset / Fraction(4, bar.meter.beat_type) + 1,
                symbol,
                goal,
                end - start,
                tuple(item for item in melody if 0 <= item[0] < end - start),
            )


def _for_chords(tune: Tune, ends: frozenset[int]) -> Iterator[Suggestion]:
    for place in _resolutions(tune, ends):
        root = place.dominant.root
        assert root is not None
        notes = {note for _, note in place.melody}
        flat_five = (root.pitch_class + 6) % 12
        if notes and not notes & _rub(flat_five, third=4, seventh=True):
            yield Suggestion(
                Edit(place.bar.number, place.beat, "tritone substitute"),
                2.7,
                f"{place.dominant} goes to {place.goal}: its tritone substitute slides "
                "down to it",
            )
        half = place.duration / 2
        early = {note for onset, note in place.melody if onset < half}
        two = (root.pitch_class + 7) % 12
        if half >= 2 * place.bar.meter.pulse and not early & _rub(two, third=3):
            yield Suggestion(
                Edit(place.bar.number, place.beat, "ii before V"),
                2.5,
                f"{place.dominant} lasts long enough to share its time with the ii",
            )


def _rub(root: int, *, third: int, seventh: bool = False) -> set[int]:
    """Pitch classes a half step above a chord's root, third, fifth or (if so) seventh."""
    return {(root + step + 1) % 12 for step in (0, third, 7, *((10,) if seventh else ()))}


def draft_edits(
    tune: Tune,
    form: Form,
    *,
    level: LevelName,
    seed: int = 0,
    count: int | None = None,
) -> tuple[Edit, ...]:
    """Choose edits for a first draft of a level; all of them apply in order.

    Parameters
    ----------
    tune : Tune
        As written, repeats not unfolded.
    form : Form
        Sections over the unfolded tune.
    level : "intermediate" or "advanced"
        How bold it may be.
    seed : int
        Another seed gives another draft.
    count : int >= 0, optional
        At most so many edits; as many as suit the level unless said.

    Raises
    ------
    ValueError
        For another level or a count below zero.
    """
    if count is not None and count < 0:
        raise ValueError("a count cannot be below zero")
    rng = Random(f"{level} {seed}")
    ranked = sorted(
        suggestions(tune, form, level=level),
        key=lambda s: (
            -(s.rank + rng.uniform(-0.6, 0.6)),
            s.edit.bar,
            s.edit.beat,
            s.edit.do,
        ),
    )
    copies = _copies(tune, form) if level == "intermediate" else {}
    played = [bar for bar in tune.bars if any(note.pitch for note in bar.notes)]
    limit = count if count is not None else round(len(played) * _SHARE[level])
    chosen: list[Edit] = []
    used: dict[str, int] = {}
    taken: set[int] = set()
    for suggestion in ranked:
        edit = suggestion.edit
        group = copies.get(edit.bar, (edit.bar,))
        too_often = used.get(edit.do, 0) * 3 > limit
        if too_often or len(chosen) + len(group) > limit or taken & set(group):
            continue
        chosen += [Edit(bar, edit.beat, edit.do, edit.options) for bar in group]
        used[edit.do] = used.get(edit.do, 0) + len(group)
        taken |= set(group)
    return _that_apply(tune, sorted(chosen, key=lambda e: (e.bar, e.beat)))


def _that_apply(tune: Tune, edits: Sequence[Edit]) -> tuple[Edit, ...]:
    kept = []
    for edit in edits:
        try:
            tune = apply_edit(tune, edit)
        except LevelError:
            # A neighbour took its room: a draft does without, a level file would report it.
            continue
        kept.append(edit)
    return tuple(kept)


def _copies(tune: Tune, form: Form) -> dict[int, tuple[int, ...]]:
    """Group the printed numbers of bars that hold the same music in like sections."""
    order = playing_order(tune)
    groups: dict[tuple[object, ...], list[int]] = {}
    for section in form.sections:
        for offset, place in enumerate(range(section.first, section.last + 1)):
            index = order[place]
            key = (section.label, offset, *bar_key(tune, index))
            numbers = groups.setdefault(key, [])
            if tune.bars[index].number not in numbers:
                numbers.append(tune.bars[index].number)
    return {n: tuple(numbers) for numbers in groups.values() for n in numbers}
