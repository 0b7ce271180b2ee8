"""What the guides show works: their commands, their lesson.toml, their lines of Python."""

import re
import shlex
import shutil
from pathlib import Path

import pytest

import kit
from kit.cli import main
from kit.lesson.settings import read_settings
from kit.levels.file import read_level_file

ROOT = Path(kit.__file__).parents[1]
PAGES = sorted((ROOT / "docs").rglob("*.md"))
BASE = 'title = "Shown"\ninstruments = ["alto-sax", "tenor-sax", "trumpet"]\n'
LEVELS = '\n[[levels]]\nname = "beginner"\ntempo = 120\n'


def blocks(language):
    """Give the code blocks of a language, each with where it stands."""
    return [
        pytest.param(match[1], id=f"{page.stem}-{number}")
        for page in PAGES
        for number, match in enumerate(
            re.finditer(rf"```{language}\n(.*?)\n *```", page.read_text("utf-8"), re.DOTALL)
        )
    ]


def commands():
    """Give the kit commands of the guides."""
    lines = {
        line.strip() for block in blocks("sh") for line in block.values[0].splitlines()
    }
    return sorted(line for line in lines if line.startswith("kit "))


@pytest.mark.parametrize("line", commands())
def test_a_command_has_the_options_it_is_shown_with(line):
    _, name, *arguments = shlex.split(line)
    # Raises UsageError if an option does not exist or its value is not of its type.
    main.commands[name].make_context(name, arguments)


@pytest.mark.parametrize(
    "line", [line for line in commands() if line.endswith("lessons/my-tune")]
)
def test_a_command_does_what_is_said(line, workplace, kit_command):
    shutil.copytree(workplace / "lessons/small-tune", workplace / "lessons/my-tune")
    done = kit_command(*shlex.split(line)[1:], cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert "my-tune" in done.stdout


@pytest.mark.parametrize("text", blocks("toml"))
def test_a_piece_of_toml_is_read(text, tmp_path):
    if "edits = [" in text:
        assert read_level_file(text, source="shown").edits
        return
    top = "" if text.startswith("title") else BASE
    levels = "" if "[[levels]]" in text else LEVELS
    (tmp_path / "tune.abc").touch()
    (tmp_path / "lesson.toml").write_text(top + text + levels, encoding="utf-8")
    assert read_settings(tmp_path).levels


@pytest.mark.parametrize("code", blocks("python"))
def test_lines_of_python_run_in_a_lessons_notebook(code):
    names = {"lesson": kit.open_lesson(ROOT / "lessons/lamplighters-detour"), "kit": kit}
    exec(code, names)
    assert set(names) > {"lesson", "kit", "__builtins__"}
