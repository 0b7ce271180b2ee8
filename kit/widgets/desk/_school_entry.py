"""What is there to know about one lesson in the list: its title, checks and build?

Checking reads every note of a lesson, so its outcome is kept in the cache under the
fingerprint of the lesson's files and the day (terms of protection end with a year).
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from kit.build.identity import source_fingerprint
from kit.build.state import BuildState, build_state
from kit.cache import default_cache, fingerprint
from kit.check.finding import SEVERITIES, Finding
from kit.check.lesson import check_lesson
from kit.errors import LessonError
from kit.lesson.settings import read_settings
from kit.reading import json_of

__all__ = ["Checked", "Entry", "check_entry", "entry_of", "lesson_folders"]


@dataclass(frozen=True, slots=True)
class Checked:
    """The outcome of a check: pairs of severity and sentence."""

    findings: tuple[tuple[str, str], ...]

    def count(self, severity: str) -> int:
        """Count the findings of a severity."""
        return sum(found == severity for found, _ in self.findings)

    @property
    def kind(self) -> str:
        """The gravest: ``error``, ``warning`` or ``fine``."""
        for severity in ("error", "warning"):
            if self.count(severity):
                return severity
        return "fine"

    @property
    def words(self) -> str:
        """The outcome in a few words."""
        parts = []
        for severity in ("error", "warning", "hint"):
            count = self.count(severity)
            if count:
                parts.append(f"{count} {severity}{'' if count == 1 else 's'}")
        return ", ".join(parts) or "nothing to mend"


@dataclass(frozen=True, slots=True)
class Entry:
    """One lesson: `trouble` says why it cannot be opened at all."""

    slug: str
    title: str
    trouble: str
    levels: tuple[str, ...]
    build: BuildState
    checked: Checked | None = None


def lesson_folders(lessons: Path) -> list[Path]:
    """List the lesson folders of a folder, by name."""
    return sorted(path.parent for path in lessons.glob("*/lesson.toml"))


def entry_of(folder: Path, out_root: Path) -> Entry:
    """Describe a lesson as far as it needs no reading of notes."""
    trouble, title = "", folder.name
    levels: tuple[str, ...] = ()
    try:
        settings = read_settings(folder)
    except LessonError as error:
        trouble = str(error)
    else:
        title = settings.title
        levels = tuple(level.title for level in settings.levels)
    return Entry(folder.name, title, trouble, levels, build_state(folder, out_root))


def check_entry(folder: Path) -> Checked:
    """Check a lesson, or recall what checking the very same files has found today."""
    key = fingerprint("school", source_fingerprint(folder), date.today().isoformat())
    cache = default_cache()
    kept = cache.parsed(key, _findings_of)
    if kept is not None:
        return Checked(kept)
    found = tuple((f.severity, _without_severity(f)) for f in check_lesson(folder))
    cache.put(key, json.dumps(found, ensure_ascii=False).encode())
    return Checked(found)


def _findings_of(entry: bytes) -> tuple[tuple[str, str], ...]:
    rows = json_of(entry)
    if not isinstance(rows, list) or not all(map(_is_finding, rows)):
        raise ValueError("this is no list of findings")
    return tuple((severity, text) for severity, text in rows)


def _is_finding(row: object) -> bool:
    return (
        isinstance(row, list)
        and [type(part) for part in row] == [str, str]
        and row[0] in SEVERITIES
    )


def _without_severity(finding: Finding) -> str:
    return str(finding).removeprefix(f"{finding.severity}: ")
