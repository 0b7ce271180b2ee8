"""Which pictures are taken, how large may they be, and what decoders are shown of them.

`Anatomy` is what a file says about itself, read without decoding a pixel: a picture that
would be too large is refused before it costs anything.
"""

from __future__ import annotations

from dataclasses import dataclass

from kit.errors import LessonError

__all__ = [
    "MAX_BYTES",
    "MAX_PIXELS",
    "MAX_SIDE",
    "PICTURE_TYPES",
    "Anatomy",
    "cut_short",
    "damaged",
    "require_size",
    "too_many_bytes",
]

PICTURE_TYPES = ("image/png", "image/jpeg")
MAX_BYTES = 10_000_000
"""A page with sound takes 15 MB."""
MAX_PIXELS = 16_000_000
"""4000 by 4000: finer than any screen, and cleaned within two seconds and 210 MB
(`tests/benchmarks/pictures.py`)."""
MAX_SIDE = 16_000
"""Browsers draw nothing that is longer (the usual limit of a texture is 16384)."""
_REMEDY = "open it in an image program and save it again"


@dataclass(frozen=True, slots=True)
class Anatomy:
    """The parts of a file that a decoder needs.

    Parameters
    ----------
    needed : bytes
        The file with its pixels, its colour profile and the way it was held, and nothing
        else.
    tail : bytes
        What follows the end of the picture.
    """

    needed: bytes
    tail: bytes


def require_size(width: int, height: int) -> None:
    """Make sure that a picture of `width` by `height` pixels can be decoded cheaply.

    Raises
    ------
    LessonError
        If it is too large, or has no extent.
    """
    if width < 1 or height < 1:
        raise damaged()
    if width > MAX_SIDE or height > MAX_SIDE or width * height > MAX_PIXELS:
        raise LessonError(
            f"the picture measures {width} by {height} pixels, and the most is "
            f"{MAX_PIXELS // 1_000_000} million, {MAX_SIDE} on a side",
            remedy="save it smaller",
        )


def too_many_bytes(most: int) -> LessonError:
    """Say that a file is larger than it may be."""
    return LessonError(
        f"the picture is larger than {most / 1_000_000:g} MB", remedy="save it smaller"
    )


def damaged() -> LessonError:
    """Say that a picture cannot be decoded."""
    return LessonError("the picture is damaged and cannot be read", remedy=_REMEDY)


def cut_short() -> LessonError:
    """Say that a picture's end is missing."""
    return LessonError("the picture is cut short", remedy=_REMEDY)
