"""Build a lesson: everything into a folder of its own, put in place by one rename.

The steps, in order: recognise an unchanged lesson and leave it; check; do the jobs, or take
from the cache what they made before (`kit.build._run`); pack the bundles; write the
manifest; swap the folders (`kit.build._staging`). Whatever goes wrong before the swap
leaves the last good output as it was.
"""

from __future__ import annotations

import errno
import json
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kit.build.identity import KIT_VERSION, lesson_hashes, source_fingerprint
from kit.cache import CacheLossError, default_cache
from kit.errors import LessonError
from kit.output.origins import note_origin
from kit.output.place import OutputPlace, left_beside, output_place
from kit.output.written import require_replaceable
from kit.reading import read_json

if TYPE_CHECKING:
    from kit.build._run import Progress, Run
    from kit.build.reasons import Reason
    from kit.build.workers import Workers
    from kit.check.finding import Finding
    from kit.lesson.lesson import Lesson

RECIPES = ".recipes"
"""Beside the lessons' output: what each was made from, to say why it is made again."""

_DISK_FULL = (errno.ENOSPC, errno.EDQUOT)

__all__ = ["BuildResult", "build_lesson", "is_current", "unchanged_result"]


@dataclass(frozen=True, slots=True)
class BuildResult:
    """What became of a lesson.

    `reasons` tell what was made anew and why; `kept` counts the jobs whose results were
    taken from the cache; `notices` are sentences about what was found in the output folder.
    """

    folder: Path
    files: int
    was_current: bool
    findings: tuple[Finding, ...] = ()
    reasons: tuple[Reason, ...] = ()
    kept: int = 0
    notices: tuple[str, ...] = ()


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
        manifest = read_json(out / "manifest.json")
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
    workers: Workers,
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
    workers : Workers
        Who does the work (`kit.build.workers`).
    videos : sequence of str
        Score-follow videos to make beside those of lesson.toml, as ``level:instrument``.

    Raises
    ------
    LessonError
        If the lesson has an error, or may not be built to that folder; the last good output
        is untouched.
    SetupError
        If this machine lacks something that the output needs, or a worker was lost.
    """
    folder, place = folder.resolve(), _settled_place(folder, out_root)
    # Taken before anything is read, so that what is saved from now on is noticed.
    hashes = lesson_hashes(folder) if folder.is_dir() else {}
    fingerprint = source_fingerprint(folder, hashes)
    current = _current_result(folder, place, fingerprint, videos)
    if current is not None:
        return current
    from kit.build._run import Run  # noqa: PLC0415
    from kit.build.earlier import clear_earlier, current_manifest  # noqa: PLC0415
    from kit.lesson.lesson import open_lesson  # noqa: PLC0415 - unchanged lessons need none of it

    require_replaceable(place, current_manifest(place))
    workers.prepare()
    findings = _checked(folder)
    lesson = open_lesson(folder)
    wanted = _videos(lesson, videos)
    cache, before = default_cache(), _read_recipes(place) if place.out.is_dir() else {}

    def attempt(*, reads: bool) -> BuildResult:
        run = Run(
            lesson, workers, cache, progress, source_hash=fingerprint, hashes=hashes,
            before=before, videos=wanted,
        )  # fmt: skip
        return _build(run, place, reads=reads)

    try:
        result = attempt(reads=False)
    except CacheLossError:
        # Damaged, or cleared by someone: everything is looked at, and the rest made anew.
        result = attempt(reads=True)
    except OSError as error:
        # A full disk: earlier outputs are worth less than this one.
        if error.errno not in _DISK_FULL or not clear_earlier(place.root):
            raise
        result = attempt(reads=False)
    return replace(result, findings=findings)


def unchanged_result(
    folder: Path, out_root: Path, videos: Sequence[str] = ()
) -> BuildResult | None:
    """Give the result of a lesson that need not be built, or None if it has to be.

    Raises
    ------
    LessonError
        If the lesson may not be built to that folder, or not under its name.
    """
    folder, place = folder.resolve(), _settled_place(folder, out_root)
    return _current_result(folder, place, source_fingerprint(folder), videos)


def _settled_place(folder: Path, out_root: Path) -> OutputPlace:
    place = output_place(folder, out_root)
    if left_beside(place.out):
        from kit.build._staging import settle  # noqa: PLC0415 - seldom needed

        settle(place)
    return place


def _current_result(
    folder: Path, place: OutputPlace, fingerprint: str, videos: Sequence[str]
) -> BuildResult | None:
    paths = [f"video/{wish.replace(':', '-', 1)}.mp4" for wish in videos]
    if not is_current(place.out, fingerprint, paths):
        return None
    # Where nothing may be written, nothing has to be: the lesson is then not known as built
    # from here, and never taken for withdrawn.
    with suppress(OSError):
        note_origin(place.root, place.slug, folder)
    manifest = read_json(place.out / "manifest.json")
    return BuildResult(place.out, len(manifest["files"]), was_current=True)


def _checked(folder: Path) -> tuple[Finding, ...]:
    """Check a lesson; give what is worth a look, and stop at errors."""
    from kit.check.lesson import check_lesson  # noqa: PLC0415 - unchanged lessons need none of it

    findings = check_lesson(folder)
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors:
        first = errors[0]
        raise LessonError(
            first.text, file=first.file, bar=first.bar, remedy=first.remedy
        ).with_more(tuple(str(error) for error in errors[1:]))
    return findings


def _build(run: Run, place: OutputPlace, *, reads: bool) -> BuildResult:
    from kit.build._staging import (  # noqa: PLC0415
        add_bundles,
        add_files,
        add_made,
        add_manifest,
        staged,
    )
    from kit.publish.leaks.proof import proven  # noqa: PLC0415
    from kit.publish.manifest import manifest  # noqa: PLC0415

    files = run.files(reads=reads)
    with staged(place) as stage:
        add_files(stage.folder, files, run.cache)
        files += add_bundles(stage.folder, files)
        proof = proven(run.lesson, run.notebook, files, stage.folder, run.cache)
        files += add_made(stage.folder, proof)
        description = manifest(
            run.lesson, files, built_from=run.source_hash, kit_version=KIT_VERSION
        )
        add_manifest(stage.folder, description)
    _write_recipes(place, run.recipes)
    note_origin(place.root, place.slug, run.lesson.folder)
    run.progress.step("bundles")
    return BuildResult(
        place.out,
        len(files),
        was_current=False,
        reasons=tuple(run.reasons),
        kept=run.kept,
        notices=stage.notices,
    )


def _videos(lesson: Lesson, wishes: Sequence[str]) -> list[tuple[str, str]]:
    """Give the videos to make, those of lesson.toml first, each once."""
    from kit.lesson.publish_tables import video_wish  # noqa: PLC0415
    from kit.publish.recording.video import require_video  # noqa: PLC0415

    settings = lesson.settings
    instruments = tuple(instrument.slug for instrument in settings.instruments)
    asked = [
        video_wish(wish, lesson.level_names, instruments, source=settings.source)
        for wish in wishes
    ]
    wanted = list(dict.fromkeys([*settings.recording.videos, *asked]))
    if wanted:
        require_video()
    return wanted


def _recipes_file(place: OutputPlace) -> Path:
    return place.root / RECIPES / f"{place.slug}.json"


def _read_recipes(place: OutputPlace) -> dict[str, dict[str, str]]:
    try:
        recipes: Any = read_json(_recipes_file(place))
    except (OSError, ValueError):
        # They only explain; without them everything counts as never made before.
        return {}
    if not isinstance(recipes, dict):
        return {}
    return {name: recipe for name, recipe in recipes.items() if isinstance(recipe, dict)}


def _write_recipes(place: OutputPlace, recipes: Mapping[str, Mapping[str, str]]) -> None:
    path = _recipes_file(place)
    path.parent.mkdir(exist_ok=True)
    part = path.with_suffix(".part")
    part.write_text(json.dumps(recipes, indent=0), encoding="utf-8")
    part.replace(path)
