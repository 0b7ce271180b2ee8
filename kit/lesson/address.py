"""How is a web address, as somebody typed it, written where programs follow it?

Source: RFC 3986 (URI), RFC 3987 (letters other than ASCII).
"""

from __future__ import annotations

import re
from urllib.parse import quote, urlsplit

from kit.errors import LessonError

__all__ = ["MAX_ADDRESS_CHARS", "require_address", "web_address"]

MAX_ADDRESS_CHARS = 120
"""More would make modules of a QR code too fine for paper at the size it is printed."""
_KEPT = "!$&'()*+,;=:@/?[]~"
"""Signs that may stand in path, query and fragment of an address as they are."""
_LONE_PERCENT = re.compile("%(?![0-9A-Fa-f]{2})")
_START = re.compile(r"""(?i:https?)://[^/?#\s\x00-\x20\x7f"%<>\\^`{|}]+(?=[/?#]|\Z)""")
_ASCII = re.compile(r"[\x00-\x7f]+")
_SHOWN = 200


def require_address(address: str, *, source: str) -> str:
    """Make sure that a handout can lead to an address, and give it as it is linked to.

    Parameters
    ----------
    address : str
        Begins with ``https://`` or ``http://``; what an address may not hold is encoded.
    source : str
        How messages call the file that says it.

    Raises
    ------
    LessonError
        If it is no address of a web page, or too long to be read from paper.
    """
    try:
        linked = web_address(address)
    except ValueError as error:
        raise LessonError(
            f'"{address[:_SHOWN]}" is not the address of a web page',
            file=source,
            remedy="begin it with https:// and a site's name without spaces",
        ) from error
    if len(linked) > MAX_ADDRESS_CHARS:
        linked = web_address(address, keep_letters=True)
    if len(linked) > MAX_ADDRESS_CHARS:
        raise LessonError(
            f"the address has {len(linked)} characters, too many for a QR code on paper",
            file=source,
            remedy=f"use one of at most {MAX_ADDRESS_CHARS}",
        )
    return linked


def web_address(address: str, *, keep_letters: bool = False) -> str:
    """Write a web address, as somebody typed it, with the signs an address may have.

    What is encoded already stays as it is; ``?`` and the first ``#`` keep their meaning.

    Parameters
    ----------
    address : str
        As somebody typed it.
    keep_letters : bool
        Whether letters other than ASCII stay, which is shorter and which browsers take.

    Raises
    ------
    ValueError
        If it does not begin with ``https://`` or ``http://`` and the name of a host.

    Examples
    --------
    >>> web_address("https://quay.example/my tunes/50%/caf%C3%A9#über")
    'https://quay.example/my%20tunes/50%25/caf%C3%A9#%C3%BCber'
    """
    address = address.strip()
    match = _START.match(address)
    if match is None or not urlsplit(match[0]).hostname:
        raise ValueError("no web address")
    rest, mark, fragment = address[match.end() :].partition("#")
    return (
        f"{match[0]}{_encoded(rest, keep_letters)}{mark}{_encoded(fragment, keep_letters)}"
    )


def _encoded(text: str, keep_letters: bool) -> str:
    whole = _LONE_PERCENT.sub("%25", text)
    kept = f"{_KEPT}%"
    if keep_letters:
        return _ASCII.sub(lambda match: quote(match[0], safe=kept), whole)
    return quote(whole, safe=kept, errors="surrogatepass")
