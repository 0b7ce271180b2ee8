"""How do files of the kit's take their place among files of the teacher's?

All of them or none: a place that holds something else (`kit.output.seal`) is refused by
name before anything is written, and everything is written beside its place before the first
is renamed into it. A link stays a link: what it leads to is looked at and replaced.
"""

from __future__ import annotations

import hashlib
import os
import re
import time
import uuid
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from kit.cache import named
from kit.errors import LessonError
from kit.output.seal import ownership

__all__ = ["kept_aside_sentences", "replace_own_files"]

KEPT_ASIDE = ".recipes/replaced"
"""Below the out folder: what a kit without seals wrote, since it may have been edited."""
_UNFINISHED = re.compile(r"\.(index\.html|feed\.xml|free-site\.zip)(\.[0-9a-f]{8})?\.new")
FORGOTTEN_S = 1800


def replace_own_files(root: Path, contents: Mapping[str, bytes | None]) -> None:
    """Write files of the kit's, and take away those that there are no more of.

    Files that would stay the same are not touched.

    Parameters
    ----------
    root : Path
        The out folder.
    contents : mapping of str to bytes or None
        What each path below it shall hold; None for no file.

    Raises
    ------
    LessonError
        If a place holds what the kit did not write, or wrote and somebody changed. Nothing
        is touched then.
    OSError
        If a file cannot be read or written; those already in place are whole.
    """
    places = {name: Path(os.path.realpath(root / name)) for name in contents}
    _require_own(root, places, contents)
    changed = {
        places[name]: data
        for name, data in contents.items()
        if _differs(places[name], data)
    }
    for path in changed:
        path.parent.mkdir(parents=True, exist_ok=True)
    _clear_unfinished(path.parent for path in places.values())
    _keep_aside(root, places, changed)
    _write(changed)


def _require_own(
    root: Path, places: Mapping[str, Path], contents: Mapping[str, bytes | None]
) -> None:
    refused = [
        error
        for name, place in places.items()
        if (error := _refusal(root / name, place, contents[name])) is not None
    ]
    twice = [name for name in places if list(places.values()).count(places[name]) > 1]
    if twice:
        # The members' page must never come to stand where visitors look.
        refused.append(
            LessonError(
                f"{' and '.join(twice)} lead to one and the same file",
                file=str(root),
                remedy="remove the link, so that each has a place of its own",
            )
        )
    if refused:
        raise refused[0].with_more(tuple(str(error) for error in refused[1:]))


def _refusal(path: Path, place: Path, data: bytes | None) -> LessonError | None:
    """Say why a file may not be written at a path whose links lead to a place."""
    folder = place.parent
    if place.is_symlink() or (path.is_symlink() and not folder.is_dir()):
        return LessonError(
            f"this is a link to {path.readlink()}, which cannot be reached",
            file=str(path),
            remedy="mount what it leads to, or remove the link",
        )
    if path.parent.is_symlink() and not path.parent.exists():
        return LessonError(
            f"this is a link to {path.parent.readlink()}, which cannot be reached",
            file=str(path.parent),
            remedy="mount what it leads to, or remove the link",
        )
    if folder.exists() and not folder.is_dir():
        return LessonError(
            "this is a file, and the catalogue needs a folder of that name",
            file=str(path.parent),
            remedy="move it away, and build again",
        )
    # Where there is nothing to write, a file of the teacher's is in nobody's way.
    if data is None or ownership(place) != "foreign":
        return None
    return LessonError(
        "the kit did not write this, or somebody has changed it since, so it stays and "
        "nothing of the catalogue is written",
        file=str(path),
        remedy="move it away or rename it, and build again",
    )


def _differs(place: Path, data: bytes | None) -> bool:
    if data is None:
        return ownership(place) in ("own", "earlier")
    return not place.is_file() or place.read_bytes() != data


def _keep_aside(root: Path, places: Mapping[str, Path], changed: Iterable[Path]) -> None:
    """Copy what carries no seal yet, as nobody can tell whether it was edited."""
    for name, place in places.items():
        if place in changed and ownership(place) == "earlier":
            data = place.read_bytes()
            copy = root / KEPT_ASIDE / name
            # By content, so that one copy never takes the place of another.
            copy = copy.with_name(f"{hashlib.sha256(data).hexdigest()[:8]}-{copy.name}")
            copy.parent.mkdir(parents=True, exist_ok=True)
            _write({copy: data})


def kept_aside_sentences(root: Path, names: Iterable[str]) -> list[str]:
    """Say which files will be kept aside when they are replaced; to be asked before."""
    kept = [name for name in names if ownership(root / name) == "earlier"]
    if not kept:
        return []
    return [
        f"{root}: an earlier version of the kit wrote {', '.join(kept)}; in case you "
        f"edited something there, the old files are kept in {KEPT_ASIDE}."
    ]


def _write(changed: Mapping[Path, bytes | None]) -> None:
    beside: dict[Path, Path] = {}
    try:
        for path, data in changed.items():
            if data is not None:
                beside[path] = _unfinished(path)
                with named(path):
                    beside[path].write_bytes(data)
        for path, data in changed.items():
            if data is None:
                path.unlink(missing_ok=True)
            else:
                beside[path].replace(path)
    finally:
        for part in beside.values():
            part.unlink(missing_ok=True)


def _unfinished(path: Path) -> Path:
    """Name a file beside another one that no other build uses."""
    return path.with_name(f".{path.name}.{uuid.uuid4().hex[:8]}.new")


def _clear_unfinished(folders: Iterable[Path]) -> None:
    """Remove what killed builds have left half written, and only long after."""
    now = time.time()
    for folder in dict.fromkeys(folders):
        for path in folder.iterdir() if folder.is_dir() else ():
            if _UNFINISHED.fullmatch(path.name):
                with suppress(FileNotFoundError):  # the build it belongs to has just ended
                    if abs(now - path.stat().st_mtime) > FORGOTTEN_S:
                        path.unlink()
