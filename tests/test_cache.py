"""The shelf of computed bytes: whole entries or none."""

from concurrent.futures import ThreadPoolExecutor

from kit.cache import Cache, fingerprint


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
    import os

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
