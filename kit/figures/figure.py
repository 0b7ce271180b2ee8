"""What is a figure, and how does its markup come about?

A `Figure` is one thing a lesson shows (a form chart, some bars of music, advice for a solo)
as a fragment of HTML that stands alone: no scripts, no links, drawings inline as SVG. Its
`words` say the same as plain text, for a screen reader, a terminal or a search.

Conventions
-----------
* Class names begin with ``lk-``; `figure_css` styles them, and is given once per page.
* Templates escape everything; only drawings made by the kit itself pass as markup.
* `options` are what `kind` needs to be drawn again for another instrument, as plain data.

Sources: HTML (WHATWG living standard), SVG 2 (W3C).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from kit.lesson.figure_calls import FIGURES

__all__ = ["FIGURE_MIME", "KINDS", "Figure", "draw", "figure_css", "markup"]

FIGURE_MIME = "application/vnd.lesson-kit+json"
"""The private type under which an output says what it shows, for exporters."""

KINDS = tuple(row.kind for row in FIGURES)


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a lesson.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    title : str
        What it shows, as a caption.
    html : str
        The fragment.
    words : str
        The same as plain text.
    options : mapping
        Names and values of the call that drew it; None where the call left it open.
    """

    kind: str
    title: str
    html: str
    words: str
    options: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse a kind nobody knows how to draw again."""
        if self.kind not in KINDS:
            raise ValueError(f"{self.kind!r} is not one of {', '.join(KINDS)}")


def draw(template: str, **values: Any) -> str:
    """Fill a template of this package; values are escaped, `markup` apart."""
    return _environment().get_template(f"{template}.html.j2").render(**values).strip()


def markup(svg: str) -> Markup:
    """Let a drawing of our own pass unescaped."""
    return Markup(svg)  # noqa: S704 - made by the kit, its texts escaped where it is made


@cache
def figure_css() -> str:
    """Give the style sheet of all figures, for once per page."""
    return files("kit.figures").joinpath("assets/figures.css").read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("kit.figures"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
