"""Where do the widgets' scripts and styles come from? Files in assets/, each read once.

A view's script is one module: parts that several views share are put in front of it.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from kit.figures.figure import figure_css

__all__ = ["script", "style"]


@cache
def _asset(name: str) -> str:
    return files("kit.widgets").joinpath("assets", name).read_text(encoding="utf-8")


@cache
def script(*names: str) -> str:
    """Give the named scripts as one module, in order."""
    return "\n".join(_asset(f"{name}.js") for name in names)


@cache
def style(*more: str) -> str:
    """Give the style sheet of figures and widgets, and those of the names given."""
    sheets = ("widgets", *more)
    return figure_css() + "".join(_asset(f"{name}.css") for name in sheets)
