"""What does a finished PDF look like? Its pages as pictures, drawn from the PDF itself.

Typst can place a page of a PDF in a document and draw that as PNG, so no other program is
needed and what is shown is what students get. Typst reads PDFs from files only.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from kit.errors import SetupError

__all__ = ["page_count", "page_png"]

_SOURCE = """\
#set page(width: auto, height: auto, margin: 0pt)
#image("sheet.pdf", page: {page})
"""
_PAST_THE_END = "does not exist"
_PROBE_PPI = 4.0


def page_png(pdf: bytes, page: int, *, ppi: float) -> bytes | None:
    """Draw a page.

    Parameters
    ----------
    pdf : bytes
        The PDF.
    page : int
        Counted from 1.
    ppi : float
        Pixels per inch.

    Returns
    -------
    bytes or None
        A PNG; None if the PDF has no such page.

    Raises
    ------
    SetupError
        If the installed Typst cannot draw PDFs.
    """
    import typst  # noqa: PLC0415 - a large library that only printing needs

    with tempfile.TemporaryDirectory(prefix="kit-pages-") as name:
        folder = Path(name)
        (folder / "sheet.pdf").write_bytes(pdf)
        main = folder / "main.typ"
        main.write_text(_SOURCE.format(page=page), encoding="utf-8")
        try:
            png: bytes = typst.compile(
                str(main), root=name, format="png", ppi=ppi, ignore_system_fonts=True
            )
        except typst.TypstError as error:
            if _PAST_THE_END in str(error):
                return None
            raise SetupError(
                f"the handout cannot be drawn: {str(error).splitlines()[0]}",
                remedy="install a newer typst with pip install --upgrade typst",
            ) from error
    return png


def page_count(pdf: bytes) -> int:
    """Count the pages of a PDF.

    Raises
    ------
    SetupError
        As `page_png`.
    """
    pages = 0
    while page_png(pdf, pages + 1, ppi=_PROBE_PPI) is not None:
        pages += 1
    return pages
