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
from kit.lesson.audio import level_audio
from kit.publish.aids import recording_aids
from kit.publish.audio_files import audio_percents, level_audio_files
from kit.publish.captions import captions_vtt
from kit.publish.execute import executed_notebook
from kit.publish.handout import handout_pdf
from kit.publish.manifest import BuiltFile
from kit.publish.page import page_html
from kit.publish.parts import part_musicxml
from kit.publish.video import score_video
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
    "video_jobs",
]


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of work.

    `notebook` is the lesson's executed notebook as JSON, `links` what a page may offer.
    """

    folder: Path
    kind: Literal["audio", "sheets", "timing", "recording", "page", "video"]
    level: str = ""
    instrument: str = ""
    audience: Audience = "members"
    notebook: str = ""
    links: tuple[str, ...] = ()
    tempo_percent: int = 100

    @property
    def title(self) -> str:
        """What the progress display calls it."""
        if self.kind == "page":
            return f"{self.audience} page"
        if self.kind == "video":
            return f"{self.level}, video for {self.instrument}"
        if self.tempo_percent != 100:
            return f"{self.level}, {self.kind} at {self.tempo_percent} %"
        return f"{self.level}, {self.instrument or self.kind}"


def audio_jobs(lesson: Lesson) -> list[Job]:
    """Give the jobs that need no notebook, the long ones first so that nobody waits."""
    longest_first = sorted(lesson.levels, key=lambda level: -level.seconds)
    audio = [
        Job(lesson.folder, "audio", level.name, tempo_percent=percent)
        for level in longest_first
        for percent in audio_percents(lesson)
    ]
    return audio + [
        Job(lesson.folder, kind, level.name)
        for kind in ("timing", "recording")
        for level in lesson.levels
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


def video_jobs(lesson: Lesson, videos: Iterable[tuple[str, str]]) -> list[Job]:
    """Give one job for each video of a level and an instrument; it needs the audio."""
    return [Job(lesson.folder, "video", level, horn) for level, horn in videos]


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
    makers = {
        "audio": _audio,
        "sheets": _sheets,
        "timing": _timing,
        "recording": _recording,
        "page": _page,
        "video": _video,
    }
    return list(makers[job.kind](lesson, job))


def _audio(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    return level_audio_files(lesson, job.level, job.tempo_percent)


def _sheets(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    notebook = json.loads(job.notebook)
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


def _timing(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    level = lesson.level(job.level)
    timing = json.dumps(timing_map(level.route, level.tempo_qpm), indent=1)
    chapters = chapters_vtt(level.route, level.tempo_qpm)
    captions = captions_vtt(level)
    for kind, ending, text in (
        ("timing", ".json", timing),
        ("chapters", ".vtt", chapters),
        ("captions", "-captions.vtt", captions),
    ):
        yield BuiltFile(
            path=f"timing/{job.level}{ending}",
            kind=kind,
            tier=lesson.settings.tiers.of(kind, job.level),
            data=text.encode(),
            level=job.level,
        )


def _recording(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    for aid in recording_aids(lesson, job.level):
        yield BuiltFile(
            path=aid.path(job.level),
            kind=aid.kind,
            tier="members",
            data=aid.data,
            level=job.level,
        )


def _video(lesson: Lesson, job: Job) -> Iterator[BuiltFile]:
    demo = level_audio(lesson, job.level, ("demo",))["demo"]
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
