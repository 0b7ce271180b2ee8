"""The handout as an nbconvert exporter (entry point ``lesson_handout``).

Resources it understands, beside nbconvert's own: ``kit_lesson``, an open `Lesson`.
"""

from __future__ import annotations

from typing import Any

from nbconvert.exporters import Exporter
from traitlets import Bool, Enum, Unicode, default

from kit.lesson.lesson import open_lesson
from kit.publish.cells import withheld_cells
from kit.publish.handout.papers import PAPERS
from kit.publish.handout.pdf import handout_pdf

__all__ = ["HandoutExporter"]


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
        for why in withheld_cells(nb, lesson.level_names):
            self.log.warning("%s: %s", lesson.name_of("lesson.ipynb"), why)
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
