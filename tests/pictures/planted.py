"""Pictures that carry a secret in every place a file has beside its pixels."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from collections.abc import Iterator

from PIL import Image, ImageCms

SECRET = "Grandmother's kitchen"
"""Short enough for the copyright text of a profile."""
PLACE = (53.748312, -2.481964)
"""Latitude and longitude, as text and as fractions in Exif."""
GPS_SECONDS = 537_483_121
"""A number of the place as Exif stores it, of four bytes that nothing else has."""
SIZE = (40, 24)


def dots(mode: str = "RGB") -> Image.Image:
    """Draw a picture whose corners differ: red, green, blue, white."""
    width, height = SIZE
    picture = Image.new("RGB", SIZE, "black")
    for box, colour in (
        ((0, 0), "red"), ((width // 2, 0), "lime"),
        ((0, height // 2), "blue"), ((width // 2, height // 2), "white"),
    ):  # fmt: skip
        picture.paste(colour, (*box, box[0] + width // 2, box[1] + height // 2))
    return picture.convert(mode)


def exif(orientation: int = 1, thumbnail: bytes = b"") -> bytes:
    """Write Exif by hand: orientation, description, place, and a thumbnail behind it."""
    text = SECRET.encode() + b"\0"
    entries = 3
    after = 8 + 2 + 12 * entries + 4
    gps_at = after + len(text)
    gps = struct.pack("<H", 1) + struct.pack("<HHII", 2, 5, 1, gps_at + 18) + bytes(4)
    gps += struct.pack("<II", GPS_SECONDS, 10_000_000)
    second_at = gps_at + len(gps)
    ifd = struct.pack("<H", entries)
    ifd += struct.pack("<HHII", 0x010E, 2, len(text), after)
    ifd += struct.pack("<HHIHH", 0x0112, 3, 1, orientation, 0)
    ifd += struct.pack("<HHII", 0x8825, 4, 1, gps_at)
    ifd += struct.pack("<I", second_at if thumbnail else 0)
    data = b"II*\0" + struct.pack("<I", 8) + ifd + text + gps
    if thumbnail:
        at = second_at + 2 + 24 + 4
        data += struct.pack("<H", 2) + struct.pack("<HHII", 0x0201, 4, 1, at)
        data += struct.pack("<HHII", 0x0202, 4, 1, len(thumbnail)) + bytes(4) + thumbnail
    return data


def profile(secret: str = SECRET) -> bytes:
    """Give an sRGB profile whose copyright text is the secret."""
    made = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    entry = made.find(b"cprt")
    at = struct.unpack_from(">I", made, entry + 4)[0]
    length, offset = struct.unpack_from(">II", made, at + 20)
    words = secret.encode("utf-16-be")
    assert made[at : at + 4] == b"mluc"
    assert len(words) <= length
    made[at + offset : at + offset + len(words)] = words
    return bytes(made)


def xmp() -> bytes:
    place = f"{PLACE[0]},{PLACE[1]}"
    return (
        '<?xpacket begin=""?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:Description>'
        f"{SECRET} {place}</rdf:Description></x:xmpmeta><?xpacket end='w'?>"
    ).encode()


def iptc() -> bytes:
    caption = SECRET.encode()
    record = b"\x1c\x02\x78" + struct.pack(">H", len(caption)) + caption
    block = b"8BIM\x04\x04\0\0" + struct.pack(">I", len(record)) + record
    return b"Photoshop 3.0\0" + block + bytes(len(record) % 2)


def chunk(name: bytes, data: bytes) -> bytes:
    mark = struct.pack(">I", zlib.crc32(name + data))
    return struct.pack(">I", len(data)) + name + data + mark


def segment(marker: int, data: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(data) + 2) + data


def png(picture: Image.Image | None = None, **options: object) -> bytes:
    packed = io.BytesIO()
    (picture or dots()).save(packed, "PNG", **options)
    return packed.getvalue()


def jpeg(picture: Image.Image | None = None, **options: object) -> bytes:
    packed = io.BytesIO()
    options = {"quality": 95, "subsampling": 0, **options}
    (picture or dots()).save(packed, "JPEG", **options)
    return packed.getvalue()


def png_with(*chunks: bytes, picture: bytes = b"") -> bytes:
    """Put chunks behind the header of a PNG."""
    data = picture or png()
    return data[:33] + b"".join(chunks) + data[33:]


def _behind_pixels(data: bytes, *chunks: bytes) -> bytes:
    return data[:-12] + b"".join(chunks) + data[-12:]


def jpeg_with(*segments: bytes, picture: bytes = b"") -> bytes:
    """Put segments behind the first marker of a JPEG."""
    data = picture or jpeg()
    return data[:2] + b"".join(segments) + data[2:]


def planted() -> Iterator[tuple[str, str, bytes]]:
    """Give pictures as (where the secret is, MIME type, file)."""
    text = SECRET.encode()
    thumbnail = jpeg_with(segment(0xFE, text))
    png_blocks = {
        "tEXt": chunk(b"tEXt", b"Comment\0" + text),
        "zTXt": chunk(b"zTXt", b"Comment\0\0" + zlib.compress(text)),
        "iTXt": chunk(b"iTXt", b"Comment\0\0\0en\0\0" + text),
        "iTXt, packed": chunk(b"iTXt", b"Comment\0\1\0en\0\0" + zlib.compress(text)),
        "XMP": chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0" + xmp()),
        "eXIf": chunk(b"eXIf", exif(thumbnail=thumbnail)),
        "tIME": chunk(b"tIME", struct.pack(">HBBBBB", 2019, 7, 23, 4, 5, 6)),
        "iCCP": chunk(b"iCCP", text + b"\0\0" + zlib.compress(profile())),
        "pHYs": chunk(b"pHYs", struct.pack(">IIB", GPS_SECONDS, GPS_SECONDS, 1)),
        "sPLT": chunk(b"sPLT", text + b"\0\x08" + bytes(6)),
        "private": chunk(b"prVt", text),
    }
    for name, block in png_blocks.items():
        yield f"PNG {name}", "image/png", png_with(block)
    yield "PNG all", "image/png", png_with(*png_blocks.values()) + text
    yield "PNG after the end", "image/png", png() + text
    animation = chunk(b"acTL", struct.pack(">II", 1, 0))
    control = chunk(b"fcTL", struct.pack(">IIIIIHHBB", 0, *SIZE, 0, 0, 1, 1, 0, 0))
    frame = chunk(b"fdAT", struct.pack(">I", 1) + text)
    yield "PNG animation", "image/png", _behind_pixels(png_with(animation), control, frame)
    clear = dots("RGBA")
    clear.putdata([(*text[i % len(text) :][:1] * 3, 0) for i in range(SIZE[0] * SIZE[1])])
    yield "PNG under transparency", "image/png", png(clear)
    palette = dots("P")
    colours = (text * 24)[: 768 - 24]
    palette.putpalette(bytes(palette.getpalette() or ())[:24] + colours)
    yield "PNG palette", "image/png", png(palette.point([i % 8 for i in range(256)]))
    jpeg_blocks = {
        "comment": segment(0xFE, text),
        "JFXX thumbnail": segment(0xE0, b"JFXX\0\x10" + thumbnail),
        "Exif": segment(0xE1, b"Exif\0\0" + exif(thumbnail=thumbnail)),
        "XMP": segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0" + xmp()),
        "profile": segment(0xE2, b"ICC_PROFILE\0\1\1" + profile()),
        "several pictures": segment(0xE2, b"MPF\0" + text),
        "IPTC": segment(0xED, iptc()),
        **{f"APP{n}": segment(0xE0 + n, text) for n in range(16)},
    }
    for name, block in jpeg_blocks.items():
        yield f"JPEG {name}", "image/jpeg", jpeg_with(block)
    yield "JPEG all", "image/jpeg", jpeg_with(*jpeg_blocks.values()) + thumbnail
    yield "JPEG after the end", "image/jpeg", jpeg() + text + bytes(100)


def traces() -> list[bytes]:
    """Give what must be found nowhere: the secret in several writings, and the place."""
    found = [SECRET.encode(form) for form in ("utf-8", "utf-16-be", "utf-16-le")]
    found += [str(number).encode() for number in PLACE]
    found += [struct.pack(order, GPS_SECONDS) for order in ("<I", ">I")]
    return found


def archive() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as into:
        into.writestr("inside.txt", SECRET)
    return packed.getvalue()
