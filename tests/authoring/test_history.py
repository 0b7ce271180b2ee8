from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kit.authoring.history import HISTORY_FOLDER, KEPT, keep_version, versions
from kit.errors import LessonError


def test_the_newest_versions_stay_in_order(tmp_path):
    for number in range(KEPT + 5):
        keep_version(tmp_path, "levels/a.toml", f"n = {number}\n".encode())
    said = [version.read().decode() for version in versions(tmp_path, "levels/a.toml")]
    assert said == [f"n = {number}\n" for number in range(KEPT + 4, 4, -1)]


def test_files_have_histories_of_their_own(tmp_path):
    keep_version(tmp_path, "levels/a.toml", b"a\n")
    keep_version(tmp_path, "lesson.toml", b"b\n")
    assert [v.read() for v in versions(tmp_path, "levels/a.toml")] == [b"a\n"]
    assert [v.read() for v in versions(tmp_path, "lesson.toml")] == [b"b\n"]
    assert versions(tmp_path, "levels/b.toml") == ()


def test_the_same_content_twice_in_a_row_is_one_version(tmp_path):
    for data in (b"a", b"a", b"b", b"a"):
        keep_version(tmp_path, "lesson.toml", data)
    assert [v.read() for v in versions(tmp_path, "lesson.toml")] == [b"a", b"b", b"a"]


def test_a_version_says_when_it_was_replaced(tmp_path):
    before = datetime.now(UTC)
    keep_version(tmp_path, "lesson.toml", b"a")
    (version,) = versions(tmp_path, "lesson.toml")
    assert before - timedelta(seconds=1) <= version.replaced <= datetime.now(UTC)


def test_what_is_no_version_in_the_folder_is_left_alone(tmp_path):
    keep_version(tmp_path, "lesson.toml", b"a")
    stray = tmp_path / ".kit-history" / "lesson.toml" / "notes.txt"
    stray.write_text("mine")
    assert len(versions(tmp_path, "lesson.toml")) == 1
    assert stray.exists()


def test_a_full_disk_leaves_no_half_version(tmp_path, monkeypatch):
    write = Path.write_bytes

    def fill_up(path, data):
        write(path, data[:3])
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr(Path, "write_bytes", fill_up)
    with pytest.raises(OSError, match="No space"):
        keep_version(tmp_path, "lesson.toml", b"title = 1")
    assert versions(tmp_path, "lesson.toml") == ()
    folder = tmp_path / HISTORY_FOLDER / "lesson.toml"
    assert list(folder.iterdir()) == []


def test_a_damaged_version_is_never_brought_back(tmp_path):
    keep_version(tmp_path, "lesson.toml", b"title = 1")
    (version,) = versions(tmp_path, "lesson.toml")
    version.path.write_bytes(b"title = 2")
    with pytest.raises(LessonError, match=r"lesson\.toml: the version of .+ damaged"):
        version.read()
