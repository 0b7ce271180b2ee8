"""How does prose look as HTML?

The tree of `kit.lesson.prose` holds no markup, so everything in it is escaped here and
nothing else can reach the page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from kit.lesson.prose import Block, Run

__all__ = ["prose_html"]

_TAGS = {"emphasis": "em", "strong": "strong", "struck": "s"}


def prose_html(blocks: Sequence[Block], *, lift: int = 1) -> str:
    """Print blocks as HTML.

    Parameters
    ----------
    blocks : sequence of Block
        From `kit.lesson.prose.parse_prose`.
    lift : int
        Added to heading levels: with 1, ``# Title`` becomes ``h2`` under the page's own h1.

    Examples
    --------
    >>> from kit.lesson.prose import parse_prose
    >>> prose_html(parse_prose("Swing <b>hard</b> & *late*"))
    '<p>Swing hard &amp; <em>late</em></p>'
    """
    return "\n".join(_block(block, lift) for block in blocks)


def _block(block: Block, lift: int) -> str:
    printer = _BLOCKS.get(block["kind"])
    if printer is None:
        raise ValueError(f"no block of prose is called {block['kind']!r}")
    return printer(block, lift)


def _heading(block: Block, lift: int) -> str:
    tag = f"h{min(block['level'] + lift, 6)}"
    anchor = f' id="{escape(block["anchor"])}"' if "anchor" in block else ""
    return f"<{tag}{anchor}>{_runs(block['runs'])}</{tag}>"


def _paragraph(block: Block, _lift: int) -> str:
    return f"<p>{_runs(block['runs'])}</p>"


def _quote(block: Block, lift: int) -> str:
    return f"<blockquote>{prose_html(block['blocks'], lift=lift)}</blockquote>"


def _code(block: Block, _lift: int) -> str:
    return f'<pre tabindex="0"><code>{escape(block["text"])}</code></pre>'


def _list(block: Block, lift: int) -> str:
    tag = "ol" if block["ordered"] else "ul"
    start = f' start="{block["start"]}"' if block["ordered"] and block["start"] != 1 else ""
    items = "".join(
        f"<li>{_item(item, block['tight'], lift)}</li>" for item in block["items"]
    )
    return f"<{tag}{start}>{items}</{tag}>"


def _item(blocks: Sequence[Block], tight: bool, lift: int) -> str:
    if tight and blocks and blocks[0]["kind"] == "paragraph":
        return _runs(blocks[0]["runs"]) + prose_html(blocks[1:], lift=lift)
    return prose_html(blocks, lift=lift)


def _table(block: Block, _lift: int) -> str:
    head = "".join(
        f'<th scope="col" class="{side}">{_runs(cell)}</th>'
        for cell, side in zip(block["head"], block["align"], strict=True)
    )
    rows = "".join(
        "<tr>"
        + "".join(
            f'<td class="{side}">{_runs(cell)}</td>'
            for cell, side in zip(row, block["align"], strict=False)
        )
        + "</tr>"
        for row in block["rows"]
    )
    return (
        '<div class="table" role="region" aria-label="Table" tabindex="0">'
        f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


_BLOCKS: dict[str, Callable[[Block, int], str]] = {
    "heading": _heading,
    "paragraph": _paragraph,
    "list": _list,
    "quote": _quote,
    "code": _code,
    "table": _table,
    "rule": lambda _block, _lift: "<hr>",
}


def _runs(runs: Sequence[Run]) -> str:
    return "".join(_run(run) for run in runs)


def _run(run: Run) -> str:
    match run["kind"]:
        case "text":
            return escape(run["text"], quote=False)
        case "code":
            return f"<code>{escape(run['text'])}</code>"
        case "break":
            return "<br>"
        case "link":
            address = escape(run["address"])
            return f'<a href="{address}" rel="noopener">{_runs(run["runs"])}</a>'
        case kind:
            tag = _TAGS[kind]
            return f"<{tag}>{_runs(run['runs'])}</{tag}>"
