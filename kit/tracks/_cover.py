"""What does a music player show of a lesson that has no picture of its own?

A square with the tune's name, who made it, the school, and the form as a strip of sections:
set by Typst, whose own fonts every installation has. A sign that they lack is left to the
machine's fonts. It holds nothing that the public page does not say.

Source: 500 pixels are what players show at most on a telephone (common practice).
"""

from __future__ import annotations

import io
import json
from functools import lru_cache
from importlib.resources import files
from typing import Any

from kit.cache import code_fingerprint, default_cache, fingerprint
from kit.errors import SetupError
from kit.lesson.lesson import Lesson

__all__ = ["drawn_cover"]

_PNG = b"\x89PNG\r\n\x1a\n"
_SIDE_PIXELS = 500
_COLOURS = 32
_POINTS = 250
"""Side of the page of the template."""


def drawn_cover(lesson: Lesson) -> bytes:
    """Draw a lesson's cover as PNG; the same words give the same bytes.

    Raises
    ------
    SetupError
        If Typst refuses.
    """
    settings = lesson.settings
    said = {
        "title": settings.title,
        "composer": settings.composer,
        "school": settings.school,
        "form": [section.label for section in lesson.form.sections],
    }
    return _cover(json.dumps(said, sort_keys=True))


@lru_cache(maxsize=8)
def _cover(said: str) -> bytes:
    key = fingerprint("cover", code_fingerprint("tracks"), said)
    return default_cache().parsed_through(key, lambda: _set(said), _png)


def _png(entry: bytes) -> bytes:
    if not entry.startswith(_PNG):
        raise ValueError("this is no picture")
    return entry


def _set(said: str) -> bytes:
    import typst  # noqa: PLC0415 - large libraries that only setting needs
    from PIL import Image  # noqa: PLC0415

    sources = {
        "main.typ": files("kit.tracks").joinpath("cover.typ").read_bytes(),
        "data.json": said.encode(),
    }
    try:
        made: Any = typst.compile(  # type: ignore[call-overload]  # files in memory
            sources, format="png", ppi=72 * _SIDE_PIXELS / _POINTS
        )
    except typst.TypstError as error:
        raise SetupError(
            f"Typst does not set the cover: {error}", remedy="install typst 0.15 or newer"
        ) from error
    picture = Image.open(io.BytesIO(made[0] if isinstance(made, list) else made))
    content = io.BytesIO()
    # Few colours are enough for letters on paper, and each file carries the picture.
    picture.convert("RGB").quantize(_COLOURS).save(content, "PNG", optimize=True)
    return content.getvalue()
