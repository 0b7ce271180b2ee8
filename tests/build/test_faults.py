"""What goes wrong while a build runs: nothing wrong is kept, and the next build heals."""

import contextlib
import hashlib
import json
import os
import shutil
import sys
import time
from concurrent.futures import Future
from pathlib import Path

import pytest

from kit.build import _staging as staging
from kit.build.lesson import build_lesson
from kit.build.restore import choose_earlier, restore_earlier
from kit.cache import Cache
from kit.errors import KitError, LessonError, SetupError

TUNE = 'X:1\nT:Lamp\nM:4/4\nL:1/4\nK:F\n"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]\n'
SETTINGS = """
title = "Lamp"
instruments = ["tenor-sax"]
sections = [{ label = "A", bars = "1-2" }, { label = "B", bars = "3-4" }]
[rights]
basis = "own work"
[[levels]]
name = "plain"
tempo = 300
feel = "straight-eighths"
count_in_bars = 0
"""
NOTEBOOK = {
    "cells": [
        {"cell_type": "markdown", "id": "a", "metadata": {}, "source": "# Lamp\n\nWords."}
    ],
    "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip


class Here:
    """Workers of one: each call at once, in this process; `before` is told its number."""

    breakdowns = (BrokenPipeError,)
    count = 1

    def __init__(self, before=lambda number: None):
        self.before, self.calls = before, 0

    def prepare(self):
        return

    def loss(self, title):
        return SetupError(f"lost while {title} was made")

    def submit(self, call, /, *args):
        self.calls += 1
        self.before(self.calls)
        future = Future()
        try:
            future.set_result(call(*args))
        except (KitError, OSError) as error:
            future.set_exception(error)
        return future

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return


class Silent:
    """Progress that nobody sees."""

    def start(self, title, steps):
        return

    def step(self, title, left_s=None):
        return


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def build(school, before=lambda number: None):
    return build_lesson(
        school / "lessons/lamp", school / "out", progress=Silent(), workers=Here(before)
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A school of one lesson, built once, with its cache."""
    school = tmp_path_factory.mktemp("built") / "school"
    folder = school / "lessons/lamp"
    folder.mkdir(parents=True)
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "lesson.ipynb").write_text(json.dumps(NOTEBOOK), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KIT_CACHE", str(school / "cache"))
        build(school)
    return school


@pytest.fixture
def school(built, tmp_path, monkeypatch):
    """A copy that a test may break."""
    place = shutil.copytree(built, tmp_path / "school")
    monkeypatch.setenv("KIT_CACHE", str(place / "cache"))
    return place


@pytest.fixture
def good(built):
    """The bytes that every build of the lesson as it is has to give."""
    return tree(built / "out/lamp")


def entries(school):
    return sorted(path for path in (school / "cache").glob("??/*") if path.is_file())


def damage(paths):
    for path in paths:
        with path.open("r+b") as file:
            file.seek(-1, os.SEEK_END)
            file.write(b"\xff")


def edit_tune(school, old, new):
    path = school / "lessons/lamp/tune.abc"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def left_beside(school):
    return [path.name for path in (school / "out").iterdir() if path.name.startswith(".l")]


def test_any_number_of_damaged_entries_are_made_again_in_one_build(school, good):
    shutil.rmtree(school / "out")
    damage(entries(school)[::2])
    result = build(school)
    assert tree(school / "out/lamp") == good
    assert result.reasons
    assert {reason.words for reason in result.reasons} == {"made for the first time"}


def test_what_is_made_replaces_a_damaged_entry_of_the_same_bytes(school):
    cache = Cache(school / "cache")
    key = cache.keep(b"the same bytes")
    damage([cache.folder / key[:2] / key])
    assert cache.keep(b"the same bytes") == key
    assert cache.need(key) == b"the same bytes"


def test_entries_lost_in_mid_build_are_made_again_at_once(school, good):
    shutil.rmtree(school / "out")
    lost = []

    def lose(number):
        if not lost:
            lost.extend(entries(school))
            for path in lost:
                path.unlink()

    # The records are small: without them everything is made, and the workers is asked.
    for path in entries(school):
        if path.stat().st_size < 5000:
            path.unlink()
    build(school, lose)
    assert lost
    assert tree(school / "out/lamp") == good


@pytest.mark.parametrize("at_call", [1, 4])
def test_a_file_saved_during_a_build_is_never_kept_as_what_it_was(school, good, at_call):
    shutil.rmtree(school / "cache")
    shutil.rmtree(school / "out")

    def save(number):
        if number == at_call:
            edit_tune(school, "F G A c", "F G A d")

    with pytest.raises(
        LessonError,
        match=r"lamp/tune\.abc: the file was changed while the lesson was being built; "
        r"build again",
    ):
        build(school, save)
    assert not (school / "out/lamp").exists()
    edit_tune(school, "F G A d", "F G A c")
    build(school)
    assert tree(school / "out/lamp") == good


@pytest.mark.parametrize("at_call", [1, 2, 4])
def test_work_that_fails_over_a_file_saved_meanwhile_says_so(school, at_call):
    shutil.rmtree(school / "cache")
    shutil.rmtree(school / "out")
    settings = school / "lessons/lamp/lesson.toml"

    def save(number):
        if number == at_call:
            settings.write_text(SETTINGS.replace("plain", "clear"), encoding="utf-8")

    # The level that the work is for is there no more.
    with pytest.raises(LessonError, match=r"lesson\.toml: the file was changed while"):
        build(school, save)


@contextlib.contextmanager
def no_file_beyond(size):
    """Let no file of this process grow beyond a size, as on a full disk."""
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


needs_limits = pytest.mark.skipif(
    sys.platform == "win32", reason="no limits of files there"
)


@needs_limits
@pytest.mark.parametrize("empty", ["cache", "out"])
def test_a_full_disk_is_told_with_its_place_and_leaves_nothing(school, good, empty):
    shutil.rmtree(school / empty)
    if empty == "cache":
        edit_tune(school, "F G A c", "F G A d")
    with no_file_beyond(20_000), pytest.raises(OSError, match="File too large") as caught:
        build(school)
    assert str(school / empty) in str(caught.value.filename)
    assert left_beside(school) == []
    assert not [path for path in entries(school) if path.name.startswith("unfinished")]
    if empty == "cache":
        assert tree(school / "out/lamp") == good
        edit_tune(school, "F G A d", "F G A c")
    build(school)
    assert tree(school / "out/lamp") == good


def test_an_output_folder_that_cannot_be_made_is_told_with_its_place(school):
    shutil.rmtree(school / "out")
    (school / "out").write_text("in the way")
    with pytest.raises(OSError, match=r"exists|directory") as caught:
        build(school)
    assert caught.value.filename == str(school / "out")


def test_a_crew_that_breaks_down_is_one_sentence(school):
    def broken(number):
        raise BrokenPipeError

    shutil.rmtree(school / "cache")
    shutil.rmtree(school / "out")
    with pytest.raises(SetupError, match=r"lost while .+ was made"):
        build(school, broken)


def test_an_output_taken_aside_by_a_killed_build_comes_back(school, good):
    out = school / "out/lamp"
    out.rename(school / "out/.lamp.abcd_123.old")
    edit_tune(school, '"F"F G A c', '"C7xyz"F G A c')
    with pytest.raises(LessonError, match="C7xyz"):
        build(school)
    assert tree(out) == good
    assert left_beside(school) == []


def test_stages_forgotten_by_killed_builds_are_cleared_and_others_left(school):
    out = school / "out"
    old, new, future, other = (
        out / name
        for name in (
            ".lamp.old_one1.stage",
            ".lamp.new_one1.stage",
            ".lamp.future_1.stage",
            ".lamp.b.xxxxxxxx.stage",
        )
    )
    for path in (old, new, future, other):
        path.mkdir()
    long_ago = time.time() - staging.FORGOTTEN_S - 60
    for path in (old, other):
        os.utime(path, (long_ago, long_ago))
    # The clock of the machine was wrong when this one was made.
    in_a_year = time.time() + 365 * 86400
    os.utime(future, (in_a_year, in_a_year))
    dated = shutil.copytree(out / "lamp", out / ".lamp.20261101.old")
    os.utime(dated, (long_ago, long_ago))
    assert build(school).was_current
    assert not old.exists()
    assert not future.exists()
    assert dated.exists()
    assert new.exists()
    assert other.exists()


def test_an_output_left_aside_by_a_killed_build_is_kept_as_an_earlier_one(school, good):
    out = school / "out/lamp"
    shutil.copytree(out, school / "out/.lamp.abcd_123.old")
    (school / "out/.lamp.abcd_123.old/mine.txt").write_text("not to be lost")
    edit_tune(school, "F G A c", "F G A d")
    build(school)
    assert left_beside(school) == []
    assert (out / "mine.txt").read_text() == "not to be lost"
    place, _ = restore_earlier(school / "out", choose_earlier(school / "out", "lamp"))
    (out / "mine.txt").unlink()
    assert tree(place.out) == good


def test_what_is_left_of_an_output_being_removed_goes_altogether(school, good):
    old = school / "out/.lamp.abcd_123.gone"
    shutil.copytree(school / "out/lamp", old)
    shutil.rmtree(old / "handouts")
    (old / "audio/once.mp3").write_bytes(b"of a level that is no more")
    assert build(school).was_current
    assert left_beside(school) == []
    assert tree(school / "out/lamp") == good


@pytest.mark.parametrize("ending", ["", ".old", ".gone"])
def test_a_folder_with_the_name_of_a_leftover_that_holds_no_output_stays(school, ending):
    theirs = school / f"out/.lamp.original{ending}/mine"
    theirs.parent.mkdir()
    theirs.write_text("in no other place")
    long_ago = time.time() - staging.FORGOTTEN_S - 60
    os.utime(theirs.parent, (long_ago, long_ago))
    edit_tune(school, "F G A c", "F G A d")
    build(school)
    assert theirs.read_text() == "in no other place"


def test_earlier_builds_make_room_on_a_full_disk(school, good, monkeypatch):
    edit_tune(school, "F G A c", "F G A d")
    build(school)
    edit_tune(school, "F G A d", "F G A c")
    kept = school / "out/.earlier/lamp/files"
    assert any(kept.iterdir())
    write = Path.write_bytes

    def write_while_there_is_room(path, data):
        if path.parent.name == "audio" and any(kept.iterdir()):
            raise OSError(28, "No space left on device", str(path))
        return write(path, data)

    monkeypatch.setattr(Path, "write_bytes", write_while_there_is_room)
    build(school)
    assert tree(school / "out/lamp") == good


def test_an_entry_that_can_only_be_read_is_used(school, monkeypatch):
    cache = Cache(school / "cache")
    key = cache.keep(b"another user's")

    def refused(*_):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(os, "utime", refused)
    assert cache.touch(key)
    assert cache.get(key) == b"another user's"


def test_the_cache_is_the_same_wherever_a_notebook_stands(school, monkeypatch):
    from kit.cache import default_cache

    monkeypatch.chdir(school)
    monkeypatch.setenv("KIT_CACHE", "cache")
    assert default_cache().folder == school / "cache"


def other_records(key):
    """Give what might lie in the place of a record, each whole and validly sealed."""
    whole = {"path": "a.mp3", "kind": "audio", "tier": "free", "sha256": key, "bytes": 3}
    return [
        json.dumps({"job": "x" * 64, "files": []}).encode(),
        b"[]", b"{}", b"null", b"3", b"[[]]", b"not JSON", b"\xff", b'["a", "b"]',
        b"[1, 2]", b"[" * 100_000, b"[" + b"9" * 5000 + b"]", b'{"cells": 3}',
        b'{"blob": "x"}',
        *(
            json.dumps({"job": key, "files": [{**whole, **more}]}).encode()
            for more in (
                {},
                {"path": "../../stolen.html"},
                {"path": "/tmp/stolen.html"},
                {"path": "a/../../b"},
                {"path": "c:\\stolen"},
                {"path": "a\0b"},
                {"path": "\ud800"},
                {"path": 3},
                {"sha256": "../../../etc/passwd"},
                {"sha256": "x"},
                {"tier": ["free"]},
                {"bytes": "many"},
                {"level": "another"},
                {"kind": "notebook", "path": "lesson.ipynb"},
                {"more": "than there should be"},
            )
        ),
        json.dumps(
            {
                "seconds": 1.0, "lufs": "loud", "true_peak_dbtp": -1.0, "soundfont": "x",
                "mime": "audio/mpeg", "blob": key,
            }
        ).encode(),
    ]  # fmt: skip


@pytest.mark.parametrize("start", range(5))
def test_entries_that_hold_other_valid_bytes_are_made_again(school, good, start):
    shutil.rmtree(school / "out")
    cache = Cache(school / "cache")
    planted = 0
    for place, path in enumerate(entries(school)):
        wrong = other_records(path.name)
        cache.put(path.name, wrong[(start * 7 + place) % len(wrong)])
        planted += 1
    assert planted > 50
    build(school)
    assert tree(school / "out/lamp") == good
    assert not list(school.rglob("stolen*"))


@pytest.mark.parametrize("way", ["swapped", "folder", "unreadable", "pipe"])
def test_entries_that_are_none_are_made_again(school, good, way):
    shutil.rmtree(school / "out")
    paths = entries(school)
    if way == "swapped":
        whole = [path.read_bytes() for path in paths]
        for path, data in zip(paths, [*whole[1:], whole[0]], strict=True):
            path.write_bytes(data)
    else:
        for path in paths:
            if way == "unreadable":
                path.chmod(0)
                continue
            path.unlink()
            path.mkdir() if way == "folder" else os.mkfifo(path)
    build(school)
    assert tree(school / "out/lamp") == good
