"""The audio of a level: its mixes, at any tempo, in any key, as files or for a page.

Loops and stretches of a few bars are in `kit.tracks.loops`. What was rendered before is
taken from the cache (`kit.tracks._kept_takes`).
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.cache import Cache, code_fingerprint, default_cache, fingerprint
from kit.errors import SetupError
from kit.lesson.audio_table import LEVEL_MIXES
from kit.lesson.lesson import Lesson
from kit.sound.mix_names import mix_table
from kit.sound.soundfont import SoundFont, find_soundfont
from kit.tracks._cover import drawn_cover
from kit.tracks._kept_takes import FLAC, AudioFile, Takes
from kit.tracks._tags import track_tags
from kit.tracks.rendition import rendition
from kit.tune.pitch import Key

__all__ = [
    "FILE_KBPS",
    "LEVEL_MIXES",
    "MELODY_KBPS",
    "PAGE_KBPS",
    "AudioFile",
    "instrument_audio",
    "lesson_soundfont",
    "level_audio",
    "level_midi",
    "lossless_audio",
    "read_cover",
    "takes_for",
    "tempo_suffix",
]

FILE_KBPS = 160
"""For the files that are downloaded. LAME packs them a fifth faster than at 128, where it
looks for bits to save; a minute takes 1.2 MB."""
MELODY_KBPS = 80
"""For an instrument's melody by itself: there is one for each, and one sound packs well."""
PAGE_KBPS = 64
"""For what a notebook plays: it lies in the notebook itself."""

LARGEST_COVER_BYTES = 1_000_000
"""It is carried by every MP3 of the lesson."""
_MIDI = b"MThd"


def level_audio(
    lesson: Lesson,
    level: str,
    mixes: Sequence[str] = LEVEL_MIXES,
    *,
    bit_rate_kbps: int = FILE_KBPS,
    tempo_percent: float = 100,
    concert_key: Key | None = None,
    choruses: int | None = None,
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
    bit_rate_kbps : int
        `PAGE_KBPS` or `FILE_KBPS`.
    tempo_percent : float > 0
        Of the level's tempo; the music is played at that tempo, not stretched.
    concert_key : Key, optional
        Another concert key, of the tune's mode.
    choruses : int, optional
        So often the form, head first and last, instead of the level's route.
    cache : Cache, optional
        The user's unless given.

    Raises
    ------
    LessonError
        If the level cannot be computed or cannot be played in the key.
    SetupError
        If SoundFont or synthesiser are missing.
    ValueError
        If mix, tempo or choruses are out of range.
    """
    planned = rendition(
        lesson,
        level,
        tempo_percent=tempo_percent,
        concert_key=concert_key,
        choruses=choruses,
    )
    wanted = [(mix, bit_rate_kbps) for mix in mixes]
    takes = takes_for(
        lesson,
        level,
        tempo_percent=tempo_percent,
        concert_key=concert_key,
        cache=cache,
    )
    found = takes.files(planned, planned.perform, wanted)
    return {mix: found[mix, bit_rate_kbps] for mix in mixes}


def instrument_audio(
    lesson: Lesson,
    level: str,
    instrument: str,
    *,
    mix: str = "melody",
    bit_rate_kbps: int = MELODY_KBPS,
    cache: Cache | None = None,
) -> AudioFile:
    """Give a mix of a level with its melody as one instrument sounds, as MP3.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        One of its levels.
    instrument : str
        One of its instruments: it plays in its own octave, with its own sound and breath.
        Clock and band are those of the level.
    mix : str
        One of `kit.sound.mix_names`.
    bit_rate_kbps : int
        As for `level_audio`.
    cache : Cache, optional
        The user's unless given.

    Raises
    ------
    LessonError
        If there is no such level or instrument, or the level cannot be computed.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    planned = rendition(lesson, level, instrument=instrument)
    takes = takes_for(lesson, level, instrument=instrument, cache=cache)
    place = (mix, bit_rate_kbps)
    return takes.files(planned, planned.perform, [place])[place]


def lossless_audio(
    lesson: Lesson, level: str, mixes: Sequence[str] = LEVEL_MIXES
) -> dict[str, AudioFile]:
    """Give mixes of a level at its own tempo as FLAC, 24 bits at 48 kHz.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        Whose audio.
    mixes : sequence of str
        Names of ``mixes.toml``.

    Returns
    -------
    dict of str to AudioFile
        By mix.
    """
    planned = rendition(lesson, level)
    wanted = [(mix, FLAC) for mix in mixes]
    found = takes_for(lesson, level).files(planned, planned.perform, wanted)
    return {mix: found[mix, FLAC] for mix in mixes}


def level_midi(lesson: Lesson, level: str) -> bytes:
    """Give a level's performance as a Standard MIDI File, the metronome left out."""
    from kit.sound.midi_file import to_midi  # noqa: PLC0415 - needs a MIDI library

    title = f"{lesson.title}, {lesson.level(level).settings.title}"
    planned = rendition(lesson, level)
    key = fingerprint(
        "midi", code_fingerprint("band", "sound", "route"), repr(planned), title
    )
    return default_cache().parsed_through(
        key, lambda: to_midi(planned.perform(), title=title), _midi_file
    )


def _midi_file(entry: bytes) -> bytes:
    if not entry.startswith(_MIDI):
        raise ValueError("this is no MIDI file")
    return entry


def tempo_suffix(tempo_percent: float) -> str:
    """Give the end of a file's name: nothing at the level's own tempo, else ``-85``."""
    return "" if tempo_percent == 100 else f"-{tempo_percent:g}"


def lesson_soundfont(lesson: Lesson) -> SoundFont:
    """Give the SoundFont that a lesson names, or that this machine is set to.

    Raises
    ------
    LessonError
        If there is no such file in the lesson.
    SetupError
        If it cannot be used; with the file, if it is the lesson's.
    """
    name = lesson.settings.soundfont
    if not name:
        return find_soundfont()
    try:
        return find_soundfont(str(lesson.file(name)))
    except SetupError as error:
        raise error.within(file=lesson.name_of(name)) from error


def takes_for(
    lesson: Lesson,
    level: str,
    *,
    tempo_percent: float = 100,
    bars: tuple[int, int] | None = None,
    concert_key: Key | None = None,
    instrument: str = "",
    cache: Cache | None = None,
) -> Takes:
    """Give the takes of a level's audio at a tempo.

    Parameters
    ----------
    lesson : Lesson
        Names title, school and SoundFont.
    level : str
        Whose audio.
    tempo_percent : float
        Of the level's own tempo.
    bars : (int, int), optional
        First and last printed bar of a loop, for the title of its file.
    concert_key : Key, optional
        Another key than the sheet's, for the files' tags.
    instrument : str
        Who plays the melody, for the title of the file.
    cache : Cache, optional
        Another than the usual one.

    Raises
    ------
    LessonError
        If the lesson's cover or SoundFont is missing or cannot be used.
    SetupError
        If there is no SoundFont that can be used.
    """
    font = lesson_soundfont(lesson)

    def said(mix: str) -> bool:
        # The default instrument is heard in every mix: only a melody of its own names it.
        if mix == "melody":
            return bool(instrument)
        return instrument not in ("", lesson.settings.default_instrument)

    def tags(mix: str) -> dict[str, str]:
        return track_tags(
            lesson,
            level,
            mix,
            bars=bars,
            tempo_percent=tempo_percent,
            concert_key=concert_key,
            instrument=lesson.instrument(instrument).name if said(mix) else "",
        )

    mixes = lesson.settings.audio.mixes_at(tempo_percent)
    cover = read_cover(lesson) or drawn_cover(lesson)
    return Takes(font, tags, cover, cache, apart=mix_table().are_apart(mixes))


def read_cover(lesson: Lesson) -> bytes | None:
    """Give the picture for music players as it goes into each MP3: a PNG, pixels only.

    Raises
    ------
    LessonError
        If it is missing, outside the lesson folder, no PNG, damaged or too large.
    """
    from kit.pictures.clean import clean_picture  # noqa: PLC0415 - needs Pillow

    name = lesson.settings.audio.cover
    if not name:
        return None
    with lesson.file(name).open("rb") as file:
        # A byte more than may be there is enough to refuse it.
        data = file.read(LARGEST_COVER_BYTES + 1)
    cover = clean_picture(
        data,
        lesson.name_of(name),
        types=("image/png",),
        max_bytes=LARGEST_COVER_BYTES,
    )
    return cover.data
