"""How Verovio is asked to draw, and how its answers are kept.

Conventions
-----------
* One toolkit per thread, because a toolkit holds one score at a time.
* Drawing is a pure function of the MusicXML text and the page, so answers are remembered.
* Lengths are millimetres outside, and Verovio's page units inside: a staff is 72 units
  high (eight times its default ``unit`` of 9).

Source: Verovio toolkit options, as `getAvailableOptions` describes them (6.4).
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from kit.errors import SetupError

__all__ = ["UNITS_PER_STAFF", "PageSize", "draw"]

UNITS_PER_STAFF = 72
_MARGIN = 12
_LEFT_MARGIN = 30
"""Room for a bar number that stands left of its staff."""

_threads = threading.local()


@dataclass(frozen=True, slots=True)
class PageSize:
    """How wide a line is, and how high a staff, in millimetres."""

    width_mm: float = 180.0
    staff_mm: float = 7.0
    fill_last_line: float = 0.55
    """The share of the width from which on the last line is stretched to all of it."""

    def __post_init__(self) -> None:
        """Refuse sizes that nothing can be drawn at."""
        if not (self.width_mm > 0 and self.staff_mm > 0):
            raise ValueError("a page and its staff need a size above zero")

    @property
    def mm_per_unit(self) -> float:
        """Millimetres in one of Verovio's page units."""
        return self.staff_mm / UNITS_PER_STAFF


@lru_cache(maxsize=128)
def draw(musicxml: str, page: PageSize, *, one_line_each: bool) -> tuple[str, ...]:
    """Draw a score.

    Parameters
    ----------
    musicxml : str
        With its line breaks.
    page : PageSize
        Sizes.
    one_line_each : bool
        Whether each line of music becomes an SVG of its own, or all of them one.

    Returns
    -------
    tuple of str
        Verovio's SVG, to be finished by `kit.engrave.svg`.

    Raises
    ------
    SetupError
        If Verovio cannot read the score; what it reads is ours, so this is a fault here.
    """
    toolkit = _toolkit()
    toolkit.setOptions(
        {
            "adjustPageHeight": True,
            "breaks": "line" if one_line_each else "encoded",
            "footer": "none",
            "header": "none",
            "minLastJustification": page.fill_last_line,
            "pageHeight": 60000,
            "pageMarginBottom": _MARGIN,
            "pageMarginLeft": _LEFT_MARGIN,
            "pageMarginRight": 2,
            "pageMarginTop": _MARGIN,
            "pageWidth": max(100, min(100_000, round(page.width_mm / page.mm_per_unit))),
            "scale": 100,
            "smuflTextFont": "none",
            "spacingSystem": 5,
            "staccatoCenter": True,
            "svgFormatRaw": True,
            "svgHtml5": True,
            "svgRemoveXlink": True,
            "svgViewBox": True,
            "systemMaxPerPage": 1 if one_line_each else 0,
            "xmlIdSeed": 1,
        }
    )
    if not toolkit.loadData(musicxml):
        raise SetupError("the engraver could not read a score that the kit wrote")
    return tuple(
        toolkit.renderToSVG(number) for number in range(1, toolkit.getPageCount() + 1)
    )


def _toolkit() -> Any:
    if not hasattr(_threads, "toolkit"):
        import verovio  # noqa: PLC0415 - a large library that only drawing needs

        verovio.enableLog(verovio.LOG_ERROR)
        _threads.toolkit = verovio.toolkit()
    return _threads.toolkit
