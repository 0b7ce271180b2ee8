"""Is this the address of a web page, and short enough to be printed?"""

from __future__ import annotations

from kit.errors import LessonError

__all__ = ["MAX_ADDRESS_CHARS", "require_address"]

MAX_ADDRESS_CHARS = 120
"""More would make modules of a QR code too fine for paper at the size it is printed."""


def require_address(address: str, *, source: str) -> None:
    """Make sure that a handout can lead to an address.

    Parameters
    ----------
    address : str
        Begins with ``https://`` or ``http://``.
    source : str
        How messages call the file that says it.

    Raises
    ------
    LessonError
        If it is no address of a web page, or too long to be read from paper.
    """
    if not address.startswith(("https://", "http://")) or any(map(str.isspace, address)):
        raise LessonError(
            f'"{address}" is not the address of a web page',
            file=source,
            remedy="begin it with https:// and leave out spaces",
        )
    if len(address) > MAX_ADDRESS_CHARS:
        raise LessonError(
            f"the address has {len(address)} characters, too many for a QR code on paper",
            file=source,
            remedy=f"use one of at most {MAX_ADDRESS_CHARS}",
        )
