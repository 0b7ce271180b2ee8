"""What does a level file say?

A level file is TOML: optionally the level it edits, then one edit a line, so that a change
of one edit is a change of one line::

    over = "beginner"
    edits = [
      { bar = 2, beat = 3, do = "early", by = "eighth" },
    ]

`beat` is a whole number, a decimal (``2.5``) or text with a fraction (``"2 1/3"``).
Source: TOML 1.0.0.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from kit.errors import LevelError
from kit.levels.edit import Edit, OptionValue
from kit.levels.edits import check_edit
from kit.reading import told, toml_of

__all__ = ["LevelFile", "read_level_file", "write_level_file"]

MAX_CHARACTERS = 1_000_000
MAX_EDITS = 5000
_BEAT = re.compile(r"(\d{1,3})(?:\s+(\d{1,3})/(\d{1,3}))?|(\d{1,3})/(\d{1,3})")
_OWN = ("bar", "beat", "do")


@dataclass(frozen=True, slots=True)
class LevelFile:
    """The level a file's edits are written over (empty: the tune) and the edits."""

    over: str = ""
    edits: tuple[Edit, ...] = ()


def read_level_file(text: str, source: str = "") -> LevelFile:
    """Read a level file.

    Parameters
    ----------
    text : str
        The file's text.
    source : str
        What to call it in messages.

    Raises
    ------
    LevelError
        If it is not TOML, or an edit cannot be understood; the message names the edit.
    """
    if len(text) > MAX_CHARACTERS:
        raise LevelError(
            f"it is longer than {MAX_CHARACTERS} characters", file=source or None
        )
    with told(source, LevelError):
        table = toml_of(text)
    for name in table:
        if name not in ("over", "edits"):
            raise LevelError(
                f'it has "{name}"',
                file=source or None,
                remedy="only over and edits belong here",
            )
    over, rows = table.get("over", ""), table.get("edits", [])
    if not isinstance(over, str) or not isinstance(rows, list):
        raise LevelError(
            "over must be a level's name in quotes and edits a list", file=source or None
        )
    if len(rows) > MAX_EDITS:
        raise LevelError(f"it has more than {MAX_EDITS} edits", file=source or None)
    edits = []
    for number, row in enumerate(rows, start=1):
        try:
            edits.append(_read_edit(row))
        except LevelError as error:
            error.found = f"edit {number}: {error.found}"
            raise error.within(file=source or None) from error.__cause__
    return LevelFile(over, tuple(edits))


def _read_edit(row: Any) -> Edit:
    if not isinstance(row, dict):
        raise LevelError(
            "it is not a table",
            remedy='write it like { bar = 2, beat = 3, do = "early" }',
        )
    bar, do = row.get("bar"), row.get("do")
    if not isinstance(bar, int) or isinstance(bar, bool) or bar < 0:
        raise LevelError(
            f"bar is {bar!r}" if "bar" in row else "it names no bar",
            remedy="give the printed number, 0 for a pick-up",
        )
    if not isinstance(do, str):
        raise LevelError(
            "it does not say what to do", bar=bar, remedy='add do = "early", for example'
        )
    options: list[tuple[str, OptionValue]] = []
    for name, value in row.items():
        if name in _OWN:
            continue
        if not isinstance(value, (str, int)) or isinstance(value, bool):
            raise LevelError(f"{name} is {value!r}", bar=bar, remedy="use text or a number")
        options.append((name, value))
    edit = Edit(bar, _read_beat(row.get("beat", 1), bar), do, tuple(options))
    check_edit(edit)
    return edit


def _read_beat(value: Any, bar: int) -> Fraction:
    beat = None
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        if 0 < value < 1000:
            beat = Fraction(value).limit_denominator(96)
    elif isinstance(value, str):
        match = _BEAT.fullmatch(value.strip())
        if match and match[4]:
            beat = _fraction(match[4], match[5])
        elif match:
            beat = Fraction(match[1])
            if match[2]:
                beat += _fraction(match[2], match[3])
    if beat is None or beat < 1:
        raise LevelError(
            f"beat is {value!r}", bar=bar, remedy='write 3, 2.5 or "2 1/3", counted from 1'
        )
    return beat


def _fraction(top: str, bottom: str) -> Fraction:
    return Fraction(int(top), int(bottom)) if int(bottom) else Fraction(0)


def write_level_file(level: LevelFile) -> str:
    """Write a level file, one edit a line; reading it back gives the same."""
    lines = [f"over = {_quoted(level.over)}"] if level.over else []
    lines.append("edits = [")
    for edit in level.edits:
        parts = [f"bar = {edit.bar}", f"beat = {_beat_text(edit.beat)}"]
        parts.append(f"do = {_quoted(edit.do)}")
        parts += [
            f"{name} = {value if isinstance(value, int) else _quoted(value)}"
            for name, value in edit.options
        ]
        lines.append(f"  {{ {', '.join(parts)} }},")
    lines.append("]")
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """Write a TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"'
        + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped)
        + '"'
    )


def _beat_text(beat: Fraction) -> str:
    if beat.denominator == 1:
        return str(beat.numerator)
    if 16 % beat.denominator == 0:
        return str(float(beat))
    whole, rest = divmod(beat, 1)
    return f'"{whole} {rest}"'
