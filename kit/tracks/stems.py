"""What does each player of a level sound like alone, for a browser that mixes them?

The band's stems are the same for every instrument; only the melody is another for each.
Each player is kept by itself (`kit.sound.stem_pieces`), by what it plays and nothing else:
a note changed in the melody leaves bass, chords and drums as they are.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from kit.cache import Cache, code_fingerprint, default_cache, fingerprint
from kit.lesson.lesson import Lesson
from kit.tracks.audio import lesson_soundfont
from kit.tracks.rendition import rendition

if TYPE_CHECKING:
    from kit.band.events import Performance
    from kit.sound.soundfont import SoundFont

__all__ = [
    "BAND",
    "Stem",
    "level_stems",
    "melody_instruments",
    "stem_instruments",
]

BAND = ("bass", "chords", "drums", "count")
"""Who is the same whatever the student plays, in the order of the file."""

_HASH = re.compile(rb"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Stem:
    """A player's sound: MP3 pieces as `kit.sound.stem_pieces` cuts them; none if silent."""

    player: str
    pieces: tuple[bytes, ...]


def melody_instruments(lesson: Lesson) -> tuple[str, ...]:
    """List the instruments that get a melody of their own, in the lesson's order."""
    slugs = tuple(row.slug for row in lesson.settings.instruments)
    chosen = lesson.settings.audio.melody_for
    return slugs if chosen is None else tuple(slug for slug in slugs if slug in chosen)


def stem_instruments(lesson: Lesson) -> tuple[str, ...]:
    """List the instruments whose melody has a stem, the default first.

    That one is always there: a page must have a melody, whatever ``melody_for`` says.
    """
    return tuple(
        dict.fromkeys((lesson.settings.default_instrument, *melody_instruments(lesson)))
    )


def level_stems(
    lesson: Lesson,
    level: str,
    players: Sequence[str],
    *,
    tempo_percent: float = 100,
    instrument: str = "",
    cache: Cache | None = None,
) -> list[Stem]:
    """Give some players of a level, each alone and in balance with the others.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        One of its levels.
    players : sequence of str
        Some of `kit.sound.stem_pieces.PLAYERS`.
    tempo_percent : float > 0
        Of the level's tempo; the music is played at that tempo, not stretched.
    instrument : str
        Who plays the melody; the lesson's default unless said.
    cache : Cache, optional
        The user's unless given.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    planned = rendition(lesson, level, tempo_percent=tempo_percent, instrument=instrument)
    font, kept = lesson_soundfont(lesson), cache or default_cache()
    by_source = {
        player: _key(font, player, code_fingerprint("band", "sound", "route"), planned)
        for player in players
    }
    found = {player: _kept(kept, key) for player, key in by_source.items()}
    missing = [player for player in players if found[player] is None]
    if missing:
        performance = planned.perform()
        by_sound = {
            player: _key(
                font, player, code_fingerprint("sound"), _played(performance, player)
            )
            for player in missing
        }
        found |= {player: _kept(kept, key) for player, key in by_sound.items()}
        unheard = [player for player in missing if found[player] is None]
        found |= dict(_rendered(performance, unheard, font))
        for player in missing:
            entry = kept.keep(_entry(found[player] or ())).encode()
            for key in (by_sound[player], by_source[player]):
                kept.put(key, entry)
    return [Stem(player, tuple(found[player] or ())) for player in players]


def _rendered(
    performance: Performance, players: Sequence[str], font: SoundFont
) -> Iterator[tuple[str, tuple[bytes, ...]]]:
    from kit.sound.stem_pieces import each_stem  # noqa: PLC0415 - needs numpy

    for player, pieces in each_stem(performance, players, soundfont=font):
        yield player, tuple(pieces)


def _key(font: SoundFont, player: str, code: str, made_from: object) -> str:
    from kit.sound.stem_pieces import STEM_KBPS  # noqa: PLC0415 - needs numpy
    from kit.sound.synth import open_synth  # noqa: PLC0415 - needs numpy

    synth = open_synth(font).key
    return fingerprint("stem", code, repr(made_from), synth, player, STEM_KBPS[player])


def _played(performance: Performance, player: str) -> Performance:
    """Leave one player of a performance."""
    programs = {player: performance.programs.get(player, 0)}
    return replace(performance, events=performance.of(player), programs=programs)


def _kept(cache: Cache, key: str) -> tuple[bytes, ...] | None:
    """Give a stem that is there; an entry whose sound has gone does not count."""
    blob = cache.parsed(key, _hash_of)
    return None if blob is None else cache.parsed(blob, _pieces_of)


def _hash_of(entry: bytes) -> str:
    if not _HASH.fullmatch(entry):
        raise ValueError("this is no hash")
    return entry.decode()


def _entry(pieces: Sequence[bytes]) -> bytes:
    return b"\n".join(base64.b64encode(piece) for piece in pieces)


def _pieces_of(entry: bytes) -> tuple[bytes, ...]:
    try:
        pieces = [base64.b64decode(line, validate=True) for line in entry.split()]
    except binascii.Error as error:
        raise ValueError("these are no pieces of sound") from error
    if not all(piece.startswith(b"\xff\xfb") for piece in pieces):
        raise ValueError("these are no pieces of sound")
    return tuple(pieces)
