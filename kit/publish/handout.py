"""The handout: a designed PDF of one level for one instrument.

`HandoutExporter` is an nbconvert exporter (entry point ``lesson_handout``). From the
notebook it takes the prose; title, music, route and learning notes are computed from the
lesson, and set by Typst (`kit.publish.press`). The part itself is attached to the PDF as
MusicXML.

Resources it understands, beside nbconvert's own: ``kit_lesson``, an open `Lesson`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from nbconvert.exporters import Exporter
from traitlets import Bool, Enum, Unicode, default

from kit.lesson import Lesson, open_lesson
from kit.publish.cells import LessonCell, read_cells
from kit.publish.handout_content import handout_content
from kit.publish.papers import PAPERS
from kit.publish.parts import part_musicxml
from kit.publish.press import press_pdf

__all__ = ["HandoutExporter", "handout_pdf", "render_handout"]


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
        cells = read_cells(notebook, source=lesson.name_of("lesson.ipynb"))
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
    part_name = f"{lesson.slug}-{level}-{instrument}.musicxml"
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


class HandoutExporter(Exporter):
    """Turns a lesson notebook into one of its handouts."""

    export_from_notebook = "Lesson handout"
    output_mimetype = "application/pdf"

    level = Unicode(help="The level; the lesson's first if not said.").tag(config=True)
    instrument = Unicode(help="The instrument; the lesson's default if not said.").tag(
        config=True
    )
    paper = Enum(sorted(PAPERS), default_value="a4", help="The sheet.").tag(config=True)
    large_print = Bool(False, help="Bigger text and staves.").tag(config=True)

    @default("file_extension")
    def _file_extension_default(self) -> str:
        return ".pdf"

    def from_notebook_node(  # type: ignore[override]  # nbconvert's own annotation is narrower
        self, nb: Any, resources: dict[str, Any] | None = None, **kw: Any
    ) -> tuple[bytes, dict[str, Any]]:
        """Convert a notebook.

        Raises
        ------
        LessonError
            If the notebook's folder holds no usable lesson.
        """
        nb, resources = super().from_notebook_node(nb, resources, **kw)
        lesson = resources.pop("kit_lesson", None) or open_lesson(
            resources.get("metadata", {}).get("path") or "."
        )
        resources["output_extension"] = self.file_extension
        pdf = handout_pdf(
            lesson,
            self.level or lesson.level_names[0],
            self.instrument or lesson.settings.default_instrument,
            nb,
            paper=self.paper,
            large_print=self.large_print,
        )
        return pdf, resources
