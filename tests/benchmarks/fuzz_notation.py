"""What hostile notation files does a user give? MusicXML, MXL, ABC and MIDI.

Each function makes a case from a generator of chance. The file goes to ``kit new``, or
into a lesson that ``kit check`` looks at, as its tune, as a level or as a written solo.
"""

from __future__ import annotations

import json
import re
import struct
from random import Random

from fuzz_bytes import mutated, text, zipped
from fuzz_case import Case
from fuzz_good import (
    CONTAINER,
    abc_by_rule,
    good,
    midi_by_rule,
    midi_file,
    mxl_of,
    plain_notebook,
    plain_toml,
)
from fuzz_trees import changed_xml
from fuzz_words import words

__all__ = ["abc", "midi", "musicxml", "mxl"]

NEW_SHARE = 0.3
"""Of the files that go to ``kit new``, which takes longer than a check."""


def _given(chance: Random, family: str, suffix: str, data: bytes) -> Case:
    """Give a file to a command as a user would."""
    if chance.random() < NEW_SHARE:
        name = b"given." + suffix.encode()
        return Case(
            family, {name: data},
            [[b"new", name, b"--lessons", b"made"], [b"check", b"{made}"]], sources=(name,),
        )  # fmt: skip
    as_level = chance.random()
    lesson: dict[bytes, bytes] = {b"lesson.ipynb": json.dumps(plain_notebook()).encode()}
    if as_level < 0.7:
        lesson |= {
            f"tune.{suffix}".encode(): data,
            b"lesson.toml": plain_toml(f"tune.{suffix}"),
        }
    else:
        key = "notation" if as_level < 0.85 else "solo"
        more = f'{key} = "levels/given.{suffix}"\n'
        if key == "solo":
            more += 'route = [{ play = "head" }, { play = "solo" }]\n'
        lesson |= {
            b"tune.abc": b"X:1\nT:Small Tune\nM:4/4\nL:1/4\nK:C\n"
            + b'"C"CDEF | "G"GABc |]\n',
            f"levels/given.{suffix}".encode(): data,
            b"lesson.toml": plain_toml("tune.abc", levels=more),
        }
    files = {b"lesson/" + name: content for name, content in lesson.items()}
    return Case(family, dict(files), [[b"check", b"lesson"]], sources=(b"lesson",))


def musicxml(chance: Random) -> Case:
    """Give a MusicXML file whose bytes or elements were changed."""
    data = chance.choice(good().musicxml)
    way = chance.random()
    if way < 0.65:
        data = changed_xml(chance, data)
    if way > 0.5:
        data = mutated(chance, data)
    return _given(chance, "MusicXML", chance.choice(("musicxml", "musicxml", "xml")), data)


def mxl(chance: Random) -> Case:
    """Give a compressed MusicXML file that is broken, or packed by someone malicious."""
    way = chance.randrange(14)
    score = changed_xml(chance, chance.choice(good().musicxml))
    container = ("META-INF/container.xml", CONTAINER)
    if way < 5:
        data = mutated(chance, chance.choice(good().mxl))
    elif way < 7:
        data = mxl_of(score)
    elif way == 7:
        size = chance.choice((1_000_000, 60_000_000))
        data = zipped([container, ("score.xml", score + b" " * size)])
    elif way == 8:
        name = chance.choice(
            ("../score.xml", "/score.xml", "..\\score.xml", "C:score.xml", "score.xml/../x")
        )
        path = CONTAINER.replace(b"score.xml", name.encode())
        data = zipped([("META-INF/container.xml", path), (name, score)])
    elif way == 9:
        inner = mxl_of(score)
        for _ in range(chance.choice((1, 5, 40))):
            inner = zipped([container, ("score.xml", inner)])
        data = inner
    elif way == 10:
        many = [(f"{n}.xml", b"<x/>") for n in range(chance.choice((150, 300, 5000)))]
        data = zipped([container, ("score.xml", score), *many])
    elif way == 11:
        # The flags of every header say that it is encrypted, or packed in an unknown way.
        place, value = chance.choice(
            ((6, 1), (6, 0x41), (8, 99), (8, 12), (8, 14), (4, 200))
        )
        data = _headers(mxl_of(score), place, value)
    elif way == 12:
        words = text(chance)[:60_000].encode("utf-8", "replace")
        data = zipped(
            [
                ("META-INF/container.xml", CONTAINER.replace(b"score.xml", words)),
                ("score.xml", score),
            ]
        )
    else:
        # It says of itself that it is small.
        data = _headers(
            zipped([container, ("score.xml", score)]), 22, chance.choice((0, 1, 7)), width=4
        )
    return _given(chance, "MXL", "mxl", data)


def _headers(data: bytes, place: int, value: int, *, width: int = 2) -> bytes:
    """Change a field of every header of an archive, local and central."""
    body = bytearray(data)
    for mark, shift in ((b"PK\x03\x04", 0), (b"PK\x01\x02", 2)):
        for found in re.finditer(re.escape(mark), data):
            start = found.start() + place + shift
            body[start : start + width] = value.to_bytes(width, "little")
    return bytes(body)


_TOKENS = re.compile(
    rb"%[^\n]*|[A-Za-z]:[^\n]*|\"[^\"\n]*\"|![^!\n]*!|\{[^}\n]*\}|\[[^\]\n]*\]|[\^_=]*[A-Ga-gzxZ][,']*[0-9/]*|\(\d|[|:\]\[]+|\s+|."
)


def _abc_tokens(chance: Random, data: bytes) -> bytes:
    tokens = _TOKENS.findall(data)
    others = _TOKENS.findall(chance.choice(good().abc))
    strange = [word.encode() for word in words("abc")]
    for _ in range(chance.choice((1, 2, 4, 10))):
        if not tokens:
            break
        place = chance.randrange(len(tokens))
        way = chance.randrange(6)
        if way == 0:
            del tokens[place]
        elif way == 1:
            tokens[place:place] = [tokens[place]] * chance.choice((1, 3, 200))
        elif way == 2:
            tokens[place] = chance.choice(others)
        elif way == 3:
            tokens.insert(place, chance.choice(strange))
        elif way == 4:
            other = chance.randrange(len(tokens))
            tokens[place], tokens[other] = tokens[other], tokens[place]
        else:
            tokens[place] = text(chance)[:5000].encode("utf-8", "surrogatepass")
    return b"".join(tokens)


def abc(chance: Random) -> Case:
    """Give an ABC tune or book whose tokens or bytes were changed, or of strange fields."""
    way = chance.random()
    if way < 0.45:
        data = _abc_tokens(chance, chance.choice(good().abc))
    elif way < 0.6:
        data = mutated(chance, chance.choice(good().abc))
    elif way < 0.8:
        data = abc_by_rule(chance)
        if chance.random() < 0.5:
            data = _abc_tokens(chance, data)
    elif way < 0.88:
        tunes = [chance.choice(good().abc) for _ in range(chance.choice((2, 5, 300)))]
        data = (
            mutated(chance, b"\n\n".join(tunes))
            if chance.random() < 0.7
            else b"\n".join(tunes)
        )
    elif way < 0.94:
        field = chance.choice("TCOPQRZNHKLMSXVWwUmI%").encode()
        line = (
            field
            + b":"
            + text(chance).encode("utf-8", "surrogatepass").replace(b"\n", b" ")
        )
        data = chance.choice(good().abc)
        data = (
            data.replace(b"\nK:", b"\n" + line + b"\nK:", 1)
            if chance.random() < 0.5
            else data + line
        )
    else:
        bars = chance.choice((300, 3000, 100_000))
        again = (b"CDEF|", b"C", b"[CEG]4|", b"|:C4:|\n", b"(3CDE", b'"C"z4|')
        data = b"X:1\nT:Long\nM:4/4\nL:1/4\nK:C\n" + chance.choice(again) * bars
    return _given(chance, "ABC", "abc", data)


META = (
    (0x51, b"\0\0\0"), (0x51, b"\1"), (0x58, b"\0\0\0\0"), (0x58, b"\4\xff\x18\x08"),
    (0x58, b"\xff\0\0\0"), (0x59, b"\x7f\x02"), (0x2F, b""), (0x54, b"\0" * 5),
)  # fmt: skip
"""Kinds and bodies of events that say what cannot be: no tempo, a meter of 4/0, an end."""


def midi(chance: Random) -> Case:
    """Give a MIDI file that is broken, or says impossible things."""
    data = midi_by_rule(chance)
    way = chance.randrange(12)
    if way < 5:
        data = mutated(chance, data)
    elif way == 5:
        data = (
            data[:12]
            + struct.pack(
                ">H", chance.choice((0, 1, 0xE728, 0xE250, 0xFFFF, 0x7FFF, 0x8000))
            )
            + data[14:]
        )
    elif way == 6:
        data = (
            data[:8]
            + struct.pack(
                ">HH", chance.choice((0, 1, 2, 3, 99)), chance.choice((0, 1, 2, 65535))
            )
            + data[12:]
        )
    elif way == 7:
        track = b"\x00\x90\x40\x50" + b"\xff\xff\xff\x7f\x80\x40\x00" * chance.choice(
            (1, 5, 2000)
        )
        data = midi_file(
            [track + b"\x00\xff\x2f\x00"], division=chance.choice((1, 96, 480))
        )
    elif way == 8:
        notes = b"\x00\x90\x40\x50\x00\x80\x40\x00" * chance.choice((10, 70_000))
        data = midi_file([notes], division=96)
    elif way == 9:
        words = text(chance).encode("utf-8", "replace")[:100]
        kind = bytes([chance.randrange(1, 10)])
        event = b"\x00\xff" + kind + bytes([len(words)]) + words
        data = data.replace(b"\x00\xff\x03\x04Lead", event * chance.choice((1, 3, 3000)))
    elif way == 10:
        kind, body = chance.choice(META)
        event = b"\x00\xff" + bytes([kind, len(body)]) + body
        data = data.replace(b"\x00\xff\x03\x04Lead", event * chance.choice((1, 300)))
    else:
        data = (
            b"RIFF"
            + struct.pack("<I", len(data) + 12)
            + b"RMIDdata"
            + struct.pack("<I", len(data))
            + data
        )
        data = mutated(chance, data)
    return _given(chance, "MIDI", chance.choice(("mid", "midi")), data)
