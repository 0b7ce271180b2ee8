"""What are melody notes called once the chord under them is another one?

Conventions
-----------
* A note of the new chord has the name that it has in the chord: what was D♯ over B7 is E♭
  over F7. A name that is rarely read (C♭, E♯, double signs) is not given.
* A note belongs to the chord that holds longest under it, so that one that comes early
  belongs to the chord it anticipates. Notes outside of the chord keep their names, and so
  do grace notes, which are spelled from the note that they lead to.

Source: common practice, as in Gould, *Behind Bars* (2011), "Accidentals" (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from kit.levels._music import Music
from kit.levels.rewrite import Sound, unchanged
from kit.levels.steps import is_plain
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune
from kit.tune.pitch import Pitch

__all__ = ["spelled_over_chords"]

_Chords = Sequence[tuple[Fraction, ChordSymbol]]


def spelled_over_chords(before: Music, tune: Tune) -> Tune:
    """Respell the melody where an edit has changed the chord.

    Parameters
    ----------
    before : Music
        The music before the edit.
    tune : Tune
        The same notes over the new chords.

    Returns
    -------
    Tune
        Bars in which no name changes are the very same objects.
    """
    old, new = _chords(before, before.tune), _chords(before, tune)
    head, tail = unchanged(old, new)
    if head == len(old) == len(new):
        return tune
    # A new chord holds until the next one that both have.
    first = min(start for start, _ in (*old[head:], *new[head:]))
    last = new[len(new) - tail][0] if tail else before.starts[-1]
    names: dict[int, Pitch] = {}
    for place, sound in enumerate(before.sounds):
        if sound.end <= first or sound.start >= last:
            continue
        symbol = _main_chord(sound, new)
        # A tie that leads elsewhere (a second ending) needs the same name at its other end.
        if symbol is None or sound.held_on or symbol == _main_chord(sound, old):
            continue
        pitch = _named(sound.pitch, symbol)
        if pitch != sound.pitch:
            names[place] = pitch
    return _renamed(tune, names) if names else tune


def _chords(music: Music, tune: Tune) -> _Chords:
    return [
        (start + event.onset, event.symbol)
        for start, bar in zip(music.starts, tune.bars, strict=False)
        for event in bar.chords
    ]


def _main_chord(sound: Sound, chords: _Chords) -> ChordSymbol | None:
    """Give the chord that holds longest under a sound, the later one of two."""
    best, longest = None, Fraction(0)
    for place, (start, symbol) in enumerate(chords):
        if start >= sound.end:
            break
        end = chords[place + 1][0] if place + 1 < len(chords) else sound.end
        length = min(end, sound.end) - max(start, sound.start)
        if length >= longest and length > 0:
            best, longest = symbol, length
    return best


def _named(pitch: Pitch, symbol: ChordSymbol) -> Pitch:
    for name in symbol.note_names:
        if name.pitch_class == pitch.midi % 12 and is_plain(name):
            return pitch.respelled(name)
    return pitch


def _renamed(tune: Tune, names: Mapping[int, Pitch]) -> Tune:
    """Give sounds other names, all their tied symbols alike."""
    bars: list[Bar] = []
    place = -1
    tied_from: Pitch | None = None
    for bar in tune.bars:
        notes = list(bar.notes)
        for position, note in enumerate(bar.notes):
            if note.pitch is not None and note.pitch != tied_from:
                place += 1
            tied_from = note.pitch if note.tied else None
            if note.pitch is not None and place in names:
                notes[position] = replace(note, pitch=names[place])
        bars.append(bar if tuple(notes) == bar.notes else replace(bar, notes=tuple(notes)))
    return replace(tune, bars=tuple(bars))
