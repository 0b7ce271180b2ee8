"""How is one thing changed in a TOML file without touching what a teacher wrote around it?

Comments, order and spacing stay. Lists of one-line tables (edits, passages, sections) are
changed line by line: the line of a row that stays is kept as it is, its comment included.
After every change the file is read again and compared: exactly the thing meant differs.

Source: TOML 1.0.0; tomlkit keeps the layout of the rest.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, InlineTable

from kit.errors import LessonError
from kit.reading import told, toml_of

__all__ = ["set_level_value", "set_rows", "set_sections", "take_out"]

Row = Mapping[str, Any]


def set_rows(text: str, key: str, rows: Sequence[Row], *, source: str) -> str:
    """Set a list of one-line tables at the top of a file.

    Parameters
    ----------
    text : str
        The file; may be empty.
    key : str
        The list's name.
    rows : sequence of mappings
        Texts, numbers and tables of them.
    source : str
        The file, for messages.

    Raises
    ------
    LessonError
        If the file is not TOML, or is laid out so that the list cannot be changed alone.
    """
    document = _parsed(text, source)
    _put(document, key, rows)
    # A new key takes the empty line before the first table; give it back.
    block = f"{key} = {document[key].as_string()}\n"
    spaced = tomlkit.dumps(document).replace(f"{block}[", f"{block}\n[", 1)
    if not spaced.endswith("\n"):
        spaced += "\n"
    return _checked(text, spaced, (key,), rows, source)


def set_sections(text: str, rows: Sequence[Row], *, source: str) -> str:
    """Set the form marks of a lesson.toml, as `set_rows`; no rows take them out."""
    if rows:
        return set_rows(text, "sections", rows, source=source)
    return take_out(text, "sections", source=source)


def take_out(text: str, key: str, *, source: str) -> str:
    """Take one thing out of the top of a file, with the comment on its line.

    Raises
    ------
    LessonError
        As `set_rows`.
    """
    document = _parsed(text, source)
    document.pop(key, None)
    return _checked(text, tomlkit.dumps(document), (key,), None, source)


def set_level_value(
    text: str, level: str, key: str, value: str | int | Sequence[Row] | None, *, source: str
) -> str:
    """Set one thing of one level in a lesson.toml: a text, a number, or its route.

    None takes it out.

    Raises
    ------
    LessonError
        As `set_rows`, or if there is no such level.
    """
    document = _parsed(text, source)
    tables: Any = document.get("levels", [])
    for place, table in enumerate(tables):
        if table.get("name") == level:
            if value is None:
                table.pop(key, None)
            elif isinstance(value, str | int):
                table[key] = value
            else:
                _put(table, key, value)
            path = ("levels", place, key)
            return _checked(text, tomlkit.dumps(document), path, value, source)
    raise LessonError(f'there is no level "{level}"', file=source)


def _parsed(text: str, source: str) -> Any:
    with told(source):
        toml_of(text)
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        # Two readers that do not agree: it is valid, and too unusual to be changed here.
        raise _too_intricate(source) from error


def _put(table: Any, key: str, rows: Sequence[Row]) -> None:
    before = table.get(key)
    written = before.as_string() if isinstance(before, Array) else ""
    if before is not None and not isinstance(before, Array):
        # A list of [[tables]] stands at the end; a plain list has to come before tables.
        table.pop(key)
    table[key] = tomlkit.parse(f"{key} = {_revised(written, rows)}")[key]


@dataclass(frozen=True, slots=True)
class _Line:
    """A line inside a list: the row it holds, None for a comment or an empty line."""

    text: str
    row: Row | None


def _revised(written: str, rows: Sequence[Row]) -> str:
    """Give a list's text with other rows, keeping the lines of those that stay."""
    lines = _lines(written) or []
    before = [repr(line.row) for line in lines if line.row is not None]
    after = [repr(dict(row)) for row in rows]
    matcher = SequenceMatcher(None, before, after, autojunk=False)
    places = [place for place, line in enumerate(lines) if line.row is not None]
    kept = {
        block.b + k: places[block.a + k]
        for block in matcher.get_matching_blocks()
        for k in range(block.size)
    }
    out: list[str] = []
    shown = 0
    stays = set(kept.values())
    for number, row in enumerate(rows):
        place = kept.get(number)
        if place is None:
            out.append(_row_line(row))
            continue
        out += [line.text for i, line in enumerate(lines[shown:place], shown)
                if line.row is None or i in stays]  # fmt: skip
        out.append(lines[place].text)
        shown = place + 1
    out += [line.text for line in lines[shown:] if line.row is None]
    return "[\n" + "".join(f"{line}\n" for line in out) + "]"


def _lines(written: str) -> list[_Line] | None:
    """Take a list apart if each of its rows has a line of its own, else give None."""
    # TOML ends a line with \n or \r\n only; other such signs may stand in texts.
    inner = written.split("\n")[1:-1]
    found = []
    for text in inner:
        bare = text.strip()
        if not bare or bare.startswith("#"):
            found.append(_Line(text.rstrip(), None))
            continue
        try:
            rows = tomllib.loads(f"rows = [\n{text}\n]")["rows"]
        except tomllib.TOMLDecodeError:
            return None
        if len(rows) != 1 or not isinstance(rows[0], dict):
            return None
        found.append(_Line(_with_comma(text.rstrip()), rows[0]))
    return found


def _with_comma(text: str) -> str:
    """Make sure that another row may follow."""
    head, brace, tail = text.rpartition("}")
    comment = tail.lstrip()
    if comment.startswith(","):
        return text
    if "#" in tail or not tail.strip():
        return f"{head}{brace},{tail}"
    # The brace found stands in a comment; the comma goes before the comment's sign.
    row, sign, rest = text.partition("#")
    return text if row.rstrip().endswith(",") else f"{row.rstrip()}, {sign}{rest}"


def _row_line(row: Row) -> str:
    return f"  {_inline(row).as_string()},"


def _inline(row: Row) -> InlineTable:
    table = tomlkit.inline_table()
    for name, value in row.items():
        table.append(name, _inline(value) if isinstance(value, Mapping) else value)
    spaced = table.as_string()
    return _inline_of(f"{{ {spaced[1:-1].strip()} }}")


def _inline_of(text: str) -> InlineTable:
    table = tomlkit.parse(f"row = {text}").item("row")
    assert isinstance(table, InlineTable)
    return table


def _checked(
    before: str, after: str, path: tuple[str | int, ...], value: Any, source: str
) -> str:
    """Read the new text and see that just the thing meant has changed."""
    try:
        wanted, found = tomllib.loads(before), tomllib.loads(after)
    except tomllib.TOMLDecodeError as error:
        raise _too_intricate(source) from error
    table: Any = wanted
    for step in path[:-1]:
        table = table[step]
    if value is None:
        table.pop(path[-1], None)
    else:
        plain = value if isinstance(value, str | int) else [_plain(row) for row in value]
        table[path[-1]] = plain
    if found != wanted:
        raise _too_intricate(source)
    if "\r\n" in before:
        return after.replace("\r\n", "\n").replace("\n", "\r\n")
    return after


def _plain(row: Row) -> dict[str, Any]:
    return {k: _plain(v) if isinstance(v, Mapping) else v for k, v in row.items()}


def _too_intricate(source: str) -> LessonError:
    return LessonError(
        "the file is laid out in a way that cannot be changed in one place only",
        file=source,
        remedy="change it in a text editor, with one row a line",
    )
