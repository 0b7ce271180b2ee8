"""What was built before, and how does one get it back?

When a new output takes the place of another, what the other held is kept below the out
folder, in ``.earlier/<lesson>/``:

``current.json``
    The manifest of what is in place now, in case the one beside it is damaged.
``<moment>/manifest.json``
    The manifest of an output that was replaced at that moment (UTC).
``<moment>/changed/…``
    Files of it that somebody had changed by hand.
``files/<sha256>``
    The content of its files, each once. What the output in place holds as well is not kept
    a second time: files are *moved* here when they are replaced, which costs no room and
    works on file systems without links.

`KEPT` builds of a lesson stay, and all together keep to 2 GB or what the environment
variable ``KIT_EARLIER_GB`` says (0 keeps none). What somebody had changed by hand stays
beside that limit, with the last `KEPT` builds. All of it can be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from kit.cache import default_cache, named
from kit.errors import LessonError, SetupError
from kit.output.place import OutputPlace
from kit.output.written import (
    MANIFEST,
    WrittenFile,
    WrittenFolder,
    listed_files,
    read_manifest,
    written_folder,
)

__all__ = [
    "EARLIER",
    "KEPT",
    "EarlierBuild",
    "alone",
    "clear_earlier",
    "current_manifest",
    "drop",
    "earlier_builds",
    "keep_earlier",
    "link_or_copy",
    "note_current",
    "put_back",
    "trim_earlier",
]

EARLIER = ".earlier"
KEPT = 5
"""Builds of one lesson: an afternoon's corrections."""
DEFAULT_LIMIT_BYTES = 2_000_000_000
_LOCK_WAIT_S = 120
"""Putting an output in place takes a second; a busy disk may take some more."""
_MOMENT = "%Y%m%dT%H%M%S.%fZ"
_IS_MOMENT = re.compile(r"\d{8}T\d{6}\.\d{6}Z")


@dataclass(frozen=True, slots=True)
class EarlierBuild:
    """An output that was replaced.

    Parameters
    ----------
    slug : str
        The lesson's name.
    replaced : datetime
        When, UTC.
    folder : Path
        Where its manifest is kept.
    """

    slug: str
    replaced: datetime
    folder: Path

    @property
    def manifest(self) -> dict[str, Any]:
        """What it held; empty if that has been damaged since."""
        return read_manifest(self.folder / MANIFEST)

    @property
    def changed(self) -> Path:
        """Where files of it are that somebody had changed; there only if there are any."""
        return self.folder / "changed"


@contextmanager
def alone(place: OutputPlace) -> Iterator[None]:
    """Let one process at a time put a lesson's output in place.

    Raises
    ------
    LessonError
        If another one does not come to an end.
    """
    folder = _kept_folder(place.root, place.slug)
    folder.mkdir(parents=True, exist_ok=True)
    lock = FileLock(folder / "lock", timeout=_LOCK_WAIT_S)
    try:
        lock.acquire()
    except Timeout as error:
        raise LessonError(
            "another build is putting this lesson's output in place",
            file=place.slug,
            remedy="wait for it to end, and build again",
        ) from error
    except NotImplementedError:
        # A network drive without locks: one build at a time is then up to the teacher.
        yield
        return
    try:
        yield
    finally:
        lock.release()


def earlier_builds(root: Path, slug: str) -> tuple[EarlierBuild, ...]:
    """List what is kept of a lesson's outputs, the newest first.

    Parameters
    ----------
    root : Path
        The out folder, in which the earlier builds are kept.
    slug : str
        The lesson's short name.
    """
    folder = _kept_folder(root, slug)
    if not folder.is_dir():
        return ()
    found = [
        EarlierBuild(slug, datetime.strptime(path.name, _MOMENT).replace(tzinfo=UTC), path)
        for path in folder.iterdir()
        if _IS_MOMENT.fullmatch(path.name)
    ]
    return tuple(sorted(found, key=lambda build: build.folder.name, reverse=True))


def current_manifest(place: OutputPlace) -> dict[str, Any]:
    """Give the kit's own copy of the manifest of what is in place, or nothing."""
    return read_manifest(_kept_folder(place.root, place.slug) / "current.json")


def note_current(place: OutputPlace) -> None:
    """Copy the manifest of what has just been put in place."""
    text = (place.out / MANIFEST).read_bytes()
    _write(_kept_folder(place.root, place.slug) / "current.json", text)


def keep_earlier(place: OutputPlace, old: Path) -> EarlierBuild | None:
    """Keep an output that was taken aside; what is not kept stays in its folder.

    To be called while `alone`, when the new output is in place.

    Parameters
    ----------
    place : OutputPlace
        Where the new output is.
    old : Path
        The folder taken aside.

    Returns
    -------
    EarlierBuild or None
        None where nothing needs to be kept, because the new output holds the same.
    """
    before = written_folder(old, current_manifest(place))
    now = listed_files(read_manifest(place.out / MANIFEST))
    is_same = before.listed == now and not before.changed
    is_wanted = before.changed or _limit_bytes() > 0
    if not before.manifest or is_same or not is_wanted:
        return None
    here = {file.sha256 for file in now.values()}
    gone = {
        path: file.sha256
        for path, file in before.listed.items()
        if file.sha256 not in here and path not in before.changed and (old / path).is_file()
    }
    build = _note(place, before)
    for path in before.changed:
        _move(old / path, build.changed / path)
    files = _files(place.root, place.slug)
    for path, sha256 in gone.items():
        _move(old / path, files / sha256)
    for surplus in earlier_builds(place.root, place.slug)[KEPT:]:
        shutil.rmtree(surplus.folder, ignore_errors=True)
    _sweep(place.root, place.slug)
    return build


def _note(place: OutputPlace, before: WrittenFolder) -> EarlierBuild:
    moment = datetime.now(UTC)
    folder = _kept_folder(place.root, place.slug) / moment.strftime(_MOMENT)
    folder.mkdir(parents=True)
    # Written before any file is moved, so that nobody takes those files for forgotten.
    text = json.dumps(before.manifest, indent=1, ensure_ascii=False) + "\n"
    _write(folder / MANIFEST, text.encode())
    return EarlierBuild(place.slug, moment, folder)


def _move(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with named(target):
        try:
            source.replace(target)
        except OSError:
            # Another disk, where a linked output folder leads.
            shutil.move(source, target)


def put_back(build: EarlierBuild, place: OutputPlace, stage: Path) -> bool:
    """Fill a stage with what an earlier build held; say whether it is whole.

    Content is looked for in what was kept, in the output in place, and in the cache. Files
    are linked where that is possible: what they are linked to goes when the stage is in
    place.
    """
    now = listed_files(read_manifest(place.out / MANIFEST))
    here = {file.sha256: place.out / path for path, file in now.items()}
    files, inside = _files(place.root, build.slug), stage.resolve()
    for path, file in listed_files(build.manifest).items():
        target = stage / path
        if not target.resolve().is_relative_to(inside):
            return False
        target.parent.mkdir(parents=True, exist_ok=True)
        sources = filter(None, (files / file.sha256, here.get(file.sha256)))
        source = next((x for x in sources if _holds(x, file)), None)
        with named(target):
            if source is not None:
                link_or_copy(source, target)
                continue
            kept = default_cache().blob(file.sha256)
            if kept is None:
                return False
            target.write_bytes(kept)
    return True


def _holds(path: Path, file: WrittenFile) -> bool:
    try:
        if path.is_symlink() or path.stat().st_size != file.size:
            return False
        with path.open("rb") as data:
            return hashlib.file_digest(data, "sha256").hexdigest() == file.sha256
    except OSError:
        # Not there, or not to be read: another place may have it.
        return False


def link_or_copy(old: Path, new: Path) -> None:
    """Give a file a second name, or copy it where the file system has no links."""
    try:
        os.link(old, new)
    except OSError:
        shutil.copy2(old, new)


def drop(build: EarlierBuild) -> None:
    """Forget a build, unless somebody's changed files are kept with it.

    To be called while `alone`; its content goes with the next one that is kept.
    """
    if not build.changed.exists():
        shutil.rmtree(build.folder, ignore_errors=True)


def trim_earlier(root: Path) -> int:
    """Let the oldest builds go until what is kept below an out folder is small enough.

    Files that somebody had changed are not made again by a build: they stay.

    Returns
    -------
    int
        How many builds were let go.
    """
    limit, total, gone = _limit_bytes(), 0, 0
    counted: set[Path] = set()
    for build in _all_builds(root):
        files = _files(root, build.slug)
        sizes = {
            files / file["sha256"]: file["bytes"]
            for file in build.manifest.get("files", ())
            if (files / file["sha256"]).is_file()
        }
        total += sum(size for path, size in sizes.items() if path not in counted)
        counted |= sizes.keys()
        if total <= limit or not build.manifest:
            continue
        gone += 1
        if build.changed.is_dir():
            # Without its manifest it is nothing to put back, only a place for those files.
            (build.folder / MANIFEST).unlink()
        else:
            shutil.rmtree(build.folder, ignore_errors=True)
    if gone:
        for folder in (root / EARLIER).iterdir():
            place = OutputPlace(root, folder.name, root / folder.name)
            with alone(place):
                _sweep(root, folder.name)
    return gone


def clear_earlier(root: Path) -> bool:
    """Let everything go that was kept, to make room; say whether there was anything."""
    folders = [path for path in (root / EARLIER).glob("*/files") if any(path.iterdir())]
    for files in folders:
        place = OutputPlace(root, files.parent.name, root / files.parent.name)
        with alone(place):
            for build in earlier_builds(root, place.slug):
                shutil.rmtree(build.folder, ignore_errors=True)
            _sweep(root, place.slug)
    return bool(folders)


def _all_builds(root: Path) -> list[EarlierBuild]:
    folders = sorted(path for path in (root / EARLIER).glob("*") if path.is_dir())
    builds = [build for folder in folders for build in earlier_builds(root, folder.name)]
    return sorted(builds, key=lambda build: build.folder.name, reverse=True)


def _sweep(root: Path, slug: str) -> None:
    """Remove the content that no kept build has any more."""
    wanted = {
        file["sha256"]
        for build in earlier_builds(root, slug)
        for file in build.manifest.get("files", ())
    }
    files = _files(root, slug)
    for path in files.iterdir() if files.is_dir() else ():
        if path.name not in wanted:
            path.unlink(missing_ok=True)


def _kept_folder(root: Path, slug: str) -> Path:
    return root / EARLIER / slug


def _files(root: Path, slug: str) -> Path:
    return _kept_folder(root, slug) / "files"


def _write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    with named(path):
        part.write_bytes(data)
        part.replace(path)


def _limit_bytes() -> int:
    told = os.environ.get("KIT_EARLIER_GB")
    if not told:
        return DEFAULT_LIMIT_BYTES
    try:
        return max(0, int(float(told) * 1e9))
    except (ValueError, OverflowError) as error:
        raise SetupError(
            f'KIT_EARLIER_GB is "{told}"', remedy="give it a number of gigabytes"
        ) from error
