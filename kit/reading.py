"""How is a file that someone else wrote read, so that nothing in it does harm?

This is the one door for what lies in a lesson folder, an output folder or the cache. What
comes through it is bounded: a regular file (a pipe would let the reader wait for ever, a
device never end) of at most so many bytes, text that is text, TOML and JSON nested no
deeper than `MAX_DEPTH` with numbers of 64 bits. Code behind the door may therefore copy,
print and walk what it got without a thought of recursion or of numbers too long to print.

The functions raise `OSError`, or `UnusableError` with a clause that says why; `told` turns
both into the one sentence that a teacher sees.

Sources: TOML 1.0.0; RFC 8259 (JSON), which leaves limits of depth and size to the reader.
"""

from __future__ import annotations

import json
import os
import re
import stat
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

from kit.errors import KitError, LessonError

__all__ = [
    "MAX_DEPTH",
    "MAX_JSON_BYTES",
    "UnusableError",
    "from_os_error",
    "is_path_text",
    "json_of",
    "open_regular",
    "read_bytes",
    "read_json",
    "text_of",
    "told",
    "toml_of",
]

MAX_DEPTH = 64
"""Levels of lists and tables in one another; a lesson.toml has six, a notebook's output
hardly twenty."""
MAX_JSON_BYTES = 50_000_000
_WHOLE = range(-(2**63), 2**64)
_TOO_DEEP = f"it has lists or tables more than {MAX_DEPTH} deep in one another"
_TOO_LARGE_NUMBER = "it has a whole number of more than 64 bits"

# TOML taken apart as far as depth needs it. No alternative can fail after a long text, so
# that the time grows with the text and not with its square.
_TOML = re.compile(
    r'(?P<text>"""(?:[^"\\]++|\\.?|"(?!""))*+(?:"""|\Z)|\'\'\'(?:[^\']++|\'(?!\'\'))*+'
    r"(?:'''|\Z)|\"(?:[^\"\\\n]++|\\[^\n])*+\"?|'[^'\n]*+'?|#[^\n]*+|[\w+: \t-]++)"
    r"|(?P<open>[\[{])|(?P<close>[\]}])|(?P<dot>\.)|(?P<rest>.)",
    re.DOTALL,
)


class UnusableError(ValueError):
    """Why the content of a file cannot be used: `found` and `remedy` as of a `KitError`."""

    def __init__(self, found: str, remedy: str | None = None) -> None:
        super().__init__(found)
        self.found = found
        self.remedy = remedy


def read_bytes(path: Path, *, limit_bytes: int) -> bytes:
    """Read a regular file of at most so many bytes.

    Raises
    ------
    OSError
        If it cannot be read.
    UnusableError
        If it is something else, is larger, or its name is none that a file can have.
    """
    with open_regular(path) as file:
        data = file.read(limit_bytes + 1)
    if len(data) > limit_bytes:
        raise UnusableError(f"the file is larger than {_size_words(limit_bytes)}")
    return data


def open_regular(path: Path) -> BinaryIO:
    """Open a regular file, and nothing else, for reading bytes.

    Raises
    ------
    OSError
        If it cannot be opened.
    UnusableError
        If it is something else, or its name is none that a file can have.
    """
    if not is_path_text(str(path)):
        raise UnusableError("its name has a sign that no file name can have")
    file = open(path, "rb", opener=_without_waiting)  # noqa: SIM115 - Path has none
    if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
        file.close()
        raise UnusableError("it is a pipe or a device, not a file with content")
    return file


def _without_waiting(path: str, flags: int) -> int:
    # Opening a pipe would wait for someone to write into it.
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _size_words(limit_bytes: int) -> str:
    megabytes = limit_bytes // 1_000_000
    return "a megabyte" if megabytes == 1 else f"{megabytes} megabytes"


def is_path_text(text: str) -> bool:
    r"""Say whether a path could be that of a file: it can be encoded, and has no NUL.

    Examples
    --------
    >>> is_path_text("levels/easy.toml"), is_path_text("levels/\x00.toml")
    (True, False)
    """
    try:
        return b"\0" not in os.fsencode(text)
    except UnicodeEncodeError:
        return False


def text_of(data: bytes) -> str:
    """Read bytes as UTF-8.

    Raises
    ------
    UnusableError
        If they are not.
    """
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnusableError("the file is not UTF-8 text", "save it as UTF-8") from error


def toml_of(text: str) -> dict[str, Any]:
    """Read TOML.

    Raises
    ------
    UnusableError
        If it is not valid (with the line), too deep, or has a number that is too large.
    """
    _require_shallow_toml(text)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UnusableError(
            f"this is not valid TOML: {error}", "check quotes, commas and brackets"
        ) from error
    except RecursionError as error:
        raise UnusableError(_TOO_DEEP) from error
    except ValueError as error:  # Python reads no whole number of thousands of digits
        raise UnusableError(_TOO_LARGE_NUMBER) from error
    _require_bounded(table)
    return table


def _require_shallow_toml(text: str) -> None:
    """See before parsing that neither brackets nor dotted keys nest too deep.

    The parser takes time with the square of the parts of a key.
    """
    brackets = dots = 0
    for token in _TOML.finditer(text):
        kind = token.lastgroup
        if kind == "open":
            brackets += 1
        elif kind == "close":
            brackets = max(0, brackets - 1)
        elif kind == "dot":
            dots += 1
        elif kind == "rest":
            dots = 0
        if max(brackets, dots) > MAX_DEPTH:
            raise UnusableError(_TOO_DEEP)


def json_of(data: str | bytes) -> Any:
    """Read JSON; bytes are UTF-8.

    Raises
    ------
    UnusableError
        If it is not valid (with the line), too deep, has a number that is too large, or
        half a sign (a lone surrogate), which no file can hold.
    """
    text = data if isinstance(data, str) else text_of(data)
    try:
        value = json.loads(text)
    except json.JSONDecodeError as error:
        raise UnusableError(
            f"this is not valid JSON: {error.msg} (line {error.lineno}, "
            f"column {error.colno})"
        ) from error
    except RecursionError as error:
        raise UnusableError(_TOO_DEEP) from error
    except ValueError as error:  # Python reads no whole number of thousands of digits
        raise UnusableError(_TOO_LARGE_NUMBER) from error
    _require_bounded(value)
    return value


def _require_bounded(value: Any) -> None:
    """Walk, without recursion, through what was read."""
    layer, depth = [value], 0
    while layer:
        if depth > MAX_DEPTH:
            raise UnusableError(_TOO_DEEP)
        below: list[Any] = []
        for one in layer:
            if isinstance(one, dict):
                below.extend(one)
                below.extend(one.values())
            elif isinstance(one, list):
                below.extend(one)
            elif isinstance(one, str):
                _require_whole(one)
            elif isinstance(one, int) and one not in _WHOLE:
                raise UnusableError(_TOO_LARGE_NUMBER)
        layer, depth = below, depth + 1


def _require_whole(text: str) -> None:
    if text.isascii():
        return
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise UnusableError(
            f"a text in it has half a sign (\\u{ord(text[error.start]):04x})",
            "write that text again",
        ) from error


def read_json(path: Path, *, limit_bytes: int = MAX_JSON_BYTES) -> Any:
    """Read a file of JSON, as `read_bytes` and `json_of`.

    Raises
    ------
    OSError
        If the file cannot be opened.
    UnusableError
        If it is too large, no regular file, or no JSON that can be worked with.
    """
    return json_of(read_bytes(path, limit_bytes=limit_bytes))


@contextmanager
def told(source: str, kind: type[KitError] = LessonError) -> Iterator[None]:
    """Turn what goes wrong while a file is read into the sentence a teacher sees.

    Parameters
    ----------
    source : str
        What messages call the file.
    kind : type
        The error to raise.
    """
    try:
        yield
    except UnusableError as error:
        raise kind(error.found, file=source, remedy=error.remedy) from error
    except FileNotFoundError as error:
        raise kind("there is no such file", file=source) from error
    except OSError as error:
        raise from_os_error(error, source=source, kind=kind) from error


def from_os_error(
    error: OSError, *, source: str | None = None, kind: type[KitError] = KitError
) -> KitError:
    """Word an error of the system; its own file name stands where no source is given.

    Parameters
    ----------
    error : OSError
        What the system says.
    source : str, optional
        What messages call the file.
    kind : type
        The error to make; it is given, not raised.
    """
    named = error.filename
    name = source or (os.fsdecode(named) if isinstance(named, str | bytes) else None)
    reason = (error.strerror or str(error) or type(error).__name__).rstrip(".")
    if source is None:
        return kind(reason, file=name)
    return kind(f"the file cannot be read ({reason.lower()})", file=name)
