"""Of a picture from outside nothing is left but what it shows."""

from __future__ import annotations

import base64
import io
import struct
import zlib

import numpy as np
import planted
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, JpegImagePlugin, PngImagePlugin

from kit.errors import LessonError
from kit.pictures.clean import CleanPicture, clean_notebook_picture, clean_picture

HERE = "blue-lamps/lesson.ipynb, cell 3"
PLANTED = list(planted.planted())
CORNERS = {"left": (2, 2), "right": (-3, 2), "below": (2, -3), "across": (-3, -3)}


def opened(picture: CleanPicture) -> Image.Image:
    shown = Image.open(io.BytesIO(picture.data))
    shown.load()
    assert shown.size == (picture.width, picture.height)
    assert shown.get_format_mimetype() == picture.mime
    return shown


def corners(picture: Image.Image) -> list[tuple[int, ...]]:
    width, height = picture.size
    return [
        picture.convert("RGB").getpixel((x % width, y % height))
        for x, y in CORNERS.values()
    ]


def near(one: list[tuple[int, ...]], other: list[tuple[int, ...]], by: int = 6) -> bool:
    return np.abs(np.subtract(one, other)).max() <= by


def everything_in(data: bytes) -> bytes:
    """Give a picture's bytes, and once more all that is packed in them."""
    plugin = PngImagePlugin.PngImageFile
    if data.startswith(b"\xff"):
        plugin = JpegImagePlugin.JpegImageFile
    shown = plugin(io.BytesIO(data))
    bands = [shown.getchannel(band).tobytes() for band in shown.getbands()]
    colours = bytes(shown.getpalette() or ())
    facts = [
        value if isinstance(value, bytes) else str(value).encode()
        for value in shown.info.values()
    ]
    return b"\n".join([data, shown.tobytes(), *bands, colours, *facts])


@pytest.mark.parametrize(("where", "mime", "data"), PLANTED, ids=[p[0] for p in PLANTED])
def test_a_planted_picture_has_its_secret_before(where, mime, data):
    found = everything_in(data)
    if "tIME" in where:
        assert struct.pack(">HBBBBB", 2019, 7, 23, 4, 5, 6) in found
    elif "transparency" in where:
        under = opened(CleanPicture(data, mime, *planted.SIZE)).getchannel("R").tobytes()
        assert planted.SECRET.encode() in under
    else:
        assert [trace for trace in planted.traces() if trace in found]


@pytest.mark.parametrize(("where", "mime", "data"), PLANTED, ids=[p[0] for p in PLANTED])
def test_nothing_is_left_but_the_picture(where, mime, data):
    made = clean_picture(data, HERE)
    assert made.mime == mime
    assert not [trace for trace in planted.traces() if trace in everything_in(made.data)]
    if "transparency" not in where and "palette" not in where:
        assert near(corners(opened(made)), corners(planted.dots()))


def chunks(data: bytes) -> list[bytes]:
    names, place = [], 8
    while place < len(data):
        (length,) = struct.unpack_from(">I", data, place)
        names.append(data[place + 4 : place + 8])
        place += 12 + length
    return names


def segments(data: bytes) -> list[int]:
    markers, place = [], 2
    while data[place + 1] != 0xDA:
        markers.append(data[place + 1])
        place += 2 + struct.unpack_from(">H", data, place + 2)[0]
    return markers


@pytest.mark.parametrize(("where", "mime", "data"), PLANTED, ids=[p[0] for p in PLANTED])
def test_a_clean_file_has_no_place_for_more(where, mime, data):
    made = clean_picture(data, HERE).data
    if mime == "image/png":
        assert set(chunks(made)) <= {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"}
        assert made.endswith(b"IEND\xaeB`\x82")
    else:
        assert [m for m in segments(made) if 0xE0 <= m <= 0xEF or m == 0xFE] == [0xE0]
        assert made[:20] == b"\xff\xd8\xff\xe0\0\x10JFIF\0\1\1\0\0\1\0\1\0\0"
        assert made.endswith(b"\xff\xd9")


def test_the_same_file_gives_the_same_bytes_and_a_clean_one_stays():
    for _, _, data in PLANTED:
        once = clean_picture(data, HERE)
        assert clean_picture(bytearray(data), "elsewhere") == once
        if once.mime == "image/png":
            assert clean_picture(once.data, HERE) == once


TURNS = {
    1: "left right below across", 2: "right left across below",
    3: "across below right left", 4: "below across left right",
    5: "left below right across", 6: "below left across right",
    7: "across right below left", 8: "right across left below",
}  # fmt: skip


@pytest.mark.parametrize("orientation", TURNS)
@pytest.mark.parametrize("form", ["png", "jpeg"])
def test_a_picture_held_askew_is_shown_upright(orientation, form):
    """The corner that Exif says is first comes first (CIPA DC-008, tag 274)."""
    data = planted.exif(orientation)
    askew = (
        planted.png_with(planted.chunk(b"eXIf", data))
        if form == "png"
        else planted.jpeg_with(planted.segment(0xE1, b"Exif\0\0" + data))
    )
    shown = opened(clean_picture(askew, HERE))
    assert (shown.width > shown.height) == (orientation <= 4)
    plain = dict(zip(CORNERS, corners(planted.dots()), strict=True))
    assert near(corners(shown), [plain[name] for name in TURNS[orientation].split()])


def other_profile(*, kind: str = "RGB") -> bytes:
    """Give a profile in which the three colours are not those of sRGB."""
    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    if kind != "RGB":
        return bytes(made).replace(b"RGB XYZ", f"{kind:4}XYZ".encode(), 1)
    # Red and green change places: whoever reads the profile sees red as green.
    red, green = made.find(b"rXYZ"), made.find(b"gXYZ")
    places = made[red + 4 : red + 12], made[green + 4 : green + 12]
    made[red + 4 : red + 12], made[green + 4 : green + 12] = places[1], places[0]
    return bytes(made)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "P"])
def test_a_profile_is_worked_into_the_pixels(mode):
    made = clean_picture(planted.png(planted.dots(mode), icc_profile=other_profile()), HERE)
    red, green, blue, white = corners(planted.dots())
    assert near(corners(opened(made)), [green, red, blue, white], by=3)
    assert "icc_profile" not in opened(made).info


def test_a_profile_of_a_jpeg_is_worked_into_the_pixels():
    made = clean_picture(planted.jpeg(icc_profile=other_profile()), HERE)
    red, green, blue, white = corners(planted.dots())
    assert near(corners(opened(made)), [green, red, blue, white], by=8)


@pytest.mark.parametrize(
    "profile", [b"no profile", b"", other_profile(kind="CMYK"), other_profile()[:200]]
)
@pytest.mark.parametrize("mode", ["1", "L", "LA", "RGB", "RGBA", "P"])
def test_a_profile_that_does_not_fit_counts_as_none(profile, mode):
    made = clean_picture(planted.png(planted.dots(mode), icc_profile=profile), HERE)
    plain = corners(planted.dots(mode).convert("RGB"))
    assert near(corners(opened(made)), plain, by=1)


def test_a_gamma_is_worked_into_the_pixels():
    """A linear half is a light grey in sRGB (PNG, section 13.13, with exponent 1 / 2.2)."""
    half = Image.new("L", (4, 4), 128)
    linear = planted.png_with(
        planted.chunk(b"gAMA", struct.pack(">I", 100_000)), picture=planted.png(half)
    )
    assert opened(clean_picture(linear, HERE)).getpixel((1, 1)) == 186
    usual = planted.png_with(
        planted.chunk(b"gAMA", struct.pack(">I", 45_455)), picture=planted.png(half)
    )
    assert opened(clean_picture(usual, HERE)).getpixel((1, 1)) == 128


def test_sixteen_bits_become_eight():
    numbers = np.arange(0, 65536, 256, dtype=np.uint16).reshape(16, 16) + 7
    deep = planted.png(Image.fromarray(numbers))
    assert np.array_equal(np.asarray(opened(clean_picture(deep, HERE))), numbers >> 8)
    clear = planted.png(Image.fromarray(numbers), transparency=int(numbers[0, 3]))
    shown = opened(clean_picture(clear, HERE))
    assert shown.mode == "LA"
    assert (np.asarray(shown)[..., 1] == 0).sum() == 1
    assert shown.getpixel((3, 0))[1] == 0


def test_sixteen_bits_of_colour_become_eight():
    """Written by hand: one dot of red, green and blue in 16 bits each."""
    head = planted.chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 16, 2, 0, 0, 0))
    dot = zlib.compress(b"\0" + struct.pack(">HHH", 0xFF00, 0x80FF, 0x0102))
    deep = b"\x89PNG\r\n\x1a\n" + head
    deep += planted.chunk(b"IDAT", dot) + planted.chunk(b"IEND", b"")
    assert opened(clean_picture(deep, HERE)).getpixel((0, 0)) == (0xFF, 0x80, 0x01)


@pytest.mark.parametrize("mode", ["1", "L", "RGB", "P"])
def test_what_was_transparent_stays_so(mode):
    picture = planted.dots(mode)
    colour = picture.getpixel((2, 2))
    if mode == "1":
        colour = 1
    made = clean_picture(planted.png(picture, transparency=colour), HERE)
    alpha = np.asarray(opened(made).convert("RGBA"))[..., 3]
    clear = np.asarray(picture.convert("RGB")) == np.asarray(
        Image.new(mode, (1, 1), colour).convert("RGB")
        if mode != "P"
        else np.array([[[255, 0, 0]]])
    )
    assert np.array_equal(alpha == 0, clear.all(axis=-1))
    assert 0 < (alpha == 0).sum() < alpha.size


def test_a_palette_keeps_only_the_colours_that_occur():
    picture = planted.dots("RGB").quantize(4).resize((64, 64))
    colours = picture.getpalette()[:12] + [9, 9, 9] * 200
    picture.putpalette(colours)
    packed = planted.png(picture, transparency=bytes([0, 128, 255, 255] + 200 * [7]))
    made = clean_picture(packed, HERE)
    assert len(made.data) < 250
    shown = opened(made)
    assert shown.mode == "P"
    assert not any(shown.getpalette()[12:])
    wanted = np.array(Image.open(io.BytesIO(packed)).convert("RGBA"))
    wanted[wanted[..., 3] == 0] = 0
    assert np.array_equal(np.asarray(shown.convert("RGBA")), wanted)


def test_half_transparent_colours_are_kept_to_the_bit():
    picture = planted.dots("RGBA")
    picture.putalpha(Image.linear_gradient("L").resize(planted.SIZE))
    shown = np.asarray(opened(clean_picture(planted.png(picture), HERE)))
    seen = shown[..., 3] > 0
    assert np.array_equal(shown[seen], np.asarray(picture)[seen])


@pytest.mark.parametrize("mode", ["L", "RGB", "CMYK"])
def test_a_jpeg_stays_one_and_looks_the_same(mode):
    picture = planted.dots(mode)
    made = clean_picture(planted.jpeg(picture), HERE)
    assert made.mime == "image/jpeg"
    assert opened(made).mode == ("L" if mode == "L" else "RGB")
    assert near(corners(opened(made)), corners(picture), by=8)


def test_of_an_animation_the_picture_is_kept_that_every_viewer_shows():
    frames = [Image.new("RGB", (8, 8), shade) for shade in ("red", "blue")]
    packed = io.BytesIO()
    frames[0].save(packed, "PNG", save_all=True, append_images=frames[1:])
    assert b"acTL" in packed.getvalue()
    shown = opened(clean_picture(packed.getvalue(), HERE))
    assert shown.getpixel((4, 4)) == (255, 0, 0)
    assert not getattr(shown, "is_animated", False)


def head_only(width: int, height: int) -> bytes:
    """Give a PNG that promises a size and holds next to nothing."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = planted.chunk(b"IDAT", zlib.compress(bytes(1000)))
    return (
        b"\x89PNG\r\n\x1a\n"
        + planted.chunk(b"IHDR", head)
        + pixels
        + planted.chunk(b"IEND", b"")
    )


def jpeg_of(width: int, height: int) -> bytes:
    data = bytearray(planted.jpeg())
    frame = data.find(b"\xff\xc0")
    struct.pack_into(">HH", data, frame + 5, height, width)
    return bytes(data)


SVG = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
REFUSED = {
    "nothing": (b"", "this is no PNG or JPEG picture"),
    "words": (b"a note for myself", "this is no PNG or JPEG picture"),
    "SVG": (SVG, "the picture is SVG, not PNG or JPEG"),
    "SVG with a head": (b"\n<?xml version='1.0'?>" + SVG, "is SVG, not PNG"),
    "HTML": (b"<!DOCTYPE html><p>", "is HTML, not PNG"),
    "GIF": (b"GIF89a" + bytes(20), "is GIF, not PNG"),
    "BMP": (b"BM" + bytes(60), "is BMP, not PNG"),
    "TIFF": (b"II*\0" + bytes(60), "is TIFF, not PNG"),
    "WebP": (b"RIFF\x10\0\0\0WEBPVP8 ", "is WebP, not PNG"),
    "AVIF": (b"\0\0\0\x20ftypavif", "is AVIF, not PNG"),
    "HEIC": (b"\0\0\0\x20ftypheic", "is HEIC, not PNG"),
    "PDF": (b"%PDF-1.7\n", "is PDF, not PNG"),
    "signature only": (b"\x89PNG\r\n\x1a\n", "is cut short"),
    "half a PNG": (planted.png()[:60], "is cut short"),
    "half a JPEG": (planted.jpeg()[:300], "is cut short"),
    "JPEG without its end": (planted.jpeg()[:-2], "is cut short"),
    "PNG without pixels": (planted.png()[:33] + planted.png()[-12:], "is damaged"),
    "JPEG without pixels": (b"\xff\xd8\xff\xd9", "is damaged"),
    "wrong checksum": (
        planted.png()[:29] + b"\0\0\0\0" + planted.png()[33:], "is damaged",
    ),
    "a bomb of pixels": (head_only(60_000, 60_000), "measures 60000 by 60000 pixels"),
    "a ribbon": (head_only(900_000, 1), "measures 900000 by 1 pixels"),
    "no extent": (head_only(0, 4), "is damaged"),
    "a JPEG bomb": (jpeg_of(65_500, 65_500), "measures 65500 by 65500 pixels"),
    "a JPEG of no height": (jpeg_of(40, 0), "is damaged"),
    "two frames": (
        planted.jpeg_with(planted.segment(0xC0, b"\x08\xff\xff\xff\xff\1\1\x11\0")),
        "measures 65535 by 65535",
    ),
    "endless scans": (
        planted.jpeg()[:-2] + 60 * planted.segment(0xDA, b"\1\1\0\0\x3f\0") + b"\xff\xd9",
        "more than 40 scans",
    ),
    "endless chunks": (
        planted.png_with(planted.chunk(b"IDAT", b"") * 60_000), "more than 50000 pieces",
    ),
    "an archive behind it": (
        planted.png() + planted.archive(), "a picture and a ZIP archive at once",
    ),
    "an archive inside": (
        planted.jpeg_with(planted.segment(0xFE, planted.archive())), "ZIP archive at once",
    ),
    "a document inside": (
        planted.jpeg_with(planted.segment(0xFE, b"%PDF-1.4 .")), "and a PDF at once",
    ),
    "a page behind it": (planted.jpeg() + b"<html><script>", "and an HTML page at once"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_fit_picture_is_one_sentence_with_its_place(name):
    data, words = REFUSED[name]
    with pytest.raises(LessonError) as caught:
        clean_picture(data, HERE)
    sentence = str(caught.value)
    assert sentence.startswith(f"{HERE}: ")
    assert words in sentence
    assert sentence.endswith(".")
    assert len(sentence) <= 500
    assert "\n" not in sentence


def test_a_file_is_refused_by_its_size_before_it_is_looked_at():
    with pytest.raises(LessonError, match=r"larger than 10 MB; save it smaller"):
        clean_picture(bytes(10_000_001), HERE)
    with pytest.raises(LessonError, match=r"larger than 0.001 MB"):
        clean_picture(planted.png() + bytes(1000), HERE, max_bytes=1000)


@pytest.mark.parametrize("said", ["image/png", "image/jpeg"])
def test_a_notebook_may_not_call_a_picture_what_it_is_not(said):
    true, false = planted.png(), planted.jpeg()
    if said == "image/jpeg":
        true, false = false, true
    text = base64.encodebytes(true).decode()  # with line ends, as notebooks have it
    assert clean_notebook_picture(text, HERE, mime=said).mime == said
    with pytest.raises(LessonError, match=r"cell 3: the picture is \w+, not \w+;"):
        clean_notebook_picture(base64.b64encode(false).decode(), HERE, mime=said)


@pytest.mark.parametrize("text", ["not base64!", "AAA", "é", "=" * 8])
def test_what_is_not_base64_is_a_sentence(text):
    with pytest.raises(LessonError, match=r"cell 3: the picture is not written in base64"):
        clean_notebook_picture(text, HERE, mime="image/png")


def test_endless_base64_is_not_decoded():
    with pytest.raises(LessonError, match="larger than 10 MB"):
        clean_notebook_picture("A" * 30_000_000, HERE, mime="image/png")


def sentence_or_picture(data: bytes) -> None:
    """Clean a picture; whatever is raised but a sentence of ours fails the test."""
    sentence = ""
    try:
        opened(clean_picture(data, HERE))
    except LessonError as error:
        sentence = str(error)
    assert not sentence or sentence.startswith(f"{HERE}: ")
    assert len(sentence) <= 500


FILES = st.sampled_from([data for _, _, data in PLANTED])


@given(FILES, st.data())
def test_a_file_cut_anywhere_is_a_sentence_or_a_picture(data, draw):
    sentence_or_picture(data[: draw.draw(st.integers(0, len(data)))])


@given(FILES, st.data())
def test_a_damaged_file_is_a_sentence_or_a_picture(data, draw):
    damaged = bytearray(data)
    for _ in range(draw.draw(st.integers(1, 12))):
        damaged[draw.draw(st.integers(0, len(data) - 1))] = draw.draw(st.integers(0, 255))
    sentence_or_picture(bytes(damaged))


@given(st.sampled_from([p for _, mime, p in PLANTED if mime == "image/png"]), st.data())
def test_damage_behind_a_right_checksum_is_a_sentence_or_a_picture(data, draw):
    """A decoder that stops at a wrong checksum sees no damage behind it."""
    pieces, place = [data[:8]], 8
    while place + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, place)
        name = data[place + 4 : place + 8]
        content = bytearray(data[place + 8 : place + 8 + length])
        if content and draw.draw(st.booleans()):
            at = draw.draw(st.integers(0, len(content) - 1))
            content[at] = draw.draw(st.integers(0, 255))
        pieces.append(planted.chunk(name, bytes(content)))
        place += 12 + length
    sentence_or_picture(b"".join(pieces))


@given(
    st.binary(max_size=300), st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"])
)
def test_any_bytes_are_a_sentence_or_a_picture(data, start):
    sentence_or_picture(start + data)
