"""How does an output folder come into being, whole or not at all?

Everything is written into a folder beside the last output, which then changes places with
it. Whatever goes wrong before leaves the last output as it was. What the kit did not write
goes along into the new output; what the last output held is kept (`kit.build.earlier`).
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from kit.build.earlier import (
    alone,
    current_manifest,
    keep_earlier,
    link_or_copy,
    note_current,
)
from kit.cache import Cache, named
from kit.errors import LessonError
from kit.form.wording import listed
from kit.output.place import OutputPlace, left_beside
from kit.output.written import MANIFEST, require_replaceable, written_folder
from kit.publish.bundles import bundled, write_bundle
from kit.publish.made import Entry

if TYPE_CHECKING:
    from kit.publish.manifest import BuiltFile

__all__ = [
    "Stage",
    "add_bundles",
    "add_files",
    "add_made",
    "add_manifest",
    "settle",
    "staged",
]

_PUBLIC = "public/"
"""The public page and what it fetches; in the free bundle they lie where members' do."""
_TO_MAIL = "one-file.html"
"""A site has the same page with its sound beside it."""
_WRITERS = 2
FORGOTTEN_S = 1800
"""No build works for so long without writing into its stage."""
_MOST_NAMES = 3
_SYSTEM_FILES = frozenset({"thumbs.db", "desktop.ini"})
"""What desktops leave in folders that somebody has opened; others begin with a dot."""


class Stage:
    """A folder to fill, and what is to be said when it is in place.

    Parameters
    ----------
    folder : Path
        The folder.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.notices: tuple[str, ...] = ()


@contextmanager
def staged(place: OutputPlace) -> Iterator[Stage]:
    """Give a stage to fill; it takes the place of the output when the block ends well.

    Raises
    ------
    LessonError
        If what is there is not the kit's to replace, or a file of the teacher's stands
        where the new output has one.
    """
    out = place.out
    out.parent.mkdir(parents=True, exist_ok=True)
    settle(place)
    folder = tempfile.mkdtemp(prefix=f".{out.name}.", suffix=".stage", dir=out.parent)
    stage = Stage(Path(folder))
    try:
        yield stage
        stage.folder.chmod(0o755)
        with alone(place):
            stage.notices = _swap(stage.folder, place)
    finally:
        shutil.rmtree(stage.folder, ignore_errors=True)


def settle(place: OutputPlace) -> None:
    """Finish what killed builds left half done, and clear what they left behind.

    An output taken aside comes back if nothing has taken its place, and is kept as an
    earlier one if something has. One whose removal had begun goes. Stages that nothing was
    written into for long go. A folder of such a name that holds no manifest was never an
    output, and is let be.
    """
    if _aside(place):
        with alone(place):
            # Looked for again: the build it belonged to may just have ended.
            aside = _aside(place)
            old = [path for path in aside if path.suffix == ".old"]
            if old and not place.out.exists():
                old.pop().replace(place.out)
            for path in aside:
                if path.suffix == ".gone":
                    _clear(path)
            if place.out.exists():
                for path in old:
                    _retire(path, place)
    for path in left_beside(place.out):
        if path.suffix != ".stage":
            continue
        with suppress(FileNotFoundError):  # the build it belongs to has just finished
            # Either way: a clock that was wrong dates a stage into the future.
            if abs(time.time() - path.stat().st_mtime) > FORGOTTEN_S:
                shutil.rmtree(path, ignore_errors=True)


def _aside(place: OutputPlace) -> list[Path]:
    return [
        path
        for path in left_beside(place.out)
        if path.suffix != ".stage" and (path / MANIFEST).is_file()
    ]


def add_files(stage: Path, entries: Sequence[Entry], cache: Cache) -> None:
    """Write files from the cache.

    Raises
    ------
    CacheLossError
        If one of them is not there any more.
    """

    def add(entry: Entry) -> None:
        path = stage / entry["path"]
        path.parent.mkdir(parents=True, exist_ok=True)
        data = cache.need(entry["sha256"])
        with named(path):
            path.write_bytes(data)

    with ThreadPoolExecutor(_WRITERS) as writers:
        # A list, so that an error of any of them is raised here.
        list(writers.map(add, entries))


def add_made(stage: Path, files: Iterable[BuiltFile]) -> list[Entry]:
    """Write files that are made of the others, and describe them."""
    entries = []
    for file in files:
        path = stage / file.path
        path.parent.mkdir(parents=True, exist_ok=True)
        with named(path):
            path.write_bytes(file.data)
        entries.append(file.entry())
    return entries


def add_bundles(stage: Path, entries: Sequence[Entry]) -> list[Entry]:
    """Pack what each tier gets, and describe the bundles."""
    offered = bundled(entries)
    contents = {
        "free": {
            entry["path"].removeprefix(_PUBLIC): stage / entry["path"]
            for entry in offered
            if entry["tier"] == "free"
        },
        "members": {
            entry["path"]: stage / entry["path"]
            for entry in offered
            if not entry["path"].startswith(_PUBLIC) and entry["path"] != _TO_MAIL
        },
    }
    with named(stage):
        return [_bundle(stage, tier, files) for tier, files in contents.items()]


def _bundle(stage: Path, tier: str, files: Mapping[str, Path]) -> Entry:
    path = stage / f"{tier}.zip"
    write_bundle(path, files)
    with path.open("rb") as archive:
        digest = hashlib.file_digest(archive, "sha256").hexdigest()
    return {
        "path": path.name,
        "kind": "bundle",
        "tier": tier,
        "sha256": digest,
        "bytes": path.stat().st_size,
    }


def add_manifest(stage: Path, description: Mapping[str, Any]) -> None:
    """Write the manifest."""
    text = json.dumps(description, indent=1, ensure_ascii=False) + "\n"
    path = stage / "manifest.json"
    with named(path):
        path.write_text(text, encoding="utf-8")


def _swap(stage: Path, place: OutputPlace) -> tuple[str, ...]:
    """Put a stage in place, and give what is to be said about it."""
    out = place.out
    require_replaceable(place, current_manifest(place))
    if not out.exists():
        stage.replace(out)
        note_current(place)
        return ()
    foreign = written_folder(out, current_manifest(place)).foreign
    _carry(out, stage, foreign, place)
    old = stage.with_suffix(".old")
    out.replace(old)
    try:
        stage.replace(out)
    except BaseException:  # Ctrl-C between the two renames included
        old.replace(out)
        raise
    notices = (_kept_words(foreign, place), _retire(old, place))
    note_current(place)
    return tuple(filter(None, notices))


def _carry(source: Path, target: Path, names: Iterable[str], place: OutputPlace) -> None:
    """Give the new output what the kit did not write, by a link where that is possible.

    It stays in the old one until that is gone, so that being killed in between loses none.
    """
    for name in names:
        old, new = source / name, target / name
        parent = new.parent
        is_taken = os.path.lexists(new) or not (parent.is_dir() or _make_folder(parent))
        if is_taken:
            raise LessonError(
                f"{place.out / name} is not a file that the kit wrote, and the output "
                "needs that name",
                file=place.slug,
                remedy="move that file away, and build again",
            )
        if old.is_symlink():
            new.symlink_to(old.readlink())
            continue
        with named(new):
            link_or_copy(old, new)


def _clear(gone: Path) -> None:
    """Remove an output; its manifest goes last, because it tells that the rest is ours."""
    for path in gone.iterdir():
        if path.name == MANIFEST:
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)
    shutil.rmtree(gone, ignore_errors=True)


def _make_folder(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError):
        # A file of the output has the name of a folder of the teacher's.
        return False
    return True


def _kept_words(foreign: Iterable[str], place: OutputPlace) -> str:
    names = [name for name in foreign if not _is_of_system(name)]
    if not names:
        return ""
    shown = names[:_MOST_NAMES]
    more = len(names) - len(shown)
    if more:
        shown.append(f"{more} more")
    return f"{place.out} holds what the kit did not write; it was kept: {listed(shown)}."


def _is_of_system(name: str) -> bool:
    last = name.rpartition("/")[2].lower()
    return last.startswith(".") or last in _SYSTEM_FILES


def _retire(old: Path, place: OutputPlace) -> str:
    """Keep what an output taken aside held, remove it, and say what was found changed."""
    build = keep_earlier(place, old)
    # Saved there while the folders changed places.
    for name in written_folder(old, current_manifest(place)).foreign:
        if not os.path.lexists(place.out / name):
            _carry(old, place.out, [name], place)
    # Renamed first, so that what a kill leaves of it is not taken for an output.
    _clear(old.replace(old.with_suffix(".gone")))
    if build is None or not build.changed.is_dir():
        return ""
    return (
        f"files in {place.out} had been changed by hand since they were built; as they "
        f"were they are kept in {build.changed}."
    )
