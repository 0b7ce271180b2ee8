"""How is text from a stranger's file made fit to be kept and printed?

Text stays text: nothing is escaped here, because each output escapes in its own way. What
goes is what no title or lyric needs: control characters, marks that turn the direction of
writing round, and absurd length.
"""

from __future__ import annotations

import unicodedata

__all__ = ["decoded", "printable", "without_controls"]

MAX_CHARACTERS = 500
_UNWANTED = frozenset(
    "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff\ufffe\uffff"
)


def without_controls(text: str) -> str:
    r"""Give the text without what only steers a machine; line ends and tabs stay.

    Examples
    --------
    >>> without_controls("Mill\x00Lane\u202e\n")
    'Mill Lane\n'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        " " if unicodedata.category(char) == "Cc" and char not in "\t\n" else char
        for char in text
        if char not in _UNWANTED and unicodedata.category(char) != "Cs"
    )


def printable(text: str | None, limit: int = MAX_CHARACTERS) -> str:
    """Give the text on one line, composed (NFC), cut at `limit` characters."""
    raw = (text or "")[: 8 * limit]
    kept = "".join(
        " " if unicodedata.category(char) == "Cc" else char
        for char in raw
        if char not in _UNWANTED and unicodedata.category(char) not in ("Cs", "Co")
    )
    line = unicodedata.normalize("NFC", " ".join(kept.split()))
    return line if len(line) <= limit else line[: limit - 1].rstrip() + "…"


def decoded(data: bytes) -> str:
    """Read plain text as UTF-8 or UTF-16 where it says so, else as Latin-1.

    ABC 2.1, section 3.1.1 (from memory): UTF-8 is the default; older files are Latin-1.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")
