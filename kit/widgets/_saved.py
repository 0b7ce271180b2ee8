"""What stays in the notebook when its kernel is gone?

A widget's output is two outputs, one behind the other:

1. the *static form*: a bundle of the private type, HTML and plain text. This is what is
   saved, exported and shown where nothing runs;
2. the live view of the widget, and nothing else.

JupyterLab prefers the live view whenever an output offers one, and prints an error in its
place if its kernel is gone; so the two must not share an output. A style rule in the static
form shows whichever of the two has something to show: the live view once it is there, the
static form otherwise. In a notebook nobody has trusted yet, JupyterLab takes out styles and
inline drawings and never draws live views: there the drawings survive because the static
form holds them as pictures.

The static form shows what the cell's call says, not what was chosen since, so that running
a notebook twice gives the same file.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any
from urllib.parse import quote

from kit.figures.figure import FIGURE_MIME, Figure, figure_css

__all__ = ["static_bundle", "svgs_as_pictures", "tool_bundle", "view_bundle"]

VIEW_MIME = "application/vnd.jupyter.widget-view+json"
VERSION = 1
_SVG_EDGE = re.compile(r"<svg\b|</svg>")
_LABEL = re.compile(r'aria-label="([^"]*)"|<title[^>]*>([^<]*)</title>')
_PAPER = "background:#fff"
# Everything printable but what a URL or an attribute would trip over.
_KEPT_IN_URL = " !$&'()*+,-./:;=?@[]_~"


def static_bundle(figure: Figure, *, options: Mapping[str, str]) -> dict[str, Any]:
    """Give the bundle that is saved: private type, HTML and plain text.

    Parameters
    ----------
    figure : Figure
        The static form.
    options : mapping
        What the call said; what it left open stays open for an exporter to decide.
    """
    markup = svgs_as_pictures(figure.html)
    return {
        FIGURE_MIME: {"version": VERSION, "show": figure.kind, **options},
        "text/html": (
            f"<style>{figure_css()}{_swap_css()}</style>"
            f'<div class="lk-static">{markup}</div>'
        ),
        "text/plain": figure.words,
    }


def tool_bundle(markup: str, words: str) -> dict[str, Any]:
    """Give the bundle saved of a teacher's tool: without the type that is published."""
    return {
        "text/html": (
            f"<style>{figure_css()}{_swap_css()}</style>"
            f'<div class="lk-static"><div class="lk-figure">{markup}</div></div>'
        ),
        "text/plain": words,
    }


def view_bundle(model_id: str) -> dict[str, Any]:
    """Give the bundle of the live view."""
    return {VIEW_MIME: {"version_major": 2, "version_minor": 0, "model_id": model_id}}


def svgs_as_pictures(markup: str) -> str:
    """Replace each inline SVG by a picture element with the same drawing as its source.

    Drawings may hold drawings; the outermost is replaced. The picture's alternative text is
    the drawing's label or title.
    """
    parts: list[str] = []
    depth = start = end = 0
    for edge in _SVG_EDGE.finditer(markup):
        if edge[0] == "</svg>":
            depth -= 1
            if depth == 0:
                parts.append(markup[end:start])
                end = edge.end()
                parts.append(_picture(markup[start:end]))
        else:
            if depth == 0:
                start = edge.start()
            depth += 1
    return "".join((*parts, markup[end:]))


def _picture(svg: str) -> str:
    label = _LABEL.search(svg)
    alt = html.unescape(label[1] or label[2] or "") if label else ""
    source = f"data:image/svg+xml,{quote(_on_paper(svg), safe=_KEPT_IN_URL)}"
    return f'<img class="lk-picture" alt="{html.escape(alt)}" src="{html.escape(source)}">'


def _on_paper(svg: str) -> str:
    """Give the drawing a white ground: a picture takes no colours from a dark page."""
    head, end, rest = svg.partition(">")
    if ' style="' in head:
        head = head.replace(' style="', f' style="{_PAPER};', 1)
    else:
        head = head.replace("<svg", f'<svg style="{_PAPER}"', 1)
    return head + end + rest


@cache
def _swap_css() -> str:
    return files("kit.widgets").joinpath("assets/swap.css").read_text(encoding="utf-8")
