"""The lesson's address as a square that a telephone reads.

Source: ISO/IEC 18004, as the library segno implements it; error correction level M, which
survives a crease or a coffee ring (15 % of the code), and the quiet zone of four modules.
"""

from __future__ import annotations

import io

from kit.errors import LessonError

__all__ = ["MAX_ADDRESS_CHARS", "qr_svg"]

MAX_ADDRESS_CHARS = 120
"""More would make modules too fine for paper at the size it is printed."""


def qr_svg(address: str, *, source: str) -> bytes:
    """Draw an address.

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
    import segno  # noqa: PLC0415 - only lessons with an address need it

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
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawn, kind="svg", xmldecl=False, border=4, scale=1, unit=None, omitsize=True
    )
    return drawn.getvalue()
