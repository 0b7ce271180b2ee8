"""A picture from outside, drawn again: the same pixels, upright, in sRGB, and nothing else.

Whatever goes to a page, a handout or a player goes through `clean_picture` first. A file
says more than it shows: where and when a photo was taken and by whom, a thumbnail of what
was cut off, comments, a colour profile's texts, other files behind its end. Decoding it and
packing the pixels anew leaves all of that behind, whatever it is called.

Only the decoders of PNG and JPEG are ever used, and of the file only what they need is
shown to them (`kit.pictures._png`, `kit.pictures._jpeg`), once its size is known to be fit.
"""

from __future__ import annotations

import base64
import binascii
import io
import struct
import warnings
import zlib
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from PIL import Image, JpegImagePlugin, PngImagePlugin

from kit.errors import LessonError
from kit.pictures._colours import in_eight_bits, in_srgb, without_hidden_colours
from kit.pictures._jpeg import JPEG_SIGNATURE, jpeg_anatomy
from kit.pictures._kinds import TYPE_NAMES, kind_of, other_file_in
from kit.pictures._png import PNG_SIGNATURE, png_anatomy
from kit.pictures.limits import MAX_BYTES, PICTURE_TYPES, Anatomy, damaged, too_many_bytes

__all__ = ["CleanPicture", "clean_notebook_picture", "clean_picture"]

_ORIENTATION = 0x0112
_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What puts a picture upright, by its Exif orientation (CIPA DC-008, tag 274)."""
_JPEG_QUALITY = 90
_PNG_LEVEL = 4
"""Of packing: level 6 saves 3 per cent and takes up to four times as long."""
# What decoders are known to raise when a file is not what it should be.
_FAULTS = (
    OSError, SyntaxError, ValueError, TypeError, LookupError, ArithmeticError, EOFError,
    AttributeError, struct.error, zlib.error, Image.DecompressionBombError,
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CleanPicture:
    """A picture that holds its pixels and nothing else.

    Parameters
    ----------
    data : bytes
        A PNG or JPEG, the same for the same source.
    mime : str
        ``image/png`` or ``image/jpeg``.
    width, height : int
        In pixels, as it is shown.
    """

    data: bytes
    mime: str
    width: int
    height: int

    @property
    def base64(self) -> str:
        """The picture as text, for an address of its own."""
        return base64.b64encode(self.data).decode("ascii")


def clean_picture(
    data: bytes,
    place: str,
    *,
    types: Collection[str] = PICTURE_TYPES,
    max_bytes: int = MAX_BYTES,
) -> CleanPicture:
    """Draw a picture again, so that nothing is left of its file but what it shows.

    Parameters
    ----------
    data : bytes
        The file.
    place : str
        Where it stands, as messages call it: a file, or a file and a cell.
    types : collection of str
        Which MIME types it may be of: where it says what it is, only that one.
    max_bytes : int
        How large the file may be.

    Raises
    ------
    LessonError
        If it is no such picture, damaged, or too large in bytes or pixels.

    Examples
    --------
    >>> clean_picture(b"GIF89a", "blue-lamps/cover.png")
    Traceback (most recent call last):
    ...
    kit.errors.LessonError: blue-lamps/cover.png: the picture is GIF, not PNG or JPEG; \
save it as PNG.
    """
    if len(data) > max_bytes:
        raise too_many_bytes(max_bytes).within(file=place)
    try:
        return _clean(bytes(data), tuple(sorted(types)))
    except LessonError as error:
        raise error.within(file=place)  # noqa: B904 - the same error, with its place


def clean_notebook_picture(
    text: str, place: str, *, mime: str, max_bytes: int = MAX_BYTES
) -> CleanPicture:
    """Draw a picture again that a notebook holds as base64 of a type it names.

    Raises
    ------
    LessonError
        As `clean_picture`, or if the text is not base64.
    """
    if len(text) > 2 * max_bytes:  # base64 takes four thirds, and lines may be broken
        raise too_many_bytes(max_bytes).within(file=place)
    try:
        data = base64.b64decode("".join(text.split()), validate=True)
    except (binascii.Error, ValueError) as error:
        raise LessonError(
            "the picture is not written in base64",
            file=place,
            remedy="run the cell again",
        ) from error
    return clean_picture(data, place, types=(mime,), max_bytes=max_bytes)


@lru_cache(maxsize=128)  # each job of a build reads the notebook
def _clean(data: bytes, types: tuple[str, ...]) -> CleanPicture:
    _require_type(data, types)
    anatomy = (png_anatomy if data.startswith(PNG_SIGNATURE) else jpeg_anatomy)(data)
    other = other_file_in(data, anatomy.tail)
    if other:
        raise LessonError(
            f"the file is a picture and {other} at once",
            remedy="open it in an image program and save it again",
        )
    try:
        with warnings.catch_warnings():
            # About what is left behind anyway, such as places in Exif that lead nowhere.
            warnings.simplefilter("ignore")
            return _drawn(anatomy)
    except _FAULTS as error:
        raise damaged() from error


def _require_type(data: bytes, types: tuple[str, ...]) -> None:
    wanted = [TYPE_NAMES[mime] for mime in PICTURE_TYPES if mime in types]
    kind = kind_of(data)
    if kind in wanted:
        return
    names = " or ".join(wanted)
    found = f"the picture is {kind}, not {names}" if kind else f"this is no {names} picture"
    raise LessonError(found, remedy=f"save it as {wanted[0]}")


def _drawn(anatomy: Anatomy) -> CleanPicture:
    packed = io.BytesIO(anatomy.needed)
    picture: Image.Image
    options: dict[str, Any] = {}
    if anatomy.needed.startswith(JPEG_SIGNATURE):
        picture = JpegImagePlugin.JpegImageFile(packed)
        picture.load()
        # As fine in colour as it was; -1 stands for a picture that says nothing about it.
        subsampling = max(JpegImagePlugin.get_sampling(picture), 0)
        options = {"quality": _JPEG_QUALITY, "subsampling": subsampling, "optimize": True}
        form = "JPEG"
    else:
        picture = PngImagePlugin.PngImageFile(packed)
        picture.load()
        options, form = {"compress_level": _PNG_LEVEL}, "PNG"
    turned = _UPRIGHT.get(_orientation(picture))
    # Each step lets go of the picture before it, so that two are the most there are.
    for step in (in_eight_bits, in_srgb, without_hidden_colours):
        picture = step(picture)
    if turned is not None:
        picture = picture.transpose(turned)
    # Savers write what they find here.
    picture.info = {}
    made = io.BytesIO()
    picture.save(made, form, **options)
    mime = f"image/{form.lower()}"
    return CleanPicture(made.getvalue(), mime, picture.width, picture.height)


def _orientation(source: Image.Image) -> int:
    try:
        return int(source.getexif().get(_ORIENTATION, 1))
    except _FAULTS:
        # Exif that cannot be read says nothing; the picture may be whole.
        return 1
