"""How do arrays of fingerprints lie in the cache, and is what lies there such arrays?

Source: the npz format of NumPy (a zip of one array a file), without pickled objects.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Callable, Mapping
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from kit.cache import Cache
from kit.publish.leaks._words import Hashes

__all__ = ["arrays_of", "hashes_of", "kept_through", "packed_arrays"]

T = TypeVar("T")

_DAMAGES = (
    ValueError, TypeError, KeyError, EOFError, OSError, MemoryError, NotImplementedError,
    zipfile.BadZipFile, zlib.error, SyntaxError,
)  # fmt: skip
"""What NumPy raises where bytes are no arrays, or absurdly large ones."""


def kept_through(
    cache: Cache, key: str, compute: Callable[[], bytes], parse: Callable[[bytes], T]
) -> T:
    """Give what an entry of the cache says, as `Cache.parsed_through`.

    The key stands in the entry too: a proof must not be misled by what another entry,
    whole and of the same kind, has to say.
    """
    mark = key.encode()

    def read(entry: bytes) -> T:
        if not entry.startswith(mark):
            raise ValueError("this is another entry")
        return parse(entry[len(mark) :])

    return cache.parsed_through(key, lambda: mark + compute(), read)


def packed_arrays(**arrays: NDArray[np.generic]) -> bytes:
    """Write arrays as bytes."""
    kept = io.BytesIO()
    np.savez(kept, **arrays)  # type: ignore[arg-type]  # its stubs know no generic arrays
    return kept.getvalue()


def arrays_of(
    entry: bytes, kinds: Mapping[str, tuple[type[np.generic], int]]
) -> dict[str, NDArray[np.generic]]:
    """Read what `packed_arrays` wrote.

    Parameters
    ----------
    entry : bytes
        Whatever lies in the cache.
    kinds : mapping of str to (type, int)
        The arrays that there must be, each with the kind of its numbers and its dimensions.

    Raises
    ------
    ValueError
        If it is anything else.
    """
    try:
        with np.load(io.BytesIO(entry), allow_pickle=False) as kept:
            arrays = {name: kept[name] for name in kinds}
    except _DAMAGES as error:
        raise ValueError("these are no arrays") from error
    except AttributeError as error:  # a single array, which is no table of them
        raise ValueError("this is one array") from error
    for name, (kind, dimensions) in kinds.items():
        if arrays[name].dtype != kind or arrays[name].ndim != dimensions:
            raise ValueError(f"the array {name} is of another kind")
    return arrays


def hashes_of(entry: bytes) -> Hashes:
    """Read one array of hashes, written as ``hashes``."""
    read: Hashes = arrays_of(entry, {"hashes": (np.uint64, 1)})["hashes"]  # type: ignore[assignment]
    return read
