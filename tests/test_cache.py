"""The cache of computed bytes: whole entries or none."""

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kit.cache import Cache, CacheLossError, default_cache, fingerprint
from kit.errors import SetupError


def test_an_entry_comes_back_as_it_was(tmp_path):
    cache = Cache(tmp_path)
    key = fingerprint("audio", 1)
    assert cache.get(key) is None
    assert cache.through(key, lambda: b"first") == b"first"
    assert cache.through(key, lambda: b"second") == b"first"


def test_a_damaged_entry_is_computed_again(tmp_path):
    cache = Cache(tmp_path)
    key = fingerprint("audio")
    cache.put(key, b"whole")
    entry = next(path for path in tmp_path.rglob("*") if path.is_file())
    entry.write_bytes(entry.read_bytes()[:-1])
    assert cache.through(key, lambda: b"anew") == b"anew"


def test_fingerprints_tell_bytes_and_numbers_apart():
    assert (
        len({fingerprint(1), fingerprint("1"), fingerprint(b"1"), fingerprint(1, 1)}) == 4
    )


def test_trimming_takes_out_what_was_used_longest_ago(tmp_path):
    cache = Cache(tmp_path, limit_bytes=300)
    keys = [fingerprint(n) for n in range(4)]
    for age, key in enumerate(keys):
        cache.put(key, b"x" * 50)
        os.utime(cache.folder / key[:2] / key, (1000 + age, 1000 + age))
    assert cache.trim() == 2
    assert [cache.get(key) is not None for key in keys] == [False, False, True, True]


def test_many_writers_of_one_entry_leave_it_whole(tmp_path):
    cache = Cache(tmp_path)
    key = fingerprint("shared")
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda _: cache.put(key, b"same" * 1000), range(64)))
    assert cache.get(key) == b"same" * 1000
    assert [p.name for p in tmp_path.rglob("*") if p.is_file()] == [key]


def test_bytes_kept_under_their_own_hash_are_stored_once(tmp_path):
    cache = Cache(tmp_path)
    key = cache.keep(b"same")
    written = (tmp_path / key[:2] / key).stat().st_ino
    assert cache.keep(b"same") == key
    assert (tmp_path / key[:2] / key).stat().st_ino == written
    assert cache.need(key) == b"same"


def test_an_entry_lost_while_it_is_needed_is_said_so(tmp_path):
    cache = Cache(tmp_path)
    key = cache.keep(b"here")
    assert cache.touch(key)
    (tmp_path / key[:2] / key).unlink()
    assert not cache.touch(key)
    with pytest.raises(CacheLossError, match="was lost while it was needed; build again"):
        cache.need(key)


def test_trimming_leaves_what_is_in_use_whatever_the_limit(tmp_path):
    cache = Cache(tmp_path, limit_bytes=1)
    keys = [cache.keep(bytes([n])) for n in range(3)]
    assert cache.trim() == 0
    assert all(cache.touch(key) for key in keys)


def test_trimming_clears_what_a_killed_process_left_unfinished(tmp_path):
    cache = Cache(tmp_path)
    key = cache.keep(b"whole")
    left = tmp_path / key[:2] / "unfinished-abc"
    left.write_bytes(b"ha")
    os.utime(left, (1000, 1000))
    assert cache.trim() == 1
    assert [p.name for p in tmp_path.rglob("*") if p.is_file()] == [key]


def test_a_disk_that_is_full_leaves_nothing_behind(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        Cache(tmp_path).keep(b"anything")
    assert not [p for p in tmp_path.rglob("*") if p.is_file()]


def test_the_limit_may_be_set_and_has_to_be_a_number(tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path))
    monkeypatch.setenv("KIT_CACHE_GB", "2.5")
    assert default_cache().limit_bytes == 2_500_000_000
    monkeypatch.setenv("KIT_CACHE_GB", "much")
    with pytest.raises(SetupError, match='KIT_CACHE_GB is "much"; give it a number'):
        default_cache()
