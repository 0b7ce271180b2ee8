"""What is a file's content, as far as leaks are concerned? Hashes of all that is in it.

`prints_of` reads a file once and keeps what it found in the cache under the file's own
hash, so that a file that has not changed is never read again.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields
from typing import Any, TypeVar
from zipfile import BadZipFile

import numpy as np
from numpy.typing import NDArray

from kit.cache import Cache, code_fingerprint, fingerprint
from kit.publish.leaks.melody import melody_runs, number_runs, steps_drawn
from kit.publish.leaks.pictures import LOOK_SIZE, look
from kit.publish.leaks.reading import Piece, pieces
from kit.publish.leaks.sound import frame_runs
from kit.publish.leaks.words import NO_HASHES, Hashes, file_names, hashed, run_hashes

__all__ = [
    "KINDS",
    "Prints",
    "arrays_of",
    "blob_hash",
    "kept",
    "prints_of",
    "prints_of_pieces",
]

T = TypeVar("T")
SMALLEST_BLOB = 64
"""Smaller files are equal by chance (an empty one, a stub)."""
_NO_LOOKS: NDArray[np.uint16] = np.zeros((0, LOOK_SIZE), np.uint16)


@dataclass(frozen=True, slots=True)
class Prints:
    """Hashes of a content, each kind sorted and without repeats.

    Parameters
    ----------
    words, names
        Runs of words, and names of files.
    melody, drawn, numbers
        Runs of steps, of drawn notes, of numbers.
    frames
        Runs of frames of sound.
    blobs
        Whatever is a file by itself, at any depth.
    pictures
        Pictures as they are, also those that show nothing.
    looks : uint16 array, one row a picture
        See `kit.publish.leaks.pictures`.
    """

    words: Hashes
    names: Hashes
    melody: Hashes
    drawn: Hashes
    numbers: Hashes
    frames: Hashes
    blobs: Hashes
    pictures: Hashes
    looks: NDArray[np.uint16]

    def packed(self) -> bytes:
        """Write them as bytes."""
        file = io.BytesIO()
        np.savez(file, **{f.name: getattr(self, f.name) for f in fields(self)})
        return file.getvalue()

    @classmethod
    def unpacked(cls, data: bytes) -> Prints:
        """Read what `packed` wrote.

        Raises
        ------
        ValueError
            If it is something else.
        """
        return cls(**arrays_of(data, [f.name for f in fields(cls)]))


KINDS = tuple(f.name for f in fields(Prints) if f.name != "looks")


def kept(
    cache: Cache, key: str, compute: Callable[[], bytes], parse: Callable[[bytes], T]
) -> T:
    """Give what an entry of the cache says, computed if need be.

    The key stands in the entry too: a proof must not be misled by the bytes of another one.
    """
    mark = key.encode()

    def read(data: bytes) -> T:
        if not data.startswith(mark):
            raise ValueError("this is another entry")
        return parse(data[len(mark) :])

    return cache.parsed_through(key, lambda: mark + compute(), read)


def arrays_of(data: bytes, names: Iterable[str]) -> dict[str, NDArray[Any]]:
    """Read arrays of whole numbers that ``numpy.savez`` wrote under these names.

    Raises
    ------
    ValueError
        If it is something else.
    """
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            arrays = {name: np.asarray(file[name]) for name in names}
    except (LookupError, EOFError, OSError, TypeError, AttributeError, BadZipFile) as error:
        raise ValueError("these are no arrays of the proof") from error
    if any(array.dtype.kind not in "iu" for array in arrays.values()):
        raise ValueError("these are no whole numbers")
    return arrays


def blob_hash(data: bytes) -> int:
    """Hash a file as it is."""
    return int.from_bytes(hashlib.sha256(data).digest()[:8], "little")


def prints_of(data: bytes, cache: Cache) -> Prints:
    """Give the prints of a file, from the cache if it was read before."""
    key = fingerprint("leaks", _code(), hashlib.sha256(data).hexdigest())
    return kept(
        cache, key, lambda: prints_of_pieces(pieces(data)).packed(), Prints.unpacked
    )


def _code() -> str:
    return code_fingerprint("publish/leaks")


def prints_of_pieces(found: Iterable[Piece]) -> Prints:
    """Hash pieces."""
    found_hashes: dict[str, list[Hashes]] = {name: [] for name in KINDS}
    looks = []
    for piece in found:
        for name, hashes in _hashes(piece):
            found_hashes[name].append(hashes)
        if piece.kind == "picture" and (seen := look(piece.value)) is not None:
            looks.append(seen)
    arrays = {
        name: np.unique(np.concatenate(hashes)) if hashes else NO_HASHES
        for name, hashes in found_hashes.items()
    }
    return Prints(**arrays, looks=np.array(looks) if looks else _NO_LOOKS)


def _hashes(piece: Piece) -> Iterator[tuple[str, Hashes]]:
    value = piece.value
    match piece.kind:
        case "text":
            yield "words", run_hashes(value)
            names = file_names(value)
            if names:
                yield "names", np.array([hashed(name) for name in names], np.uint64)
        case "melody":
            yield "melody", melody_runs(value)[0]
        case "drawn":
            yield "drawn", steps_drawn(value)[0]
        case "numbers":
            yield "numbers", number_runs(value)
        case "picture":
            yield "pictures", np.array([blob_hash(value)], np.uint64)
        case "mp3":
            yield "frames", frame_runs(value)
        case "blob" if len(value) >= SMALLEST_BLOB:
            yield "blobs", np.array([blob_hash(value)], np.uint64)
