"""Is a lesson's output what its files would build now, and if not, why?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from kit.build.identity import lesson_files, source_fingerprint
from kit.build.lesson import is_current
from kit.errors import LessonError
from kit.form.wording import listed
from kit.output.place import output_place
from kit.reading import read_json

__all__ = ["BuildState", "build_state", "output_root"]

_MOST_NAMES = 5


@dataclass(frozen=True, slots=True)
class BuildState:
    """How a lesson's output stands to its files.

    Parameters
    ----------
    kind : "current", "outdated" or "never"
        Whether it is built.
    reasons : tuple of str
        Why it is out of date, or may not be built there, a sentence each.
    folder : Path
        The output folder, there or not.
    """

    kind: Literal["current", "outdated", "never"]
    reasons: tuple[str, ...]
    folder: Path

    @property
    def words(self) -> str:
        """The state in a word or three."""
        return {
            "current": "built",
            "outdated": "out of date",
            "never": "never built",
        }[self.kind]


def output_root(lesson_folder: Path) -> Path:
    """Give where `kit build` puts the output when it is run beside the lessons folder."""
    return lesson_folder.resolve().parent.parent / "build"


def build_state(folder: Path, out_root: Path) -> BuildState:
    """Compare a lesson folder with its output.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    out_root : Path
        Where output folders are.
    """
    folder = folder.resolve()
    try:
        out = output_place(folder, out_root).out
    except LessonError as error:
        return BuildState("never", (str(error),), out_root / folder.name)
    if not (out / "manifest.json").is_file():
        return BuildState("never", (), out)
    fingerprint = source_fingerprint(folder)
    if is_current(out, fingerprint):
        return BuildState("current", (), out)
    return BuildState("outdated", tuple(_reasons(folder, out, fingerprint)), out)


def _reasons(folder: Path, out: Path, fingerprint: str) -> Iterator[str]:
    manifest = _manifest(out)
    before = str(manifest.get("built_from", "")).split("-", 2)
    now = fingerprint.split("-", 2)
    if before[0] != now[0]:
        yield _changed_files(folder, out / "manifest.json")
    if before[1:2] != now[1:2]:
        yield "The kit itself, or a program it draws or plays with, is another version."
    if before[2:] != now[2:]:
        yield "The SoundFont set for this machine is another one."
    if before == now:
        yield "Files of the output are missing or were changed."


def _changed_files(folder: Path, manifest: Path) -> str:
    """Name the files changed since the build, as far as the clock tells."""
    built = manifest.stat().st_mtime
    names = [
        path.relative_to(folder).as_posix()
        for path in lesson_files(folder)
        if path.stat().st_mtime > built
    ]
    if not names:
        return "A file of the lesson has been added, taken away or brought back."
    more = len(names) - _MOST_NAMES
    shown = names[:_MOST_NAMES] + ([f"{more} more"] if more > 0 else [])
    return f"Changed since: {listed(shown)}."


def _manifest(out: Path) -> dict[str, Any]:
    try:
        read = read_json(out / "manifest.json")
    except (OSError, ValueError):
        # Damaged: whatever it said, it no longer counts.
        return {}
    return read if isinstance(read, dict) else {}
