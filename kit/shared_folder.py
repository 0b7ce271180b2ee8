"""How does a file come into a folder that several users share?

The folder's own rights say who shares it. All that is put below it gets the same: its
group, its mode, files without the right to be run. Where the group may write into the
folder, every member of it may therefore replace and remove what another has put there,
whatever the umask of either. (A folder made with ``chmod g+rws`` also hands its group on by
itself.) On Windows the system hands rights on, and this changes nothing.

Source: POSIX.1-2017, "File Access Permissions"; set-group-ID on folders as Linux, macOS and
the BSDs have it.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
from contextlib import suppress
from pathlib import Path

__all__ = ["UNFINISHED", "put_file", "take_out"]

UNFINISHED = "unfinished-"
"""How the names of files begin that are still being written."""


def put_file(top: Path, path: Path, *parts: bytes) -> None:
    """Put a file in place by one rename, whatever stood there.

    Parameters
    ----------
    top : Path
        The shared folder; made if need be, with the rights that its user's umask gives.
    path : Path
        The file, anywhere below it.
    parts : bytes
        Its content.

    Raises
    ------
    OSError
        If it cannot be written; nothing is left behind then.
    """
    _make_folders(top, path.parent)
    with tempfile.NamedTemporaryFile(
        dir=path.parent, prefix=UNFINISHED, delete=False
    ) as file:
        beside = Path(file.name)
        try:
            for part in parts:
                file.write(part)
            file.close()
            _share(beside, top.stat(), stat.S_IMODE(top.stat().st_mode) & 0o666)
            _replace(beside, path)
        except BaseException:  # a full disk, or Ctrl-C
            with suppress(OSError):  # what is not written yet is tried once more
                file.close()
            beside.unlink(missing_ok=True)
            raise


def take_out(path: Path) -> bool:
    """Remove a file, or a folder that stands in its place; say whether that could be."""
    try:
        path.unlink(missing_ok=True)
    except OSError:
        # Another user's, in a folder that may only be read; or no file.
        if path.is_symlink() or not path.is_dir():
            return False
        return _folder_taken_out(path)
    return True


def _folder_taken_out(path: Path) -> bool:
    aside = path.with_name(f"{UNFINISHED}{os.getpid()}-{path.name[:12]}")
    with suppress(OSError):
        path.replace(aside)
        shutil.rmtree(aside, ignore_errors=True)
    return not path.exists()


def _make_folders(top: Path, folder: Path) -> None:
    top.mkdir(parents=True, exist_ok=True)
    here = top
    for name in folder.relative_to(top).parts:
        here /= name
        try:
            here.mkdir()
        except FileExistsError:
            if here.is_dir():
                continue
            take_out(here)
            here.mkdir(exist_ok=True)
        _share(here, top.stat(), stat.S_IMODE(top.stat().st_mode))


def _share(path: Path, like: os.stat_result, mode: int) -> None:
    # Some file systems know no rights, and a group can be given only by its members.
    with suppress(OSError):
        if hasattr(os, "chown") and path.stat().st_gid != like.st_gid:
            os.chown(path, -1, like.st_gid)
    with suppress(OSError):
        path.chmod(mode)


def _replace(beside: Path, path: Path) -> None:
    try:
        beside.replace(path)
    except OSError:
        if not path.is_dir() or path.is_symlink():
            raise
        take_out(path)
        beside.replace(path)
