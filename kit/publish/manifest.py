"""The manifest: what a build produced, for a site's own programs.

Its keys are a contract (docs/developer/output.md): checks and sites rely on them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import Any

from kit.lesson import Lesson
from kit.levels import difficulty

__all__ = ["BuiltFile", "manifest"]


@dataclass(frozen=True, slots=True)
class BuiltFile:
    """A file of the output; keys that do not apply are None and left out."""

    path: str
    kind: str
    tier: str
    data: bytes
    level: str | None = None
    instrument: str | None = None
    mix: str | None = None
    tempo_percent: int | None = None
    seconds: float | None = None
    lufs: float | None = None
    true_peak_dbtp: float | None = None

    def entry(self) -> dict[str, Any]:
        """Give the manifest's entry."""
        values = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "data"}
        entry = {name: value for name, value in values.items() if value is not None}
        entry["sha256"] = hashlib.sha256(self.data).hexdigest()
        entry["bytes"] = len(self.data)
        return entry


def manifest(
    lesson: Lesson, files: Iterable[BuiltFile], *, built_from: str, kit_version: str
) -> dict[str, Any]:
    """Describe a lesson and the files built from it."""
    return {
        "lesson": lesson.slug,
        "title": lesson.title,
        "concert_key": lesson.tune.key.name,
        "form": lesson.form.pattern,
        "levels": [
            {
                "name": level.name,
                "title": level.settings.title,
                "tempo": level.settings.tempo,
                "feel": level.settings.feel,
                "bars": level.route.counted_bars,
                "seconds": round(level.seconds, 3),
                "count_in_seconds": round(level.count_in_s, 3),
                "difficulty": difficulty(level.sheet, level.tempo_qpm).overall,
            }
            for level in lesson.levels
        ],
        "kit_version": kit_version,
        "built_from": built_from,
        "files": [file.entry() for file in sorted(files, key=lambda file: file.path)],
    }
