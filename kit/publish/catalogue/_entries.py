"""What does a school offer? The lessons of an output folder, from their manifests alone.

Nothing is read but ``manifest.json``, so the catalogue costs next to nothing, and shows
what has been built and nothing else. The *public* view keeps only what is free: of a
members' level it knows the title.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import isfinite
from pathlib import Path
from typing import Any

from kit.form.wording import listed
from kit.output.written import MANIFEST, MAX_MANIFEST_BYTES
from kit.reading import read_json

__all__ = [
    "Course",
    "Entry",
    "EntryLevel",
    "Player",
    "courses",
    "manifest_paths",
    "public_view",
    "read_entries",
]


@dataclass(frozen=True, slots=True)
class Player:
    """An instrument by slug and name, and the key in which it reads the tune."""

    slug: str
    name: str
    key: str


@dataclass(frozen=True, slots=True)
class EntryLevel:
    """A level: `tempo` in felt beats a minute, `difficulty` from 1.0 to 10.0."""

    name: str
    title: str
    summary: str
    free: bool
    tempo: float
    feel: str
    bars: int
    seconds: float
    difficulty: float


@dataclass(frozen=True, slots=True)
class Entry:
    """A lesson as the catalogue shows it; `locked` are titles of levels for members."""

    slug: str
    title: str
    composer: str
    school: str
    language: str
    summary: str
    address: str
    key: str
    form: str
    form_name: str
    meter: str
    instruments: tuple[Player, ...]
    levels: tuple[EntryLevel, ...]
    course: str = ""
    order: int = 0
    adds: str = ""
    published: date | None = None
    locked: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Course:
    """A path: its lessons in order, and what each adds to those before it."""

    title: str
    steps: tuple[tuple[Entry, str], ...]


def read_entries(out_root: Path) -> tuple[tuple[Entry, ...], tuple[str, ...]]:
    """Read the manifests below an output folder.

    Parameters
    ----------
    out_root : Path
        Where ``kit build`` puts its folders.

    Returns
    -------
    entries : tuple of Entry
        By title.
    left_out : tuple of str
        Folders whose manifest cannot be used, because another version of the kit wrote it
        or it is damaged.
    """
    entries, left_out = [], []
    for path in manifest_paths(out_root):
        entry = _entry(path)
        if entry is None:
            left_out.append(path.parent.name)
        else:
            entries.append(entry)
    ordered = sorted(entries, key=lambda entry: (entry.title.casefold(), entry.slug))
    return tuple(ordered), tuple(left_out)


def manifest_paths(out_root: Path) -> list[Path]:
    """Find the manifests below an output folder, those of builds under way left out."""
    return [
        path
        for path in sorted(out_root.glob(f"*/{MANIFEST}"))
        if not path.parent.name.startswith(".")
    ]


def _entry(path: Path) -> Entry | None:
    try:
        if path.stat().st_size > MAX_MANIFEST_BYTES:
            return None
        return _from_manifest(
            read_json(path, limit_bytes=MAX_MANIFEST_BYTES), slug=path.parent.name
        )
    except (
        OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError,
        OverflowError,
    ):  # fmt: skip
        # Not JSON, not of the shape this version writes, or gone while it was read: the
        # caller tells the teacher.
        return None


def _from_manifest(data: Mapping[str, Any], *, slug: str) -> Entry:
    place = data["catalogue"]
    told = place.get("published")
    return Entry(
        slug=_text(slug),
        title=_text(data["title"]),
        composer=_text(data["composer"]),
        school=_text(data["school"]),
        language=_text(data["language"]),
        summary=_text(data["summary"]),
        address=_text(data["address"]),
        key=_printed(_text(data["concert_key"])),
        form=_text(data["form"]),
        form_name=_text(data["form_name"]),
        meter=_text(data["meter"]),
        instruments=tuple(
            Player(_text(row["slug"]), _text(row["name"]), _text(row["key"]))
            for row in data["instruments"]
        ),
        levels=tuple(_level(row) for row in data["levels"]),
        course=_text(place.get("course", "")),
        order=int(_number(place.get("order", 0))),
        adds=_text(place.get("adds", "")),
        published=date.fromisoformat(told) if told else None,
    )


def _level(row: Mapping[str, Any]) -> EntryLevel:
    return EntryLevel(
        name=_text(row["name"]),
        title=_text(row["title"]),
        summary=_text(row["summary"]),
        free=row["free"] is True,
        tempo=_number(row["tempo"]),
        feel=_text(row["feel"]),
        bars=int(_number(row["bars"])),
        seconds=_number(row["seconds"]),
        difficulty=_number(row["difficulty"]),
    )


def _text(value: object) -> str:
    """Take a text that can be written again."""
    if not isinstance(value, str):
        raise TypeError("a text was expected")
    value.encode()  # raises for half a character, which JSON can hold
    return value


def _number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError("a number was expected")
    if not isfinite(value):
        raise ValueError("a finite number was expected")
    return float(value)


def _printed(key: str) -> str:
    """Write the manifest's ``Eb major`` with real signs."""
    tonic, _, mode = key.partition(" ")
    return f"{tonic[:1]}{tonic[1:].replace('b', '♭').replace('#', '♯')} {mode}"


def public_view(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Give what visitors may know: lessons with a free level, and of them what is free."""
    seen = []
    for entry in entries:
        free = tuple(level for level in entry.levels if level.free)
        locked = tuple(level.title for level in entry.levels if not level.free)
        if free:
            seen.append(replace(entry, levels=free, locked=locked))
    return tuple(seen)


def courses(entries: Iterable[Entry]) -> tuple[Course, ...]:
    """Put the lessons that belong to a course into its order, and say what each adds."""
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        if entry.course:
            found.setdefault(entry.course, []).append(entry)
    return tuple(
        Course(title, tuple(_steps(sorted(steps, key=lambda e: (e.order, e.title)))))
        for title, steps in sorted(found.items(), key=lambda item: item[0].casefold())
    )


def _steps(entries: Sequence[Entry]) -> Iterator[tuple[Entry, str]]:
    known = _Known()
    for entry in entries:
        yield entry, entry.adds or known.new_in(entry)
        known.add(entry)


class _Known:
    """What the lessons of a path so far have taught."""

    def __init__(self) -> None:
        self._keys: set[str] = set()
        self._forms: set[str] = set()
        self._meters: set[str] = set()
        self._feels: set[str] = set()
        self._fastest = 0.0

    def add(self, entry: Entry) -> None:
        self._keys.add(entry.key)
        self._forms.add(entry.form)
        self._meters.add(entry.meter)
        self._feels.update(level.feel for level in entry.levels)
        self._fastest = max(self._fastest, _fastest(entry))

    def new_in(self, entry: Entry) -> str:
        """Say what a lesson brings that no lesson before it had."""
        if not self._keys:
            return "The start of the path."
        new = [] if entry.key in self._keys else [f"the key of {entry.key} (concert)"]
        if entry.form not in self._forms:
            new.append(f"the form {entry.form}")
        if entry.meter not in self._meters:
            new.append(f"{entry.meter} time")
        feels = dict.fromkeys(level.feel for level in entry.levels)
        new.extend(feel.replace("-", " ") for feel in feels if feel not in self._feels)
        if _fastest(entry) > self._fastest:
            new.append(f"a tempo up to {_fastest(entry):g}")
        return f"New here: {listed(new)}." if new else "More of what you know."


def _fastest(entry: Entry) -> float:
    return max((level.tempo for level in entry.levels), default=0.0)
