"""The audio of a level: played, rendered, encoded, and kept on the shelf.

One rendering serves every bit rate and every mix of a level. What was rendered before from
the same sheet, route, feel, tempo, SoundFont and code is taken from the cache.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from kit.cache import Cache, code_fingerprint, default_cache, fingerprint
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.sound import SoundFont, find_soundfont

__all__ = [
    "FILE_KBPS",
    "LEVEL_MIXES",
    "PAGE_KBPS",
    "AudioFile",
    "level_audio",
    "page_audio",
]

LEVEL_MIXES = ("demo", "backing", "melody")
FILE_KBPS = 128
"""For the files that are downloaded."""
PAGE_KBPS = 64
"""For what is embedded in a page, so that a members' page stays within 15 MB."""


@dataclass(frozen=True, slots=True)
class AudioFile:
    """An MP3 with what was measured before encoding.

    `seconds` is the whole length, count-in and ring-out included.
    """

    data: bytes
    seconds: float
    lufs: float
    true_peak_dbtp: float
    soundfont: str


def level_audio(
    lesson: Lesson,
    level: str,
    mixes: Sequence[str] = LEVEL_MIXES,
    *,
    bit_rate_kbps: int = FILE_KBPS,
    cache: Cache | None = None,
) -> dict[str, AudioFile]:
    """Give mixes of a level as MP3.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        One of its levels.
    mixes : sequence of str
        Some of `kit.sound.mix_names`.
    bit_rate_kbps : 64 or 128
        `PAGE_KBPS` or `FILE_KBPS`.
    cache : Cache, optional
        The user's unless given.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    shelf = cache or default_cache()
    music = lesson.level(level)
    font = find_soundfont(_configured_font(lesson))
    stem = _key(lesson, music, font)
    found = {
        mix: _from_bytes(shelf.get(fingerprint(stem, mix, bit_rate_kbps))) for mix in mixes
    }
    missing = [mix for mix, audio in found.items() if audio is None]
    if missing:
        made = _rendered(lesson, music, missing, font, shelf, stem)
        found |= {mix: made[mix, bit_rate_kbps] for mix in missing}
    return {mix: audio for mix, audio in found.items() if audio is not None}


def page_audio(lesson: Lesson, level: str, mix: str) -> AudioFile:
    """Give a mix at the bit rate for pages and notebooks."""
    return level_audio(lesson, level, (mix,), bit_rate_kbps=PAGE_KBPS)[mix]


def melody_program(lesson: Lesson) -> int:
    """Give the General MIDI program of the soloist: the lesson's default instrument."""
    return lesson.instrument(lesson.settings.default_instrument).gm_program


def _configured_font(lesson: Lesson) -> str | None:
    name = lesson.settings.soundfont
    return str(lesson.file(name)) if name else None


def _key(lesson: Lesson, level: Level, font: SoundFont) -> str:
    return fingerprint(
        code_fingerprint("band", "sound", "route"),
        repr((level.sheet, level.route, level.settings.feel, level.tempo_qpm)),
        melody_program(lesson),
        font.digest,
        _tags(lesson, level, ""),
    )


def _rendered(
    lesson: Lesson,
    level: Level,
    mixes: Sequence[str],
    font: SoundFont,
    shelf: Cache,
    stem: str,
) -> dict[tuple[str, int], AudioFile]:
    # Numerical libraries are needed only here, where something is really rendered.
    from kit.band import perform  # noqa: PLC0415
    from kit.sound import encode_mp3, render_mixes  # noqa: PLC0415

    performance = perform(
        level.sheet,
        level.route,
        feel=level.settings.feel,
        tempo_qpm=level.tempo_qpm,
        melody_program=melody_program(lesson),
    )
    made: dict[tuple[str, int], AudioFile] = {}
    for mix, rendered in render_mixes(performance, mixes, soundfont=font).items():
        for rate in (FILE_KBPS, PAGE_KBPS):
            audio = AudioFile(
                encode_mp3(rendered, bit_rate_kbps=rate, tags=_tags(lesson, level, mix)),
                rendered.seconds,
                rendered.lufs,
                rendered.true_peak_dbtp,
                rendered.soundfont,
            )
            shelf.put(fingerprint(stem, mix, rate), _to_bytes(audio))
            made[mix, rate] = audio
    return made


def _tags(lesson: Lesson, level: Level, mix: str) -> dict[str, str]:
    settings = lesson.settings
    return {
        "title": f"{settings.title}, {level.settings.title}, {mix}",
        "artist": settings.school or settings.composer,
        "album": settings.title,
    }


def _to_bytes(audio: AudioFile) -> bytes:
    facts = {name: value for name, value in asdict(audio).items() if name != "data"}
    return json.dumps(facts).encode() + b"\n" + audio.data


def _from_bytes(entry: bytes | None) -> AudioFile | None:
    if entry is None:
        return None
    facts, _, data = entry.partition(b"\n")
    return AudioFile(data=data, **json.loads(facts))
