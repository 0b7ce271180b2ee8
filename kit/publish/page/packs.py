"""What does the page carry for each level and instrument?

A *pack* holds the notation at two widths, the same in words, and every figure of the text
redrawn for that level and instrument. Packs are gzip in base64; all but the first lie
beside the page (`kit.publish.page.beside`), which fetches the one that is chosen.
"""

from __future__ import annotations

import base64
import gzip
import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from kit.lesson.lesson import Lesson
from kit.publish._sheets import page_sheet, sheet_words
from kit.publish.cells import FigureCall, LessonCell
from kit.publish.page.figures import draw_figure

__all__ = ["Packs", "drawn_for", "figure_id", "pack_contents", "packed"]


def figure_id(cell: int, number: int) -> str:
    """Name a figure of the text by its cell and its place there."""
    return f"f{cell}-{number}"


def drawn_for(call: FigureCall, level: str) -> bool:
    """Say whether a figure lies in a level's packs: one of a level's own in no other.

    Parameters
    ----------
    call : FigureCall
        A figure of the text; a comparison names two levels, the higher one last.
    level : str
        Whose packs.
    """
    return not call.levels or call.levels[-1] == level


def pack_contents(
    lesson: Lesson,
    cells: Sequence[LessonCell],
    levels: Sequence[str],
    level: str,
    instrument: str,
) -> dict[str, Any]:
    """Draw what the page needs for a level and an instrument.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    cells : sequence of LessonCell
        The cells that the page shows, and no others.
    levels : sequence of str
        The levels that the page holds, and no others.
    level, instrument : str
        Whose pack.

    Returns
    -------
    dict
        ``key``, ``wide``, ``narrow``, ``words`` and ``figures``.
    """
    part = lesson.part(level, instrument)
    figures = {}
    for place, cell in enumerate(cells):
        for number, call in enumerate(cell.figures):
            if not drawn_for(call, level):
                continue
            html = draw_figure(
                lesson, call, level=level, instrument=instrument, among=levels
            )
            if html is not None:
                figures[figure_id(place, number)] = html
    return {
        "key": str(part.tune.key),
        "wide": page_sheet(part),
        "narrow": page_sheet(part, phone=True),
        "words": sheet_words(part),
        "figures": figures,
    }


def packed(contents: Mapping[str, Any]) -> str:
    """Pack contents as the page's script reads them: JSON, gzip, base64."""
    text = json.dumps(contents, ensure_ascii=False, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")


class Packs:
    """All packs of a page, each made once, unless it was made before.

    Parameters
    ----------
    lesson, cells, levels
        As for `pack_contents`.
    ready : mapping of str to str
        Packs that are there already, by name: ``level/instrument``.
    """

    def __init__(
        self,
        lesson: Lesson,
        cells: Sequence[LessonCell],
        levels: Sequence[str],
        ready: Mapping[str, str],
    ) -> None:
        self.lesson = lesson
        self.cells = cells
        self.levels = levels
        self._packed = dict(ready)

    def one(self, level: str, instrument: str) -> dict[str, str]:
        """Give one pack as ``{"name": "level/instrument", "base64": ...}``."""
        return {"name": f"{level}/{instrument}", "base64": self._one(level, instrument)}

    def all(self, instruments: Iterable[str]) -> list[dict[str, str]]:
        """Give the packs of every level for these instruments."""
        slugs = tuple(instruments)
        return [self.one(level, slug) for level in self.levels for slug in slugs]

    def contents(self, level: str, instrument: str) -> dict[str, Any]:
        """Give one pack's contents, as of `pack_contents`."""
        text = gzip.decompress(base64.b64decode(self._one(level, instrument)))
        contents: dict[str, Any] = json.loads(text)
        return contents

    def _one(self, level: str, instrument: str) -> str:
        name = f"{level}/{instrument}"
        if name not in self._packed:
            self._packed[name] = packed(
                pack_contents(self.lesson, self.cells, self.levels, level, instrument)
            )
        return self._packed[name]
