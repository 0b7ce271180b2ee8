"""Which notation does music21 read for us, and how is a file of it told?

The content decides, as in `kit.tune.read`; a suffix alone makes no notation.

Sources: The Humdrum Toolkit Reference Manual (exclusive interpretations ``**kern``,
reference records ``!!!``); Music Encoding Initiative, MEI 4 and 5 (root element ``mei``);
MuseData (records ``WK#:`` and ``measure``), each from memory.
"""

from __future__ import annotations

import re
from typing import Literal

from kit.tune.source_text import decoded

__all__ = ["NAMES", "SUFFIXES", "ForeignFormat", "format_of"]

ForeignFormat = Literal["humdrum", "mei", "musedata", "romantext"]
"""A notation by the name that music21 gives it."""

NAMES: dict[ForeignFormat, str] = {
    "humdrum": "Humdrum **kern",
    "mei": "MEI",
    "musedata": "MuseData",
    "romantext": "RomanText",
}
SUFFIXES: dict[str, ForeignFormat] = {
    ".krn": "humdrum",
    ".kern": "humdrum",
    ".mei": "mei",
    ".musedata": "musedata",
    ".md": "musedata",
    ".rntxt": "romantext",
    ".rntext": "romantext",
    ".romantext": "romantext",
}
_HEAD_BYTES = 20_000
_MEI = re.compile(rb"<(?:[\w.-]{1,40}:)?mei[\s>]")
_KERN = re.compile(r"^(?:\*\*[^\t\n]*\t)*\*\*kern", re.MULTILINE)
_MUSEDATA = re.compile(r"^WK#:", re.MULTILINE)
_ANALYSIS = re.compile(r"^m\d+[a-z]?(?:-\d+)?[ \t]", re.MULTILINE)


def format_of(data: bytes, suffix: str) -> ForeignFormat | None:
    r"""Tell the notation of a file that music21 reads; None if it is not one of them.

    Parameters
    ----------
    data : bytes
        The file.
    suffix : str
        Of its name, in small letters.

    Examples
    --------
    >>> format_of(b"**kern\n*M4/4\n1c\n*-\n", ".krn")
    'humdrum'
    >>> format_of(b"# Shopping\n", ".md")
    """
    if data.lstrip().startswith(b"<") or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "mei" if _MEI.search(data[:_HEAD_BYTES].replace(b"\0", b"")) else None
    wanted = SUFFIXES.get(suffix)
    if wanted is None:
        return None
    text = decoded(data)
    signs = {"humdrum": _KERN, "musedata": _MUSEDATA, "romantext": _ANALYSIS}
    sign = signs.get(wanted)
    return wanted if sign is not None and sign.search(text) else None
