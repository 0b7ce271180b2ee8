"""How do cue cards, still pictures and video screens get set?

Typst again, as for the handouts (`kit.publish._press`), with templates of its own: PDF that
claims PDF/UA-1, or pictures in pixels. No date is written, and the machine's fonts are
asked only where a lesson's words need a sign that Typst's own fonts lack.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from kit.publish._press import as_read, forget_pages, is_about_signs, refusal

__all__ = ["press_pictures", "press_tagged_pdf"]

_PIXELS_PER_INCH = 72
"""One Typst point is one pixel."""


def press_tagged_pdf(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes]
) -> bytes:
    """Set a template of ``kit/publish/templates`` as a tagged PDF.

    Parameters
    ----------
    template : str
        Its file name.
    data : mapping
        What the template reads as ``data.json``.
    pictures : mapping of str to bytes
        Files that the data name.

    Raises
    ------
    LessonError
        If no font on this machine has a sign that the lesson uses.
    SetupError
        If Typst refuses for another reason.
    """
    (pdf,) = _set(template, data, pictures, "pdf")
    return pdf


def press_pictures(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes]
) -> list[bytes]:
    """Set a template as PNG, one for each page, a pixel for each point.

    Parameters and errors are those of `press_tagged_pdf`.
    """
    return _set(template, data, pictures, "png")


def _set(
    template: str,
    data: Mapping[str, Any],
    pictures: Mapping[str, bytes],
    kind: Literal["pdf", "png"],
) -> list[bytes]:
    import typst  # noqa: PLC0415 - a large library that only setting needs

    sources = {
        "main.typ": _template(template),
        "data.json": as_read(data),
        **pictures,
    }
    options: dict[str, Any] = (
        {"pdf_standards": ["ua-1"]} if kind == "pdf" else {"ppi": _PIXELS_PER_INCH}
    )
    try:
        made: Any = typst.compile(
            sources,
            format=kind,
            ignore_system_fonts=_own_fonts_suffice(sources),
            **options,
        )
    except typst.TypstError as error:
        raise refusal(error, template) from error
    forget_pages()
    return list(made) if isinstance(made, list) else [made]


def _own_fonts_suffice(sources: Mapping[str, bytes]) -> bool:
    """Ask Typst whether its own fonts have every sign; only UA-1 makes it say so."""
    import typst  # noqa: PLC0415 - as above

    try:
        typst.compile(  # type: ignore[call-overload]  # as above
            sources, ignore_system_fonts=True, pdf_standards=["ua-1"]
        )
    except typst.TypstError as error:
        return not is_about_signs(error)
    return True


@cache
def _template(name: str) -> bytes:
    return files("kit.publish").joinpath("templates", name).read_bytes()
