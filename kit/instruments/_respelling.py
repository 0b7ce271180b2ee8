"""Which notes and chord symbols of a part are respelled, and how to take it back.

Source: common practice; the rules of spelling are those of `kit.instruments._spelling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kit.instruments._spelling import keeps_function, plain_chord, plain_pitch
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Note
from kit.tune.pitch import Key, Pitch

__all__ = [
    "Respelled",
    "RespelledChord",
    "with_chords_as_before",
    "with_notes_as_before",
    "with_plain_chords",
    "with_plain_notes",
]


@dataclass(frozen=True, slots=True)
class Respelled:
    """A note whose spelling was mended; `was` is what plain transposition brings."""

    bar: int
    position: int
    grace: int | None
    was: Pitch


@dataclass(frozen=True, slots=True)
class RespelledChord:
    """A chord symbol whose spelling was mended."""

    bar: int
    position: int
    was: ChordSymbol


def with_plain_notes(
    bars: Sequence[Bar],
) -> tuple[tuple[Bar, ...], tuple[Respelled, ...]]:
    """Mend the notes, and say which were mended.

    A tie joins one pitch with itself, so its end is spelled as its beginning.
    """
    mended = list(bars)
    respelled: list[Respelled] = []
    held: Pitch | None = None
    following = _following(bars)
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            if note.pitch is None:
                held = None
                continue
            # A grace note moves to the next one, the last of them to the main note.
            targets = [*(grace.pitch for grace in note.graces[1:]), note.pitch]
            for place, (grace, target) in enumerate(
                zip(note.graces, targets, strict=False)
            ):
                plain = _plain(grace.pitch, bar.key, target)
                if plain != grace.pitch:
                    respelled.append(Respelled(index, position, place, grace.pitch))
                    _set_pitch(mended, respelled[-1], plain)
            # By sound: the start of the tie may just have been respelled.
            ties = held is not None and held.midi == note.pitch.midi
            plain = (
                held
                if held and ties
                else _plain(note.pitch, bar.key, following.get((index, position)))
            )
            if plain != note.pitch:
                respelled.append(Respelled(index, position, None, note.pitch))
                _set_pitch(mended, respelled[-1], plain)
            held = plain if note.tied else None
    return tuple(mended), tuple(respelled)


def _plain(pitch: Pitch, key: Key, target: Pitch | None) -> Pitch:
    if target is not None and keeps_function(pitch, target, key):
        return pitch
    return plain_pitch(pitch, key)


def _following(bars: Sequence[Bar]) -> dict[tuple[int, int], Pitch]:
    """Give each sound the pitch that it moves to, if no rest parts them."""
    found: dict[tuple[int, int], Pitch] = {}
    waiting: list[tuple[int, int]] = []
    held: Note | None = None
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            is_held = held is not None and held.pitch == note.pitch
            if not is_held:
                first = note.graces[0].pitch if note.graces else note.pitch
                if first is not None:
                    found.update(dict.fromkeys(waiting, first))
                waiting = []
            if note.pitch is not None:
                # All symbols of a tied sound move to what follows the last of them.
                waiting.append((index, position))
            held = note if note.tied else None
    return found


def with_notes_as_before(
    bars: Sequence[Bar], respelled: Sequence[Respelled]
) -> tuple[Bar, ...]:
    """Take the mending of the notes back."""
    restored = list(bars)
    for place in respelled:
        _set_pitch(restored, place, place.was)
    return tuple(restored)


def _set_pitch(bars: list[Bar], place: Respelled, pitch: Pitch) -> None:
    notes = list(bars[place.bar].notes)
    note = notes[place.position]
    if place.grace is None:
        notes[place.position] = replace(note, pitch=pitch)
    else:
        graces = list(note.graces)
        graces[place.grace] = replace(graces[place.grace], pitch=pitch)
        notes[place.position] = replace(note, graces=tuple(graces))
    bars[place.bar] = replace(bars[place.bar], notes=tuple(notes))


def with_plain_chords(
    bars: Sequence[Bar],
) -> tuple[tuple[Bar, ...], tuple[RespelledChord, ...]]:
    """Mend the chord symbols, and say which were mended."""
    mended = []
    respelled = []
    for index, bar in enumerate(bars):
        events = []
        for position, event in enumerate(bar.chords):
            plain = plain_chord(event.symbol, bar.key)
            if plain is not event.symbol:
                respelled.append(RespelledChord(index, position, event.symbol))
            events.append(replace(event, symbol=plain))
        mended.append(replace(bar, chords=tuple(events)))
    return tuple(mended), tuple(respelled)


def with_chords_as_before(
    bars: Sequence[Bar], respelled: Sequence[RespelledChord]
) -> tuple[Bar, ...]:
    """Take the mending of the chord symbols back."""
    restored = list(bars)
    for chord in respelled:
        events = list(restored[chord.bar].chords)
        events[chord.position] = replace(events[chord.position], symbol=chord.was)
        restored[chord.bar] = replace(restored[chord.bar], chords=tuple(events))
    return tuple(restored)
