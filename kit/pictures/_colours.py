"""How do a picture's numbers become colours that every screen shows alike?

What a profile or a gamma says is worked into the pixels, as sRGB, and then forgotten: a
profile may carry texts, and players and pages take numbers without one as sRGB.

Sources: IEC 61966-2-1 (sRGB); PNG, third edition, section 12.1, for the order of iCCP, sRGB
and gAMA.
"""

from __future__ import annotations

import io

from PIL import Image, ImageCms

__all__ = ["in_eight_bits", "in_srgb", "without_hidden_colours"]

_SRGB_GAMMA = 1 / 2.2
_NEAR = 0.02
"""Gammas so close are written by different programs and mean the same."""

_MEANING = frozenset({"icc_profile", "gamma", "srgb"})


def in_eight_bits(picture: Image.Image) -> Image.Image:
    """Give the picture as 1, L, LA, RGB, RGBA or CMYK, or with a finished palette.

    What is clear becomes a channel, or a part of the palette.
    """
    clear = picture.info.get("transparency")
    if picture.mode.startswith("I"):
        return _from_sixteen_bits(picture, clear)
    if picture.mode == "P":
        return _with_clean_palette(picture)
    if clear is not None and picture.mode in ("1", "L", "RGB"):
        # A transparent grey of one bit counts in eight bits once converted.
        if picture.mode == "1":
            picture = picture.convert("L")
            picture.info["transparency"] = 255 if clear else 0
        return picture.convert("RGBA")
    return picture


def _with_clean_palette(picture: Image.Image) -> Image.Image:
    """Keep the colours that occur, treated as pixels are, under new numbers."""
    used = [number for number, count in enumerate(picture.histogram()) if count]
    row = Image.new("P", (len(used), 1))
    row.putpalette(picture.getpalette() or [])
    row.putdata(used)
    row.info = dict(picture.info)
    row = row.convert("RGBA" if "transparency" in row.info else "RGB")
    row.info.pop("transparency", None)
    row = without_hidden_colours(in_srgb(row))
    places = {number: place for place, number in enumerate(used)}
    picture = picture.point([places.get(number, 0) for number in range(256)])
    picture.putpalette(row.tobytes(), row.mode)
    picture.info = {}
    return picture


def _from_sixteen_bits(picture: Image.Image, clear: object) -> Image.Image:
    import numpy as np  # noqa: PLC0415 - slow, and such pictures are rare

    numbers = np.asarray(picture)
    grey = Image.fromarray((numbers >> 8).astype(np.uint8))
    grey.info = {
        name: picture.info[name] for name in picture.info if name != "transparency"
    }
    if clear is not None:
        grey.putalpha(Image.fromarray((numbers != clear).astype(np.uint8) * np.uint8(255)))
    return grey


def in_srgb(picture: Image.Image) -> Image.Image:
    """Work profile or gamma into the pixels; give a picture of 1, L, LA, RGB or RGBA."""
    profile = picture.info.get("icc_profile")
    gamma = picture.info.get("gamma")
    if profile:
        picture = _from_profile(picture, profile)
    elif gamma and "srgb" not in picture.info and abs(gamma - _SRGB_GAMMA) > _NEAR:
        picture = _from_gamma(picture, gamma)
    return picture.convert("RGB") if picture.mode == "CMYK" else picture


def _from_profile(picture: Image.Image, profile: bytes) -> Image.Image:
    mode = picture.mode
    if mode in ("1", "LA"):
        # The colour engine knows neither; a grey profile fits L, and alpha has no colour.
        return _with_alpha_of(picture, _from_profile(picture.convert("L"), profile))
    try:
        made = ImageCms.profileToProfile(
            picture,
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            outputMode="RGBA" if mode == "RGBA" else "RGB",
        )
    except (ImageCms.PyCMSError, OSError):
        # Browsers show a picture whose profile is damaged, or of another kind than its
        # numbers, as if it had none.
        return picture
    assert made is not None
    return made.convert("L") if mode == "L" else made


def _with_alpha_of(picture: Image.Image, colours: Image.Image) -> Image.Image:
    if picture.mode == "LA":
        colours.putalpha(picture.getchannel("A"))
    return colours


def _from_gamma(picture: Image.Image, gamma: float) -> Image.Image:
    exponent = _SRGB_GAMMA / max(gamma, 0.01)
    curve = [round(255 * (value / 255) ** exponent) for value in range(256)]
    if picture.mode == "1":
        return picture  # black and white are the same in every gamma
    bands = [
        band if name == "A" else band.point(curve)
        for name, band in zip(picture.getbands(), picture.split(), strict=True)
    ]
    return Image.merge(picture.mode, bands)


def without_hidden_colours(picture: Image.Image) -> Image.Image:
    """Blacken what nobody sees, for there may be what was cut out of the picture."""
    if picture.mode in ("LA", "RGBA"):
        hidden = picture.getchannel("A").point([255] + [0] * 255)
        if hidden.getbbox():
            picture.paste((0,) * len(picture.mode), mask=hidden)
    return picture
