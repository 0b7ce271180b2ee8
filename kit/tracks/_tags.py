"""What does a music player show of a file, and what can it sort by?

Source: ID3v2.3.0 informal standard (id3.org): ``TBPM`` is a whole number, ``TKEY`` a note
with ``#`` or ``b`` and ``m`` for minor, ``TCOP`` begins with a year and a space.
"""

from __future__ import annotations

import re

from kit.form.wording import stretch_words
from kit.lesson.lesson import Lesson
from kit.rights.ledger import Rights, credit_line
from kit.tune.pitch import Key

__all__ = ["track_tags"]

_YEAR = re.compile(r"\b(1[6-9]|20)\d\d\b")


def track_tags(
    lesson: Lesson,
    level: str,
    mix: str,
    *,
    bars: tuple[int, int] | None = None,
    tempo_percent: float = 100,
    concert_key: Key | None = None,
    instrument: str = "",
) -> dict[str, str]:
    """Give the tags of one file, as `kit.sound._id3` names them.

    Parameters
    ----------
    lesson : Lesson
        Whose title, school and composer are told.
    level, mix : str
        What is played.
    bars : (int, int), optional
        First and last printed bar of a loop.
    tempo_percent : float
        Of the level's own tempo.
    concert_key : Key, optional
        Another than the sheet's.
    instrument : str
        Name of the melody's instrument, where it is said.
    """
    settings = lesson.settings
    own = lesson.level(level)
    said = [mix.replace("-", " ")]
    if instrument:
        said.append(instrument[0].lower() + instrument[1:])
    if bars is not None:
        said.append(f"{stretch_words(*bars)}, loop")
    if tempo_percent != 100:
        said.append(f"at {tempo_percent:g} %")
    key = concert_key or own.sheet.key
    return {
        "title": f"{settings.title}, {own.settings.title}: {', '.join(said)}",
        "artist": settings.school or settings.composer,
        "album": settings.title,
        "track": f"{lesson.level_names.index(level) + 1}/{len(lesson.level_names)}",
        "composer": settings.composer,
        # Felt beats, as a metronome is set to: dotted quarters in 6/8.
        "bpm": f"{own.settings.tempo * tempo_percent / 100:.0f}",
        "key": _key_tag(key),
        **_rights_tags(settings.rights),
    }


def _rights_tags(rights: Rights) -> dict[str, str]:
    """Say whose the music is, where the ledger says it.

    The frame for a copyright begins with a year; of what is in the public domain nobody
    has one, and a statement without a year is a comment.
    """
    said = rights.statement.strip() or credit_line(rights)
    year = _YEAR.search(said)
    if rights.basis == "public domain" or year is None:
        return {"comment": said}
    return {"copyright": f"{year[0]} {said}"}


def _key_tag(key: Key) -> str:
    """Write a key in three signs at most; of a mode, by its third."""
    tonic = key.tonic
    sign = {-1: "b", 0: "", 1: "#"}.get(tonic.alter)
    return "" if sign is None else f"{tonic.step}{sign}{'m' if key.is_minor else ''}"
