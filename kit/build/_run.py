"""How are a lesson's jobs done: what is kept from before, what is made, in what order?

The notebook and the audio first, at once; then all that prints or draws the notebook's
words; then the pages, which hold all of it. A job whose recipe is that of an earlier
build is not done again: what it made is taken from the cache.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Future, as_completed
from typing import Any, Protocol

from kit.build._jobs import (
    AUDIENCES,
    Audience,
    Job,
    early_jobs,
    notebook_job,
    pack_jobs,
    page_job,
    sheet_jobs,
    video_jobs,
)
from kit.build._recipe import Recipe, Recipes, recipe_key
from kit.build._sources import require_unchanged, sources
from kit.build._work import Assignment, run_job
from kit.build.identity import environment
from kit.build.reasons import Reason
from kit.build.workers import Workers
from kit.cache import Cache
from kit.lesson.lesson import Lesson
from kit.publish.bundles import bundled
from kit.publish.made import Entry, kept_json, recall
from kit.publish.page.beside import pack_path

__all__ = ["Progress", "Run"]

_TRUST_S = 20.0
"""After so much work the estimate goes by this machine more than by others."""


class Progress(Protocol):
    """What a build tells about itself while it runs."""

    def start(self, title: str, steps: int) -> None:
        """Begin a lesson of so many steps."""

    def step(self, title: str, left_s: float | None = None) -> None:
        """One step is done; about so many seconds are left, if that can be said."""


class Run:
    """One run through a lesson's jobs.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    workers : Workers
        Who does what is not kept.
    cache : Cache
        Where results are kept.
    progress : Progress
        Told of each step.
    source_hash : str
        Fingerprint of the lesson's files.
    hashes : mapping of str to str
        Those of the files one by one, taken before the lesson was opened.
    before : mapping of str to Recipe
        Recipes of the last build, by `Job.name`, to say why something is made again.
    videos : sequence of (str, str)
        Levels and instruments to make a video of.
    """

    def __init__(
        self,
        lesson: Lesson,
        workers: Workers,
        cache: Cache,
        progress: Progress,
        *,
        source_hash: str,
        hashes: Mapping[str, str],
        before: Mapping[str, Recipe],
        videos: Sequence[tuple[str, str]] = (),
    ) -> None:
        self.lesson = lesson
        self.workers = workers
        self.cache = cache
        self.progress = progress
        self.source_hash = source_hash
        self.before = before
        self.videos = videos
        self.reads = False
        self.sources = sources(lesson, hashes)
        self._environment = environment()
        self.recipes: dict[str, Recipe] = {}
        self.reasons: list[Reason] = []
        self.kept = 0
        self._recipes_of = Recipes(lesson, hashes, cache)
        self._made: dict[str, list[Entry]] = {}
        self._duplicates: dict[str, list[Job]] = {}
        self._began = time.monotonic()
        self._work_left_s = self._work_done_s = 0.0

    def files(self, *, reads: bool = False) -> list[Entry]:
        """Do all jobs and describe the files they made.

        Parameters
        ----------
        reads : bool
            Whether what is kept is read before it is relied on (`kit.publish.made.recall`).

        Raises
        ------
        LessonError
            If the lesson cannot be used, or was changed in the meantime.
        SetupError
            If this machine lacks something, or a worker was lost.
        """
        self.reads = reads
        lesson = self.lesson
        notebook, early = notebook_job(lesson), early_jobs(lesson)
        # What comes later is counted now, so that the time left is right from the start.
        later = sheet_jobs(lesson, "") + pack_jobs(lesson, "")
        later += video_jobs(lesson, self.videos)
        self._work_left_s = sum(job.work_s for job in (notebook, *early, *later))
        self.progress.start(lesson.title, 1 + len(early) + len(later) + len(AUDIENCES) + 2)

        running = self._ordered([notebook])
        waiting = self._ordered(early)
        self._finish(running)
        words = self._made[notebook.name][0]["sha256"]
        sheets, packs = sheet_jobs(lesson, words), pack_jobs(lesson, words)
        self._finish(waiting | self._ordered([*sheets, *packs]))
        files = self._entries([*early, *sheets])
        files += [entry for job in packs for entry in self._notation(job)]
        pages = [self._page(words, audience, files, packs) for audience in AUDIENCES]
        pages.append(self._page(words, "members", files, packs, is_one_file=True))
        last = [*video_jobs(lesson, self.videos), *pages]
        self._finish(self._ordered(last))
        require_unchanged(lesson.folder, self.sources)
        return files + self._entries(last)

    @property
    def notebook(self) -> Any:
        """The notebook as it was run, once `files` has had it run."""
        job = notebook_job(self.lesson)
        return kept_json(self.cache, self._made[job.name][0]["sha256"])

    def _page(
        self,
        words: str,
        audience: Audience,
        files: Sequence[Entry],
        packs: Sequence[Job],
        *,
        is_one_file: bool = False,
    ) -> Job:
        links = [
            entry["path"]
            for entry in bundled(files)
            if audience == "members" or entry["tier"] == "free"
        ]
        drawn = [
            (entry["path"], entry["sha256"])
            for entry in self._entries(job for job in packs if job.audience == audience)
        ]
        stems = [
            (entry["path"], entry["sha256"])
            for entry in files
            if is_one_file and entry["kind"] == "stems"
        ]
        return page_job(
            self.lesson,
            words,
            audience,
            links=links,
            packs=drawn,
            stems=stems,
            is_one_file=is_one_file,
        )

    def _notation(self, job: Job) -> list[Entry]:
        """Describe a pack as the file it is beside its page."""
        public = job.audience == "public"
        path = f"{'public/' if public else ''}{pack_path(job.level, job.instrument)}"
        own = {"path": path, "kind": "notation", "tier": "free" if public else "members"}
        return [{**entry, **own} for entry in self._made[job.name]]

    def _entries(self, jobs: Iterable[Job]) -> list[Entry]:
        return [entry for job in jobs for entry in self._made[job.name]]

    def _ordered(self, jobs: Iterable[Job]) -> dict[Future[list[Entry]], Job]:
        """Take from the cache what is there, and have the rest made, each thing once."""
        waiting: dict[Future[list[Entry]], Job] = {}
        firsts: dict[str, Job] = {}
        for job in jobs:
            recipe = self.recipes[job.name] = self._recipes_of.of(job)
            key = recipe_key(job, recipe)
            if key in firsts:
                self._duplicates.setdefault(firsts[key].name, []).append(job)
                continue
            kept = recall(self.cache, key, job, reads=self.reads)
            if kept is not None:
                self.kept += 1
                self._done(job, kept)
                continue
            self.reasons.append(self._reason(job, recipe))
            assigned = Assignment(
                job,
                key,
                self.source_hash,
                str(self.cache.folder),
                self._environment,
                self.sources,
            )
            try:
                waiting[self.workers.submit(run_job, assigned)] = firsts[key] = job
            except self.workers.breakdowns as error:
                raise self.workers.loss(job.title) from error
        return waiting

    def _reason(self, job: Job, recipe: Recipe) -> Reason:
        old = self.before.get(job.name)
        if old is None:
            return Reason(job.title, is_new=True)
        names = sorted({*old, *recipe})
        return Reason(job.title, tuple(n for n in names if old.get(n) != recipe.get(n)))

    def _finish(self, waiting: Mapping[Future[list[Entry]], Job]) -> None:
        for future in as_completed(waiting):
            job = waiting[future]
            try:
                entries = future.result()
            except self.workers.breakdowns as error:
                raise self.workers.loss(job.title) from error
            self._work_done_s += job.work_s
            self._done(job, entries)

    def _done(self, job: Job, entries: list[Entry]) -> None:
        for duplicate in self._duplicates.pop(job.name, ()):
            self._done(duplicate, entries)
        self._made[job.name] = entries
        self._work_left_s = max(0.0, self._work_left_s - job.work_s)
        self.progress.step(job.title, self._left_s())

    def _left_s(self) -> float | None:
        """Estimate from what jobs usually take, and how this machine has done so far."""
        if not self._work_done_s:
            return None
        passed_s = time.monotonic() - self._began
        usual_s = self._work_done_s / self.workers.count
        # Jobs under way are not counted yet, so that early figures are not to be trusted.
        slowness = (passed_s + _TRUST_S) / (usual_s + _TRUST_S)
        return self._work_left_s / self.workers.count * slowness
