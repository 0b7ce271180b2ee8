"""What is a file's content, as far as leaks are concerned? Hashes of all that is in it.

`prints_of` reads a file once and keeps what it found in the cache under the file's own
hash, so that a file that has not changed is never read again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.cache import Cache, code_fingerprint, fingerprint
from kit.publish.leaks._kept import arrays_of, kept_through, packed_arrays
from kit.publish.leaks._melody import melody_runs, number_runs, steps_drawn
from kit.publish.leaks._pictures import LOOK_SIZE, look
from kit.publish.leaks._piece import Piece
from kit.publish.leaks._reading import pieces
from kit.publish.leaks._sound import frame_runs
from kit.publish.leaks._words import NO_HASHES, Hashes, file_names, hashed, run_hashes

__all__ = ["KINDS", "SMALLEST_BLOB", "Prints", "blob_hash", "prints_of", "prints_of_pieces"]

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
        See `kit.publish.leaks._pictures`.
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
        return packed_arrays(**{f.name: getattr(self, f.name) for f in fields(self)})

    @classmethod
    def unpacked(cls, data: bytes) -> Prints:
        """Read what `packed` wrote; ValueError if it is anything else."""
        kinds: dict[str, Any] = dict.fromkeys(KINDS, (np.uint64, 1))
        arrays: Any = arrays_of(data, kinds | {"looks": (np.uint16, 2)})
        if arrays["looks"].shape[1] != LOOK_SIZE:
            raise ValueError("these are no looks of pictures")
        return cls(**arrays)


KINDS = tuple(f.name for f in fields(Prints) if f.name != "looks")


def blob_hash(data: bytes) -> int:
    """Hash a file as it is."""
    return int.from_bytes(hashlib.sha256(data).digest()[:8], "little")


def prints_of(data: bytes, cache: Cache) -> Prints:
    """Give the prints of a file, from the cache if it was read before."""
    key = fingerprint("leaks", _code(), hashlib.sha256(data).hexdigest())
    return kept_through(
        cache, key, lambda: prints_of_pieces(pieces(data)).packed(), Prints.unpacked
    )


def _code() -> str:
    return code_fingerprint("publish/leaks")


def prints_of_pieces(found: Iterable[Piece]) -> Prints:
    """Hash pieces."""
    kept: dict[str, list[Hashes]] = {name: [] for name in KINDS}
    looks = []
    for piece in found:
        for name, hashes in _hashes(piece):
            kept[name].append(hashes)
        if piece.kind == "picture" and (seen := look(piece.value)) is not None:
            looks.append(seen)
    arrays = {
        name: np.unique(np.concatenate(hashes)) if hashes else NO_HASHES
        for name, hashes in kept.items()
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
