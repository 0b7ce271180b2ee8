"""By what is the members' sound recognised? By the frames of every file that holds some.

The sound of members' levels is taken from where the lesson's performances are kept, by
what is played, and not from the files of the build, so that a file under a wrong name is
noticed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.cache import Cache, code_fingerprint, fingerprint
from kit.lesson.lesson import Lesson
from kit.publish.leaks._kept import arrays_of, kept_through, packed_arrays
from kit.publish.leaks._performed import PlayedAlone
from kit.publish.leaks._prints import blob_hash
from kit.publish.leaks._rules import Rules
from kit.publish.leaks._sound import FRAME, FRAME_S, RUN, flac_signature, marked_runs
from kit.publish.leaks._words import Hashes
from kit.tracks.audio import FILE_KBPS, level_audio, takes_for
from kit.tracks.rendition import rendition
from kit.tracks.stems import BAND, level_stems, stem_instruments

__all__ = ["SoundSecret", "sound_secrets"]

_WELL_INSIDE_S = 0.12
"""A sound that begins less than this before the end of a run may not be heard in it."""


@dataclass(frozen=True, slots=True)
class SoundSecret:
    """A members' sound.

    Parameters
    ----------
    name : str
        What to call it.
    hashes : array of uint64
        Of runs of frames.
    frames : array of int
        The first frame of each run.
    alone : function
        Gives the moments at which it holds something that no free level has.
    files : array of uint64
        Hashes of whole files that are this sound and nothing else.
    """

    name: str
    hashes: Hashes
    frames: NDArray[np.int64]
    alone: Callable[[], NDArray[np.float64]]
    files: Hashes

    def secret_second(self, found: Hashes) -> float | None:
        """Give the first second among found runs that is the members' alone."""
        places = self.frames[np.isin(self.hashes, found)]
        if not len(places):
            return None
        moments = np.sort(self.alone())
        starts = places * FRAME_S
        ends = starts + RUN * FRAME_S - _WELL_INSIDE_S
        inside = np.searchsorted(moments, ends) > np.searchsorted(moments, starts)
        return float(starts[inside][0]) if inside.any() else None


def sound_secrets(
    lesson: Lesson,
    rules: Rules,
    entries: Iterable[Mapping[str, Any]],
    stage: Path,
    cache: Cache,
) -> Iterator[SoundSecret]:
    """List the members' sound, one blob in memory at a time."""
    alone = PlayedAlone(lesson, rules, cache)
    levels = rules.paid_levels if rules.gives("audio") else rules.levels
    for level in levels:
        for percent in sorted({100, *lesson.settings.audio.tempos}):
            yield from _of_level(lesson, level, percent, alone, cache)
        yield from _of_players(lesson, level, alone, cache)
    for entry in entries:
        if entry["kind"] in ("audio", "loop") and not rules.gives_file(entry):
            yield _of_file(entry, stage, alone, cache)


def _of_level(
    lesson: Lesson, level: str, percent: int, alone: PlayedAlone, cache: Cache
) -> Iterator[SoundSecret]:
    audio = lesson.settings.audio
    wanted = [(mix, FILE_KBPS) for mix in audio.mixes_at(percent)]
    planned = rendition(lesson, level, tempo_percent=percent)
    takes = takes_for(lesson, level, tempo_percent=percent)
    from kit.sound.synth import open_synth  # noqa: PLC0415 - as in `kit.tracks._kept_takes`

    code = code_fingerprint("band", "sound", "route"), code_fingerprint("publish/leaks")
    source = fingerprint(code, repr(planned), open_synth(takes.font).key, takes.apart)
    for mix, rate in wanted:

        def read(mix: str = mix, rate: int = rate) -> bytes:
            made = level_audio(
                lesson,
                level,
                (mix,),
                bit_rate_kbps=rate,
                tempo_percent=percent,
                cache=cache,
            )
            return made[mix].data

        hashes, frames = _marked(fingerprint(source, mix, rate), read, cache)
        tempo = "" if percent == 100 else f" at {percent} %"
        yield SoundSecret(
            f'the {mix} sound of level "{level}"{tempo}',
            hashes,
            frames,
            lambda mix=mix: alone.moments(level, mix, percent),  # type: ignore[misc]
            np.zeros(0, np.uint64),
        )


def _of_players(
    lesson: Lesson, level: str, alone: PlayedAlone, cache: Cache
) -> Iterator[SoundSecret]:
    """Describe what a page mixes: each player's pieces."""
    wanted = [("", player) for player in BAND]
    wanted += [(instrument, "melody") for instrument in stem_instruments(lesson)]
    for instrument, player in wanted:
        (stem,) = level_stems(lesson, level, (player,), instrument=instrument, cache=cache)
        hashes, frames = _marked_pieces(stem.pieces, cache)
        whose = f" of {instrument}" if instrument else ""
        yield SoundSecret(
            f'the {player}{whose} of level "{level}"',
            hashes,
            frames,
            lambda player=player: alone.player_moments(level, player),  # type: ignore[misc]
            np.zeros(0, np.uint64),
        )


def _marked_pieces(
    pieces: Sequence[bytes], cache: Cache
) -> tuple[Hashes, NDArray[np.int64]]:
    from kit.sound.stem_pieces import LEAD, first_sample  # noqa: PLC0415 - needs numpy

    marks = [
        _marked(fingerprint("a piece", piece), lambda piece=piece: piece, cache)  # type: ignore[misc]
        for piece in pieces
    ]
    firsts = [(first_sample(number) - LEAD) // FRAME for number in range(len(marks))]
    hashes = [np.zeros(0, np.uint64), *(hashes for hashes, _ in marks)]
    frames = [found + first for (_, found), first in zip(marks, firsts, strict=True)]
    return np.concatenate(hashes), np.concatenate([np.zeros(0, np.int64), *frames])


def _of_file(
    entry: Mapping[str, Any], stage: Path, alone: PlayedAlone, cache: Cache
) -> SoundSecret:
    """Describe a file of the build by itself; its frames where no level's mix has them."""
    path, level, mix = stage / entry["path"], entry["level"], entry["mix"]
    files = [int.from_bytes(bytes.fromhex(entry["sha256"])[:8], "little")]
    hashes, frames = np.zeros(0, np.uint64), np.zeros(0, np.int64)
    instrument = entry.get("instrument", "")
    if entry["kind"] == "loop" or instrument:
        hashes, frames = _marked(entry["sha256"], path.read_bytes, cache)
    elif path.suffix == ".flac":
        with path.open("rb") as file:
            files.append(blob_hash(flac_signature(file.read(64))))

    def moments() -> NDArray[np.float64]:
        if entry["kind"] == "loop":
            return alone.loop_moments(level, mix, entry["bars"])
        return alone.moments(level, mix, entry["tempo_percent"], instrument)

    return SoundSecret(
        f"the file {entry['path']}", hashes, frames, moments, np.array(files, np.uint64)
    )


def _marked(
    source: str, read: Callable[[], bytes], cache: Cache
) -> tuple[Hashes, NDArray[np.int64]]:
    key = fingerprint("leaks, marks of a sound", code_fingerprint("publish/leaks"), source)

    def packed() -> bytes:
        hashes, frames = marked_runs(read())
        return packed_arrays(hashes=hashes, frames=frames)

    return kept_through(cache, key, packed, _marks_of)


def _marks_of(entry: bytes) -> tuple[Hashes, NDArray[np.int64]]:
    kept: Any = arrays_of(entry, {"hashes": (np.uint64, 1), "frames": (np.int64, 1)})
    if len(kept["hashes"]) != len(kept["frames"]):
        raise ValueError("these are not as many frames as hashes")
    return kept["hashes"], kept["frames"]
