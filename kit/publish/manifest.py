"""The manifest: what a build produced, for a site's own programs.

Its keys are a contract (docs/developer/output.md): checks and sites rely on them.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from typing import Any

from kit.form.names import form_name
from kit.lesson.lesson import Lesson
from kit.lesson.publish_tables import CatalogueSettings
from kit.levels.difficulty import difficulty

__all__ = ["BuiltFile", "manifest"]


@dataclass(frozen=True, slots=True)
class BuiltFile:
    """A file of the output with its bytes; what does not apply is None."""

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
    paper: str | None = None
    large_print: bool | None = None
    soundfont: str | None = None
    soundfont_licence: str | None = None
    bars: str | None = None
    section: str | None = None

    def entry(self) -> dict[str, Any]:
        """Describe the file as the manifest does, what does not apply left out."""
        values = {f.name: getattr(self, f.name) for f in fields(self) if f.name != "data"}
        entry = {name: value for name, value in values.items() if value is not None}
        entry["sha256"] = hashlib.sha256(self.data).hexdigest()
        entry["bytes"] = len(self.data)
        return entry


def manifest(
    lesson: Lesson,
    files: Iterable[Mapping[str, Any]],
    *,
    built_from: str,
    kit_version: str,
) -> dict[str, Any]:
    """Describe a lesson and the files built from it (each a `BuiltFile.entry`).

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    files : iterable of mapping
        What each file is, its hash and size with it.
    built_from : str
        Fingerprint of all that the lesson was built from.
    kit_version : str
        What built it.

    Returns
    -------
    dict
        What JSON can write.
    """
    settings = lesson.settings
    first = lesson.level_names[0]
    return {
        "lesson": lesson.slug,
        "title": lesson.title,
        "composer": settings.composer,
        "school": settings.school,
        "language": settings.language,
        "summary": settings.summary,
        "address": settings.address,
        "concert_key": lesson.tune.key.name,
        "form": lesson.form.pattern,
        "form_name": form_name(lesson.played, lesson.form),
        "meter": str(lesson.tune.meter),
        "instruments": [
            {
                "slug": instrument.slug,
                "name": instrument.name,
                "key": str(lesson.part(first, instrument.slug).tune.key),
            }
            for instrument in settings.instruments
        ],
        "catalogue": _catalogue(settings.catalogue),
        "levels": [
            {
                "name": level.name,
                "title": level.settings.title,
                "summary": level.settings.summary,
                "free": level.name in settings.tiers.free_levels,
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
        "files": sorted(files, key=lambda entry: entry["path"]),
    }


def _catalogue(settings: CatalogueSettings) -> dict[str, Any]:
    published = settings.published.isoformat() if settings.published else ""
    values = {
        "course": settings.course,
        "order": settings.order if settings.course else 0,
        "adds": settings.adds,
        "published": published,
    }
    return {name: value for name, value in values.items() if value}
