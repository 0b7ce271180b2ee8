"""Which note lies a step above or below another?

A chromatic step is a half step, spelled with the neighbouring letter (F♯ under G); a scale
step is the next note of the key signature. Names that players rarely read (E♯, B♯, C♭, F♭,
double signs) give way to their plain neighbours, unless the key itself has them: E♯ is the
leading note of F♯ minor. Source: common practice.
"""

from __future__ import annotations

from kit.tune.pitch import Interval, Key, NoteName, Pitch

__all__ = ["is_plain", "plain", "plain_name", "step_from"]

_RARE = frozenset({("E", 1), ("B", 1), ("C", -1), ("F", -1)})
_RAISED = (Interval(5, 9), Interval(6, 11))
"""The sixth and seventh that a minor key has too."""


def step_from(pitch: Pitch, direction: int, key: Key, *, chromatic: bool) -> Pitch:
    """Give the pitch one step away.

    Parameters
    ----------
    pitch : Pitch
        Where to start.
    direction : 1 or -1
        Up or down.
    key : Key
        Whose signature decides scale steps.
    chromatic : bool
        A half step if true, else a scale step.
    """
    if chromatic:
        return plain(pitch + Interval(direction, direction), key)
    letter = pitch + Interval(direction, direction)
    name = next(name for name in key.scale if name.step == letter.step)
    return Pitch(name.step, name.alter, letter.octave)


def plain(pitch: Pitch, key: Key | None = None) -> Pitch:
    """Respell a pitch whose name is rarely read."""
    return pitch.respelled(plain_name(pitch.name, key))


def plain_name(name: NoteName, key: Key | None = None) -> NoteName:
    """Respell a name that is rarely read: F for E♯, A for B double flat.

    Examples
    --------
    >>> str(plain_name(NoteName("E", 1))), str(plain_name(NoteName("E", 1), Key(6)))
    ('F', 'E♯')
    """
    own = key is not None and abs(name.alter) < 2 and name in _names_of(key)
    if own or is_plain(name):
        return name
    # Twelve fifths away lies the same sound by another name.
    return NoteName.from_fifths(name.fifths + (12 if name.fifths < 0 else -12))


def is_plain(name: NoteName) -> bool:
    """Whether players read a name every day: one sign at the most, and no E♯ or C♭."""
    return abs(name.alter) < 2 and (name.step, name.alter) not in _RARE


def _names_of(key: Key) -> tuple[NoteName, ...]:
    raised = tuple(key.tonic + interval for interval in _RAISED) if key.is_minor else ()
    return (*key.scale, *raised)
