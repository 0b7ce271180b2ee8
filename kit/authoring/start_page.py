"""Where does a teacher begin in JupyterLab? On a notebook that lists the lessons.

It lies beside the lesson folders, is made once, and is then the teacher's own. It is no
lesson: those are folders with a lesson.toml.
"""

from __future__ import annotations

import json
from pathlib import Path

from kit.authoring._start_notebook import notebook_from

__all__ = ["START_PAGE", "write_start_page"]

START_PAGE = "Start here.ipynb"


def write_start_page(lessons: Path) -> Path:
    """Give the start notebook of a lessons folder; both are made if they are missing.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    lessons.mkdir(parents=True, exist_ok=True)
    page = lessons / START_PAGE
    text = json.dumps(notebook_from("start-here.md.j2"), indent=1, ensure_ascii=False)
    try:
        with page.open("x", encoding="utf-8") as file:
            file.write(text + "\n")
    except FileExistsError:
        # Made before, and perhaps edited since.
        return page
    return page
