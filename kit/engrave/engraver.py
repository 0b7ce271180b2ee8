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
from pathlib import Path
from typing import Any

from kit.errors import SetupError

__all__ = ["PAPER", "PHONE", "SCREEN", "UNITS_PER_STAFF", "Page", "draw"]

UNITS_PER_STAFF = 72
_MARGIN = 12
_LEFT_MARGIN = 36
"""Room for a bar number that stands left of its staff."""

_threads = threading.local()


@dataclass(frozen=True, slots=True)
class Page:
    """What a drawing has to fit.

    Parameters
    ----------
    width_mm, staff_mm : float > 0
        Width of a line and height of a staff.
    bars_per_line : int > 0
        Wished for; sections and full bars may ask for other lines.
    sections : bool
        Whether section letters are printed.
    fill_last_line : float, 0 to 1
        From which share of the width on the last line is stretched to all of it.
    """

    width_mm: float = 180.0
    staff_mm: float = 7.0
    bars_per_line: int = 4
    sections: bool = True
    fill_last_line: float = 0.55

    def __post_init__(self) -> None:
        """Refuse sizes that nothing can be drawn at."""
        if not (self.width_mm > 0 and self.staff_mm > 0):
            raise ValueError("a page and its staff need a size above zero")

    @property
    def mm_per_unit(self) -> float:
        """Millimetres in one of Verovio's page units."""
        return self.staff_mm / UNITS_PER_STAFF


PAPER = Page()
"""The text width of A4 or Letter, with staves for a music stand."""
SCREEN = Page(width_mm=210.0, staff_mm=6.5)
"""A notebook or a page on a desk."""
PHONE = Page(width_mm=95.0, staff_mm=6.0, bars_per_line=2, fill_last_line=0.3)
"""A page on a telephone."""


@lru_cache(maxsize=128)
def draw(musicxml: str, page: Page, *, one_line_each: bool) -> tuple[str, ...]:
    """Draw a score.

    Parameters
    ----------
    musicxml : str
        With its line breaks.
    page : Page
        Sizes.
    one_line_each : bool
        Whether each line of music becomes an SVG of its own, or all of them one.

    Returns
    -------
    tuple of str
        Verovio's SVG, to be finished by `kit.engrave._svg`.

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
            # No music font in the drawing: `_svg_text` puts real signs in its place.
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
        # Verovio knows the place of its fonts in the main thread only, unless told.
        toolkit = verovio.toolkit(False)
        toolkit.setResourcePath(str(Path(verovio.__file__).parent / "data"))
        _threads.toolkit = toolkit
    return _threads.toolkit
