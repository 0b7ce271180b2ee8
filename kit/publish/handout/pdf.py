"""The handout: a designed PDF of one level for one instrument.

From the notebook it takes the prose; title, music, route and learning notes are computed
from the lesson, and set by Typst (`kit.publish._press`). The part itself is attached to the
PDF as MusicXML.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from kit.lesson.lesson import Lesson
from kit.publish._press import press_pdf
from kit.publish.cells import LessonCell, read_cells
from kit.publish.handout._content import handout_content
from kit.publish.handout.papers import PAPERS
from kit.publish.parts import part_musicxml

__all__ = ["handout_pdf", "render_handout"]

_NOT_IN_FILE_NAMES = re.compile(r'[\x00-\x1f\x7f"*/:<>?\\|\ud800-\udfff]')
"""What some system allows in no file name, or Typst takes for part of a path."""


def handout_pdf(
    lesson: Lesson,
    level: str,
    instrument: str,
    notebook: Mapping[str, Any] | None = None,
    *,
    paper: str = "a4",
    large_print: bool = False,
) -> bytes:
    """Make a handout from a lesson and its notebook.

    Parameters are those of `render_handout`; `notebook` is of format 4, as nbformat or JSON
    gives it, and may be left out.
    """
    cells: Sequence[LessonCell] = ()
    if notebook is not None:
        cells = read_cells(
            notebook, levels=lesson.level_names, source=lesson.name_of("lesson.ipynb")
        )
    return render_handout(
        lesson, level, instrument, prose=cells, paper=paper, large_print=large_print
    )


def render_handout(
    lesson: Lesson,
    level: str,
    instrument: str,
    *,
    prose: Sequence[LessonCell] = (),
    paper: str = "a4",
    large_print: bool = False,
) -> bytes:
    """Make a handout.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    level, instrument : str
        Which of its handouts.
    prose : sequence of LessonCell
        The notebook's cells; those for other levels or for the page are left out.
    paper : "a4" or "letter"
        The sheet.
    large_print : bool
        Bigger text and staves, two bars a line.

    Returns
    -------
    bytes
        A tagged PDF (PDF/UA-1), the same for the same lesson.

    Raises
    ------
    LessonError
        If the lesson's files cannot be used, or no font has a sign they need.
    ValueError
        If there is no such paper.
    """
    if paper not in PAPERS:
        raise ValueError(f"no paper {paper!r}; there are {', '.join(PAPERS)}")
    handout = handout_content(
        lesson, level, instrument, prose, paper=PAPERS[paper], large=large_print
    )
    name = _NOT_IN_FILE_NAMES.sub("-", lesson.slug)
    part_name = f"{name}-{level}-{instrument}.musicxml"
    handout.data["attachments"].append(
        {
            "name": part_name,
            "mime": "application/vnd.recordare.musicxml+xml",
            "description": f"The part of this handout as MusicXML: {lesson.title}",
        }
    )
    files = {
        **handout.pictures,
        part_name: part_musicxml(lesson, level, instrument).encode(),
    }
    return press_pdf(handout.data, files)
