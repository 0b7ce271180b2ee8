"""Which SoundFont gives the band its sound?

In this order: the file named in the lesson, the file named by the environment variable
``KIT_SOUNDFONT``, and else the kit's own, which is packed into it and unpacked into the
cache at its first use. Without a choice of one's own every machine therefore renders the
same bytes.

Source: SoundFont 2.04 specification (RIFF form type ``sfbk``; texts, section 5).
"""

from __future__ import annotations

import hashlib
import mmap
import os
import struct
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

from kit.cache import default_cache, fingerprint
from kit.errors import SetupError
from kit.reading import UnusableError, open_regular
from kit.sound.font.cut import cut_font
from kit.sound.font.damage import damage
from kit.sound.font.pack import packed_digest, unpack_font
from kit.sound.font.riff import Font, Outline, read_font, read_outline, write_font

__all__ = ["SoundFont", "find_soundfont"]

VARIABLE = "KIT_SOUNDFONT"
_LARGEST_BYTES = 2 << 30
_OWN = Path(__file__).parent / "font" / "band.font"
_OWN_NAME = "Tune Lesson Kit band"
_MAKER = "Tune Lesson Kit"
"""What a font of our making says under ``ISFT``; see ``kit/sound/font/making``."""
_SLURS = 1
"""Its bank of slurred copies."""
_LONGEST_LICENCE = 200


@dataclass(frozen=True)
class SoundFont:
    """A SoundFont file; `origin` says why it was taken, `packed` that it is our own."""

    path: Path
    origin: str
    packed: bool = False

    @property
    def name(self) -> str:
        """Its name, for the manifest: the file's, or that of the kit's own."""
        return _OWN_NAME if self.packed else self.path.name

    @property
    def content(self) -> bytes:
        """The whole font, read once.

        Raises
        ------
        SetupError
            If the kit's own is damaged, or cannot be unpacked into the cache.
        """
        return _unpacked(self.path) if self.packed else _read(self.path)

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the font, in hexadecimal: part of the key of cached audio."""
        if self.packed:
            return _packed_digest(self.path)
        return hashlib.sha256(self.content).hexdigest()

    @cached_property
    def licence(self) -> str:
        """What the font says of its rights, in one line; empty if it says nothing."""
        outline = self._outline
        comment = outline.text(b"ICMT").splitlines()[:1]
        said = [outline.text(b"ICOP"), *(c for c in comment if "licen" in c.lower())]
        words = " ".join("; ".join(part for part in said if part).split())
        return "".join(c for c in words if c.isprintable())[:_LONGEST_LICENCE]

    @cached_property
    def slurred_programs(self) -> frozenset[int]:
        """Programs that have a copy without attack in bank 1; none in a font of others."""
        outline = self._outline
        if outline.text(b"ISFT") != _MAKER:
            return frozenset()
        return frozenset(program for bank, program in outline.presets if bank == _SLURS)

    def part(self, presets: frozenset[tuple[int, int]]) -> bytes:
        """Give a font with only some presets, which sounds the same and is read faster.

        Parameters
        ----------
        presets : frozenset of (bank, program)
            What is played. What the font lacks is played by its nearest sound
            (`kit.sound.font._near`).
        """
        return _part(self, presets)

    @cached_property
    def _outline(self) -> Outline:
        try:
            return read_outline(self.content if self.packed else _mapped(self.path))
        except (ValueError, OSError):
            # The synthesiser will say whether it can use it.
            return Outline((), frozenset())

    @cached_property
    def _records(self) -> Font | None:
        try:
            return read_font(self.content)
        except ValueError:
            return None


def find_soundfont(
    configured: str | Path | None = None, *, environ: Mapping[str, str] = os.environ
) -> SoundFont:
    """Choose the SoundFont.

    Parameters
    ----------
    configured : path, optional
        As written in ``lesson.toml``.
    environ : mapping, optional
        Where ``KIT_SOUNDFONT`` is looked up.

    Raises
    ------
    SetupError
        If the file named is missing or is no SoundFont.
    """
    if configured:
        return _checked(Path(configured), "lesson")
    if environ.get(VARIABLE):
        return _checked(Path(environ[VARIABLE]), VARIABLE)
    return SoundFont(_OWN, "the kit's own", packed=True)


def _checked(path: Path, origin: str) -> SoundFont:
    try:
        with open_regular(path) as file:
            about, head = os.fstat(file.fileno()), file.read(12)
    except (OSError, UnusableError) as error:
        raise SetupError(
            f"the SoundFont {path.name} cannot be read",
            remedy=f"check the path ({origin})",
        ) from error
    if head[:4] != b"RIFF" or head[8:12] != b"sfbk" or about.st_size > _LARGEST_BYTES:
        raise SetupError(
            f"{path.name} is not a SoundFont", remedy=f"name an .sf2 file ({origin})"
        )
    reason = _broken(path, about.st_size, about.st_mtime_ns)
    if reason:
        raise SetupError(
            f"the SoundFont {path.name} {reason}", remedy=f"name an .sf2 file ({origin})"
        )
    return SoundFont(path, origin)


@lru_cache(maxsize=8)
def _broken(path: Path, size: int, _changed_ns: int) -> str | None:
    """Say what is wrong with a SoundFont, None if it is in order."""
    lists: set[bytes] = set()
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
            if kind == b"sdta" and file.read(12)[8:] == b"OggS":
                return "holds packed samples (.sf3), which the synthesiser cannot read"
            file.seek(start + length + length % 2)
    if not {b"sdta", b"pdta"} <= lists:
        return "has no samples or no sounds"
    return _damaged_part(path)


def _damaged_part(path: Path) -> str | None:
    try:
        font = read_font(_mapped(path))
    except ValueError as error:
        return f"is damaged: {error}"
    if not font.presets:
        return "has no samples or no sounds"
    return damage(font) or None


def _mapped(path: Path) -> mmap.mmap:
    """Give a file of which only those parts are read that are looked at."""
    with path.open("rb") as file:
        # Never closed by hand: samples that are views of it may live longer.
        return mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)


@lru_cache(maxsize=2)
def _read(path: Path) -> bytes:
    return path.read_bytes()


@lru_cache(maxsize=16)
def _part(font: SoundFont, presets: frozenset[tuple[int, int]]) -> bytes:
    whole = font._records
    if whole is None or not whole.presets:
        return font.content
    return write_font(cut_font(whole, presets))


def _packed_digest(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return packed_digest(file.read(64))
    except (OSError, ValueError) as error:
        raise _damaged() from error


@lru_cache(maxsize=1)
def _unpacked(path: Path) -> bytes:
    """Give the kit's own font, unpacked once for all processes of this user.

    The cache compares what it gives with its hash, so a damaged entry is unpacked again,
    and puts an entry in place as a whole, so several processes may do this at once.
    """
    cache = default_cache()
    digest = _packed_digest(path)

    def unpacked() -> bytes:
        try:
            return unpack_font(path.read_bytes())
        except (OSError, ValueError) as error:
            raise _damaged() from error

    try:
        return cache.through(fingerprint("font", digest), unpacked)
    except OSError as error:
        raise SetupError(
            f"the kit's SoundFont cannot be unpacked into the cache {cache.folder}: "
            f"{error.strerror or error}",
            remedy="make room there, or let KIT_CACHE name another folder",
        ) from error


def _damaged() -> SetupError:
    return SetupError("the kit's own SoundFont is damaged", remedy="install the kit again")
