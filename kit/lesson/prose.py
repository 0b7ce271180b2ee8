"""What may a notebook's prose say on paper and on the page?

Markdown is read once into a small tree of plain data that holds only what both printers
(`prose_html`, the handout's Typst template) know how to print. Raw HTML, scripts and
addresses of other kinds than http, https and mailto never enter the tree, so no printer has
to be careful about them.

Conventions
-----------
* A block is a dict with ``kind``: heading, paragraph, list, quote, code, table or rule.
* Running text is a list of dicts with ``kind``: text, emphasis, strong, struck, code, link,
  break. An image is printed as its description: handouts and pages have their own pictures.
* Headings keep their level, 1 to 6.

Source: CommonMark 0.31 as read by mistune, with its table and strikethrough additions.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from typing import Any
from urllib.parse import urlsplit

from kit.lesson.address import web_address

__all__ = [
    "MAX_PROSE_CHARS",
    "Block",
    "Run",
    "is_safe_address",
    "parse_prose",
    "plain_text",
]

Block = dict[str, Any]
Run = dict[str, Any]
Token = Mapping[str, Any]

SAFE_SCHEMES = frozenset({"http", "https", "mailto"})
MAX_PROSE_CHARS = 200_000
"""A cell of prose longer than a small book is a mistake."""
MAX_DEPTH = 12
"""Lists and quotes nested deeper than this are printed at this depth."""
_NESTING = frozenset({"list", "block_quote"})


def parse_prose(markdown: str) -> list[Block]:
    """Read Markdown into blocks.

    Examples
    --------
    >>> parse_prose("Play *softly*.")[0]["runs"][1]
    {'kind': 'emphasis', 'runs': [{'kind': 'text', 'text': 'softly'}]}
    """
    tokens = _reader()(markdown)
    assert not isinstance(tokens, str)
    return _blocks(tokens, 0)


def plain_text(runs: Sequence[Run]) -> str:
    """Give running text without its dress."""
    return "".join(
        " "
        if run["kind"] == "break"
        else run.get("text") or plain_text(run.get("runs", ()))
        for run in runs
    )


def is_safe_address(address: str) -> bool:
    """Say whether a link may be printed: http, https, mailto, or within the page."""
    try:
        parts = urlsplit(address.strip())
    except ValueError:
        return False
    if parts.scheme:
        return parts.scheme.lower() in SAFE_SCHEMES
    return address.startswith("#") and len(address) > 1


@cache
def _reader() -> Callable[[str], Any]:
    import mistune  # noqa: PLC0415 - only when there is prose to read

    return mistune.create_markdown(renderer=None, plugins=["table", "strikethrough"])


def _blocks(tokens: Sequence[Token], depth: int) -> list[Block]:
    blocks: list[Block] = []
    for token in tokens:
        if depth >= MAX_DEPTH and token["type"] in _NESTING:
            blocks += _blocks(_inside(token), depth)
            continue
        block = _block(token, depth)
        if block is not None:
            blocks.append(block)
    return blocks


def _inside(token: Token) -> list[Token]:
    """Give what a list or a quote holds, without its dress."""
    children: Sequence[Token] = token["children"]
    if token["type"] == "block_quote":
        return list(children)
    return [inner for item in children for inner in item["children"]]


def _block(token: Token, depth: int) -> Block | None:
    make = _BLOCKS.get(token["type"])
    return None if make is None else make(token, depth)


def _heading(token: Token, _depth: int) -> Block | None:
    runs = _runs(token["children"])
    # A heading without words says nothing, and PDF/UA refuses it.
    if not plain_text(runs).strip():
        return None
    return {"kind": "heading", "level": token["attrs"]["level"], "runs": runs}


def _paragraph(token: Token, _depth: int) -> Block | None:
    runs = _runs(token["children"])
    # A paragraph that held nothing but raw HTML leaves no empty line behind.
    return {"kind": "paragraph", "runs": runs} if plain_text(runs).strip() else None


def _list(token: Token, depth: int) -> Block:
    children = [_blocks(item["children"], depth + 1) for item in token["children"]]
    return {
        "kind": "list",
        "ordered": bool(token["attrs"]["ordered"]),
        "start": int(token["attrs"].get("start", 1)),
        "tight": bool(token.get("tight", True)),
        "items": children,
    }


def _quote(token: Token, depth: int) -> Block:
    return {
        "kind": "quote",
        "blocks": _blocks(token["children"], depth + 1),
    }


def _code(token: Token, _depth: int) -> Block:
    return {"kind": "code", "text": token["raw"].rstrip("\n")}


def _table(token: Token, _depth: int) -> Block:
    head: list[list[Run]] = []
    rows: list[list[list[Run]]] = []
    align: list[str] = []
    for part in token["children"]:
        if part["type"] == "table_head":
            head = [_runs(cell["children"]) for cell in part["children"]]
            align = [cell["attrs"].get("align") or "left" for cell in part["children"]]
        else:
            rows.extend(
                [_runs(cell["children"]) for cell in row["children"]]
                for row in part["children"]
            )
    return {"kind": "table", "head": head, "align": align, "rows": rows}


def _rule(_token: Token, _depth: int) -> Block:
    return {"kind": "rule"}


_BLOCKS: dict[str, Callable[[Token, int], Block | None]] = {
    "heading": _heading,
    "paragraph": _paragraph,
    "block_text": _paragraph,
    "list": _list,
    "block_quote": _quote,
    "block_code": _code,
    "table": _table,
    "thematic_break": _rule,
}


def _runs(tokens: Sequence[Token]) -> list[Run]:
    runs: list[Run] = []
    for token in tokens:
        for run in _run(token):
            if run["kind"] == "text" and runs and runs[-1]["kind"] == "text":
                runs[-1]["text"] += run["text"]
            else:
                runs.append(run)
    return runs


def _run(token: Token) -> list[Run]:
    make = _RUNS.get(token["type"])
    return [] if make is None else make(token)


def _link(token: Token) -> list[Run]:
    runs = _runs(token["children"])
    address = token["attrs"]["url"].strip()
    if not is_safe_address(address):
        return runs
    with suppress(ValueError):  # within the page, or mail: the reader has encoded that
        address = web_address(address)
    return [{"kind": "link", "address": address, "runs": runs}]


def _dressed(kind: str) -> Callable[[Token], list[Run]]:
    return lambda token: [{"kind": kind, "runs": _runs(token["children"])}]


_RUNS: dict[str, Callable[[Token], list[Run]]] = {
    "text": lambda token: [{"kind": "text", "text": html.unescape(token["raw"])}],
    "softbreak": lambda _: [{"kind": "text", "text": " "}],
    "linebreak": lambda _: [{"kind": "break"}],
    "codespan": lambda token: [{"kind": "code", "text": html.unescape(token["raw"])}],
    "emphasis": _dressed("emphasis"),
    "strong": _dressed("strong"),
    "strikethrough": _dressed("struck"),
    "image": _dressed("emphasis"),
    "link": _link,
}
