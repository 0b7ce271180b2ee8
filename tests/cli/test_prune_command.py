"""Withdrawing a lesson: kit build names its output, kit prune removes it."""

import json
import shutil
import zipfile

import pytest

from tests.cli.conftest import write_lesson


@pytest.fixture
def school(workplace, kit_command):
    """Two lessons, built; then one of them is withdrawn."""
    write_lesson(workplace / "lessons/old-tune")
    toml = workplace / "lessons/old-tune/lesson.toml"
    toml.write_text(
        toml.read_text(encoding="utf-8").replace("Small Tune", "Old Tune"),
        encoding="utf-8",
    )
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert "Old Tune" in (workplace / "build/index.html").read_text(encoding="utf-8")
    shutil.rmtree(workplace / "lessons/old-tune")
    return workplace


def catalogue(place):
    with zipfile.ZipFile(place / "build/free-site.zip") as archive:
        packed = [archive.read(name).decode() for name in archive.namelist()]
    page = (place / "build/index.html").read_text(encoding="utf-8")
    return page + "".join(packed)


def test_a_build_names_what_has_no_lesson_and_leaves_it_out(school, kit_command):
    done = kit_command("build", cwd=school)
    assert done.returncode == 0
    assert "build: old-tune has no lesson any more" in done.stderr
    assert "kit prune removes it" in done.stderr
    assert "Old Tune" not in catalogue(school)
    assert "Small Tune" in catalogue(school)
    assert (school / "build/old-tune/index.html").is_file()


def test_prune_removes_it_and_the_next_build_is_silent(school, kit_command):
    done = kit_command("prune", "--yes", cwd=school)
    assert done.returncode == 0, done.stderr
    assert "build/old-tune removed." in done.stdout
    assert not (school / "build/old-tune").exists()
    assert not list((school / "build/.recipes").glob("old-tune*"))
    assert "Old Tune" not in catalogue(school)
    assert (school / "build/small-tune/index.html").is_file()
    again = kit_command("build", cwd=school)
    assert (again.returncode, again.stderr) == (0, "")
    done = kit_command("prune", cwd=school)
    assert done.returncode == 0
    assert "There is no output of a withdrawn lesson in build." in done.stdout


def test_prune_asks_first(school, kit_command):
    done = kit_command("prune", cwd=school)  # nobody there to answer
    assert done.returncode == 1
    assert "build/old-tune\nRemove this folder?" in done.stdout
    assert (school / "build/old-tune").is_dir()


def test_prune_names_and_keeps_a_folder_with_a_file_of_the_teachers(school, kit_command):
    (school / "build/old-tune/notes.txt").write_text("mine")
    done = kit_command("prune", "--yes", cwd=school)
    assert done.returncode == 1
    (sentence,) = done.stderr.splitlines()
    assert sentence.startswith("kit: build/old-tune: the kit did not write notes.txt")
    assert (school / "build/old-tune/index.html").is_file()
    assert (school / "build/old-tune/notes.txt").read_text() == "mine"


def test_prune_of_a_folder_that_is_not_there_is_no_fault(tmp_path, kit_command):
    done = kit_command("prune", "--out", "nowhere", cwd=tmp_path)
    assert done.returncode == 0
    assert not (tmp_path / "nowhere").exists()


def test_a_last_lesson_that_goes_is_pruned(workplace, kit_command):
    shutil.rmtree(workplace / "lessons/small-tune")
    done = kit_command("prune", "--yes", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert not (workplace / "build/small-tune").exists()
    assert "Small Tune" not in catalogue(workplace)


def test_a_lessons_folder_that_is_gone_keeps_all_and_says_so(workplace, kit_command):
    (workplace / "lessons").rename(workplace / "away")
    before = catalogue(workplace)
    done = kit_command("prune", "--yes", cwd=workplace)
    assert done.returncode == 0
    (sentence,) = done.stderr.splitlines()
    assert "small-tune stays in the catalogue, because lessons, where" in sentence
    assert catalogue(workplace) == before


def test_where_a_lesson_was_built_from_is_in_nothing_that_is_published(
    workplace, kit_command
):
    folder = workplace / "secret-cellar/one"
    write_lesson(folder / "gar")
    done = kit_command("build", folder / "gar", cwd=workplace)
    assert done.returncode == 0, done.stderr
    noted = json.loads((workplace / "build/.recipes/gar.origin").read_text("utf-8"))
    assert noted["folder"] == "../secret-cellar/one/gar"
    for path in (workplace / "build").rglob("*"):
        if path.is_file() and ".recipes" not in path.parts:
            assert b"secret-cellar" not in path.read_bytes()
            if path.suffix == ".zip":
                with zipfile.ZipFile(path) as archive:
                    for name in archive.namelist():
                        assert b"secret-cellar" not in archive.read(name)
