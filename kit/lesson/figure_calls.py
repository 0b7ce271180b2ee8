"""Which figures are there, and how does a notebook call each of them? One line a figure.

Everything else follows from the line. ``practice-plan`` is drawn by the function
`practice_plan` of the module `kit.figures.practice_plan`, called as ``kit.practice_plan``,
checked before it runs, shown under a chooser for each of its parameters, and drawn again on
the page for the reader's level and instrument.

Conventions
-----------
* A call's first value is the lesson; all others may be left out.
* A parameter means the same in every call (`PARAMETERS`).
* Every ``import kit`` reads this module, so it loads next to nothing itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

__all__ = ["FIGURES", "LEVEL_PARAMETERS", "PARAMETERS", "FigureRow", "Parameter"]


class FigureRow(NamedTuple):
    """A figure: its kind, and the parameters of its call behind the lesson.

    Those `by_place` may be given without their names, in this order; those `by_name` not.
    """

    kind: str
    by_place: tuple[str, ...] = ()
    by_name: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What the call, the drawing function, its module and its template are called."""
        return self.kind.replace("-", "_")

    @property
    def parameters(self) -> tuple[str, ...]:
        """All of them, in order."""
        return self.by_place + self.by_name


class Parameter(NamedTuple):
    """The type of a parameter where it is given, and what it says."""

    type: str
    words: str


FIGURES = (
    FigureRow("form-chart", ("instrument",)),
    FigureRow("excerpt", ("level", "instrument", "section", "key"), ("bars", "size")),
    FigureRow("player", ("level", "mix")),
    FigureRow("comparison", ("lower", "upper", "instrument")),
    FigureRow("solo-guide", ("level", "instrument")),
    FigureRow("practice-plan", ("level", "instrument")),
    FigureRow("part-range", ("level", "instrument")),
    FigureRow("problems", ("level",)),
)

PARAMETERS: Mapping[str, Parameter] = MappingProxyType(
    {
        "level": Parameter(
            "str",
            "A level by name; if left out the first (of problems all), and on a page the "
            "reader's.",
        ),
        "lower": Parameter("str", "Level to start from; the first if left out."),
        "upper": Parameter("str", "Level to compare with it; the second if left out."),
        "instrument": Parameter(
            "str", "Short name, ``alto-sax``; the one chosen in other figures if left out."
        ),
        "section": Parameter(
            "str",
            "``A`` for the first A, ``A2`` for the second, ``head``, ``solo``; else all.",
        ),
        "bars": Parameter(
            "tuple[int, int]", "First and last printed bar number, instead of a section."
        ),
        "key": Parameter("str", "Another concert key to practise in, such as ``F minor``."),
        "size": Parameter("str", "``small``, ``normal`` or ``large``."),
        "mix": Parameter("str", "``demo``, ``backing`` or ``melody``."),
    }
)

LEVEL_PARAMETERS = ("level", "lower", "upper")
"""Those that name a level. What names one that is not free stays off the public page."""
