"""How does a template with its data become a PDF?

Typst sets everything in memory. Only the fonts inside Typst are used (the engraver draws
its own signs), and no date is written, so the same lesson gives the same bytes on every
machine. Where a lesson's own words need a sign that those fonts lack (another script, an
emoji), the machine's fonts are asked too; then the bytes depend on them.

Sources: PDF/UA-1 (ISO 14289-1:2014), as checked by Typst itself.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from kit.engrave.printed_signs import REPLACED
from kit.errors import LessonError, SetupError

__all__ = ["as_read", "forget_pages", "is_about_signs", "press_pdf", "refusal"]

TEXT_SCALES = (1.0, 0.98, 0.96, 0.94, 0.92, 1.03, 1.06, 1.09)
"""Text sizes to try, as shares of the template's own: save a thin page, or else fill it."""
THIN_PAGE = 0.2
"""A last page filled to less than this share of its height is not worth its paper."""
_TEMPLATES = ("handout.typ", "prose.typ")
_FORGETTING_CALLS = 4
"""Typst keeps what it computed for its last ten calls (measured in 0.15): with so many
empty pages after each handout a worker keeps 75 MB less, for a twentieth of the time."""
_NO_GLYPH = re.compile(
    r'(the text `"(?P<text>.*?)"` could not be displayed)'
    r"|missing codepoints|disallowed codepoint"
)
"""In the words of Typst: `kit.check` asks beforehand, and can say where the sign stands."""


@cache
def _templates() -> dict[str, bytes]:
    folder = files("kit.publish").joinpath("templates")
    return {name: folder.joinpath(name).read_bytes() for name in _TEMPLATES}


def press_pdf(
    data: Mapping[str, Any],
    attachments: Mapping[str, bytes],
    *,
    template: str = "handout.typ",
) -> bytes:
    """Set a template with its data.

    The text is set a little smaller where that saves a last page of a few lines, or a
    little larger where only that fills it.

    Parameters
    ----------
    data : mapping
        What the template reads as ``handout.json``: JSON values only.
    attachments : mapping of str to bytes
        Pictures and files that the data name.
    template : str
        A file of ``kit/publish/templates``.

    Returns
    -------
    bytes
        A tagged PDF that claims PDF/UA-1.

    Raises
    ------
    LessonError
        If no font on this machine has a sign that the lesson uses.
    SetupError
        If Typst refuses for another reason.
    """
    try:
        return _set(data, attachments, template, ignore_system_fonts=True)
    except _typst_error() as error:
        if not is_about_signs(error):
            raise refusal(error, "the handout") from error
    try:
        return _set(data, attachments, template, ignore_system_fonts=False)
    except _typst_error() as error:
        raise refusal(error, "the handout") from error


def forget_pages() -> None:
    """Let Typst forget most of what it has set, for which it has no call."""
    import typst  # noqa: PLC0415 - a large library that only printing needs

    for _ in range(_FORGETTING_CALLS):
        typst.compile(b".", ignore_system_fonts=True)


def _set(
    data: Mapping[str, Any],
    attachments: Mapping[str, bytes],
    template: str,
    *,
    ignore_system_fonts: bool,
) -> bytes:
    import typst  # noqa: PLC0415 - as above

    sources = _well_filled(data, attachments, template, ignore_system_fonts)
    pdf: bytes = typst.compile(  # type: ignore[call-overload]  # files in memory are untyped
        sources, ignore_system_fonts=ignore_system_fonts, pdf_standards=["ua-1"]
    )
    forget_pages()
    return pdf


def _well_filled(
    data: Mapping[str, Any],
    attachments: Mapping[str, bytes],
    template: str,
    ignore_system_fonts: bool,
) -> dict[str, bytes]:
    """Choose the first size that leaves no thin last page, or else the usual one."""
    layouts = [_sources(data, attachments, template, scale) for scale in TEXT_SCALES]
    for layout in layouts:
        end = _end(layout, ignore_system_fonts)
        if end["pages"] == 1 or end["filled"] >= THIN_PAGE:
            return layout
    return layouts[0]


def _sources(
    data: Mapping[str, Any], attachments: Mapping[str, bytes], template: str, scale: float
) -> dict[str, bytes]:
    """Put the files together that Typst reads, all of them in memory."""
    templates = _templates()
    return {
        "handout.json": as_read({**data, "text_scale": scale}),
        **templates,
        **attachments,
        "main.typ": templates[template],
    }


def as_read(data: Mapping[str, Any]) -> bytes:
    """Write data as a template reads them, signs that no font has written otherwise."""
    text = json.dumps(data, ensure_ascii=False, sort_keys=True)
    return text.translate(REPLACED).encode()


def _end(sources: Mapping[str, bytes], ignore_system_fonts: bool) -> dict[str, Any]:
    """Ask where the text ends: number of pages, and how far down the last one."""
    import typst  # noqa: PLC0415 - as above

    answer = typst.query(  # type: ignore[type-var]  # as above
        sources, "<end>", field="value", one=True, ignore_system_fonts=ignore_system_fonts
    )
    end: dict[str, Any] = json.loads(answer)
    return end


def _typst_error() -> type[Exception]:
    import typst  # noqa: PLC0415 - as above

    error: type[Exception] = typst.TypstError
    return error


def is_about_signs(error: Exception) -> bool:
    """Say whether Typst refuses a text because of its signs."""
    return _NO_GLYPH.search(str(error)) is not None


def refusal(error: Exception, what: str) -> LessonError | SetupError:
    """Turn what Typst says into our own error about `what` could not be set."""
    match = _NO_GLYPH.search(str(error))
    if match is None:
        return SetupError(f"{what} could not be set: {str(error).splitlines()[0]}")
    what = f'"{match["text"]}"' if match["text"] else "a sign in the words of the lesson"
    return LessonError(
        f"no font on this machine can print {what}",
        remedy="write it with other signs, or install a font that has them",
    )
