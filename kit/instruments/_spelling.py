"""The spelling of a note that a student reads at once.

Conventions
-----------
* A part keeps the spelling that its transposition brings, because that tells what the
  note does: leading notes stay leading notes, flat thirds stay flat thirds.
* Two kinds of spelling are mended unless the key itself has them: double accidentals, and
  C♭, F♭, E♯ and B♯. The seven notes of the key signature and, in minor, the raised
  sixth and seventh belong to the key.
* C♭ that goes down to B♭ in a key with that flat, or E♯ that goes up to F♯ in a key with
  that sharp, stays too: the other name would put a natural and a flat on one line.
* Of several plain names the one nearest to the key on the line of fifths is taken.

Source: common practice of student parts.
"""

from __future__ import annotations

from kit.tune.chord import ChordSymbol
from kit.tune.pitch import Interval, Key, NoteName, Pitch

__all__ = [
    "keeps_function",
    "key_names",
    "plain_chord",
    "plain_key",
    "plain_name",
    "plain_pitch",
]

_FAR_ROOT = 8


def key_names(key: Key) -> frozenset[NoteName]:
    """Give the names that a key itself uses."""
    names = set(key.scale)
    if key.is_minor:
        tonic = key.tonic
        names |= {tonic + Interval.parse("M6"), tonic + Interval.parse("M7")}
    return frozenset(names)


def plain_name(name: NoteName, key: Key) -> NoteName:
    """Respell a name where a student would stumble over it in this key.

    Examples
    --------
    >>> str(plain_name(NoteName("F", -1), Key(0)))
    'E'
    >>> str(plain_name(NoteName("E", 1), Key.parse("F# minor")))
    'E♯'
    """
    if _is_plain(name) or name in key_names(key):
        return name
    return _nearest(name, key)


def keeps_function(pitch: Pitch, target: Pitch, key: Key) -> bool:
    """Say whether an odd name is right because of the note that it moves to.

    Examples
    --------
    >>> keeps_function(Pitch.parse("Cb5"), Pitch.parse("Bb4"), Key.parse("Eb major"))
    True
    >>> keeps_function(Pitch.parse("Cb5"), Pitch.parse("Eb5"), Key.parse("Eb major"))
    False
    """
    if abs(pitch.alter) != 1 or abs(target.alter) != 1 or target.name not in key.scale:
        return False
    # A flat leads down by a step and a semitone, a sharp up by as much.
    semitone = Interval(pitch.alter, pitch.alter)
    return target - pitch == semitone


def plain_pitch(pitch: Pitch, key: Key) -> Pitch:
    """Respell a pitch as `plain_name` does, at the same sound."""
    name = plain_name(pitch.name, key)
    return pitch if name == pitch.name else pitch.respelled(name)


def plain_chord(symbol: ChordSymbol, key: Key) -> ChordSymbol:
    """Respell a chord's root, and its bass with it, to sound the same.

    A root is respelled where `plain_name` would, and where it is so far from the key that
    another plain name is nearer.
    """
    if symbol.root is None:
        return symbol
    root = plain_name(symbol.root, key)
    if abs(root.fifths - _centre(key)) > _FAR_ROOT and root not in key_names(key):
        root = _nearest(root, key)
    bass = symbol.bass
    if bass is not None:
        # The bass turns with its root: D flat over F is C sharp over E sharp.
        turned = NoteName.from_fifths(bass.fifths + root.fifths - symbol.root.fifths)
        bass = turned if _is_plain(turned) else plain_name(turned, key)
    if (root, bass) == (symbol.root, symbol.bass):
        return symbol
    return ChordSymbol(root, symbol.kind, symbol.degrees, bass, symbol.text)


def plain_key(key: Key, *, limit: int = 7) -> Key:
    """Give the enharmonic key with the fewest accidentals, this one if it is a tie.

    Raises
    ------
    ValueError
        If none has at most `limit` accidentals.
    """
    # Twelve fifths are the same sound by another name: seven flats are five sharps.
    choices = (key, Key(key.fifths - 12, key.mode), Key(key.fifths + 12, key.mode))
    best = min(choices, key=lambda choice: abs(choice.fifths))
    if abs(best.fifths) > limit:
        raise ValueError(f"{key} has no spelling with at most {limit} accidentals")
    return best


def _is_plain(name: NoteName) -> bool:
    """Whether a name has at most one accidental and is no white key under another name."""
    return -6 <= name.fifths <= 10  # G flat to A sharp


def _nearest(name: NoteName, key: Key) -> NoteName:
    # Twelve fifths make the enharmonic name.
    first = name.fifths % 12
    choices = [NoteName.from_fifths(first + turn) for turn in (-24, -12, 0, 12, 24)]
    plain = [choice for choice in choices if _is_plain(choice)]
    return min(plain, key=lambda choice: abs(choice.fifths - _centre(key)))


def _centre(key: Key) -> int:
    """Give the middle of a key's seven notes on the line of fifths."""
    # The seven notes reach from one fifth below the major tonic to five above it.
    return key.fifths + 2
