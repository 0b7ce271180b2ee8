"""Read a lesson's notebook as plain data."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from kit.errors import LessonError

__all__ = ["read_notebook"]


def read_notebook(path: Path, *, source: str) -> dict[str, Any]:
    """Read a notebook as plain JSON of format 4.

    Raises
    ------
    LessonError
        If it cannot be read or is none.
    """
    try:
        notebook = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise LessonError("this is not a notebook", file=source) from error
    if not isinstance(notebook, dict) or not isinstance(notebook.get("cells"), list):
        raise LessonError("this is not a notebook", file=source)
    return notebook
