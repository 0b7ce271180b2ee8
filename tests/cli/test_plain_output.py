"""Every command on a lesson full of signs that a terminal obeys: none gets through."""

import json
import os
import subprocess
import sys

import pytest

from kit.cli import main

SIGNS = "\\u001b]0;x\\u0007\\u009b2J\\u202e\\u2066\\u007f\\u0000\\n[red]"
RAW = "\x1b[31m\x9b2J\u202e\u2069\x07\x7f\u2028"
NAMES_MAY_HOLD_ANYTHING = sys.platform not in {"win32", "darwin"}


def obeyed(text):
    """List the signs that a terminal would obey."""
    return [
        char
        for char in text
        if (ord(char) < 32 and char != "\n")
        or 127 <= ord(char) < 160
        or char in "\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
        or 0xD800 <= ord(char) < 0xE000
    ]


@pytest.fixture(scope="module")
def school(built_workplace, tmp_path_factory):
    """The built small lesson, its words and names now full of signs."""
    import shutil

    place = tmp_path_factory.mktemp("signs") / "school"
    shutil.copytree(built_workplace, place)
    lesson = place / "lessons/small-tune"
    settings = (lesson / "lesson.toml").read_text(encoding="utf-8")
    settings = settings.replace(
        'title = "Small Tune"',
        f'title = "Small {SIGNS} Tune"\ncomposer = "{SIGNS}"\nsummary = "{SIGNS}"',
    ).replace('name = "plain"', f'name = "plain"\ntitle = "Plain {SIGNS}"')
    (lesson / "lesson.toml").write_text(settings, encoding="utf-8")
    tune = (lesson / "tune.abc").read_text(encoding="utf-8")
    tune = tune.replace("T:Small Tune", f"T:Small{RAW}").replace('"C7"', f'"^a{RAW}""C7"')
    (lesson / "tune.abc").write_text(tune, encoding="utf-8")
    notebook = json.loads((lesson / "lesson.ipynb").read_text(encoding="utf-8"))
    broken = place / "broken"
    shutil.copytree(lesson, broken / "one")
    (broken / "one/tune.abc").write_text(tune.replace('"F"F', f'"F{RAW}"F'), "utf-8")
    shutil.copytree(lesson, broken / "two")
    (broken / "two/lesson.toml").write_text(f'"key{SIGNS}" = 1\n{settings}', "utf-8")
    shutil.copytree(lesson, broken / "three")
    (broken / "three/lesson.toml").write_text(f'tune = "{SIGNS}"\n{settings}', "utf-8")
    # No font prints such signs, and in prose they are an error of the notebook.
    shutil.copytree(lesson, broken / "prose")
    prose = json.loads(json.dumps(notebook))
    prose["cells"][0]["source"] = f"# Small {RAW}"
    prose["cells"][0]["metadata"] = {"tags": [RAW]}
    (broken / "prose/lesson.ipynb").write_text(json.dumps(prose), encoding="utf-8")
    shutil.copytree(lesson, broken / "four")
    code = {"cell_type": "code", "id": "x", "metadata": {}, "execution_count": None,
            "outputs": [], "source": f"raise ValueError({RAW!r})"}  # fmt: skip
    notebook["cells"].append(code)
    (broken / "four/lesson.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    (place / "score.abc").write_text(tune.replace("K:F", f"C:{RAW}\nK:F"), "utf-8")
    if NAMES_MAY_HOLD_ANYTHING:
        name = f"odd {RAW}\n".encode() + b"\xe9"
        shutil.copytree(lesson, os.fsdecode(os.fsencode(broken) + b"/" + name))
        (place / os.fsdecode(name + b".abc")).write_text(
            tune.replace(f"T:Small{RAW}\n", ""), encoding="utf-8"
        )
        (lesson / f"note {RAW}\n.txt").write_text("words", encoding="utf-8")
    return place


def said(arguments, school, environment, expected):
    done = subprocess.run(
        [sys.executable, "-m", "kit", *arguments],
        cwd=school, env=environment, capture_output=True, check=False, timeout=240,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    text = (done.stdout + done.stderr).decode("utf-8")
    assert "Traceback" not in text
    assert done.returncode == expected, text
    assert obeyed(text) == []
    assert all(len(line) <= 500 for line in text.splitlines())
    return text


def test_each_command_is_tried_here():
    assert set(main.commands) == {"build", "check", "lab", "new", "prune", "restore"}


def test_check_prints_plain_lines(school, command_environment):
    folders = sorted(map(str, (school / "broken").iterdir()))
    text = said(["check", *folders], school, command_environment, 1)
    # Each is told of, whatever is wrong with those before it; two have no error.
    assert text.count("error: ") >= len(folders) - 2
    said(["check", f"none{RAW}"], school, command_environment, 1)
    said(["check"], school, command_environment, 0)


def test_build_prints_plain_lines(school, command_environment):
    text = said(["build", "--explain", "--jobs", "1"], school, command_environment, 0)
    assert "Small ]0;x 2J [red] Tune: " in text
    folders = sorted(map(str, (school / "broken").iterdir()))
    text = said(["build", "--jobs", "1", *folders], school, command_environment, 1)
    assert text.count("kit: ") >= len(folders) - 1
    assert "cell 4 stopped with ValueError: " in text
    said(["restore", "small-tune", "--list"], school, command_environment, 0)
    said(["restore", f"none{RAW}"], school, command_environment, 1)


@pytest.mark.skipif(not NAMES_MAY_HOLD_ANYTHING, reason="no folder has such a name there")
def test_prune_prints_plain_lines(school, command_environment):
    import shutil

    shutil.copytree(school / "build/small-tune", school / f"build/gone {RAW}\n")
    said(["prune"], school, command_environment, 0)
    said(["prune", "--yes"], school, command_environment, 0)
    said(["prune", "--lessons", f"none{RAW}"], school, command_environment, 2)


def test_new_prints_plain_lines(school, command_environment):
    for number, score in enumerate(sorted(school.glob("*.abc"))):
        to = ["--lessons", f"new-{number}"]
        said(["new", str(score), *to], school, command_environment, 0)
        said(["new", str(score), *to], school, command_environment, 1)
    title = ["--title", f"A{RAW}\nB", "--part", RAW]
    said(["new", "score.abc", *title], school, command_environment, 0)


def test_lab_prints_nothing_of_its_own(school, monkeypatch, capfd):
    from click.testing import CliRunner

    monkeypatch.chdir(school)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(os, "execv", lambda *_: None)
    told = CliRunner().invoke(main, ["lab", f"--title={RAW}"])
    assert (told.exit_code, told.output) == (0, "")


@pytest.mark.skipif(sys.platform == "win32", reason="there are no such terminals there")
def test_the_bar_on_a_terminal_obeys_only_the_kit(school, command_environment):
    """What stands in a title is shown, and never a command."""
    import pty

    (school / "lessons/small-tune/more.txt").write_text("something new", encoding="utf-8")
    ours, theirs = pty.openpty()
    done = subprocess.Popen(
        [sys.executable, "-m", "kit", "build", "--jobs", "1"],
        cwd=school, env=command_environment | {"TERM": "xterm", "COLUMNS": "150"},
        stdout=subprocess.DEVNULL, stderr=theirs,
    )  # fmt: skip
    os.close(theirs)
    shown = b""
    while True:
        try:
            piece = os.read(ours, 65536)
        except OSError:  # Linux says so when the other end is closed
            break
        if not piece:
            break
        shown += piece
    os.close(ours)
    assert done.wait(timeout=240) == 0
    text = shown.decode("utf-8")
    assert "[red] Tune" in text
    # The escapes of the bar itself are there; those of the title are not.
    assert "\x1b[" in text
    assert "\x1b]0;" not in text
    assert "\x1b[31m" not in text
    assert not {"\x07", "\x7f", "\x9b", "\u202e", "\u2066", "\u2028"} & set(text)


@pytest.mark.skipif(not NAMES_MAY_HOLD_ANYTHING, reason="names are text on this system")
def test_a_name_full_of_bytes_that_are_no_text_makes_no_endless_line(tmp_path):
    folder = tmp_path / os.fsdecode(b"\xff\x7f" * 120)
    folder.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "kit", "check", os.fsencode(folder)],
        check=False,
        capture_output=True,
        text=True,
    )
    lines = [*done.stdout.splitlines(), *done.stderr.splitlines()]
    assert done.returncode == 1
    assert any(line.endswith(": 1 error.") for line in lines)
    assert max(map(len, lines)) < 500
