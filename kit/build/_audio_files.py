"""Which audio files does a build make of a level, and what are they called?

====================================== =================================================
``audio/<level>-<mix>.mp3``            a mix at the level's tempo
``audio/<level>-<mix>-NN.mp3``         the same, played at NN per cent of it
``audio/<level>-<mix>.flac``           without loss, if lesson.toml asks for it
``audio/<level>-melody-<who>.mp3``     the melody as one instrument sounds
``audio/<level>-loop-<a>-<b>.mp3``     bars a to b with a bar of sticks, to be repeated
``audio/<level>-band.js``              the band, player by player, for the page
``audio/<level>-melody-<slug>.js``     an instrument's melody, for the page
====================================== =================================================
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.lesson.lesson import Lesson
from kit.publish.manifest import BuiltFile
from kit.publish.page.beside import band_path, melody_path, stems_file
from kit.tracks.audio import (
    AudioFile,
    instrument_audio,
    lesson_soundfont,
    level_audio,
    lossless_audio,
    tempo_suffix,
)
from kit.tracks.loops import level_loops, loop_audio
from kit.tracks.stems import BAND, level_stems

__all__ = [
    "audio_percents",
    "level_audio_files",
    "loop_files",
    "melody_file",
    "stems_file_of",
]


def audio_percents(lesson: Lesson) -> tuple[int, ...]:
    """List the tempos there is something to make at, the level's own first."""
    audio = lesson.settings.audio
    others = [p for p in audio.tempos if p != 100 and audio.mixes_at(p)]
    return (100, *others)


def level_audio_files(
    lesson: Lesson, level: str, tempo_percent: int = 100
) -> Iterator[BuiltFile]:
    """Make a level's mixes at a tempo; lossless files come with 100 per cent.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    audio = lesson.settings.audio
    mixes = audio.mixes_at(tempo_percent)
    suffix = tempo_suffix(tempo_percent)
    made = level_audio(lesson, level, mixes, tempo_percent=tempo_percent)
    for mix, file in made.items():
        path = f"audio/{level}-{mix}{suffix}.mp3"
        yield _built(lesson, level, path, file, mix=mix, tempo_percent=tempo_percent)
    if audio.lossless and tempo_percent == 100:
        for mix, file in lossless_audio(lesson, level, mixes).items():
            yield _built(lesson, level, f"audio/{level}-{mix}.flac", file, mix=mix)


def melody_file(lesson: Lesson, level: str, instrument: str) -> BuiltFile:
    """Make a level's melody for an instrument; raises what `level_audio_files` raises."""
    return _built(
        lesson,
        level,
        f"audio/{level}-melody-{instrument}.mp3",
        instrument_audio(lesson, level, instrument),
        mix="melody",
        instrument=instrument,
    )


def stems_file_of(lesson: Lesson, level: str, instrument: str = "") -> BuiltFile:
    """Make the stems of a level's band, or of its melody if an instrument is named.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    players = ("melody",) if instrument else BAND
    stems = level_stems(lesson, level, players, instrument=instrument)
    music = lesson.level(level)
    return BuiltFile(
        path=melody_path(level, instrument) if instrument else band_path(level),
        kind="stems",
        # Whoever may have the sound of a level may have it player by player.
        tier=lesson.settings.tiers.of("audio", level),
        data=stems_file(level, stems),
        level=level,
        instrument=instrument or None,
        mix="melody" if instrument else "backing",
        tempo_percent=100,
        seconds=round(music.count_in_s + music.seconds, 3),
        soundfont=lesson_soundfont(lesson).name,
    )


def loop_files(lesson: Lesson, level: str) -> Iterator[BuiltFile]:
    """Make a level's loops; raises what `level_audio_files` raises."""
    for loop in level_loops(lesson, level):
        path = f"audio/{level}-loop-{loop.name}.mp3"
        file = loop_audio(lesson, level, loop)
        yield _built(
            lesson, level, path, file, mix="demo", kind="loop", bars=loop.name,
            section=loop.section or None,
        )  # fmt: skip


def _built(  # noqa: PLR0913 - one file, all that is known of it by name
    lesson: Lesson,
    level: str,
    path: str,
    file: AudioFile,
    *,
    mix: str,
    kind: str = "audio",
    tempo_percent: int = 100,
    instrument: str | None = None,
    bars: str | None = None,
    section: str | None = None,
) -> BuiltFile:
    return BuiltFile(
        path=path,
        kind=kind,
        tier=lesson.settings.tiers.of(kind, level),
        data=file.data,
        level=level,
        instrument=instrument,
        mix=mix,
        tempo_percent=tempo_percent,
        seconds=round(file.seconds, 3),
        lufs=round(file.lufs, 2),
        true_peak_dbtp=round(file.true_peak_dbtp, 2),
        soundfont=file.soundfont,
        soundfont_licence=lesson_soundfont(lesson).licence or None,
        bars=bars,
        section=section,
    )
