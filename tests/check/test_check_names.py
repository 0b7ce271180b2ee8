"""Names that another computer cannot have, and files that would be written over others."""

from __future__ import annotations

import shutil
import unicodedata
from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.check.lesson import check_lesson
from kit.check.names import CATALOGUE_NAMES, name_problem, shared_names
from kit.cli import main
from kit.output.place import RESERVED_NAMES

TOY = '[[instrument]]\nslug = "{}"\nname = "Toy"\nwritten = "P1"\nrange = ["C3", "C6"]\n'


def errors(folder):
    return [str(f) for f in check_lesson(folder) if f.severity == "error"]


@pytest.mark.parametrize(
    "name",
    [
        "con",
        "NUL",
        "com1.txt",
        "aux .tar.gz",
        "lpt³",
        "a:b",
        "a?b",
        "a|b",
        'a"b',
        "a*b",
        "a<b",
        "a\\b",
        "a/b",
        "end.",
        "end ",
        " begin",
        ".hidden",
        "a\nb",
        "a\x7fb",
        "\udcff",
        "x" * 81,
        "夕" * 60 + "x" * 50,
        "",
        ".",
        "..",
    ],
)
def test_a_name_that_cannot_be_had_everywhere_is_told(name):
    assert name_problem(name)


@pytest.mark.parametrize(
    "name",
    ["console", "com", "com10", "nul-and-void", "The girl, I left", "été", "夕", "a.b"],
)
def test_other_names_are_fine(name):
    assert name_problem(name) is None


@pytest.mark.parametrize("name", ["con", "study: blue", "stop.", "Public", "feed.xml"])
def test_the_lesson_folder_is_looked_at(make_lesson, name):
    folder = make_lesson().folder
    moved = shutil.move(folder, folder.parent / name)
    (error,) = errors(Path(moved))
    assert error.startswith(
        f"error: {name}/lesson.toml: the lesson folder cannot be called"
    )


def test_what_the_catalogue_needs_is_the_builds_own_list():
    assert {name.casefold() for name in RESERVED_NAMES} <= CATALOGUE_NAMES


def test_a_level_called_like_a_device_is_told(make_lesson):
    lesson = make_lesson(more='[[levels]]\nname = "con"\ntempo = 90\n')
    assert any(
        'the level cannot be called "con"' in error for error in errors(lesson.folder)
    )


def test_levels_and_instruments_that_give_files_one_name_are_told(make_lesson):
    more = '[[levels]]\nname = "beginner-alto"\ntempo = 90\n' + TOY.format("sax")
    lesson = make_lesson(more=more, instruments=("alto-sax", "sax"))
    (error,) = errors(lesson.folder)
    assert 'would both be called "beginner-alto-sax"' in error


def test_two_folders_of_one_name_are_found_whatever_case_and_accents(tmp_path):
    composed, apart = (unicodedata.normalize(form, "été") for form in ("NFC", "NFD"))
    folders = [tmp_path / "a" / "Blues", tmp_path / "b" / "blues", tmp_path / composed]
    folders += [tmp_path / "c" / apart, tmp_path / "other", tmp_path / "other"]
    errors = shared_names(folders)
    assert list(errors) == folders[:4]
    assert f"{folders[1]} would be built into the same folder" in str(errors[folders[0]])


@pytest.mark.parametrize("command", ["check", "build"])
def test_two_lessons_of_one_name_in_one_command_are_refused_by_name(
    make_lesson, tmp_path, command
):
    first = shutil.copytree(make_lesson().folder, tmp_path / "a" / "air")
    second = shutil.copytree(first, tmp_path / "b" / "Air")
    out = ["--out", str(tmp_path / "out")] if command == "build" else []
    told = CliRunner().invoke(main, [command, str(first), str(second), *out])
    assert told.exit_code == 1
    said = told.stderr + told.stdout
    assert f"Air: {tmp_path / 'a' / 'air'} would be built into the same folder" in said
    assert not (tmp_path / "out" / "Air").exists()
    assert not (tmp_path / "out" / "air").exists()
