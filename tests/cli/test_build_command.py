"""kit build: the contract of its output, its errors, and what it leaves alone."""

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
import zipfile

import pytest


def tree(folder):
    """Give every file below a folder with its hash."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture
def output(workplace):
    return workplace / "build/small-tune"


def test_every_file_of_the_manifest_is_there_with_its_hash_and_nothing_else(output):
    manifest = json.loads((output / "manifest.json").read_text(encoding="utf-8"))
    described = {file["path"]: file["sha256"] for file in manifest["files"]}
    found = tree(output)
    del found["manifest.json"]
    assert found == described


def test_the_manifest_keeps_its_contract(output):
    manifest = json.loads((output / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["lesson"] == "small-tune"
    assert manifest["concert_key"] == "F major"
    assert manifest["form"] == "AB"
    level = manifest["levels"][0]
    assert (level["name"], level["tempo"], level["bars"], level["seconds"]) == (
        "plain", 200, 4, 4.8,
    )  # fmt: skip
    assert {file["kind"] for file in manifest["files"]} == {
        "page", "handout", "part", "audio", "midi", "timing", "chapters", "captions",
        "bundle", "running-order", "cue-cards", "description", "still",
        "what-a-stranger-sees", "members-words", "notation", "program", "stems",
    }  # fmt: skip
    audio = [file for file in manifest["files"] if file["kind"] == "audio"]
    assert {file["mix"] for file in audio} == {"demo", "backing", "melody"}
    for file in audio:
        assert file["lufs"] == pytest.approx(-16, abs=0.5)
        assert file["true_peak_dbtp"] <= -1
        assert file["tempo_percent"] == 100
    assert all(value is not None for file in manifest["files"] for value in file.values())


def test_bundles_hold_what_their_tier_may_see(output):
    manifest = json.loads((output / "manifest.json").read_text(encoding="utf-8"))
    free = {f["path"] for f in manifest["files"] if f["tier"] == "free"} - {"free.zip"}
    names = set(zipfile.ZipFile(output / "free.zip").namelist())
    # The public page is the first page there, and so are the files it reads.
    assert names == {path.removeprefix("public/") for path in free}
    assert "handouts/plain-tenor-sax.pdf" in names
    members = set(zipfile.ZipFile(output / "members.zip").namelist())
    assert "audio/plain-demo.mp3" in members
    assert "public/index.html" not in members


def test_a_second_build_changes_nothing_and_says_so(workplace, kit_command):
    before = tree(workplace)
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0
    assert "is up to date" in done.stdout
    assert tree(workplace) == before


def test_a_rebuild_from_scratch_gives_the_same_bytes(workplace, kit_command):
    before = tree(workplace / "build")
    done = kit_command("build", "--out", "again", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert tree(workplace / "again") == before


def broken(lesson, name, old, new):
    path = lesson / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


# What is changed in which file, and what the teacher is told.
MISTAKES = [
    (
        "tune.abc", "B G E2 |", "B G E2 c |",
        r"small-tune/tune\.abc, bar 2: 5 quarters in a bar of 4/4",
    ),
    ("tune.abc", '"C7"', '"C7xyz"', r"small-tune/tune\.abc, bar 2: .*C7xyz"),
    ("tune.abc", "X:1", "<html>", r"small-tune/tune\.abc: "),
    (
        "lesson.toml", "tenor-sax", "tenor",
        r'small-tune/lesson\.toml: no instrument "tenor"; did you mean tenor-sax',
    ),
    ("lesson.toml", "tempo = 200", "tempo = 0", r"small-tune/lesson\.toml: .*out of reach"),
    (
        "levels/plain.toml", "bar = 2", "bar = 9",
        r"small-tune/levels/plain\.toml, bar 9: ",
    ),
    (
        "levels/plain.toml", "accent", "axent",
        r'small-tune/levels/plain\.toml, bar 2: .*there is no edit "axent"',
    ),
    (
        "lesson.ipynb", "form_chart(lesson)", "form_chart(lessen)",
        r'small-tune/lesson\.ipynb, cell 3: "lessen" has no meaning yet .* lesson',
    ),
    (
        "lesson.ipynb", "form_chart(lesson)", "form_chart(1 / 0)",
        r"small-tune/lesson\.ipynb: cell 3 stopped with ZeroDivisionError",
    ),
    (
        "lesson.toml", 'basis = "own work"', "",
        r"small-tune/lesson\.toml: no basis is stated",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "old", "new", "sentence"), MISTAKES)
def test_an_error_is_a_sentence_and_leaves_the_last_good_output(
    workplace, kit_command, name, old, new, sentence
):
    before = tree(workplace / "build")
    broken(workplace / "lessons/small-tune", name, old, new)
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 1
    assert re.search(sentence, done.stderr), done.stderr
    assert "Traceback" not in done.stderr
    assert tree(workplace / "build") == before


def test_a_missing_tune_is_said_so(workplace, kit_command):
    (workplace / "lessons/small-tune/tune.abc").unlink()
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 1
    assert "the lesson has no tune" in done.stderr


def test_several_errors_are_all_told(workplace, kit_command):
    lesson = workplace / "lessons/small-tune"
    broken(lesson, "levels/plain.toml", "bar = 2", "bar = 9")
    broken(lesson, "lesson.toml", 'basis = "own work"', "")
    done = kit_command("check", cwd=workplace)
    assert done.returncode == 1
    assert done.stderr.count("error: ") == 2


def test_wrong_usage_is_exit_code_2(tmp_path, kit_command):
    assert kit_command("build", "--nonsense", cwd=tmp_path).returncode == 2
    assert kit_command("build", cwd=tmp_path).returncode == 2


@pytest.mark.skipif(
    sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there"
)
def test_ctrl_c_leaves_the_last_good_output(workplace, command_environment):
    before = tree(workplace / "build")
    broken(workplace / "lessons/small-tune", "tune.abc", "C:Nobody", "C:Somebody")
    process = subprocess.Popen(
        [sys.executable, "-m", "kit", "build"],
        cwd=workplace, env=command_environment, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip
    assert process.stderr is not None
    # The build has begun in earnest once it reports its first step.
    assert "steps" in process.stderr.readline()
    time.sleep(0.3)
    os.killpg(process.pid, signal.SIGINT)
    _, rest = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "stopped" in rest
    assert "Traceback" not in rest
    assert tree(workplace / "build") == before


def test_several_lessons_are_told_in_their_order_and_one_that_fails_stops_no_other(
    workplace, kit_command
):
    lessons = workplace / "lessons"
    for name in ("another", "broken", "last"):
        shutil.copytree(lessons / "small-tune", lessons / name)
    broken(lessons / "broken", "levels/plain.toml", "bar = 2", "bar = 9")
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 1
    told = re.findall(r"^(\S+) (?:built|is up to date)", done.stdout, re.MULTILINE)
    assert told == ["another", "last", "small-tune"]
    assert "kit: broken/levels/plain.toml, bar 9: " in done.stderr
    assert not (workplace / "build/broken").exists()


@pytest.mark.skipif(
    sys.platform == "win32", reason="Ctrl-C cannot be sent to one process there"
)
def test_ctrl_c_ends_several_lessons_at_once(workplace, command_environment):
    lessons = workplace / "lessons"
    for name in ("another", "last"):
        shutil.copytree(lessons / "small-tune", lessons / name)
        broken(lessons / name, "lesson.toml", "tempo = 200", "tempo = 40")
    process = subprocess.Popen(
        [sys.executable, "-m", "kit", "build"],
        cwd=workplace, env=command_environment, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip
    assert process.stderr is not None
    assert "steps" in process.stderr.readline()
    os.killpg(process.pid, signal.SIGINT)
    _, rest = process.communicate(timeout=60)
    assert process.returncode == 1
    assert rest.splitlines()[-1] == "kit: stopped; the last good output is untouched."
    assert "Traceback" not in rest
