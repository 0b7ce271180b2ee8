"""The pages' own files: templates of ``templates``, styles and scripts of ``assets``.

What is typed into a template is escaped; a name that a template misses is an error.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from kit.figures.figure import figure_css

__all__ = ["asset", "page_css", "script", "template"]


@cache
def template(name: str) -> Template:
    """Load a template by its file name."""
    return _environment().get_template(name)


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("kit.publish", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def asset(*names: str) -> str:
    """Read files of ``assets``, one after the other."""
    folder = files("kit.publish").joinpath("assets")
    return "\n".join(folder.joinpath(name).read_text(encoding="utf-8") for name in names)


def page_css() -> str:
    """Give the style sheet of a lesson's page, its figures' included."""
    return f"{figure_css()}\n{asset('page.css')}"


def script(*names: str) -> str:
    """Join modules into one script of its own scope, comments of a line left out."""
    lines = (line.strip() for line in asset(*names).splitlines())
    text = "\n".join(line for line in lines if line and not line.startswith("//"))
    return f'(() => {{\n"use strict";\n{text}\n}})();'
