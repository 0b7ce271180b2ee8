"""Can what a lesson makes be unpacked on every computer, in a place of its own?

Names of the lesson folder, of levels and of instruments become names of files and folders
on the teacher's site and on students' machines. What another system cannot have as a name
is an error here, not there.

Sources: Microsoft's *Naming Files, Paths, and Namespaces* (device names, forbidden signs,
ends); Unicode Standard Annex 15 (normalisation), in which macOS compares names.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from kit.check.finding import Finding
from kit.errors import LessonError
from kit.lesson.lesson import Lesson

__all__ = [
    "CATALOGUE_NAMES",
    "as_compared",
    "name_findings",
    "name_problem",
    "shared_names",
]

CATALOGUE_NAMES = frozenset({"public", "index.html", "feed.xml", "free-site.zip"})
"""What stands beside the lessons in the output folder."""
_DEVICES = frozenset(
    {"con", "prn", "aux", "nul", "conin$", "conout$"}
    | {f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³"}
)
_FORBIDDEN = frozenset('<>:"/\\|?*')
_UNSEEN = frozenset({"Cc", "Cs", "Zl", "Zp"})
_END = {".": "dot", " ": "space"}
_LONGEST = 80
_LONGEST_TOGETHER = 140
"""Characters, so that a path on Windows has room for the folders before it (of 260)."""


def name_problem(name: str, *, longest: int = _LONGEST) -> str | None:
    """Say why a name cannot be had everywhere, None if it can.

    Examples
    --------
    >>> name_problem("con.pdf")
    'Windows keeps the name "con" for a device'
    """
    if not name or set(name) <= {"."}:
        return "it names nothing"
    stem = name.partition(".")[0].rstrip(" ")
    bad = next((sign for sign in name if sign in _FORBIDDEN), "")
    unseen = any(unicodedata.category(sign) in _UNSEEN for sign in name)
    reasons = {
        f'Windows keeps the name "{stem}" for a device': stem.casefold() in _DEVICES,
        f"Windows allows no {bad} in a name": bool(bad),
        "it holds a sign that cannot be seen or is not UTF-8": unseen,
        f"Windows drops the {_END.get(name[-1])} at its end": name[-1] in _END,
        f"it begins with a {_END.get(name[0])}": name[0] in _END,
        f"it is longer than {longest} characters": len(name) > longest
        or len(name.encode(errors="replace")) > 2 * longest,
    }
    return next((reason for reason, is_so in reasons.items() if is_so), None)


def as_compared(name: str) -> str:
    """Give a name as systems compare it that do not tell case or composition apart."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def name_findings(lesson: Lesson) -> Iterator[Finding]:
    """Yield an error for each name of a lesson that would not work everywhere."""
    settings = lesson.settings

    def error(text: str, remedy: str) -> Finding:
        return Finding("error", text, settings.source, remedy=remedy, code="name")

    problem = name_problem(lesson.slug)
    if as_compared(lesson.slug) in CATALOGUE_NAMES:
        problem = "the catalogue needs that name for itself"
    if problem:
        text = f'the lesson folder cannot be called "{lesson.slug}": {problem}'
        yield error(text, "rename the folder")
    slugs = [instrument.slug for instrument in settings.instruments]
    for kind, names in (("level", lesson.level_names), ("instrument", slugs)):
        for name in names:
            problem = name_problem(name)
            if problem:
                text = f'the {kind} cannot be called "{name}": {problem}'
                yield error(text, "give it a short name of small letters and hyphens")
    for one, other in _alike(slugs):
        text = f'the instruments "{one}" and "{other}" differ in case or accents only'
        yield error(text, "give one of them another name")
    if any(name_problem(slug) for slug in slugs):
        return
    yield from (error(text, "rename one of the levels") for text in _same_files(lesson))
    longest = max((f"{x}-{y}" for x in lesson.level_names for y in slugs), key=len)
    if len(longest) > _LONGEST_TOGETHER:
        text = (
            f'the names of level and instrument make "{longest[:60]}…" too long for a file'
        )
        yield error(text, f"keep both together below {_LONGEST_TOGETHER} characters")


def shared_names(folders: Iterable[Path]) -> dict[Path, LessonError]:
    """Find the lessons that would be built over one another, with what to say of each.

    Parameters
    ----------
    folders : iterable of Path
        The lesson folders of one command; one that is named twice is no other lesson.
    """
    called: dict[str, dict[Path, Path]] = {}
    for folder in folders:
        whole = folder.resolve()
        called.setdefault(as_compared(whole.name), {}).setdefault(whole, folder)
    errors: dict[Path, LessonError] = {}
    for alike in called.values():
        for whole, folder in alike.items():
            others = [other for other in alike if other != whole]
            if others:
                errors[folder] = LessonError(
                    f"{others[0]} would be built into the same folder",
                    file=whole.name,
                    remedy="rename one of the two lessons",
                )
    return errors


def _alike(names: Sequence[str]) -> Iterator[tuple[str, str]]:
    first: dict[str, str] = {}
    for name in names:
        other = first.setdefault(as_compared(name), name)
        if other != name:
            yield other, name


def _same_files(lesson: Lesson) -> Iterator[str]:
    """Yield the pairs that would give two files one name: a-b with c, and a with b-c."""
    made: dict[str, tuple[str, str]] = {}
    slugs = [instrument.slug for instrument in lesson.settings.instruments]
    for level in lesson.level_names:
        for slug in (*slugs, *lesson.settings.audio.mixes):
            name = as_compared(f"{level}-{slug}")
            other = made.setdefault(name, (level, slug))
            if other != (level, slug):
                yield (
                    f'level "{other[0]}" with {other[1]} and level "{level}" with {slug} '
                    f'would both be called "{level}-{slug}"'
                )
