"""The lesson's address as a square that a telephone reads.

Source: ISO/IEC 18004, as the library segno implements it; error correction level M, which
survives a crease or a coffee ring (15 % of the code), and the quiet zone of four modules.
"""

from __future__ import annotations

import io

from kit.lesson.address import require_address

__all__ = ["qr_svg"]


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

    linked = require_address(address, source=source)
    drawn = io.BytesIO()
    segno.make(linked, error="m", micro=False).save(
        drawn, kind="svg", xmldecl=False, border=4, scale=1, unit=None, omitsize=True
    )
    return drawn.getvalue()
