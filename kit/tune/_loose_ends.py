"""What becomes of ties, slurs and lines that lead nowhere?

Readers bring their bars here, so that every tune says each thing in one way only:

* A tie joins two neighbouring notes of one pitch. The end takes the beginning's name where
  they differ only in spelling.
* A tie between different pitches is a slur drawn with the wrong sign, as many old files
  have it, and becomes one.
* A tie at the end of a passage that is left by a repeat, an ending or a jump stays, because
  its other end may be elsewhere on the page. Any other that meets no note is left out.
* A slur, hairpin or octave sign without its other end is left out.

What is left out or changed is told. Source: common practice, as in Gould, *Behind Bars*
(2011), "Ties" (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from kit.tune._notices import Notices
from kit.tune.model import Bar, Note
from kit.tune.spans import with_paired_spans

__all__ = ["leads_elsewhere", "without_loose_ends"]


@dataclass(slots=True)
class _Symbol:
    """A note with its place, while its ties and slurs are being settled."""

    bar: int
    note: Note


def without_loose_ends(bars: Sequence[Bar], notices: Notices) -> tuple[Bar, ...]:
    """Give the bars with whole ties, slurs and lines only."""
    symbols = [_Symbol(index, note) for index, bar in enumerate(bars) for note in bar.notes]
    _settle_ties(symbols, bars, notices)
    _settle_slurs(symbols, notices)
    notes: list[list[Note]] = [[] for _ in bars]
    for symbol in symbols:
        notes[symbol.bar].append(symbol.note)
    changed = tuple(
        replace(bar, notes=tuple(own)) for bar, own in zip(bars, notes, strict=True)
    )
    paired = with_paired_spans(changed)
    for bar, kept in zip(changed, paired, strict=True):
        for _ in range(len(bar.spans) - len(kept.spans)):
            notices.left_out("one end of a hairpin or octave sign without the other")
    return paired


def leads_elsewhere(bar: Bar, following: Bar | None) -> bool:
    """Say whether the music may go on elsewhere than in the next bar on the page."""
    return bool(
        bar.repeat_times
        or any(jump not in ("segno", "coda") for jump in bar.jumps)
        or (bar.endings and (following is None or following.endings != bar.endings))
    )


def _settle_ties(symbols: list[_Symbol], bars: Sequence[Bar], notices: Notices) -> None:
    was_slur = False
    for first, second in pairwise((*symbols, None)):
        assert first is not None
        note = first.note
        if not note.tied or note.pitch is None:
            was_slur = False
            continue
        pitch = second.note.pitch if second is not None else None
        # By sound: files tie F♯ to G♭ over a change of key.
        if second is not None and pitch is not None and pitch.midi == note.pitch.midi:
            second.note = replace(second.note, pitch=note.pitch)
            was_slur = False
            continue
        after = bars[first.bar + 1] if first.bar + 1 < len(bars) else None
        is_last = second is None or second.bar != first.bar
        if is_last and leads_elsewhere(bars[first.bar], after):
            was_slur = False
            continue
        first.note = replace(note, tied=False)
        if second is None or pitch is None:
            notices.left_out("a tie that leads to no note")
            was_slur = False
            continue
        notices.say("Ties between notes of different pitch are read as slurs.")
        if was_slur:
            # Wrong ties in a row are one slur: it goes on, where it was thought to end.
            first.note = replace(first.note, slurs_ended=first.note.slurs_ended - 1)
        else:
            first.note = replace(first.note, slurs_started=first.note.slurs_started + 1)
        second.note = replace(second.note, slurs_ended=second.note.slurs_ended + 1)
        was_slur = second.note.tied


def _settle_slurs(symbols: list[_Symbol], notices: Notices) -> None:
    """Leave out what has no other end; of one note's slurs, ends come first."""
    waiting: list[_Symbol] = []
    for symbol in symbols:
        # A note may end one slur and begin the next: ends are settled first.
        ended = min(symbol.note.slurs_ended, len(waiting))
        for _ in range(symbol.note.slurs_ended - ended):
            notices.left_out("the end of a slur that begins nowhere")
        del waiting[len(waiting) - ended :]
        if ended != symbol.note.slurs_ended:
            symbol.note = replace(symbol.note, slurs_ended=ended)
        waiting += [symbol] * symbol.note.slurs_started
    for symbol in waiting:
        notices.left_out("the beginning of a slur that ends nowhere")
        symbol.note = replace(symbol.note, slurs_started=symbol.note.slurs_started - 1)
