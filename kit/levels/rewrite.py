"""How do changed sounds become notation again?

An edit thinks in sounds on one long timeline; a page holds symbols in bars. `sounds_of`
goes one way, `with_sounds` the other, and writes anew only the bars whose sounds changed.

Conventions
-----------
* Times are exact quarter notes from the start of the first written bar, all bars laid end
  to end as written (repeats not unfolded).
* Every bar comes out exactly full, each note one symbol of at most one dot, split and tied
  where the beats would be hidden (`kit.levels._metric`). A beat cut in three or six becomes
  a triplet, two beats cut in three a triplet of quarters; other tuplets are refused.

Source: common practice of notation.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from kit.levels._metric import split_at_beats
from kit.tune.model import Bar, Grace, Meter, Note, Tune
from kit.tune.notation import note_value
from kit.tune.pitch import Pitch

__all__ = [
    "Sound",
    "bar_starts",
    "rewritten",
    "silent",
    "sounds_in",
    "sounds_of",
    "unchanged",
    "with_sounds",
]

_END_MARKS = frozenset({"falloff", "doit", "fermata"})
"""Marks that belong to the end of a sound, so to the last of its tied symbols."""
_TRIPLET = (3, 2)


@dataclass(frozen=True, slots=True)
class Sound:
    """One sounding note, ties joined, with all that is written at it.

    `held_on` is a tie out of the sound that meets no note of the same pitch (into a second
    ending, for example).
    """

    start: Fraction
    duration: Fraction
    pitch: Pitch
    graces: tuple[Grace, ...] = ()
    marks: tuple[str, ...] = ()
    slurs_started: int = 0
    slurs_ended: int = 0
    lyrics: tuple[str, ...] = ()
    held_on: bool = False

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        return self.start + self.duration


@dataclass(frozen=True, slots=True)
class _Piece:
    """The part of a sound, or of silence, that lies in one bar (times in the full bar)."""

    start: Fraction
    end: Fraction
    sound: Sound | None
    opens: bool = True
    closes: bool = True


def bar_starts(tune: Tune) -> tuple[Fraction, ...]:
    """Give where each written bar begins, and at last where the tune ends."""
    starts = [Fraction(0)]
    for bar in tune.bars:
        starts.append(starts[-1] + bar.length)
    return tuple(starts)


def sounds_of(tune: Tune) -> tuple[Sound, ...]:
    """Give the sounds of the written bars in order, ties joined."""
    return sounds_in(tune.bars, bar_starts(tune))


def sounds_in(bars: Sequence[Bar], starts: Iterable[Fraction]) -> tuple[Sound, ...]:
    """Give the sounds of bars that begin at these moments, ties between them joined.

    Parameters
    ----------
    bars : sequence of Bar
        Consecutive bars as written.
    starts : iterable of Fraction
        Where each of them begins, in quarter notes; more of them do no harm.

    Returns
    -------
    tuple of Sound
        In order, at moments from where `starts` counts.
    """
    found: list[Sound] = []
    open_tie = False
    # `bar_starts` has one moment more than there are bars: the end.
    for bar, start in zip(bars, starts, strict=False):
        for note in bar.notes:
            if note.pitch is None:
                open_tie = False
                continue
            if open_tie and found[-1].pitch == note.pitch:
                found[-1] = _joined(found[-1], note)
            else:
                found.append(_sound(note, start))
            open_tie = note.tied
    return tuple(found)


def _sound(note: Note, bar_start: Fraction) -> Sound:
    assert note.pitch is not None
    return Sound(
        bar_start + note.onset, note.duration, note.pitch, note.graces, note.marks,
        note.slurs_started, note.slurs_ended, note.lyrics, note.tied,
    )  # fmt: skip


def _joined(sound: Sound, note: Note) -> Sound:
    new_marks = tuple(mark for mark in note.marks if mark not in sound.marks)
    return replace(
        sound,
        duration=sound.duration + note.duration,
        marks=sound.marks + new_marks,
        slurs_started=sound.slurs_started + note.slurs_started,
        slurs_ended=sound.slurs_ended + note.slurs_ended,
        held_on=note.tied,
    )


def with_sounds(tune: Tune, sounds: Sequence[Sound]) -> Tune:
    """Write a tune's bars with other sounds; bars whose sounds are the same stay untouched.

    Parameters
    ----------
    tune : Tune
        Whose bars, chords and words stay.
    sounds : sequence of Sound
        In order, not overlapping, inside the tune.

    Raises
    ------
    ValueError
        If sounds overlap or leave the tune, or a rhythm has no notation here.
    """
    starts = bar_starts(tune)
    return rewritten(tune, starts, sounds_in(tune.bars, starts), sounds)


def rewritten(
    tune: Tune,
    starts: Sequence[Fraction],
    before: Sequence[Sound],
    sounds: Sequence[Sound],
) -> Tune:
    """Do what `with_sounds` does where it is known when the bars start and what sounds.

    Parameters
    ----------
    tune : Tune
        Whose bars, chords and words stay.
    starts : sequence of Fraction
        As `bar_starts` gives them: the end of the tune is the last.
    before : sequence of Sound
        The tune's sounds as they are.
    sounds : sequence of Sound
        Those it is to have.

    Raises
    ------
    ValueError
        As `with_sounds`.
    """
    head, tail = unchanged(before, sounds)
    _check(sounds, starts[-1], head, tail)
    changed = set(before[head : len(before) - tail]) ^ set(
        sounds[head : len(sounds) - tail]
    )
    touched = {
        index
        for sound in changed
        for index in range(
            bisect_right(starts, sound.start) - 1, _last_bar(starts, sound.end) + 1
        )
    }
    moments = [sound.start for sound in sounds]
    bars = list(tune.bars)
    for index in sorted(touched):
        start, end = span = starts[index], starts[index + 1]
        # Sounds do not overlap: only the one before the bar can reach into it.
        first = max(0, bisect_left(moments, start) - 1)
        inside = sounds[first : bisect_left(moments, end)]
        bars[index] = _written(bars[index], _pieces(bars[index], span, inside))
    return replace(tune, bars=tuple(bars))


def silent(bar: Bar) -> Bar:
    """Give a bar with its notes replaced by rests."""
    lead_in = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    return _written(bar, [_Piece(lead_in, lead_in + bar.length, None)])


def _last_bar(starts: Sequence[Fraction], end: Fraction) -> int:
    index = bisect_right(starts, end) - 1
    # What stops on a bar line does not reach into the bar behind it.
    return index - 1 if starts[index] == end else index


def unchanged(before: Sequence[object], after: Sequence[object]) -> tuple[int, int]:
    """Count the items at the start, and at the end, that are the very same in both."""
    most = min(len(before), len(after))
    head = 0
    while head < most and _same(before[head], after[head]):
        head += 1
    tail = 0
    while tail < most - head and _same(before[-1 - tail], after[-1 - tail]):
        tail += 1
    return head, tail


def _same(one: object, other: object) -> bool:
    # Most are the very same object, and comparing fractions is slow.
    return one is other or one == other


def _check(sounds: Sequence[Sound], end: Fraction, head: int, tail: int) -> None:
    """Look at the sounds that are new, and at their neighbours."""
    new = sounds[max(0, head - 1) : len(sounds) - tail + 1]
    for sound, following in pairwise(new):
        if sound.end > following.start:
            raise ValueError(f"sounds overlap at {following.start}")
    if any(sound.duration <= 0 for sound in new):
        raise ValueError("a sound has no length")
    if sounds and (sounds[0].start < 0 or sounds[-1].end > end):
        raise ValueError("a sound lies outside the tune")


def _pieces(
    bar: Bar, span: tuple[Fraction, Fraction], sounds: Sequence[Sound]
) -> list[_Piece]:
    """Fill a bar with the parts of sounds that lie in it, and with silence between."""
    start, end = span
    lead_in = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    # A pick-up is the end of a bar: counted from there its notes lie on their beats.
    shift = lead_in - start
    pieces: list[_Piece] = []
    now = start
    for sound in sounds:
        if sound.end <= start or sound.start >= end:
            continue
        first, last = max(sound.start, start), min(sound.end, end)
        if first > now:
            pieces.append(_Piece(now + shift, first + shift, None))
        pieces.append(
            _Piece(
                first + shift,
                last + shift,
                sound,
                opens=first == sound.start,
                closes=last == sound.end,
            )
        )
        now = last
    if now < end:
        pieces.append(_Piece(now + shift, end + shift, None))
    return pieces


def _written(bar: Bar, pieces: Sequence[_Piece]) -> Bar:
    lead_in = pieces[0].start
    edges = {piece.start for piece in pieces} | {pieces[-1].end}
    regions = _triplet_regions(edges, bar.meter, pieces[-1].end)
    notes = []
    for piece in pieces:
        symbols = list(_symbols(piece, bar.meter, regions))
        for place, (start, end, tuplet) in enumerate(symbols):
            last = place == len(symbols) - 1
            note = _note(piece, start, end, tuplet, first=place == 0, last=last)
            notes.append(replace(note, onset=note.onset - lead_in) if lead_in else note)
    return replace(bar, notes=tuple(notes))


def _triplet_regions(
    edges: set[Fraction], meter: Meter, end: Fraction
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Find the stretches of one or two beats that are cut in three."""
    # In a compound meter the third of a beat is a plain eighth.
    if meter.is_compound or not any(edge.denominator % 3 == 0 for edge in edges):
        return ()
    pulse = meter.pulse
    regions: list[tuple[Fraction, Fraction]] = []
    start = Fraction(0)
    while start < end:
        wide = start + 2 * pulse
        # Three notes over two beats start on a strong beat only: elsewhere they hide it.
        if start % (2 * pulse) == 0 and wide <= end and _cut_in_three(edges, start, wide):
            regions.append((start, wide))
            start = wide
            continue
        inner = [edge for edge in edges if start < edge < start + pulse]
        if any(edge.denominator % 3 == 0 for edge in inner):
            # Thirds and sixths of a beat; finer tuplets are refused.
            if any(6 * (edge - start) % pulse for edge in inner):
                raise ValueError("a beat here is divided in a way that cannot be written")
            regions.append((start, start + pulse))
        start += pulse
    return tuple(regions)


def _cut_in_three(edges: set[Fraction], start: Fraction, end: Fraction) -> bool:
    inner = {edge for edge in edges if start < edge < end}
    third = (end - start) / 3
    return bool(inner) and all((edge - start) % third == 0 for edge in inner)


def _symbols(
    piece: _Piece, meter: Meter, regions: Sequence[tuple[Fraction, Fraction]]
) -> Iterator[tuple[Fraction, Fraction, tuple[int, int] | None]]:
    """Cut a piece into symbols: (start, end, tuplet)."""
    if not regions:
        rest = piece.sound is None
        for start, stop in split_at_beats(piece.start, piece.end, meter, rest=rest):
            yield start, stop, None
        return
    now = piece.start
    while now < piece.end:
        region = next((r for r in regions if r[0] <= now < r[1]), None)
        if region is not None:
            end = min(piece.end, region[1])
            for start, stop in _in_triplet(now, end, region):
                yield start, stop, _TRIPLET
        else:
            following = min(
                (r[0] for r in regions if now < r[0] < piece.end), default=piece.end
            )
            end = following
            for start, stop in split_at_beats(now, end, meter, rest=piece.sound is None):
                yield start, stop, None
        now = end


def _in_triplet(
    start: Fraction, end: Fraction, region: tuple[Fraction, Fraction]
) -> Iterator[tuple[Fraction, Fraction]]:
    third = (region[1] - region[0]) / 3
    while start < end:
        stop = end
        try:
            note_value(stop - start, _TRIPLET)
        except ValueError:
            # No symbol is as long: up to the next third, and tied on from there.
            stop = region[0] + ((start - region[0]) // third + 1) * third
        yield start, stop
        start = stop


def _note(
    piece: _Piece,
    start: Fraction,
    end: Fraction,
    tuplet: tuple[int, int] | None,
    *,
    first: bool,
    last: bool,
) -> Note:
    sound = piece.sound
    if sound is None:
        return Note(start, end - start, None, tuplet=tuplet)
    opens, closes = first and piece.opens, last and piece.closes
    return Note(
        start,
        end - start,
        sound.pitch,
        tied=not closes or sound.held_on,
        graces=sound.graces if opens else (),
        marks=tuple(m for m in sound.marks if (closes if m in _END_MARKS else opens)),
        slurs_started=sound.slurs_started if opens else 0,
        slurs_ended=sound.slurs_ended if closes else 0,
        tuplet=tuplet,
        lyrics=sound.lyrics if opens else (),
    )
