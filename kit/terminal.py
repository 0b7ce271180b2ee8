r"""What may reach a terminal? Words, and nothing that a terminal obeys.

A title or a file name may hold signs that clear the screen, colour it, write over the line
before or turn the reading direction round. `plain` shows each of them by its code
(``\x1b``), and `echo` is the one way in which the kit prints.

Sources: ECMA-48 (control functions, sets C0 and C1); Unicode Standard Annex 9
(bidirectional formatting); PEP 383 (bytes of file names that are no text).
"""

from __future__ import annotations

import sys
import traceback
import unicodedata
from types import TracebackType

__all__ = ["echo", "echo_fault", "plain"]

# Controls, lone halves of a sign, line and paragraph separators.
_CATEGORIES = frozenset({"Cc", "Cs", "Zl", "Zp"})
_UNDECODED = range(0xDC80, 0xDD00)
"""What Python makes of a byte in a file name that is no text."""


def _is_obeyed(char: str) -> bool:
    code = ord(char)
    return (
        unicodedata.category(char) in _CATEGORIES
        or char in "\u061c\u200e\u200f\ufeff"
        or 0x202A <= code <= 0x202E
        or 0x2066 <= code <= 0x2069
        or 0xE0000 <= code <= 0xE007F  # invisible copies of ASCII
    )


def _shown(char: str) -> str:
    code = ord(char)
    if code in _UNDECODED:
        return f"\\x{code - 0xDC00:02x}"
    return {"\n": "\\n", "\r": "\\r", "\t": " "}.get(char) or (
        f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"
    )


def plain(text: str) -> str:
    r"""Give text on one line with every sign that a terminal obeys shown by its code.

    Examples
    --------
    >>> plain("Mill\x1b[31m Lane\u202e")
    'Mill\\x1b[31m Lane\\u202e'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_shown(char) if _is_obeyed(char) else char for char in text)


def echo(text: str, *, err: bool = False) -> None:
    """Print one line, to standard error if `err`."""
    import click  # noqa: PLC0415 - a notebook prints nothing this way

    stream = sys.stderr if err else sys.stdout
    encoding = getattr(stream, "encoding", None) or "utf-8"
    # A terminal of another encoding shows the code of what it has no sign for.
    fit = plain(text).encode(encoding, "backslashreplace").decode(encoding)
    click.echo(fit, err=err)


def echo_fault(
    kind: type[BaseException], fault: BaseException, trace: TracebackType | None
) -> None:
    """Print the traceback of a fault of the kit itself, as `sys.excepthook`."""
    for part in traceback.format_exception(kind, fault, trace):
        for line in part.splitlines():
            echo(line, err=True)
