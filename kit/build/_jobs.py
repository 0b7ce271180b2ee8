"""Which pieces of work is a build made of? `kit.build._work` does them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from kit.build._audio_files import audio_percents
from kit.lesson.lesson import Lesson
from kit.publish.page.view import page_levels
from kit.tracks.stems import stem_instruments

Audience = Literal["members", "public"]
Kind = Literal[
    "notebook",
    "audio",
    "melody",
    "stems",
    "loops",
    "timing",
    "recording",
    "sheets",
    "pack",
    "page",
    "video",
]
AUDIENCES: tuple[Audience, ...] = ("members", "public")

__all__ = [
    "AUDIENCES",
    "Audience",
    "Job",
    "Kind",
    "early_jobs",
    "notebook_job",
    "pack_jobs",
    "page_job",
    "sheet_jobs",
    "video_jobs",
]


@dataclass(frozen=True, slots=True)
class Job:
    """One piece of work.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    kind : Kind
        What to make.
    level, instrument, audience, tempo_percent
        Of what, for whom, as far as the kind has them.
    notebook : str
        Hash of the run notebook in the cache.
    links : tuple of str
        Paths that a page may offer.
    packs, stems : tuple of (str, str)
        For a page: names of its packs and paths of the stems it is to hold, and their
        hashes in the cache.
    is_one_file : bool
        Whether a page holds notation and sound itself.
    work_s : float
        About how many seconds of one core it takes; for the order and the time left only.
    """

    folder: Path
    kind: Kind
    level: str = ""
    instrument: str = ""
    audience: Audience = "members"
    tempo_percent: int = 100
    notebook: str = ""
    links: tuple[str, ...] = ()
    packs: tuple[tuple[str, str], ...] = ()
    stems: tuple[tuple[str, str], ...] = ()
    is_one_file: bool = False
    work_s: float = 0.1

    @property
    def name(self) -> str:
        """What tells it from the other jobs of its lesson."""
        kind = "one file" if self.is_one_file else self.kind
        parts = (kind, self.level, self.instrument, self.audience)
        return f"{':'.join(parts)}:{self.tempo_percent}"

    @property
    def title(self) -> str:
        """What the progress display calls it."""
        if self.kind == "page":
            return "one file" if self.is_one_file else f"{self.audience} page"
        if self.kind == "stems":
            return f"{self.level}, band for the page"
        if self.kind == "pack":
            return f"{self.level}, {self.instrument} on the {self.audience} page"
        if self.kind in ("melody", "video"):
            return f"{self.level}, {self.kind} for {self.instrument}"
        if self.tempo_percent != 100:
            return f"{self.level}, {self.kind} at {self.tempo_percent} %"
        return f"{self.level}, {self.instrument or self.kind}" if self.level else self.kind


def notebook_job(lesson: Lesson) -> Job:
    """Give the job that runs the notebook."""
    return Job(lesson.folder, "notebook", work_s=1.5)


def early_jobs(lesson: Lesson) -> list[Job]:
    """Give the jobs that need no notebook, the long ones first so that nobody waits."""
    folder, audio = lesson.folder, lesson.settings.audio
    jobs = []
    for level in lesson.levels:
        for percent in audio_percents(lesson):
            # Every mix is rendered and packed (measured: 90 times real time).
            played_s = (level.seconds + level.count_in_s) * 100 / percent
            work_s = played_s * len(audio.mixes_at(percent)) / 90
            jobs.append(
                Job(folder, "audio", level.name, tempo_percent=percent, work_s=work_s)
            )
        work_s = (level.seconds + level.count_in_s) / 90
        jobs += [
            Job(folder, "melody", level.name, instrument, work_s=work_s)
            for instrument in stem_instruments(lesson)
        ]
        jobs.append(Job(folder, "stems", level.name, work_s=work_s))
        if audio.loops:
            jobs.append(Job(folder, "loops", level.name, work_s=level.seconds / 60))
        jobs.append(Job(folder, "timing", level.name, work_s=0.5))
        jobs.append(Job(folder, "recording", level.name, work_s=0.2))
    return sorted(jobs, key=lambda job: -job.work_s)


def sheet_jobs(lesson: Lesson, notebook: str) -> list[Job]:
    """Give one job for each level and instrument: part and handout."""
    work_s = 0.2 * len(lesson.settings.handout.variants)
    return [
        Job(
            lesson.folder,
            "sheets",
            level,
            instrument.slug,
            notebook=notebook,
            work_s=work_s,
        )
        for level in lesson.level_names
        for instrument in lesson.settings.instruments
    ]


def pack_jobs(lesson: Lesson, notebook: str) -> list[Job]:
    """Give one job for each level and instrument of each page: all that is drawn there."""
    return [
        Job(
            lesson.folder,
            "pack",
            level,
            instrument.slug,
            audience,
            notebook=notebook,
            work_s=0.3,
        )
        for audience in AUDIENCES
        for level in page_levels(lesson, audience)
        for instrument in lesson.settings.instruments
    ]


def page_job(
    lesson: Lesson,
    notebook: str,
    audience: Audience,
    *,
    links: Iterable[str],
    packs: Iterable[tuple[str, str]],
    stems: Iterable[tuple[str, str]] = (),
    is_one_file: bool = False,
) -> Job:
    """Give the job for a page; one that holds its stems takes them from the cache."""
    return Job(
        lesson.folder, "page", audience=audience, notebook=notebook, links=tuple(links),
        packs=tuple(packs), stems=tuple(stems), is_one_file=is_one_file, work_s=0.5,
    )  # fmt: skip


def video_jobs(lesson: Lesson, videos: Iterable[tuple[str, str]]) -> list[Job]:
    """Give one job for each video of a level and an instrument; it needs the audio."""
    return [
        Job(
            lesson.folder,
            "video",
            level,
            instrument,
            work_s=lesson.level(level).seconds / 10,
        )
        for level, instrument in videos
    ]
