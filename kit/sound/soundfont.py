"""Which SoundFont gives the band its sound?

In this order: the file named in the lesson, the file named by the environment variable
``KIT_SOUNDFONT``, a large General MIDI SoundFont in the usual places if asked for, and
else the small one that is installed with the kit (in the package pretty_midi). Without a
choice of one's own every machine therefore renders the same bytes.

Source: SoundFont 2.04 specification (RIFF form type ``sfbk``).
"""

from __future__ import annotations

import hashlib
import importlib.util
import os
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import BinaryIO

from kit.errors import SetupError
from kit.reading import UnusableError, open_regular

__all__ = ["SoundFont", "find_soundfont"]

VARIABLE = "KIT_SOUNDFONT"
_LARGEST_BYTES = 2 << 30
_LARGEST_HEADERS = 46 << 16
"""Bytes: there are at most 65,536 samples, as they are counted in two."""
_SAMPLE_HEADER = struct.Struct("<20x4I8xH")
"""Start, end, begin and end of the loop, type (section 7.10)."""
_IN_ROM = 0x8000
_USUAL_PLACES = (
    "/usr/share/sounds/sf2/FluidR3_GM.sf2",
    "/usr/share/sounds/sf2/default-GM.sf2",
    "/usr/share/soundfonts/FluidR3_GM.sf2",
    "/usr/share/soundfonts/default.sf2",
    "/opt/homebrew/share/soundfonts/default.sf2",
    "/usr/local/share/soundfonts/default.sf2",
)


@dataclass(frozen=True)
class SoundFont:
    """A SoundFont file; `origin` says why it was taken."""

    path: Path
    origin: str

    @property
    def name(self) -> str:
        """The file's name, for the manifest."""
        return self.path.name

    @property
    def content(self) -> bytes:
        """The whole file, read once."""
        return _read(self.path)

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the file, in hexadecimal: part of the key of cached audio."""
        return hashlib.sha256(self.content).hexdigest()


def find_soundfont(
    configured: str | Path | None = None,
    *,
    prefer_large: bool = False,
    environ: Mapping[str, str] = os.environ,
) -> SoundFont:
    """Choose the SoundFont.

    Parameters
    ----------
    configured : path, optional
        As written in ``lesson.toml``.
    prefer_large : bool
        Take a large one from the usual places if there is one. The audio then depends on
        the machine.
    environ : mapping, optional
        Where ``KIT_SOUNDFONT`` is looked up.

    Raises
    ------
    SetupError
        If the file named is missing or is no SoundFont, or none is installed.
    """
    if configured:
        return _checked(Path(configured), "lesson")
    if environ.get(VARIABLE):
        return _checked(Path(environ[VARIABLE]), VARIABLE)
    if prefer_large:
        for place in _USUAL_PLACES:
            if Path(place).is_file():
                return _checked(Path(place), "found")
    return _checked(_embedded(), "embedded")


def _embedded() -> Path:
    # Look the package up without importing it: that alone would take a second.
    spec = importlib.util.find_spec("pretty_midi")
    if spec is None or spec.origin is None:
        raise SetupError(
            "no SoundFont is installed",
            remedy=f"run pip install pretty-midi, or set {VARIABLE} to a SoundFont file",
        )
    return Path(spec.origin).parent / "TimGM6mb.sf2"


def _checked(path: Path, origin: str) -> SoundFont:
    try:
        with open_regular(path) as file:
            size, head = os.fstat(file.fileno()).st_size, file.read(12)
    except (OSError, UnusableError) as error:
        raise SetupError(
            f"the SoundFont {path.name} cannot be read",
            remedy=f"check the path ({origin})",
        ) from error
    if head[:4] != b"RIFF" or head[8:12] != b"sfbk" or size > _LARGEST_BYTES:
        raise SetupError(
            f"{path.name} is not a SoundFont", remedy=f"name an .sf2 file ({origin})"
        )
    reason = _broken(path, size)
    if reason:
        raise SetupError(
            f"the SoundFont {path.name} {reason}", remedy=f"name an .sf2 file ({origin})"
        )
    return SoundFont(path, origin)


def _broken(path: Path, size: int) -> str | None:
    """Say what is wrong with a SoundFont's chunks, None if they are in order."""
    lists: set[bytes] = set()
    samples, headers = 0, b""
    with path.open("rb") as file:
        (said,) = struct.unpack("<I", file.read(8)[4:])
        if said + 8 > size:
            return "is not whole"
        file.seek(12)
        while file.tell() + 12 <= size:
            name, length, kind = struct.unpack("<4sI4s", file.read(12))
            start = file.tell() - 4
            if start + length > size:
                return "is not whole"
            if name == b"LIST":
                lists.add(kind)
            if kind == b"sdta":
                inner, first = file.read(8), file.read(4)
                if first == b"OggS":
                    return "holds packed samples (.sf3), which the synthesiser cannot read"
                if inner[:4] == b"smpl":
                    samples = int.from_bytes(inner[4:], "little") // 2
            elif kind == b"pdta":
                headers = _sample_headers(file, start + length)
            file.seek(start + length + length % 2)
    if not {b"sdta", b"pdta"} <= lists:
        return "has no samples or no sounds"
    if not _lie_within(headers, samples):
        return "is damaged: a sample lies outside of its sound data"
    return None


def _sample_headers(file: BinaryIO, end: int) -> bytes:
    """Find the sample headers (``shdr``) among the chunks up to a place in the file."""
    while file.tell() + 8 <= end:
        name, length = struct.unpack("<4sI", file.read(8))
        if name == b"shdr":
            return file.read(min(length, _LARGEST_HEADERS))
        file.seek(length + length % 2, os.SEEK_CUR)
    return b""


def _lie_within(headers: bytes, samples: int) -> bool:
    """Say whether all samples and their loops lie within the sound data.

    A synthesiser that does not look itself reads beyond it. Samples in the ROM of a sound
    card are elsewhere; the last header only ends the list.
    """
    for record in list(_SAMPLE_HEADER.iter_unpack(headers[: len(headers) // 46 * 46]))[:-1]:
        start, end, _, loop_end, kind = record
        in_rom = kind & _IN_ROM
        if not in_rom and not (start <= end <= samples and loop_end <= samples):
            return False
    return True


@lru_cache(maxsize=2)
def _read(path: Path) -> bytes:
    return path.read_bytes()
