"""In which concert keys can a tune be practised, and what are they called?

The twelve keys of the tune's own mode, spelled with at most six accidentals: six flats
rather than six sharps, as players meet them more often (common practice).
"""

from __future__ import annotations

from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.tune.pitch import Key

__all__ = ["practice_key", "practice_keys"]

_SIGNATURES = range(-6, 6)


def practice_keys(own: Key) -> tuple[Key, ...]:
    """Give the twelve keys of a mode, from C upward.

    Examples
    --------
    >>> ", ".join(str(key.tonic) for key in practice_keys(Key.parse("C minor")))
    'C, C♯, D, E♭, E, F, F♯, G, G♯, A, B♭, B'
    """
    keys = [Key(fifths, own.mode) for fifths in _SIGNATURES]
    return tuple(sorted(keys, key=lambda key: key.tonic.pitch_class))


def practice_key(lesson: Lesson, name: str | None, *, level: str) -> Key | None:
    """Find the key that a call names for a level; None for the level's own.

    The mode may be left out (``F`` for F minor of a minor tune); a spelling with more than
    six accidentals becomes its enharmonic twin. A level with notation of its own may be of
    another mode than the tune, and is then in its own mode on the tonic that is named.

    Raises
    ------
    LessonError
        If it is no key, or one of a mode that neither level nor tune is in; if there is no
        such level.
    """
    if not name:
        return None
    sheet = lesson.level(level).sheet
    own = sheet.key
    text = name.strip()
    try:
        key = Key.parse(text if " " in text else f"{text} {own.mode}")
    except ValueError as error:
        raise LessonError(
            f'"{name}" is not a key', remedy=f'name one such as "{own.name}"'
        ) from error
    if key.is_minor not in (own.is_minor, lesson.tune.key.is_minor):
        raise LessonError(
            f"the tune is in {own} and cannot be played in {key}",
            file=sheet.source,
            remedy=f"name a {own.mode} key",
        )
    keys = practice_keys(own)
    found = next(k for k in keys if k.tonic.pitch_class == key.tonic.pitch_class)
    return None if found.tonic.pitch_class == own.tonic.pitch_class else found
