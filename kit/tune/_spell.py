"""What are notes called that come without names, as in MIDI?

Conventions, in the order in which they are asked
--------------------------------------------------
* A note of the key has the key's name; in minor the raised sixth and seventh too.
* A note of the chord in force has the name that it has in the chord: G♯ over E7 in C major.
* A leading note is spelled from the note that it leads to, a half step below: F♯ before G,
  C♯ before D. The flat third and flat seventh of a major key are blue notes, and are
  spelled from their goal only where they pass up to it or are its lower neighbour.
* A note that passes down by half steps is spelled from the note below: G, G♭, F.
* Any other has the name of the chromatic scale of the key: flat second, third, sixth and
  seventh, sharp fourth.
* A name that is rarely read (C♭, E♯, double signs) gives way to the last rule.

Source: common practice, as in Gould, *Behind Bars* (2011), "Accidentals" (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.tune.chord import ChordSymbol
from kit.tune.key_find import spelled_in_key
from kit.tune.pitch import Interval, Key, NoteName, Pitch

__all__ = ["Unnamed", "spelled_line"]

_HALF_STEP = Interval(1, 1)
_BLUE = (3, 10)
"""Semitones of the blue third and seventh above a major key's tonic."""
# From G♭ to A♯; beyond lie C♭, E♯ and the double signs.
_PLAIN_FIFTHS = range(-6, 11)


@dataclass(frozen=True, slots=True)
class Unnamed:
    """A sound to be named.

    `follows` is False where a rest comes before it; `chord` is what holds at its start.
    """

    midi: int
    follows: bool = True
    chord: ChordSymbol | None = None


def spelled_line(sounds: Sequence[Unnamed], key: Key) -> tuple[Pitch, ...]:
    """Name the sounds of a melody.

    Parameters
    ----------
    sounds : sequence of Unnamed
        In order.
    key : Key

    Returns
    -------
    tuple of Pitch, one per sound

    Examples
    --------
    >>> up = spelled_line([Unnamed(midi) for midi in (60, 61, 62)], Key(0))
    >>> down = spelled_line([Unnamed(midi) for midi in (62, 61, 60)], Key(0))
    >>> [str(pitch) for pitch in (*up, *down)]
    ['C4', 'C♯4', 'D4', 'D4', 'D♭4', 'C4']
    """
    return tuple(
        _placed(sound.midi, _name(sound, before, after, key))
        for sound, before, after in zip(
            sounds, _before(sounds), _after(sounds), strict=True
        )
    )


def _placed(midi: int, name: NoteName) -> Pitch:
    return Pitch(name.step, name.alter, (midi - name.alter) // 12 - 1)


def _before(sounds: Sequence[Unnamed]) -> list[int | None]:
    """Give for each sound the last other one before it, None behind a rest."""
    found: list[int | None] = [None] * len(sounds)
    for at in range(1, len(sounds)):
        one, here = sounds[at - 1].midi, sounds[at]
        if here.follows:
            # A repeated note does not hide where the line came from.
            found[at] = one if one != here.midi else found[at - 1]
    return found


def _after(sounds: Sequence[Unnamed]) -> list[int | None]:
    """Give for each sound the next other one behind it, None before a rest."""
    found: list[int | None] = [None] * len(sounds)
    for at in range(len(sounds) - 2, -1, -1):
        following = sounds[at + 1]
        if following.follows:
            same = following.midi == sounds[at].midi
            found[at] = found[at + 1] if same else following.midi
    return found


def _name(sound: Unnamed, before: int | None, after: int | None, key: Key) -> NoteName:
    own = {name.pitch_class: name for name in key.scale}
    pitch_class = sound.midi % 12
    usual = NoteName.from_fifths(spelled_in_key(pitch_class, key))
    if pitch_class in own:
        return own[pitch_class]
    # Melodic minor: raised sixth and seventh belong to the key, even over another chord.
    if key.is_minor and (pitch_class - key.tonic.pitch_class) % 12 in (9, 11):
        return usual
    return (
        _in_chord(pitch_class, sound.chord)
        or _leading(sound.midi, before, after, key)
        or _passing_down(sound.midi, before, after, key)
        or usual
    )


def _in_chord(pitch_class: int, chord: ChordSymbol | None) -> NoteName | None:
    if chord is None:
        return None
    for name in chord.note_names:
        if name.pitch_class == pitch_class:
            return _if_plain(name)
    return None


def _leading(midi: int, before: int | None, after: int | None, key: Key) -> NoteName | None:
    goal = _of_key(after, key)
    if goal is None or after != midi + 1:
        return None
    above_tonic = (midi - key.tonic.pitch_class) % 12
    is_blue = not key.is_minor and above_tonic in _BLUE
    # In C, C E♭ E slides through the blue third; D D♯ E passes up, E D♯ E is a neighbour.
    if is_blue and before not in (midi - 1, after):
        return None
    return _if_plain(goal + -_HALF_STEP)


def _passing_down(
    midi: int, before: int | None, after: int | None, key: Key
) -> NoteName | None:
    goal = _of_key(after, key)
    if goal is None or after != midi - 1 or before != midi + 1:
        return None
    return _if_plain(goal + _HALF_STEP)


def _of_key(midi: int | None, key: Key) -> NoteName | None:
    if midi is None:
        return None
    return next((name for name in key.scale if name.pitch_class == midi % 12), None)


def _if_plain(name: NoteName) -> NoteName | None:
    return name if name.fifths in _PLAIN_FIFTHS else None
