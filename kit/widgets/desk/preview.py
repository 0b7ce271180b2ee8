"""The handout as it will be printed, page by page, for any level and instrument.

Pages are drawn from the real PDF and sent as binary messages; they are never part of the
widget's state. The static form is the first page, small.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

from kit.errors import KitError, LessonError
from kit.lesson.lesson import Lesson
from kit.publish.handout.papers import PAPERS
from kit.publish.pdf_pages import page_count, page_png
from kit.widgets._choosers import instrument_chooser, level_chooser
from kit.widgets._panel import Panel, panel_template
from kit.widgets._quiet import when_quiet
from kit.widgets._state import state_of

__all__ = ["PreviewView", "preview"]

SCREEN_PPI = 130.0
SMALL_PPI = 36.0


def preview(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
    paper: str | None = None,
) -> PreviewView:
    """Show a handout as it will be printed.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument, paper : str, optional
        First choice; the lesson's first level, its default instrument and the first of
        `kit.publish.handout.papers.PAPERS` if left out.
    """
    said = {"level": level, "instrument": instrument, "paper": paper}
    return PreviewView(lesson, said)


class PreviewView(Panel):
    """A handout's pages.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    call : mapping
        Level, instrument and paper, None where the call left them open.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    ValueError
        If there is no such paper.
    """

    def __init__(self, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        settings = lesson.settings
        if call["paper"] and call["paper"] not in PAPERS:
            raise ValueError(f"no paper {call['paper']!r}; there are {', '.join(PAPERS)}")
        self.lesson = lesson
        self.page = 1
        self._first = {
            "level": call["level"] or settings.levels[0].name,
            "instrument": call["instrument"] or settings.default_instrument,
            "paper": call["paper"] or next(iter(PAPERS)),
        }
        self._shared = state_of(lesson)
        self._follows = not call["instrument"]
        self.chosen = dict(self._first)
        if self._follows:
            self.chosen["instrument"] = self._shared.instrument
        lesson.level(self.chosen["level"])
        lesson.instrument(self.chosen["instrument"])
        self._pdfs: dict[tuple[str, ...], tuple[bytes, int]] = {}
        self._withheld: list[str] = []
        super().__init__(f"Handout of {lesson.title}", call, {"choices": "", "page": ""})
        self.fill(choices=self._choices_html(pages=0), page=panel_template("preview_page"))
        self._shared.observe(self._on_shared, names=["instrument", "edition"])

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:  # noqa: ARG002
        """Choose, turn a page, or draw what a newly opened view lacks."""
        if name == "choose":
            self.choose(**{k: v for k, v in values.items() if k in self.chosen})
        elif name == "turn":
            _, pages = self._pdf()
            step = 1 if values.get("to") == "next" else -1
            self.page = min(max(self.page + step, 1), pages)
            self.draw()
        elif name == "ready":
            self.draw()

    def choose(self, **values: str) -> None:
        """Choose level, instrument or paper.

        Raises
        ------
        LessonError
            If the lesson has no such level or instrument.
        """
        self.lesson.level(values.get("level", self.chosen["level"]))
        self.lesson.instrument(values.get("instrument", self.chosen["instrument"]))
        if values.get("paper", self.chosen["paper"]) not in PAPERS:
            raise LessonError(f'there is no paper "{values["paper"]}"')
        self.chosen.update(values)
        self.page = 1
        self.draw()
        if self._follows and "instrument" in values:
            self._shared.share(values["instrument"])

    def draw(self) -> None:
        """Draw the page chosen and send it to the browser."""
        pdf, pages = self._pdf()
        png = page_png(pdf, self.page, ppi=SCREEN_PPI)
        assert png is not None
        self.fill(choices=self._choices_html(pages=pages))
        self.send(
            {"picture": "page", "mime": "image/png", "alt": self._alt(pages)}, buffers=[png]
        )
        self.said = f"Page {self.page} of {pages}"
        # The handout is drawn without them, and the teacher has to know.
        self.problem = " ".join(f"{why[0].upper()}{why[1:]}." for why in self._withheld)

    def static_html(self) -> str:
        """Give the first page, small."""
        png = page_png(self._made(self._first), 1, ppi=SMALL_PPI)
        assert png is not None
        return panel_template(
            "preview_static",
            title=self.lesson.title,
            alt=f"First page of the handout {self._words(self._first)}",
            words=self._words(self._first),
            base64=base64.b64encode(png).decode("ascii"),
        )

    def static_words(self) -> str:
        """Say which handout it is."""
        return f"Handout of {self.lesson.title}: {self._words(self._first)}."

    def close(self) -> None:
        """Take the widget down and stop following the others."""
        if hasattr(self, "_shared") and self.comm is not None:
            self._shared.unobserve(self._on_shared, names=["instrument", "edition"])
        super().close()

    def _pdf(self) -> tuple[bytes, int]:
        """Give the handout chosen with its number of pages."""
        key = tuple(self.chosen.values())
        if key not in self._pdfs:
            pdf = self._made(self.chosen)
            self._pdfs[key] = pdf, page_count(pdf)
        return self._pdfs[key]

    def _made(self, chosen: Mapping[str, str]) -> bytes:
        # nbconvert and Typst take their time to load; only a handout needs them.
        from kit.build.execute import read_notebook  # noqa: PLC0415
        from kit.publish.cells import withheld_cells  # noqa: PLC0415
        from kit.publish.handout.pdf import handout_pdf  # noqa: PLC0415

        path = self.lesson.folder / "lesson.ipynb"
        notebook = None
        if path.is_file():
            notebook = read_notebook(path, source=self.lesson.name_of("lesson.ipynb"))
            self._withheld = withheld_cells(notebook, self.lesson.level_names)
        return handout_pdf(
            self.lesson,
            chosen["level"],
            chosen["instrument"],
            notebook,
            paper=chosen["paper"],
        )

    def _words(self, chosen: Mapping[str, str]) -> str:
        level = self.lesson.level(chosen["level"]).settings.title
        instrument = self.lesson.instrument(chosen["instrument"]).name
        return f"for {instrument}, {level.lower()}"

    def _alt(self, pages: int) -> str:
        return f"Page {self.page} of {pages} of the handout {self._words(self.chosen)}"

    def _choices_html(self, *, pages: int) -> str:
        papers = tuple((name, PAPER_WORDS.get(name, name)) for name in PAPERS)
        return panel_template(
            "preview_choices",
            title=self.lesson.title,
            choosers=[
                ("instrument", "Instrument", instrument_chooser(self.lesson).options),
                ("level", "Level", level_chooser(self.lesson).options),
                ("paper", "Paper", papers),
            ],
            chosen=self.chosen,
            page=self.page,
            pages=pages,
        )

    def _on_shared(self, change: Any) -> None:
        if change["name"] == "edition":
            self._pdfs.clear()
        elif self._follows and self.chosen["instrument"] != self._shared.instrument:
            self.chosen["instrument"] = self._shared.instrument
            self.page = 1
        else:
            return
        when_quiet(self, self._draw_again)

    def _draw_again(self) -> None:
        """Draw because of what was done elsewhere: nobody there wants to hear of errors."""
        self.problem = ""
        try:
            self.draw()
        except KitError as error:
            self.problem = str(error)


PAPER_WORDS = {"a4": "A4", "letter": "US Letter", "us-letter": "US Letter"}
