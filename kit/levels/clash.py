"""Does a melody note rub against the chord it stands on?

A note rubs a half step above the chord's root, third or fifth, where it is not itself a
chord note; over a dominant chord only a half step above the third does, the others being
colours. Only strong places (the first beat, the middle of four) are looked at: elsewhere a
note may pass through anything. Source: common practice ("avoid notes").
"""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction
from functools import lru_cache

from kit.form.harmony import is_dominant
from kit.levels._music import Music
from kit.levels.rewrite import Sound
from kit.levels.spots import chord_among, strong_places
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune, chords_after

__all__ = ["clashes", "clashes_in", "rubs"]


@lru_cache(maxsize=10_000)
def rubs(pitch_class: int, symbol: ChordSymbol, *, strictly: bool = False) -> bool:
    """Whether a pitch class rubs against a chord; `strictly` allows no colours.

    Parameters
    ----------
    pitch_class : int, 0 to 11
        Of the melody note.
    symbol : ChordSymbol
        The chord under it; without a root nothing rubs.
    strictly : bool
        Whether a half step above a dominant's root or fifth rubs as well.
    """
    if symbol.root is None or pitch_class in symbol.pitch_classes:
        return False
    degrees = (1, 3, 5) if strictly or not is_dominant(symbol) else (3,)
    below = (pitch_class - 1) % 12
    names = (symbol.degree(degree) for degree in degrees)
    return any(name is not None and name.pitch_class == below for name in names)


def clashes(tune: Tune) -> frozenset[tuple[Fraction, int]]:
    """Give the strong places where the note that sounds rubs, with its MIDI number."""
    return clashes_in(Music.of(tune), range(len(tune.bars)))


def clashes_in(music: Music, bars: range) -> frozenset[tuple[Fraction, int]]:
    """Give the clashes of some bars, at moments from the start of the music.

    Parameters
    ----------
    music : Music
        The tune with its sounds and the moments of its bars.
    bars : range
        Indices of consecutive bars.

    Returns
    -------
    frozenset of (Fraction, int)
        Quarter notes from the start of the music, and the MIDI number that sounds there.
    """
    starts, sounds = music.starts, music.sounds
    found: set[tuple[Fraction, int]] = set()
    if not bars:
        return frozenset()
    events = music.tune.chords_in_force(bars.start)
    place = bisect_right(sounds, starts[bars.start], key=_end)
    for index in bars:
        bar = music.tune.bars[index]
        if index > bars.start:
            events = chords_after(events, bar)
        if bar.pickup or not events:
            continue
        for onset in strong_places(bar):
            moment = starts[index] + onset
            while place < len(sounds) and sounds[place].end <= moment:
                place += 1
            symbol = chord_among(events, onset)
            if symbol is None or place >= len(sounds) or sounds[place].start > moment:
                continue
            midi = sounds[place].pitch.midi
            if rubs(midi % 12, symbol):
                found.add((moment, midi))
    return frozenset(found)


def _end(sound: Sound) -> Fraction:
    return sound.end
