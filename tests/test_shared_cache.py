"""A cache that several users share, and entries that are none.

The second user is real where these tests are run by root, as the automatic run does.
Elsewhere everybody is the same user, and the rights that are given still show.
"""

import contextlib
import os
import stat
import sys
import tempfile
from pathlib import Path

import pytest

from kit import cache as cache_module
from kit.cache import Cache, fingerprint
from kit.shared_folder import put_file, take_out

ANNA, BERT, GROUP = 12001, 12002, 12900
KEY = fingerprint("an entry")
posix_only = pytest.mark.skipif(
    sys.platform == "win32", reason="there the system hands rights on by itself"
)
pytestmark = posix_only


@contextlib.contextmanager
def acting_as(user, umask=0o077):
    """Be a user of the group, with a umask that keeps others out."""
    is_root = os.geteuid() == 0
    before = os.umask(umask)
    groups = os.getgroups()
    try:
        if is_root:
            os.setgroups([GROUP])
            os.setegid(user)
            os.seteuid(user)
        yield
    finally:
        if is_root:
            os.seteuid(0)
            os.setegid(0)
            os.setgroups(groups)
        os.umask(before)


@pytest.fixture
def place(monkeypatch):
    """A folder that every user may go through; pytest's own is its user's alone."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        folder.chmod(0o755)
        home = folder / "home"
        home.mkdir()
        home.chmod(0o1777)
        monkeypatch.setattr(
            cache_module.platformdirs, "user_cache_dir",
            lambda _: str(home / f"of-{os.geteuid()}"),
        )  # fmt: skip
        yield folder


@pytest.fixture
def shared(place):
    """A folder of the group, as an administrator makes it."""
    folder = place / "cache"
    folder.mkdir()
    if os.geteuid() == 0:
        os.chown(folder, -1, GROUP)
    folder.chmod(0o2775)
    return folder


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


def entry_of(folder):
    return folder / KEY[:2] / KEY


def never():
    raise AssertionError("it was there, and is made again")


def test_what_one_user_puts_in_the_other_reads_dates_replaces_and_trims(shared):
    with acting_as(ANNA):
        Cache(shared).put(KEY, b"Anna's")
    entry = entry_of(shared)
    assert mode(entry) == 0o664
    assert mode(entry.parent) == 0o2775
    assert entry.stat().st_gid == entry.parent.stat().st_gid == shared.stat().st_gid
    os.utime(entry, (1000, 1000))
    with acting_as(BERT):
        cache = Cache(shared, limit_bytes=0)
        assert cache.touch(KEY)
        assert entry.stat().st_mtime > 1000
        assert cache.through(KEY, never) == b"Anna's"
        cache.put(KEY, b"Bert's")
    with acting_as(ANNA):
        assert Cache(shared).get(KEY) == b"Bert's"
    os.utime(entry, (1000, 1000))
    with acting_as(ANNA):
        assert Cache(shared, limit_bytes=0).trim() == 1
    assert not entry.exists()


def test_a_part_of_the_cache_is_shared_as_the_whole(shared):
    with acting_as(ANNA):
        Cache(shared, part="takes").put(KEY, b"a take")
    assert mode(shared / "takes") == 0o2775
    with acting_as(BERT):
        assert Cache(shared, part="takes").through(KEY, never) == b"a take"
        Cache(shared, part="takes").put(KEY, b"another")
    assert Cache(shared).get(KEY) is None


def test_an_entry_that_cannot_be_read_is_made_anew_in_its_place(shared):
    with acting_as(ANNA):
        Cache(shared).put(KEY, b"Anna's")
        entry_of(shared).chmod(0)
    with acting_as(BERT):
        cache = Cache(shared)
        assert not cache.touch(KEY) or os.geteuid() == 0
        cache.put(KEY, b"made anew")
        assert cache.through(KEY, never) == b"made anew"
    with acting_as(ANNA):
        assert Cache(shared).through(KEY, never) == b"made anew"


def test_where_a_user_may_not_write_what_is_made_lies_in_a_place_of_the_users_own(shared):
    """As in a cache from before its folders were shared."""
    with acting_as(ANNA):
        Cache(shared).put(KEY, b"Anna's")
        entry_of(shared).chmod(0)
        entry_of(shared).parent.chmod(0o500)
    with acting_as(BERT):
        cache = Cache(shared)
        assert cache.through(KEY, lambda: b"Bert's") in {b"Bert's", b"Anna's"}
        assert cache.touch(KEY)
        cache.through(KEY, never)
        assert cache.trim() == 0


def test_a_cache_to_read_only_costs_nobody_a_build(shared):
    Cache(shared).put(KEY, b"there")
    other = fingerprint("another entry")
    shared.chmod(0o555)
    with acting_as(BERT):
        cache = Cache(shared)
        assert cache.through(KEY, never) == b"there"
        assert cache.through(other, lambda: b"made") == b"made"
        assert cache.through(other, never) == b"made"
        cache.trim()
    shared.chmod(0o2775)


@pytest.mark.parametrize(("top", "file"), [(0o755, 0o644), (0o700, 0o600), (0o775, 0o664)])
def test_files_get_the_rights_of_their_folder(place, top, file):
    folder = place / "own"
    folder.mkdir()
    folder.chmod(top)
    Cache(folder).put(KEY, b"anything")
    assert mode(entry_of(folder)) == file
    assert mode(entry_of(folder).parent) == top


def test_a_new_cache_is_made_as_the_umask_says(place):
    with acting_as(ANNA, umask=0o027):
        folder = place / "home/new"
        Cache(folder).put(KEY, b"anything")
    assert (mode(folder), mode(entry_of(folder))) == (0o750, 0o640)


def in_the_way_a_folder(path):
    path.mkdir()
    (path / "file").write_text("in the way")


def in_the_way_a_pipe(path):
    os.mkfifo(path)


def in_the_way_a_circle(path):
    path.symlink_to(path.name)


def in_the_way_a_device(path):
    path.symlink_to("/dev/zero")


def in_the_way_nothing_readable(path):
    path.write_bytes(b"x")
    path.chmod(0)


@pytest.mark.parametrize(
    "put_in_the_way",
    [
        in_the_way_a_folder,
        in_the_way_a_pipe,
        in_the_way_a_circle,
        in_the_way_a_device,
        in_the_way_nothing_readable,
    ],
    ids=lambda function: function.__name__,
)
def test_what_is_no_entry_counts_as_missing_and_gives_way(tmp_path, put_in_the_way):
    cache = Cache(tmp_path)
    path = entry_of(tmp_path)
    path.parent.mkdir()
    put_in_the_way(path)
    assert cache.get(KEY) is None
    assert cache.through(KEY, lambda: b"made anew") == b"made anew"
    assert cache.through(KEY, never) == b"made anew"
    assert [one.name for one in path.parent.iterdir()] == [KEY]


def test_a_file_where_a_folder_should_be_gives_way(tmp_path):
    (tmp_path / KEY[:2]).write_bytes(b"in the way")
    assert Cache(tmp_path).through(KEY, lambda: b"made") == b"made"
    assert Cache(tmp_path).through(KEY, never) == b"made"


def test_a_whole_entry_under_another_name_counts_as_missing(tmp_path):
    cache = Cache(tmp_path)
    other = fingerprint("another entry")
    cache.put(other, b"of the other")
    put_file(tmp_path, entry_of(tmp_path), (tmp_path / other[:2] / other).read_bytes())
    assert cache.get(KEY) is None
    assert cache.through(KEY, lambda: b"its own") == b"its own"


def test_bytes_that_are_not_those_of_their_hash_are_made_again(tmp_path):
    cache = Cache(tmp_path)
    blob = cache.keep(b"right")
    cache.put(blob, b"wrong")
    assert cache.blob(blob) is None
    assert cache.keep(b"right") == blob
    assert cache.need(blob) == b"right"


def test_trimming_a_folder_that_is_no_cache_takes_nothing_out(tmp_path):
    letter = tmp_path / "my/letter.txt"
    letter.parent.mkdir()
    letter.write_text("Dear all")
    os.utime(letter, (1000, 1000))
    assert Cache(tmp_path, limit_bytes=0).trim() == 0
    assert letter.read_text() == "Dear all"


def test_trimming_takes_out_a_folder_in_the_place_of_an_entry(tmp_path):
    in_the_way = entry_of(tmp_path)
    in_the_way.mkdir(parents=True)
    os.utime(in_the_way, (1000, 1000))
    assert Cache(tmp_path, limit_bytes=0).trim() == 1
    assert not in_the_way.exists()


def test_taking_out_what_is_not_there_is_no_error(tmp_path):
    assert take_out(tmp_path / "none")
