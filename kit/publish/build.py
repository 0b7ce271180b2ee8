"""Build a lesson: everything into a folder of its own, put in place by one rename.

The steps, in order: recognise an unchanged lesson and leave it; check; do the jobs
(notebook, audio, sheets, pages) on all cores; pack the bundles; write the manifest; swap
the folders. Whatever goes wrong before the swap leaves the last good output as it was.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from kit.cache import files_fingerprint
from kit.errors import LessonError
from kit.publish.identity import KIT_VERSION, kit_fingerprint, lesson_files

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kit.check import Finding
    from kit.lesson import Lesson
    from kit.publish.jobs import Audience
    from kit.publish.manifest import BuiltFile

AUDIENCES: tuple[Audience, ...] = ("members", "public")
RESERVED_NAMES = frozenset({"public", "index.html", "feed.xml", "free-site.zip"})
"""What the catalogue puts beside the lessons' folders."""

__all__ = ["BuildResult", "Progress", "build_lesson", "is_current", "source_fingerprint"]


class Progress(Protocol):
    """What a build tells about itself while it runs."""

    def start(self, title: str, steps: int) -> None:
        """Begin a lesson of so many steps."""

    def step(self, title: str) -> None:
        """One step is done."""


@dataclass(frozen=True, slots=True)
class BuildResult:
    """What became of a lesson."""

    folder: Path
    files: int
    was_current: bool
    findings: tuple[Finding, ...] = ()


def source_fingerprint(folder: Path) -> str:
    """Hash all that a lesson is built from: its files, the kit, a configured SoundFont."""
    lesson = files_fingerprint(folder, lesson_files(folder))
    return f"{lesson[:32]}-{kit_fingerprint()[:16]}{_soundfont_mark()}"


def _soundfont_mark() -> str:
    name = os.environ.get("KIT_SOUNDFONT")
    if not name:
        return ""
    path = Path(name)
    stat = path.stat() if path.is_file() else None
    return f"-{path.name}-{stat.st_size if stat else 0}"


def is_current(out: Path, fingerprint: str, paths: Iterable[str] = ()) -> bool:
    """Say whether an output folder holds, whole, what this fingerprint would build.

    Parameters
    ----------
    out : Path
        The output folder.
    fingerprint : str
        Of the lesson as it is now.
    paths : iterable of str
        Files that have to be among it (videos asked for this time only).
    """
    try:
        manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
        held = {file["path"]: file["bytes"] for file in manifest["files"]}
        return (
            manifest["built_from"] == fingerprint
            and held.keys() >= set(paths)
            and all((out / path).stat().st_size == size for path, size in held.items())
        )
    except (OSError, ValueError, KeyError, TypeError):
        # Missing, damaged or of another time: whatever it is, it is built anew.
        return False


def build_lesson(
    folder: Path,
    out_root: Path,
    *,
    progress: Progress,
    workers: int | None = None,
    videos: Sequence[str] = (),
) -> BuildResult:
    """Build one lesson folder into ``<out_root>/<slug>/``.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    out_root : Path
        Where the output folder goes.
    progress : Progress
        Told of each step.
    workers : int, optional
        Processes; as many as there are cores if not said.
    videos : sequence of str
        Score-follow videos to make beside those of lesson.toml, as ``level:instrument``.

    Raises
    ------
    LessonError
        If the lesson has an error; the last good output is untouched.
    SetupError
        If this machine lacks something that the output needs.
    """
    folder = folder.resolve()
    if folder.name in RESERVED_NAMES:
        raise LessonError(
            f'a lesson cannot be called "{folder.name}", as the catalogue needs that name',
            file=folder.name,
            remedy="rename the folder",
        )
    out = out_root.resolve() / folder.name
    fingerprint = source_fingerprint(folder) if folder.is_dir() else ""
    paths = [f"video/{wish.replace(':', '-', 1)}.mp4" for wish in videos]
    if fingerprint and is_current(out, fingerprint, paths):
        count = len(
            json.loads((out / "manifest.json").read_text(encoding="utf-8"))["files"]
        )
        return BuildResult(out, count, was_current=True)
    count = workers or os.cpu_count() or 1
    return _build(folder, out, fingerprint, progress, count, videos)


def _build(
    folder: Path,
    out: Path,
    fingerprint: str,
    progress: Progress,
    workers: int,
    videos: Sequence[str],
) -> BuildResult:
    from kit.check import check_lesson  # noqa: PLC0415 - unchanged lessons need none of it
    from kit.lesson import open_lesson  # noqa: PLC0415
    from kit.publish.jobs import audio_jobs  # noqa: PLC0415
    from kit.publish.manifest import manifest  # noqa: PLC0415

    findings = check_lesson(folder)
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors:
        first = errors[0]
        raise LessonError(
            first.text, file=first.file, bar=first.bar, remedy=first.remedy
        ).with_more(tuple(str(error) for error in errors[1:]))
    lesson = open_lesson(folder)
    wanted = _videos(lesson, videos)
    horns, levels = len(lesson.settings.instruments), len(lesson.levels)
    listed = len(audio_jobs(lesson)) + levels * horns + len(wanted)
    steps = 1 + listed + len(AUDIENCES) + 1
    progress.start(lesson.title, steps)
    with _pool(workers) as pool:
        files = _made(lesson, fingerprint, pool, progress, wanted)
    files += _bundles(files)
    progress.step("bundles")
    description = manifest(lesson, files, built_from=fingerprint, kit_version=KIT_VERSION)
    _put_in_place(out, files, description)
    return BuildResult(out, len(files), was_current=False, findings=findings)


def _videos(lesson: Lesson, wishes: Sequence[str]) -> list[tuple[str, str]]:
    """Give the videos to make, those of lesson.toml first, each once."""
    from kit.lesson.publish_tables import video_wish  # noqa: PLC0415
    from kit.publish.video import require_video  # noqa: PLC0415

    settings = lesson.settings
    horns = tuple(horn.slug for horn in settings.instruments)
    asked = [
        video_wish(wish, lesson.level_names, horns, source=settings.source)
        for wish in wishes
    ]
    wanted = list(dict.fromkeys([*settings.recording.videos, *asked]))
    if wanted:
        require_video()
    return wanted


def _made(
    lesson: Lesson,
    stamp: str,
    pool: ProcessPoolExecutor,
    progress: Progress,
    videos: Sequence[tuple[str, str]],
) -> list[BuiltFile]:
    """Do the jobs: audio and notebook at once, then what needs either, then pages."""
    from kit.publish.bundles import bundled  # noqa: PLC0415
    from kit.publish.jobs import (  # noqa: PLC0415
        Job,
        audio_jobs,
        page_job,
        run_job,
        run_notebook,
        sheet_jobs,
        video_jobs,
    )

    done: dict[Job, list[BuiltFile]] = {}

    def submit(jobs: Iterable[Job]) -> dict[Future[list[BuiltFile]], Job]:
        return {pool.submit(run_job, job, stamp): job for job in jobs}

    def finish(waiting: Mapping[Future[list[BuiltFile]], Job]) -> list[BuiltFile]:
        for future in as_completed(waiting):
            done[waiting[future]] = future.result()
            progress.step(waiting[future].title)
        return [file for job in waiting.values() for file in done[job]]

    running = pool.submit(run_notebook, lesson.folder)
    waiting = submit(audio_jobs(lesson))
    notebook = running.result()
    progress.step("notebook")
    files = finish(waiting | submit(sheet_jobs(lesson, notebook)))
    pages = []
    for audience in AUDIENCES:
        seen = [f.path for f in bundled(files) if audience == "members" or f.tier == "free"]
        pages.append(page_job(lesson, notebook, audience, links=seen))
    return files + finish(submit(video_jobs(lesson, videos)) | submit(pages))


@contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor]:
    """Give worker processes that end at once if the build fails or is stopped."""
    # "spawn" is what macOS and Windows do; the same everywhere means the same bugs nowhere.
    with _deaf_to_ctrl_c():
        pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"))
        started = [pool.submit(os.getpid) for _ in range(workers)]
    try:
        for worker in started:
            worker.result()
        yield pool
    except BaseException:
        processes = list((pool._processes or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.kill()
        raise
    pool.shutdown()


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Let processes started here leave Ctrl-C to their parent, which ends them in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, heard)


def _bundles(files: Sequence[BuiltFile]) -> list[BuiltFile]:
    from kit.publish.bundles import bundled, zip_bytes  # noqa: PLC0415
    from kit.publish.manifest import BuiltFile  # noqa: PLC0415

    public = {"public/index.html": "index.html"}
    files = bundled(files)
    free = {public.get(f.path, f.path): f.data for f in files if f.tier == "free"}
    members = {f.path: f.data for f in files if f.path not in public}
    return [
        BuiltFile(path="free.zip", kind="bundle", tier="free", data=zip_bytes(free)),
        BuiltFile(
            path="members.zip", kind="bundle", tier="members", data=zip_bytes(members)
        ),
    ]


def _put_in_place(out: Path, files: Iterable[BuiltFile], description: Any) -> None:
    """Write everything beside the last output, then change places with it."""
    out.parent.mkdir(parents=True, exist_ok=True)
    stage = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    try:
        for file in files:
            path = stage / file.path
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(file.data)
        text = json.dumps(description, indent=1, ensure_ascii=False) + "\n"
        (stage / "manifest.json").write_text(text, encoding="utf-8")
        stage.chmod(0o755)
        _swap(stage, out)
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def _swap(stage: Path, out: Path) -> None:
    if not out.exists():
        stage.replace(out)
        return
    old = stage.with_name(f"{stage.name}.old")
    out.replace(old)
    try:
        stage.replace(out)
    except BaseException:  # Ctrl-C between the two renames included
        old.replace(out)
        raise
    shutil.rmtree(old, ignore_errors=True)
