"""What does a worker do with a job? Each by itself, and safe to run in any process.

A job names a lesson folder and what to make; the worker opens the lesson itself, so that
workers share nothing but files. What it makes is kept in the cache under the job's key
(`kit.build._recipe`); what goes back is only the list of what was made.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from kit.build._audio_files import (
    level_audio_files,
    loop_files,
    melody_file,
    stems_file_of,
)
from kit.build._jobs import Job, Kind
from kit.build._sources import Sources, require_unchanged
from kit.build.execute import executed_notebook
from kit.build.identity import environment
from kit.cache import Cache
from kit.errors import SetupError
from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import cells_for_page, read_cells
from kit.publish.handout.pdf import handout_pdf
from kit.publish.made import Entry, keep, kept_json
from kit.publish.manifest import BuiltFile
from kit.publish.page.beside import STRETCH_PATH, pack_file, pack_of, stretch_file
from kit.publish.page.packs import pack_contents, packed
from kit.publish.page.view import page_levels
from kit.publish.parts import part_musicxml
from kit.publish.recording.aids import recording_aids
from kit.publish.recording.captions import captions_vtt
from kit.publish.recording.video import score_video
from kit.route.timing import chapters_vtt, timing_map
from kit.tracks.audio import FILE_KBPS, instrument_audio, level_midi
from kit.tracks.stems import melody_instruments

__all__ = ["Assignment", "run_job"]


@dataclass(frozen=True, slots=True)
class Assignment:
    """A job with all that a worker needs to do it as the one who ordered it would.

    Parameters
    ----------
    job : Job
        What to make.
    key : str
        Under which its result is kept.
    source_hash : str
        Fingerprint of the lesson's files.
    cache : str
        The cache's folder.
    environment : str
        Kit, libraries and SoundFont, as `kit.build.identity.environment` gives them.
    sources : tuple of (str, str)
        The files that the kit reads, with their hashes (`kit.build._sources`).
    """

    job: Job
    key: str
    source_hash: str
    cache: str
    environment: str
    sources: Sources = ()


@lru_cache(maxsize=4)
def _lesson(folder: Path, source_hash: str) -> Lesson:  # noqa: ARG001 - the source_hash is the key
    return open_lesson(folder)


def run_job(assigned: Assignment) -> list[Entry]:
    """Do a piece of work, keep what it made, and list it.

    Raises
    ------
    LessonError
        If the lesson cannot be used, or was changed since it was assigned.
    SetupError
        If this machine lacks something, or has another kit than the one who ordered.
    """
    # Whatever else is kept (audio, videos) goes to the same cache as the result.
    os.environ["KIT_CACHE"] = assigned.cache
    if environment() != assigned.environment:
        raise SetupError(
            "a worker has another version of the kit, its libraries or its SoundFont",
            remedy="install the same on all machines, or build again if it has just been "
            "updated on this one",
        )
    cache = Cache(Path(assigned.cache))
    try:
        made = list(_MAKERS[assigned.job.kind](assigned, cache))
        # A file saved in the meantime may be in it, and the key is not that file's.
        require_unchanged(assigned.job.folder, assigned.sources)
    except BaseException as error:
        _lesson.cache_clear()
        if isinstance(error, Exception):
            # Of a lesson that is no more the one planned for anything may be missing: then
            # that is what went wrong, whatever it ended in.
            require_unchanged(assigned.job.folder, assigned.sources)
        raise
    return keep(cache, assigned.key, made)


def _notebook(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    folder, name = assigned.job.folder, "lesson.ipynb"
    run = executed_notebook(folder / name, source=f"{folder.name}/{name}")
    yield BuiltFile(
        path=name, kind="notebook", tier="members", data=json.dumps(run).encode()
    )


def _audio(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    lesson = _lesson(assigned.job.folder, assigned.source_hash)
    return level_audio_files(lesson, assigned.job.level, assigned.job.tempo_percent)


def _melody(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    # One after the other: what was rendered for the first serves the second.
    if job.instrument in melody_instruments(lesson):
        yield melody_file(lesson, job.level, job.instrument)
    yield stems_file_of(lesson, job.level, job.instrument)


def _stems(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    lesson = _lesson(assigned.job.folder, assigned.source_hash)
    yield stems_file_of(lesson, assigned.job.level)


def _loops(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    return loop_files(
        _lesson(assigned.job.folder, assigned.source_hash), assigned.job.level
    )


def _sheets(assigned: Assignment, cache: Cache) -> Iterator[BuiltFile]:
    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    notebook = kept_json(cache, job.notebook)
    name = f"{job.level}-{job.instrument}"
    tiers = lesson.settings.tiers
    yield BuiltFile(
        path=f"parts/{name}.musicxml",
        kind="part",
        tier=tiers.of("part", job.level),
        data=part_musicxml(lesson, job.level, job.instrument).encode(),
        level=job.level,
        instrument=job.instrument,
    )
    for variant in lesson.settings.handout.variants:
        pdf = handout_pdf(
            lesson,
            job.level,
            job.instrument,
            notebook,
            paper=variant.paper,
            large_print=variant.large_print,
        )
        yield BuiltFile(
            path=f"handouts/{name}{variant.suffix}.pdf",
            kind="handout",
            tier=tiers.of("handout", job.level),
            data=pdf,
            level=job.level,
            instrument=job.instrument,
            paper=variant.paper,
            large_print=variant.large_print or None,
        )


def _timing(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    level = lesson.level(job.level)
    timing = json.dumps(timing_map(level.route, level.tempo_qpm), indent=1)
    for kind, path, data in (
        ("midi", f"midi/{job.level}.mid", level_midi(lesson, job.level)),
        ("timing", f"timing/{job.level}.json", timing.encode()),
        (
            "chapters",
            f"timing/{job.level}.vtt",
            chapters_vtt(level.route, level.tempo_qpm).encode(),
        ),
        ("captions", f"timing/{job.level}-captions.vtt", captions_vtt(level).encode()),
    ):
        tier = lesson.settings.tiers.of(kind, job.level)
        yield BuiltFile(path=path, kind=kind, tier=tier, data=data, level=job.level)


def _recording(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    level = assigned.job.level
    for aid in recording_aids(_lesson(assigned.job.folder, assigned.source_hash), level):
        yield BuiltFile(
            path=aid.path(level), kind=aid.kind, tier="members", data=aid.data, level=level
        )


def _video(assigned: Assignment, _: Cache) -> Iterator[BuiltFile]:
    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    demo = instrument_audio(
        lesson, job.level, job.instrument, mix="demo", bit_rate_kbps=FILE_KBPS
    )
    yield BuiltFile(
        path=f"video/{job.level}-{job.instrument}.mp4",
        kind="video",
        tier=lesson.settings.tiers.of("video", job.level),
        data=score_video(lesson, job.level, job.instrument, demo.data),
        level=job.level,
        instrument=job.instrument,
        mix="demo",
        tempo_percent=100,
        seconds=round(demo.seconds, 3),
    )


def _pack(assigned: Assignment, cache: Cache) -> Iterator[BuiltFile]:
    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    cells = cells_for_page(
        read_cells(
            kept_json(cache, job.notebook),
            levels=lesson.level_names,
            source=lesson.name_of("lesson.ipynb"),
        ),
        audience=job.audience,
        free_levels=lesson.settings.tiers.free_levels,
    )
    contents = pack_contents(
        lesson, cells, page_levels(lesson, job.audience), job.level, job.instrument
    )
    name = f"{job.level}/{job.instrument}"
    yield BuiltFile(
        path=name,
        kind="pack",
        tier="",
        data=pack_file(name, packed(contents)),
        level=job.level,
        instrument=job.instrument,
    )


def _page(assigned: Assignment, cache: Cache) -> Iterator[BuiltFile]:
    from kit.publish.page.exporter import page_html  # noqa: PLC0415 - nbconvert takes a second to load

    job, lesson = assigned.job, _lesson(assigned.job.folder, assigned.source_hash)
    html = page_html(
        lesson,
        kept_json(cache, job.notebook),
        audience=job.audience,
        links=job.links,
        packs={name: pack_of(cache.need(blob)) for name, blob in job.packs},
        stems={path: cache.need(blob) for path, blob in job.stems},
        inside=job.is_one_file,
    )
    public = job.audience == "public"
    folder, tier = ("public/", "free") if public else ("", "members")
    name = "one-file.html" if job.is_one_file else "index.html"
    yield BuiltFile(path=f"{folder}{name}", kind="page", tier=tier, data=html.encode())
    if not job.is_one_file and page_levels(lesson, job.audience):
        yield BuiltFile(
            path=f"{folder}{STRETCH_PATH}", kind="program", tier=tier, data=stretch_file()
        )


_MAKERS: Mapping[Kind, Any] = {
    "notebook": _notebook,
    "audio": _audio,
    "melody": _melody,
    "stems": _stems,
    "loops": _loops,
    "timing": _timing,
    "recording": _recording,
    "sheets": _sheets,
    "pack": _pack,
    "page": _page,
    "video": _video,
}
