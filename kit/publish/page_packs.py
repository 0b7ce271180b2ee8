"""What does the page carry for each level and instrument?

A *pack* holds the notation at two widths, the same in words, and every figure of the text
redrawn for that level and instrument. Packs are gzip in base64: the browser opens the ones
it needs.
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Iterable, Sequence
from typing import Any

from kit.lesson import Lesson
from kit.publish.cells import LessonCell
from kit.publish.page_figures import draw_figure
from kit.publish.sheets import page_sheet, sheet_words

__all__ = ["PackMaker", "figure_id"]


def figure_id(cell: int, number: int) -> str:
    """Name a figure of the text by its cell and its place there."""
    return f"f{cell}-{number}"


class PackMaker:
    """Draws what the page needs, each thing once.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    cells : sequence of LessonCell
        The cells that this page shows, and no others.
    levels : sequence of str
        The levels that this page holds, and no others.
    """

    def __init__(
        self, lesson: Lesson, cells: Sequence[LessonCell], levels: Sequence[str]
    ) -> None:
        self.lesson = lesson
        self.cells = cells
        self.levels = levels
        self._contents: dict[tuple[str, str], dict[str, Any]] = {}

    def packs(self, instruments: Iterable[str]) -> list[dict[str, str]]:
        """Give all packs as ``{"name": "level/instrument", "base64": ...}``."""
        return [
            {"name": f"{level}/{horn}", "base64": _packed(self.contents(level, horn))}
            for level in self.levels
            for horn in instruments
        ]

    def contents(self, level: str, instrument: str) -> dict[str, Any]:
        """Give one pack's contents: key, wide, narrow, words, figures."""
        place = (level, instrument)
        if place not in self._contents:
            part = self.lesson.part(level, instrument)
            self._contents[place] = {
                "key": str(part.tune.key),
                "wide": page_sheet(part),
                "narrow": page_sheet(part, phone=True),
                "words": sheet_words(part),
                "figures": self._figures(level, instrument),
            }
        return self._contents[place]

    def _figures(self, level: str, instrument: str) -> dict[str, str]:
        drawn = {}
        for place, cell in enumerate(self.cells):
            for number, call in enumerate(cell.figures):
                if call.levels and call.levels[-1] != level:
                    continue  # it keeps its own level, and lies in that level's pack
                html = draw_figure(
                    self.lesson, call, level=level, instrument=instrument, among=self.levels
                )
                if html is not None:
                    drawn[figure_id(place, number)] = html
        return drawn


def _packed(contents: dict[str, Any]) -> str:
    text = json.dumps(contents, ensure_ascii=False, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")
