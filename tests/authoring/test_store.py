import os
import threading

import pytest

from kit.authoring.history import HISTORY_FOLDER, versions
from kit.authoring.store import read_stored, restore, write_stored
from kit.build.identity import lesson_files
from kit.errors import ConflictError, LessonError


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "a-lesson"
    home.mkdir()
    (home / "lesson.toml").write_text('title = "One"\n', encoding="utf-8")
    return home


def test_what_is_written_is_there_and_what_was_is_kept(folder):
    before = read_stored(folder, "lesson.toml")
    after = write_stored(before, 'title = "Two"\n')
    assert (folder / "lesson.toml").read_text() == 'title = "Two"\n' == after.text
    (kept,) = versions(folder, "lesson.toml")
    assert kept.read() == b'title = "One"\n'


def test_a_file_that_has_changed_meanwhile_is_not_written_over(folder):
    mine = read_stored(folder, "lesson.toml")
    (folder / "lesson.toml").write_text('title = "Theirs"\n', encoding="utf-8")
    with pytest.raises(ConflictError, match=r"a-lesson/lesson\.toml: .*changed on disk"):
        write_stored(mine, 'title = "Mine"\n')
    assert (folder / "lesson.toml").read_text() == 'title = "Theirs"\n'
    write_stored(mine, 'title = "Mine"\n', anyway=True)
    assert (folder / "lesson.toml").read_text() == 'title = "Mine"\n'
    assert versions(folder, "lesson.toml")[0].read() == b'title = "Theirs"\n'


def test_a_file_that_somebody_took_away_or_made_meanwhile_is_a_conflict_too(folder):
    mine = read_stored(folder, "lesson.toml")
    (folder / "lesson.toml").unlink()
    with pytest.raises(ConflictError, match="taken away"):
        write_stored(mine, "x = 1\n")
    none = read_stored(folder, "levels/new.toml")
    assert none.data is None
    (folder / "levels").mkdir()
    (folder / "levels" / "new.toml").write_text("edits = []\n", encoding="utf-8")
    with pytest.raises(ConflictError):
        write_stored(none, "edits = [\n]\n")


def test_writing_what_the_file_says_already_is_no_conflict_and_no_version(folder):
    mine = read_stored(folder, "lesson.toml")
    (folder / "lesson.toml").write_text('title = "Same"\n', encoding="utf-8")
    write_stored(mine, 'title = "Same"\n')
    assert versions(folder, "lesson.toml") == ()


def test_a_new_file_gets_its_folder_and_no_leftovers_stay(folder):
    write_stored(read_stored(folder, "levels/easy.toml"), "edits = []\n")
    assert (folder / "levels" / "easy.toml").read_text() == "edits = []\n"
    assert [p.name for p in (folder / "levels").iterdir()] == ["easy.toml"]
    assert not (folder / HISTORY_FOLDER / "writing").exists()


def test_line_ends_are_written_as_given(folder):
    write_stored(read_stored(folder, "lesson.toml"), "a = 1\r\nb = 2\r\n")
    assert (folder / "lesson.toml").read_bytes() == b"a = 1\r\nb = 2\r\n"


@pytest.mark.parametrize(
    "name",
    ["../other.toml", "/etc/x.toml", ".hidden.toml", ".kit-history/x.toml",
     "a/../../b.toml", "run.py",
     "C:x.toml", "levels\\x.toml", "x\x00.toml", "levels//x.toml", ""],
)  # fmt: skip
def test_only_files_of_the_lesson_can_be_written(folder, name):
    with pytest.raises(LessonError, match="is not a file of the lesson"):
        read_stored(folder, name)


def test_a_link_that_leads_out_of_the_folder_is_refused(folder, tmp_path):
    outside = tmp_path / "outside.toml"
    outside.write_text("x = 1\n")
    (folder / "link.toml").symlink_to(outside)
    with pytest.raises(LessonError, match="is not a file of the lesson"):
        read_stored(folder, "link.toml")


def test_a_file_that_cannot_be_reached_is_one_sentence(folder):
    (folder / "levels").write_text("a file where a folder should be")
    with pytest.raises(LessonError, match="cannot be read"):
        write_stored(read_stored(folder, "levels/x.toml"), "edits = []\n")


def test_the_history_is_no_part_of_the_lesson_for_builds_and_git(folder):
    write_stored(read_stored(folder, "lesson.toml"), "a = 1\n")
    assert [p.name for p in lesson_files(folder)] == ["lesson.toml"]
    assert (folder / HISTORY_FOLDER / ".gitignore").read_text() == "*\n"


def test_a_version_is_brought_back_and_the_present_one_kept(folder):
    write_stored(read_stored(folder, "lesson.toml"), "a = 2\n")
    first = versions(folder, "lesson.toml")[-1]
    now = restore(first, folder=folder)
    assert now.text == (folder / "lesson.toml").read_text() == 'title = "One"\n'
    assert versions(folder, "lesson.toml")[0].read() == b"a = 2\n"


def test_of_two_writers_at_once_one_wins_and_the_other_is_told(folder):
    records = [read_stored(folder, "lesson.toml") for _ in range(8)]
    told, written = [], []
    barrier = threading.Barrier(len(records))

    def write(number):
        barrier.wait()
        try:
            write_stored(records[number], f"writer = {number}\n")
            written.append(number)
        except ConflictError:
            told.append(number)

    threads = [threading.Thread(target=write, args=(n,)) for n in range(len(records))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(written) == 1
    assert len(told) == len(records) - 1
    assert (folder / "lesson.toml").read_text() == f"writer = {written[0]}\n"


def test_a_lock_left_behind_is_taken_over_when_it_is_old(folder):
    lock = folder / HISTORY_FOLDER / "writing"
    lock.parent.mkdir()
    lock.touch()
    os.utime(lock, (1, 1))
    write_stored(read_stored(folder, "lesson.toml"), "a = 1\n")
    assert (folder / "lesson.toml").read_text() == "a = 1\n"
