"""What do the tags of a notebook's cell say, and which of them says nothing we know?

A tag decides what strangers get to see, so that nothing is guessed: a tag that is not known
to the letter is an error, with the known tag it comes nearest to, and the cell stays out of
everything that is made until its tag is known. Tags of other tools are known too
(``cell_tags.toml``); where one of them takes something away, we take it away as well.

Conventions
-----------
* ``level:<name>`` is known if the lesson has a level of that name.
* Cells are counted from 1, as messages do.
"""

from __future__ import annotations

import difflib
import tomllib
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

__all__ = [
    "HIDE",
    "LEVEL_TAG",
    "MEMBERS",
    "CellTags",
    "TagProblem",
    "cell_tags",
    "known_tags",
    "read_tags",
    "tag_problems",
]

LEVEL_TAG = "level:"
MEMBERS = "members"
HIDE = "hide"

_SHOWN_CHARS = 60
_KINDS = {
    str: "a text", int: "a number", float: "a number", bool: "true or false",
    type(None): "null", dict: "a table", list: "a list",
}  # fmt: skip
_LOOK_ALIKES = str.maketrans(
    "аеорсухіјѕһԁԛԝӏɡɩѵгпкмтвнαοιρυνκτεχ",
    "aeopcyxijshdqwlgivrnkmtbhaoipuvktex",
)
"""Small Cyrillic and Greek letters (and two phonetic ones) that look like Latin ones; after
the confusables of Unicode Technical Standard 39, a choice of them from memory."""


@dataclass(frozen=True, slots=True)
class TagProblem:
    """What is wrong with a tag and what to do, both as clauses."""

    found: str
    remedy: str


@dataclass(frozen=True, slots=True)
class CellTags:
    """What a cell's tags say.

    Parameters
    ----------
    own : frozenset of str
        The kit's own tags among them, ``level:<name>`` included.
    takes : frozenset of str
        What the tags of other tools take away: ``cell``, ``input``, ``output``, ``run``,
        ``errors``.
    problems : tuple of TagProblem
        What is not known; such a cell stays out of everything.
    """

    own: frozenset[str] = frozenset()
    takes: frozenset[str] = frozenset()
    problems: tuple[TagProblem, ...] = ()


def known_tags() -> tuple[str, ...]:
    """Give the kit's own tags and those of other tools, in the order of the table."""
    table = _table()
    return (*table["own"], *table["others"])


def read_tags(tags: Any, levels: Collection[str]) -> CellTags:
    """Read the tags of a cell.

    Parameters
    ----------
    tags : object
        What the cell's metadata hold under ``tags``: a list of texts, if all is well.
    levels : collection of str
        Names of the lesson's levels.

    Examples
    --------
    >>> read_tags(["Members"], ["easy"]).problems[0].remedy
    'did you mean members?'
    """
    if not isinstance(tags, list | tuple):
        found = f"the tags of the cell are {_KINDS.get(type(tags), 'no list')}, not a list"
        return CellTags(problems=(TagProblem(found, 'write them as "tags": ["…"]'),))
    own: set[str] = set()
    takes: set[str] = set()
    problems: list[TagProblem] = []
    for tag in tags:
        if not isinstance(tag, str):
            found = f"a tag of the cell is {_KINDS.get(type(tag), 'no text')}, not a text"
            problems.append(TagProblem(found, "take it off or write it in quotation marks"))
        elif tag in _table()["own"] or _names_level(tag, levels):
            own.add(tag)
        elif tag in _table()["others"]:
            takes.add(_table()["others"][tag]["does"])
        else:
            problems.append(_unknown(tag, levels))
    return CellTags(frozenset(own), frozenset(takes - {"nothing"}), tuple(problems))


def tag_problems(
    cells: Iterable[Mapping[str, Any]], levels: Collection[str]
) -> Iterator[tuple[int, TagProblem]]:
    """Yield what is wrong with the tags of a notebook's cells, with the cell's number."""
    for number, cell in enumerate(cells, start=1):
        for problem in read_tags(cell_tags(cell), levels).problems:
            yield number, problem


def cell_tags(cell: Mapping[str, Any]) -> Any:
    """Give what a cell has for tags; none are an empty list, null is not."""
    metadata = cell.get("metadata", {})
    return metadata.get("tags", []) if isinstance(metadata, Mapping) else metadata


def _names_level(tag: str, levels: Collection[str]) -> bool:
    return tag.startswith(LEVEL_TAG) and tag.removeprefix(LEVEL_TAG) in levels


def _unknown(tag: str, levels: Collection[str]) -> TagProblem:
    level_tags = [f"{LEVEL_TAG}{name}" for name in levels]
    own, others = [*_table()["own"], *level_tags], list(_table()["others"])
    if tag.startswith(LEVEL_TAG):
        name = _shown(tag.removeprefix(LEVEL_TAG))
        found = f'the tag "{_shown(tag)}" names a level "{name}", and the lesson has none'
        choices, meant = level_tags, _alike(tag, level_tags) or _close(tag, level_tags)
    else:
        found = f'the tag "{_shown(tag)}" is not known'
        choices, meant = own, _alike(tag, [*own, *others])
        meant = meant or _close(tag, own) or _close(tag, others)
    remedy = f"did you mean {meant}?" if meant else f"choose from {', '.join(choices)}"
    return TagProblem(found + _strange(tag), remedy)


def _alike(tag: str, choices: Iterable[str]) -> str | None:
    """Find the tag that differs in its dress only."""
    bare = _bare(tag)
    return next((choice for choice in choices if _bare(choice) == bare), None)


def _close(tag: str, choices: Iterable[str]) -> str | None:
    """Find the tag that a slip of the pen turned into this one."""
    by_dress: dict[str, str] = {}
    for choice in choices:
        by_dress.setdefault(_bare(choice), choice)
    bare = _bare(tag)[:_SHOWN_CHARS]
    if bare == _bare(LEVEL_TAG):
        return None
    close = difflib.get_close_matches(bare, by_dress, n=1, cutoff=0.6)
    return by_dress[close[0]] if close else None


def _plain(tag: str) -> str:
    """Take case, white space, what cannot be seen and look-alikes from a tag."""
    text = unicodedata.normalize("NFKC", tag).casefold().translate(_LOOK_ALIKES)
    text = unicodedata.normalize("NFKD", text)
    return "".join(
        sign
        for sign in text
        if not sign.isspace() and unicodedata.category(sign) not in ("Cf", "Cc", "Mn")
    )


def _bare(tag: str) -> str:
    """Take hyphens of all kinds and a plural from it too."""
    letters = "".join(
        sign for sign in _plain(tag) if sign != "_" and unicodedata.category(sign) != "Pd"
    )
    return letters.removesuffix("s")


def _shown(text: str) -> str:
    """Show a tag in a sentence: short, and with nothing in it that cannot be seen."""
    seen = "".join(
        sign if sign == " " or sign.isprintable() else f"\\u{ord(sign):04x}"
        for sign in text[:_SHOWN_CHARS]
    )
    return seen + ("…" if len(text) > _SHOWN_CHARS else "")


def _strange(tag: str) -> str:
    """Name a sign that looks like another one, or like nothing at all."""
    for sign in tag[:_SHOWN_CHARS]:
        if not sign.isascii():
            name = unicodedata.name(sign, f"U+{ord(sign):04X}").lower()
            return f" (it holds the sign {name})"
    return " (it has white space around it)" if tag != tag.strip() else ""


@cache
def _table() -> Mapping[str, Mapping[str, Any]]:
    text = files("kit.lesson").joinpath("cell_tags.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
