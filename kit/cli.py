"""The ``kit`` command: new, check, build, prune, restore, lab.

Exit codes: 0 done, 1 the lesson has errors (or the work was stopped), 2 wrong usage. Errors
are sentences on standard error; only a fault of the kit itself is a traceback.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kit.command import PathArgument, PlainGroup, complain, sentences
from kit.errors import KitError, shortened
from kit.new_command import LESSONS, new
from kit.reading import from_os_error
from kit.terminal import echo, plain

if TYPE_CHECKING:
    from kit.build.lesson import BuildResult
    from kit.check.finding import Finding

__all__ = ["main"]

_LONGEST_NAME = 130
"""Characters of a lesson's name before it is shortened: a sign may take four of them."""
_TRIM_EVERY = 20
"""Lessons after which the cache is looked through: it takes long to, if there is much."""

_lessons_argument = click.argument(
    "lessons", nargs=-1, metavar="[LESSON]...", type=PathArgument()
)

_out_option = click.option(
    "--out",
    type=PathArgument(file_okay=False),
    default=Path("build"),
    show_default=True,
    help="Where the output folders are.",
)


def _chosen(lessons: Sequence[Path]) -> list[Path]:
    """Give the lesson folders meant: those named, or all in lessons/."""
    if lessons:
        return [path.parent if path.is_file() else path for path in lessons]
    found = sorted(path.parent for path in LESSONS.glob("*/lesson.toml"))
    if not found:
        raise click.UsageError(
            "there are no lessons in lessons/; name a folder, or start one with kit new"
        )
    return found


@click.group(cls=PlainGroup)
@click.version_option(package_name="tune-lesson-kit", prog_name="kit")
def main() -> None:
    """Write one tune once; publish a lesson for every level and instrument."""


main.add_command(new)


@main.command()
@_lessons_argument
@sentences
def check(lessons: tuple[Path, ...]) -> None:
    """Tell every problem of the lessons, with file, bar and remedy."""
    from kit.build.progress import shown_steps  # noqa: PLC0415
    from kit.check.finding import count_words  # noqa: PLC0415
    from kit.check.names import shared_names  # noqa: PLC0415

    folders = _chosen(lessons)
    shared = shared_names(folders)
    failed = bool(shared)
    faults: list[Exception] = []
    for place, folder in enumerate(folders, start=1):
        if folder in shared:
            complain(shared[folder])
        try:
            with shown_steps() as say:
                say(f"Checking lesson {place} of {len(folders)}")
                findings = _findings(folder)
        except Exception as fault:  # noqa: BLE001 - it is told when the others are done
            fault.add_note(f"This happened while {folder} was checked.")
            faults.append(fault)
            continue
        for finding in findings:
            echo(str(finding), err=finding.severity == "error")
        failed |= any(finding.severity == "error" for finding in findings)
        # Not Path.resolve, which raises where links go in a circle.
        name = shortened(plain(Path(os.path.realpath(folder)).name), _LONGEST_NAME)
        echo(f"{name}: {count_words(findings)}.")
    if faults:
        raise ExceptionGroup("a fault of the kit itself; all else is checked", faults)
    sys.exit(1 if failed else 0)


def _findings(folder: Path) -> Sequence[Finding]:
    """Check a lesson; what cannot even be read is an error like others."""
    from kit.check.finding import from_error  # noqa: PLC0415
    from kit.check.lesson import check_lesson  # noqa: PLC0415

    try:
        return check_lesson(folder)
    except KitError as error:
        return (from_error(error),)
    except OSError as error:
        return (from_error(from_os_error(error)),)


@main.command()
@_lessons_argument
@_out_option
@click.option(
    "--jobs", type=click.IntRange(1), help="Processes to use [default: all cores]."
)
@click.option(
    "--video",
    "videos",
    multiple=True,
    metavar="LEVEL:INSTRUMENT",
    help="Also make the score-follow video of a level for an instrument; can be repeated.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Build on the workers of a dask.distributed cluster instead of on this machine.",
)
@click.option("--explain", is_flag=True, help="Say what was made anew, and why.")
@sentences
def build(
    lessons: tuple[Path, ...],
    out: Path,
    jobs: int | None,
    videos: tuple[str, ...],
    scheduler: str | None,
    explain: bool,
) -> None:
    """Build handouts, pages, audio, bundles and catalogue of the lessons."""
    from kit.build.earlier import trim_earlier  # noqa: PLC0415
    from kit.build.lessons import build_lessons  # noqa: PLC0415
    from kit.build.progress import shown_progress  # noqa: PLC0415
    from kit.build.workers import workers_for  # noqa: PLC0415
    from kit.cache import default_cache  # noqa: PLC0415
    from kit.publish.catalogue.withdrawn import withdrawn_sentences  # noqa: PLC0415

    if scheduler and jobs:
        raise click.UsageError("--jobs is for this machine; a cluster has its own workers")
    failed = any_built = False
    faults: list[Exception] = []
    folders = _chosen(lessons)
    with workers_for(scheduler, jobs) as workers, shown_progress() as progress:
        results = build_lessons(
            folders, out, progress=progress, workers=workers, videos=videos
        )
        for place, result in enumerate(results, start=1):
            if isinstance(result, KitError):
                complain(result)
                failed = True
            elif isinstance(result, Exception):
                faults.append(result)
            else:
                for notice in result.notices:
                    echo(f"kit: {notice}", err=True)
                _tell(result.folder.name, result.findings)
                _tell_built(result, explain=explain)
                any_built |= not result.was_current
            if place % _TRIM_EVERY == 0:
                default_cache().trim()
                trim_earlier(out)
    default_cache().trim()
    if any_built:
        trim_earlier(out)
    if _catalogue_written(out):
        every = None if lessons else [folder.name for folder in folders]
        for sentence in withdrawn_sentences(out, built=every):
            _note(sentence)
    else:
        failed = True
    if faults:
        raise ExceptionGroup("a fault of the kit itself; all else is built", faults)
    sys.exit(1 if failed else 0)


def _catalogue_written(out: Path) -> bool:
    """Write the catalogue, and say what it left out; give whether it could be written."""
    from kit.output.own_files import kept_aside_sentences  # noqa: PLC0415
    from kit.publish.catalogue.site import FILES, write_catalogue  # noqa: PLC0415

    kept_aside = kept_aside_sentences(out, FILES)
    try:
        for name in write_catalogue(out):
            _note(
                f"{out / name}: its manifest is damaged or of another version, so the "
                "catalogue leaves it out; build it again."
            )
    except KitError as error:
        complain(error)
        return False
    for sentence in kept_aside:
        _note(sentence)
    return True


def _note(sentence: str) -> None:
    echo(f"kit: {sentence}", err=True)


@main.command()
@click.argument(
    "lessons", nargs=-1, required=True, metavar="LESSON...", type=PathArgument()
)
@_out_option
@click.option(
    "--build",
    "number",
    type=click.IntRange(1),
    default=1,
    show_default=True,
    help="Which one: 1 is the last before what is in place.",
)
@click.option("--list", "lists", is_flag=True, help="Only tell which ones are kept.")
@sentences
def restore(lessons: tuple[Path, ...], out: Path, number: int, lists: bool) -> None:
    """Put an earlier build of the lessons back in place.

    What is there now is kept in its turn, so that the same command takes it back. The
    lessons themselves are not touched: the next build makes what they say now.
    """
    from kit.build.earlier import earlier_builds  # noqa: PLC0415
    from kit.build.restore import choose_earlier, restore_earlier  # noqa: PLC0415

    slugs = [lesson.resolve().name for lesson in lessons]
    if lists:
        for slug in slugs:
            choose_earlier(out, slug)
            for place, build in enumerate(earlier_builds(out, slug), start=1):
                replaced = build.replaced.astimezone()
                files = len(build.manifest.get("files", ()))
                echo(f"{slug} {place}: {files} files, in place until {replaced:%c}")
        return
    for slug in slugs:
        target, notices = restore_earlier(out, choose_earlier(out, slug, number))
        for notice in notices:
            echo(f"kit: {notice}", err=True)
        echo(f"{slug}: an earlier build is in place again, in {target.out}")
    sys.exit(0 if _catalogue_written(out) else 1)


def _tell_built(result: BuildResult, *, explain: bool) -> None:
    from kit.build.reasons import reason_sentences  # noqa: PLC0415

    name = result.folder.name
    if explain and not result.was_current:
        for sentence in reason_sentences(result.reasons, kept=result.kept):
            echo(f"{name}: {sentence}")
    state = "is up to date" if result.was_current else "built"
    echo(f"{name} {state}: {result.files} files in {result.folder}")


def _tell(name: str, findings: Sequence[Finding]) -> None:
    """Print warnings; of hints only that there are some, so that they do not drown them."""
    for finding in findings:
        if finding.severity == "warning":
            echo(str(finding), err=True)
    hints = sum(finding.severity == "hint" for finding in findings)
    if hints:
        noun = "hint" if hints == 1 else "hints"
        echo(f"{name}: {hints} {noun} besides; kit check tells.", err=True)


@main.command()
@_out_option
@click.option(
    "--lessons",
    "lessons_dir",
    type=PathArgument(file_okay=False, exists=True),
    help="Only outputs of lessons that were in this folder [default: in any].",
)
@click.option("--yes", is_flag=True, help="Do not ask.")
@sentences
def prune(out: Path, lessons_dir: Path | None, yes: bool) -> None:
    """Remove the outputs of lessons that were withdrawn."""
    from kit.build.prune import remove_output, to_prune  # noqa: PLC0415

    found = to_prune(out, lessons_dir)
    for sentence in found.notes:
        _note(sentence)
    for error in found.refused:
        complain(error)
    if not found.outputs and not found.refused:
        echo(f"There is no output of a withdrawn lesson in {out}.")
    for folder in found.outputs:
        echo(str(folder))
    count = len(found.outputs)
    noun = "this folder" if count == 1 else f"these {count} folders"
    if count and not yes and not click.confirm(f"Remove {noun}?"):
        echo("Nothing was removed.")
        sys.exit(1 if found.refused else 0)
    failed = bool(found.refused)
    for folder in found.outputs:
        try:
            remove_output(folder)
        except KitError as error:
            complain(error)
            failed = True
        else:
            echo(f"{folder} removed.")
    failed |= not _catalogue_written(out)
    sys.exit(1 if failed else 0)


@main.command(context_settings={"ignore_unknown_options": True})
@click.argument("extra", nargs=-1, type=click.UNPROCESSED)
@sentences
def lab(extra: tuple[str, ...]) -> None:
    """Open JupyterLab on lessons/ (EXTRA arguments go to JupyterLab)."""
    import subprocess  # noqa: PLC0415
    from urllib.parse import quote  # noqa: PLC0415

    from kit.authoring.start_page import write_start_page  # noqa: PLC0415

    page = write_start_page(LESSONS)
    command = [
        # -P: a file of the teacher's must not be taken for a module of JupyterLab's.
        *(sys.executable, "-P", "-m", "jupyterlab"),
        f"--ServerApp.root_dir={LESSONS.resolve()}",
        f"--LabApp.default_url=/lab/tree/{quote(page.name)}",
    ]
    if sys.platform == "win32":
        # There a program cannot take the place of another; this one waits for it.
        sys.exit(subprocess.call([*command, *extra]))
    os.execv(sys.executable, [*command, *extra])  # noqa: S606 - our own command, no shell
