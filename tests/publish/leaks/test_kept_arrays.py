"""Fingerprints in the cache are read whole, or made again."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.cache import Cache
from kit.publish.leaks._kept import arrays_of, hashes_of, packed_arrays
from kit.publish.leaks._prints import Prints, prints_of

HASHES = np.array([1, 2, 3], np.uint64)


def npy(array):
    kept = io.BytesIO()
    np.save(kept, array, allow_pickle=array.dtype == object)
    return kept.getvalue()


OTHERS = [
    b"", b"[]", b"{}", b"PK\x03\x04", npy(HASHES), npy(np.array([{}], object)),
    packed_arrays(hashes=HASHES)[:-30], packed_arrays(other=HASHES),
    packed_arrays(hashes=HASHES.astype(float)), packed_arrays(hashes=HASHES.reshape(1, 3)),
]  # fmt: skip


def test_arrays_come_back_as_they_were():
    assert (hashes_of(packed_arrays(hashes=HASHES)) == HASHES).all()
    empty = packed_arrays(a=np.zeros((0, 4), np.uint16))
    assert arrays_of(empty, {"a": (np.uint16, 2)})["a"].shape == (0, 4)


@pytest.mark.parametrize("entry", OTHERS)
def test_what_is_no_such_array_is_refused(entry):
    with pytest.raises(ValueError, match=r"arrays?"):
        hashes_of(entry)


@given(place=st.integers(0, 300), byte=st.integers(0, 255))
def test_a_damaged_array_is_read_or_refused(place, byte):
    entry = bytearray(packed_arrays(hashes=HASHES))
    entry[place % len(entry)] = byte
    try:
        read = hashes_of(bytes(entry))
    except ValueError:
        return
    assert read.dtype == np.uint64


@pytest.mark.parametrize("entry", OTHERS)
def test_prints_that_are_none_are_taken_again(tmp_path, entry):
    cache = Cache(tmp_path)
    before = prints_of(b"some words that are read here and there", cache).packed()
    for path in tmp_path.glob("??/*"):
        cache.put(path.name, entry)
    again = prints_of(b"some words that are read here and there", cache)
    assert isinstance(again, Prints)
    assert again.packed() == before
