"""Where does a lesson's output go, and may it go there?

Output is replaced as a whole, so a wrong place would cost the teacher files. A place is
refused if it could hold a lesson: source and output may not contain one another, whatever
links or other spellings lead there, and no output goes inside a lesson folder.

Contents
--------
`OutputPlace`, `output_place` and `restored_place`; `is_within`; `below`, `left_beside`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from unicodedata import normalize

from kit.errors import LessonError

__all__ = [
    "RESERVED_NAMES",
    "OutputPlace",
    "below",
    "is_within",
    "left_beside",
    "output_place",
    "resolved",
    "restored_place",
]

RESERVED_NAMES = frozenset({"public", "index.html", "feed.xml", "free-site.zip"})
"""What the catalogue puts beside the lessons' folders."""
LESSON_FILE = "lesson.toml"
_DATE = r"(?:19|20)\d{6}\."
"""A copy that somebody named by the day it was made is none of ours."""


@dataclass(frozen=True, slots=True)
class OutputPlace:
    """Where one lesson is built to.

    Parameters
    ----------
    root : Path
        The out folder, which all lessons share.
    slug : str
        The lesson's name.
    out : Path
        The folder that is replaced: below `root`, or wherever a link there leads.
    """

    root: Path
    slug: str
    out: Path


def output_place(folder: Path, out_root: Path) -> OutputPlace:
    """Give the place of a lesson's output.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    out_root : Path
        Where output folders go; it need not exist.

    Raises
    ------
    LessonError
        If the lesson's name cannot be used there, or the place could hold a lesson.
    """
    folder = folder.resolve()
    root = resolved(out_root)
    _require_free_name(folder.name)
    link = root / folder.name
    out = _target(link, folder.name)
    for place in dict.fromkeys((link, out)):
        if is_within(place, folder) or is_within(folder, place):
            raise LessonError(
                f"the output would go to {place}, which holds the lesson or lies in it",
                file=folder.name,
                remedy="build to a folder apart from the lesson, such as --out build",
            )
        # The lesson itself may be anywhere below or beside; another one is no place either.
        for above in (place, *place.parents):
            if (above / LESSON_FILE).exists():
                raise LessonError(
                    f"the output would go to {place}, inside the lesson folder {above}",
                    file=folder.name,
                    remedy="build to a folder outside of all lessons, such as --out build",
                )
    return OutputPlace(root, folder.name, out)


def restored_place(root: Path, slug: str) -> OutputPlace:
    """Give the place of an output whose lesson need not be there any more.

    Parameters
    ----------
    root : Path
        The out folder.
    slug : str
        The lesson's short name, which is that of its output too.
    """
    root = resolved(root)
    return OutputPlace(root, slug, _target(root / slug, slug))


def resolved(folder: Path) -> Path:
    """Give where a folder really is, links followed; it need not exist.

    Raises
    ------
    LessonError
        If links lead round in a circle.
    """
    try:
        return folder.resolve()
    except (RuntimeError, OSError) as error:
        # Python 3.11 says RuntimeError of a circle, later ones OSError where it is strict.
        raise LessonError(
            f"the folder {folder} cannot be reached: its links lead round in a circle",
            remedy="remove the link, or name another folder with --out",
        ) from error


def is_within(path: Path, folder: Path) -> bool:
    """Say whether a path is a folder, or lies in it, however the two are written.

    Paths are compared as they are written, without regard to upper and lower case and to
    how Unicode composes letters, because file systems differ in both; and what exists is
    compared by identity, because a folder can be mounted in two places.
    """
    written = _plain(folder)
    if _plain(path)[: len(written)] == written:
        return True
    return any(_is_same(above, folder) for above in (path, *path.parents))


def _plain(path: Path) -> tuple[str, ...]:
    return tuple(normalize("NFC", normalize("NFC", part).casefold()) for part in path.parts)


def _is_same(one: Path, other: Path) -> bool:
    try:
        return os.path.samestat(one.stat(), other.stat())
    except OSError:
        # Not there, or not to be looked at: no lesson has been read from it then.
        return False


def _require_free_name(name: str) -> None:
    plain = normalize("NFC", name).casefold()
    if plain in RESERVED_NAMES:
        raise LessonError(
            f'a lesson cannot be called "{name}", as the catalogue needs that name',
            file=name,
            remedy="rename the folder",
        )
    if plain.startswith("."):
        raise LessonError(
            f'a lesson cannot be called "{name}", as names with a leading dot are hidden',
            file=name,
            remedy="rename the folder",
        )


def _target(link: Path, slug: str) -> Path:
    """Follow a linked output folder, so that what it leads to is updated, not the link."""
    if not link.is_symlink():
        return link
    target = Path(os.path.realpath(link))
    if not target.exists() and not target.parent.is_dir():
        raise LessonError(
            f"the output folder {link} is a link to {target}, which cannot be reached",
            file=slug,
            remedy="mount what it leads to, or remove the link",
        )
    return target


def below(folder: Path, *, strict: bool = False) -> Iterator[Path]:
    """Give everything below a folder but the folders; links are given, not followed.

    With `strict` a folder that cannot be looked into is an OSError, not an empty folder.
    """
    for place, folders, files in os.walk(folder, onerror=_stop if strict else None):
        here = Path(place)
        for name in folders:
            if (here / name).is_symlink():
                yield here / name
        yield from (here / name for name in files)


def left_beside(out: Path) -> list[Path]:
    """List what builds have beside an output folder, told apart by their endings.

    `.stage` is being filled, `.old` is an output taken aside and `.gone` one that is being
    removed. Some are of builds under way, others were left by builds that were killed.
    """
    if not out.parent.is_dir():
        return []
    name = re.escape(out.name)
    pattern = re.compile(rf"\.{name}\.(?!{_DATE})\w{{8}}\.(?:stage|old|gone)")
    return sorted(path for path in out.parent.iterdir() if pattern.fullmatch(path.name))


def _stop(error: OSError) -> None:
    raise error
