"""The pieces of work a build is made of, each by itself and safe to run in any process.

A job names a lesson folder and what to make; it opens the lesson itself, so that workers
share nothing but files. Results are `BuiltFile` records.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from kit.lesson import Lesson, open_lesson
from kit.lesson.audio import LEVEL_MIXES, level_audio
from kit.publish.execute import executed_notebook
from kit.publish.handout import handout_pdf
from kit.publish.manifest import BuiltFile
from kit.publish.page import page_html
from kit.publish.parts import part_musicxml
from kit.route import chapters_vtt, timing_map

Audience = Literal["members", "public"]

__all__ = [
    "Audience",
    "Job",
    "audio_jobs",
    "page_job",
    "run_job",
    "run_notebook",
    "sheet_jobs",
]


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of work.

    `notebook` is the lesson's executed notebook as JSON, `links` what a page may offer.
    """

    folder: Path
    kind: Literal["audio", "sheets", "timing", "page"]
    level: str = ""
    instrument: str = ""
    audience: Audience = "members"
    notebook: str = ""
    links: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        """What the progress display calls it."""
        if self.kind == "page":
            return f"{self.audience} page"
        return f"{self.level}, {self.instrument or self.kind}"


def audio_jobs(lesson: Lesson) -> list[Job]:
    """Give the jobs that need no notebook, the long ones first so that nobody waits."""
    longest_first = sorted(lesson.levels, key=lambda level: -level.seconds)
    return [Job(lesson.folder, "audio", level.name) for level in longest_first] + [
        Job(lesson.folder, "timing", level.name) for level in lesson.levels
    ]


def sheet_jobs(lesson: Lesson, notebook: str) -> list[Job]:
    """Give one job for each level and instrument: part and handout."""
    return [
        Job(lesson.folder, "sheets", level, horn.slug, notebook=notebook)
        for level in lesson.level_names
        for horn in lesson.settings.instruments
    ]


def page_job(
    lesson: Lesson, notebook: str, audience: Audience, *, links: Iterable[str]
) -> Job:
    """Give the job for a page; it takes the audio from the cache."""
    return Job(
        lesson.folder, "page", audience=audience, notebook=notebook, links=tuple(links)
    )


def run_notebook(folder: Path) -> str:
    """Run a lesson's notebook and give it as JSON.

    Raises
    ------
    LessonError
        As `kit.publish.execute.executed_notebook`.
    """
    name = "lesson.ipynb"
    return json.dumps(executed_notebook(folder / name, source=f"{folder.name}/{name}"))


@lru_cache(maxsize=2)
def _lesson(folder: Path, stamp: str) -> Lesson:  # noqa: ARG001 - the stamp is the key
    return open_lesson(folder)


def run_job(job: Job, stamp: str) -> list[BuiltFile]:
    """Do a piece of work.

    Parameters
    ----------
    job : Job
        What to make.
    stamp : str
        Fingerprint of the lesson's files; a worker keeps the lesson it opened for it.
    """
    lesson = _lesson(job.folder, stamp)
    makers = {"audio": _audio, "sheets": _sheets, "timing": _timing, "page": _page}
    return list(makers[job.kind](lesson, job))


def _audio(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    for mix, audio in level_audio(lesson, job.level, LEVEL_MIXES).items():
        yield BuiltFile(
            path=f"audio/{job.level}-{mix}.mp3",
            kind="audio",
            tier=lesson.settings.tiers.of("audio", job.level),
            data=audio.data,
            level=job.level,
            mix=mix,
            tempo_percent=100,
            seconds=round(audio.seconds, 3),
            lufs=round(audio.lufs, 2),
            true_peak_dbtp=round(audio.true_peak_dbtp, 2),
        )


def _sheets(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    part = part_musicxml(lesson, job.level, job.instrument).encode()
    handout = handout_pdf(lesson, job.level, job.instrument, json.loads(job.notebook))
    for kind, folder, suffix, data in (
        ("part", "parts", "musicxml", part),
        ("handout", "handouts", "pdf", handout),
    ):
        yield BuiltFile(
            path=f"{folder}/{job.level}-{job.instrument}.{suffix}",
            kind=kind,
            tier=lesson.settings.tiers.of(kind, job.level),
            data=data,
            level=job.level,
            instrument=job.instrument,
        )


def _timing(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    level = lesson.level(job.level)
    timing = json.dumps(timing_map(level.route, level.tempo_qpm), indent=1)
    chapters = chapters_vtt(level.route, level.tempo_qpm)
    for kind, suffix, text in (("timing", "json", timing), ("chapters", "vtt", chapters)):
        yield BuiltFile(
            path=f"timing/{job.level}.{suffix}",
            kind=kind,
            tier=lesson.settings.tiers.of(kind, job.level),
            data=text.encode(),
            level=job.level,
        )


def _page(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    notebook = json.loads(job.notebook)
    html = page_html(lesson, notebook, audience=job.audience, links=job.links)
    public = job.audience == "public"
    yield BuiltFile(
        path="public/index.html" if public else "index.html",
        kind="page",
        tier="free" if public else "members",
        data=html.encode(),
    )
