"""How does a teacher get to see what was built? In their own browser and file list.

The page is made to be opened from disk, so it is handed to the browser as a file. On a
machine without a desktop (a kernel on a server) the path is told instead.
"""

from __future__ import annotations

import os
import subprocess
import sys
import webbrowser
from pathlib import Path

from kit.errors import LessonError, SetupError

__all__ = ["show_result"]


def show_result(folder: Path, what: str) -> None:
    """Open something of an output folder: a page, a subfolder, or the folder itself.

    Parameters
    ----------
    folder : Path
        A lesson's output folder.
    what : str
        A path in it, empty for the folder.

    Raises
    ------
    LessonError
        If it is not there.
    SetupError
        If this machine has nothing to open it with.
    """
    home = folder.resolve()
    path = (home / what).resolve()
    if not path.is_relative_to(home) or not path.exists():
        raise LessonError(
            f"there is no {what or 'output'} yet",
            file=folder.name,
            remedy="build the lesson",
        )
    opened = webbrowser.open(path.as_uri()) if path.is_file() else _open_folder(path)
    if not opened:
        raise SetupError(
            "nothing on the kernel's machine opens it", remedy=f"look for it at {path}"
        )


def _open_folder(path: Path) -> bool:
    if sys.platform == "win32":
        os.startfile(path)  # noqa: S606 - a folder that we made
        return True
    try:
        command = "open" if sys.platform == "darwin" else "xdg-open"
        subprocess.Popen(
            [command, str(path)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
    except FileNotFoundError:
        return webbrowser.open(path.as_uri())
    return True
