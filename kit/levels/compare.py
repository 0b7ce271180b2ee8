"""What is different in a higher level, in words, bar by bar?

The two versions may be edits of one another or two plain notation files: the differences
are recovered by pairing their notes (`kit.levels._align`).

Conventions: bars are compared by index; printed numbers name them. ``lower_ids`` and
``upper_ids`` are symbol ids (`kit.tune.model.note_id`) on either side, so that both staves
can mark what is meant. Source: the words are those of the trade.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from kit.form.wording import bars_words, number_word, ordinal
from kit.levels._align import Pair, aligned
from kit.levels._compare_chords import chord_differences
from kit.levels._compare_words import (
    grace_changes,
    leading_words,
    mark_changes,
    names,
    neighbour_words,
    pitch_change,
)
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.levels.values import beat_words, value_words
from kit.tune.model import Tune, note_id

__all__ = ["Difference", "compare"]

_REGISTER = 4
"""So many notes in a row in another octave are a change of register."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that a higher level does otherwise.

    `kind` is the word a level file would use (``early``, ``grace``, ``chord`` ...) or
    ``new bars``; `text` is a clause with its bar in front.
    """

    bar_number: int
    text: str
    lower_ids: tuple[str, ...] = ()
    upper_ids: tuple[str, ...] = ()
    kind: str = ""


# A page draws a comparison at two widths and tells of it on paper.
@lru_cache(maxsize=16)
def compare(lower: Tune, upper: Tune) -> tuple[Difference, ...]:
    """Say what a level does otherwise than the one below it.

    Parameters
    ----------
    lower, upper : Tune
        Two versions over the same bars; what the longer one has beyond the shorter is
        one difference. Both in the same key, concert or written.

    Returns
    -------
    tuple of Difference
        In order of bars; melody before changes in each bar.
    """
    shared = min(len(lower.bars), len(upper.bars))
    comparison = _Comparison(_cut(lower, shared), _cut(upper, shared))
    found = [(index, 0, item) for index, item in comparison.melody()]
    for index, text, kind in chord_differences(lower, upper, shared):
        number = lower.bars[index].number
        item = Difference(number, f"bar {number}: {text}", kind=kind)
        found.append((index, 1, item))
    found.sort(key=lambda entry: entry[:2])
    differences = [item for _, _, item in found]
    for longer, word in ((upper, "new"), (lower, "left out")):
        extra = longer.bars[shared:]
        if extra:
            numbers = sorted({bar.number for bar in extra})
            verb = "is" if len(numbers) == 1 else "are"
            text = f"{bars_words(numbers)} {verb} {word}"
            differences.append(Difference(numbers[0], text, kind="new bars"))
    return tuple(differences)


def _cut(tune: Tune, bars: int) -> Tune:
    return Tune(tune.title, tune.bars[:bars])


class _Version:
    """One side of the comparison with its look-ups."""

    def __init__(self, tune: Tune) -> None:
        self.tune = tune
        self.sounds = sounds_of(tune)
        self.starts = bar_starts(tune)
        self._sound_starts = [sound.start for sound in self.sounds]
        symbols = list(_symbol_ids(tune))
        self._moments = [moment for moment, _ in symbols]
        self._ids = [identity for _, identity in symbols]

    def bar_of(self, sound: Sound) -> int:
        return bisect_right(self.starts, sound.start) - 1

    def ids(self, sound: Sound) -> tuple[str, ...]:
        first = bisect_left(self._moments, sound.start)
        last = bisect_left(self._moments, sound.end)
        return tuple(self._ids[first:last])

    def ordinal_in_bar(self, place: int) -> int:
        bar_start = self.starts[self.bar_of(self.sounds[place])]
        return place - bisect_left(self._sound_starts, bar_start) + 1

    def beat(self, sound: Sound) -> str:
        index = self.bar_of(sound)
        bar = self.tune.bars[index]
        lead = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
        onset = sound.start - self.starts[index] + lead
        return beat_words(onset / Fraction(4, bar.meter.beat_type) + 1)


def _symbol_ids(tune: Tune) -> Iterator[tuple[Fraction, str]]:
    for index, (bar, start) in enumerate(zip(tune.bars, bar_starts(tune), strict=False)):
        for position, note in enumerate(bar.notes):
            yield start + note.onset, note_id(index, position)


class _Comparison:
    """Turns pairs of notes into differences."""

    def __init__(self, lower: Tune, upper: Tune) -> None:
        self.lower = _Version(lower)
        self.upper = _Version(upper)
        self.pairs = aligned(self.lower.sounds, self.upper.sounds)
        self.partner = {j: i for i, j in self.pairs if i is not None and j is not None}
        self.registers = self._register_runs()
        self.in_register = {i for run in self.registers.values() for i, _ in run}

    def melody(self) -> Iterator[tuple[int, Difference]]:
        group: list[int] = []
        for run in self._runs():
            for i, j in run:
                if i is None and j is not None:
                    group.append(j)
                    continue
                if group and j is not None:
                    yield from self._added(group, j)
                    group = []
            if len(run) > 1:
                yield self._displaced(
                    [(i, j) for i, j in run if i is not None and j is not None]
                )
            for i, j in run:
                if i in self.registers:
                    yield self._register(self.registers[i])
                if i is not None:
                    yield from self._kept((i, j), i, moved_already=len(run) > 1)
        if group:
            yield from self._added(group, None)

    def _runs(self) -> list[list[Pair]]:
        """Put neighbouring pairs together that have moved by the same amount."""
        runs: list[list[Pair]] = []
        last = Fraction(0)
        for i, j in self.pairs:
            moved = Fraction(0)
            if i is not None and j is not None:
                moved = self.upper.sounds[j].start - self.lower.sounds[i].start
            if moved and moved == last:
                runs[-1].append((i, j))
            else:
                runs.append([(i, j)])
            last = moved
        return runs

    def _register_runs(self) -> dict[int, list[tuple[int, int]]]:
        """Find runs of notes that have moved by the same octave, by their first note."""
        runs: dict[int, list[tuple[int, int]]] = {}
        run: list[tuple[int, int]] = []
        last = 0
        for i, j in self.pairs:
            if i is None or j is None:
                continue
            moved = self.upper.sounds[j].pitch.midi - self.lower.sounds[i].pitch.midi
            octaves = moved // 12 if moved % 12 == 0 else 0
            if octaves != last:
                run = []
            last = octaves
            if octaves:
                run.append((i, j))
                if len(run) == _REGISTER:
                    runs[run[0][0]] = run
        return runs

    def _register(self, run: list[tuple[int, int]]) -> tuple[int, Difference]:
        places, above = [i for i, _ in run], [j for _, j in run]
        one, other = self.lower.sounds[places[0]], self.upper.sounds[above[0]]
        nth = ordinal(self.lower.ordinal_in_bar(places[0]))
        name = f"{number_word(len(run))} notes from the {nth} on"
        _, clause = pitch_change(one, other)
        text = f"{name} {clause.replace('is', 'are', 1)}"
        index = self.lower.bar_of(one)
        return self._say(index, text, "register", tuple(places), tuple(above))

    def _displaced(self, run: list[tuple[int, int]]) -> tuple[int, Difference]:
        places, above = [i for i, _ in run], [j for _, j in run]
        one, other = self.lower.sounds[places[0]], self.upper.sounds[above[0]]
        moved = other.start - one.start
        way = "early" if moved < 0 else "late"
        nth = ordinal(self.lower.ordinal_in_bar(places[0]))
        name = f"{number_word(len(run))} notes from the {nth} on"
        text = f"{name} come {value_words(abs(moved))} {way}"
        return self._say(
            self.lower.bar_of(one), text, "displace", tuple(places), tuple(above)
        )

    def _kept(
        self, pair: Pair, i: int, *, moved_already: bool
    ) -> Iterator[tuple[int, Difference]]:
        one = self.lower.sounds[i]
        name = f"the {ordinal(self.lower.ordinal_in_bar(i))} note"
        index = self.lower.bar_of(one)
        j = pair[1]
        if j is None:
            yield self._say(index, f"{name} is left out", "leave out", (i,), ())
            return
        for kind, clause in self._changes(i, j):
            if moved_already and kind in ("early", "late"):
                continue
            yield self._say(index, f"{name} {clause}", kind, (i,), (j,))

    def _say(
        self,
        index: int,
        text: str,
        kind: str,
        below: tuple[int, ...],
        above: tuple[int, ...],
    ) -> tuple[int, Difference]:
        number = self.lower.tune.bars[index].number
        lower_ids = [x for i in below for x in self.lower.ids(self.lower.sounds[i])]
        upper_ids = [x for j in above for x in self.upper.ids(self.upper.sounds[j])]
        return index, Difference(
            number, f"bar {number}: {text}", tuple(lower_ids), tuple(upper_ids), kind
        )

    def _changes(self, i: int, j: int) -> Iterator[tuple[str, str]]:
        one, other = self.lower.sounds[i], self.upper.sounds[j]
        moved = other.start - one.start
        if moved:
            kind = "early" if moved < 0 else "late"
            yield kind, f"comes {value_words(abs(moved))} {kind}"
        elif other.duration != one.duration and not self._end_explained(i, j):
            by = other.duration - one.duration
            if by > 0:
                yield "lengthen", f"lasts {value_words(by)} longer"
            else:
                yield "shorten", f"is {value_words(-by)} shorter"
        if one.pitch.midi != other.pitch.midi and i not in self.in_register:
            yield pitch_change(one, other)
        yield from mark_changes(one, other)
        yield from grace_changes(one, other)

    def _end_explained(self, i: int, j: int) -> bool:
        """Whether the note's new end follows from what the next note does."""
        one, other = self.lower.sounds[i], self.upper.sounds[j]
        if j + 1 >= len(self.upper.sounds):
            return False
        following = self.upper.sounds[j + 1]
        if following.start != other.end:
            # Left out notes leave rests; only a shorter note needs a word of its own.
            return False
        partner = self.partner.get(j + 1)
        if partner is None:
            return other.end < one.end
        return self.lower.sounds[partner].start != following.start

    def _added(
        self, group: list[int], following: int | None
    ) -> Iterator[tuple[int, Difference]]:
        first = self.upper.sounds[group[0]]
        index = self.upper.bar_of(first)
        kind, text = self._added_words(group, following)
        yield self._say(index, text, kind, (), tuple(group))

    def _added_words(self, group: list[int], following: int | None) -> tuple[str, str]:
        sounds = [self.upper.sounds[j] for j in group]
        before = self.upper.sounds[group[0] - 1] if group[0] else None
        words = self._struck_again(group, before) or neighbour_words(before, sounds)
        if words is None and following is not None:
            where = self._target_words(following, sounds[0])
            words = leading_words(before, sounds, self.upper.sounds[following], where)
        if words is None and len(sounds) == 1:
            words = "note", f"a new {sounds[0].pitch.name} on {self.upper.beat(sounds[0])}"
        return words or ("fill", f"{len(sounds)} new notes: {names(sounds)}")

    def _target_words(self, following: int, first: Sound) -> str:
        target = self.upper.sounds[following]
        index = self.upper.bar_of(target)
        if index == self.upper.bar_of(first):
            return f"{target.pitch.name} on {self.upper.beat(target)}"
        return f"{target.pitch.name} in bar {self.upper.tune.bars[index].number}"

    def _struck_again(
        self, group: list[int], before: Sound | None
    ) -> tuple[str, str] | None:
        """Say that a note is repeated within its own old length, if it is."""
        partner = self.partner.get(group[0] - 1) if group[0] else None
        if before is None or partner is None:
            return None
        held = self.lower.sounds[partner]
        sounds = [self.upper.sounds[j] for j in group]
        inside = all(
            s.pitch.midi == held.pitch.midi and held.start <= s.start < held.end
            for s in sounds
        )
        if not inside:
            return None
        times = len(group) + 1
        often = "twice" if times == 2 else f"{number_word(times)} times"
        nth = ordinal(self.lower.ordinal_in_bar(partner))
        return "repeat", f"the {nth} note is struck {often}"
