"""kit build when processes are killed, names are foreign, and nothing much has changed."""

import hashlib
import json
import re
import shutil
import signal
import subprocess
import sys
import time

import psutil
import pytest

posix_only = pytest.mark.skipif(
    sys.platform == "win32", reason="there are no groups of processes to be killed there"
)


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def edited(lesson, name, old, new):
    path = lesson / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def begun(workplace, environment, *more):
    """Start a build that has something to do, and wait until it does it."""
    edited(workplace / "lessons/small-tune", "tune.abc", "F G A c", "F G A d")
    run = subprocess.Popen(
        [sys.executable, "-m", "kit", "build", *more],
        cwd=workplace, env=environment, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip
    assert run.stderr is not None
    assert "steps" in run.stderr.readline()
    return run


def workers_of(run):
    """Give the processes that do the work, as soon as there are any."""
    end = time.monotonic() + 60
    while time.monotonic() < end:
        started = psutil.Process(run.pid).children()
        found = [one for one in started if "spawn_main" in " ".join(one.cmdline())]
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError("no worker was started")


def worker_at_work(run):
    """Give a worker that has begun: one with a kernel for the notebook.

    One that dies before it has anything to do is replaced, and the build goes on.
    """
    end = time.monotonic() + 60
    while time.monotonic() < end:
        for worker in workers_of(run):
            if worker.children():
                return worker
        time.sleep(0.02)
    raise AssertionError("no worker had a kernel")


@posix_only
def test_a_worker_killed_in_mid_build_is_one_sentence_and_the_next_build_heals(
    workplace, kit_command, command_environment
):
    before = tree(workplace / "build")
    run = begun(workplace, command_environment)
    worker_at_work(run).kill()
    _, said = run.communicate(timeout=120)
    assert run.returncode == 1
    assert "Traceback" not in said
    errors = [line for line in said.splitlines() if line.startswith("kit: ")]
    assert len(errors) == 1
    assert re.search(r"a process of the build was lost while it made .*; build", errors[0])
    assert tree(workplace / "build") == before
    assert kit_command("build", cwd=workplace).returncode == 0
    healed = tree(workplace / "build/small-tune")
    assert kit_command("build", "--out", "again", cwd=workplace).returncode == 0
    assert tree(workplace / "again/small-tune") == healed


@posix_only
def test_a_worker_killed_among_several_lessons_stops_none_that_comes_later(
    workplace, kit_command, command_environment
):
    lessons = workplace / "lessons"
    names = ["another", "last", "middle", "small-tune"]
    for tempo, name in enumerate(names[:-1], start=50):
        shutil.copytree(lessons / "small-tune", lessons / name)
        edited(lessons / name, "lesson.toml", "tempo = 200", f"tempo = {tempo}")
    run = begun(workplace, command_environment)
    while ": 1/" not in run.stderr.readline():  # the rest of that lesson is under way
        assert run.poll() is None
    for worker in workers_of(run):
        worker.kill()
    _, said = run.communicate(timeout=120)
    assert run.returncode == 1
    assert "Traceback" not in said
    assert 1 <= said.count("a process of the build was lost while it made") <= 2
    assert (workplace / "build/middle/manifest.json").is_file()
    assert kit_command("build", cwd=workplace).returncode == 0
    assert all((workplace / "build" / name / "manifest.json").is_file() for name in names)


@posix_only
def test_a_killed_build_leaves_the_last_good_output_and_no_process(
    workplace, kit_command, command_environment
):
    before = tree(workplace / "build/small-tune")
    run = begun(workplace, command_environment)
    workers = workers_of(run)
    run.send_signal(signal.SIGKILL)
    run.wait(timeout=60)
    run.stderr.close()
    _, alive = psutil.wait_procs(workers, timeout=30)
    assert alive == []
    assert tree(workplace / "build/small-tune") == before
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("slug", ["Ωδή για φλάουτο", "שיר ערב", "夕べ の 歌", "été [a]'#"])
def test_names_of_lessons_and_files_may_be_in_any_script(tmp_path, built_workplace, slug):
    """The names are what differs, so that the music comes from the cache of the others."""
    from kit.build.lesson import build_lesson
    from kit.build.workers import LocalWorkers

    folder = tmp_path / "lessons" / slug
    shutil.copytree(built_workplace / "lessons/small-tune", folder)
    (folder / "levels/plain.toml").rename(folder / f"levels/{slug}.toml")
    edited(folder, "lesson.toml", "plain.toml", f"{slug}.toml")

    class Silent:
        def start(self, title, steps):
            return

        def step(self, title, left_s=None):
            return

    with LocalWorkers(1) as workers:
        result = build_lesson(folder, tmp_path / "out", progress=Silent(), workers=workers)
    manifest = json.loads((result.folder / "manifest.json").read_text(encoding="utf-8"))
    found = tree(tmp_path / "out" / slug)
    del found["manifest.json"]
    assert found == {file["path"]: file["sha256"] for file in manifest["files"]}


def test_time_zone_language_hash_seed_and_folder_change_no_byte(
    workplace, command_environment, tmp_path
):
    environment = command_environment | {
        "KIT_CACHE": str(tmp_path / "empty"), "TZ": "Pacific/Kiritimati", "LC_ALL": "C",
        "PYTHONHASHSEED": "4711",
    }  # fmt: skip
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build", workplace / "lessons/small-tune"],
        cwd=elsewhere, env=environment, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert tree(elsewhere / "build/small-tune") == tree(workplace / "build/small-tune")


def test_a_notebook_saved_with_its_outputs_stays_up_to_date(workplace, kit_command):
    path = workplace / "lessons/small-tune/lesson.ipynb"
    notebook = json.loads(path.read_text(encoding="utf-8"))
    cell = notebook["cells"][2]
    cell["execution_count"] = 3
    cell["outputs"] = [{"output_type": "stream", "name": "stdout", "text": ["12:30\n"]}]
    cell["source"] = cell["source"].splitlines(keepends=True)
    notebook["metadata"] = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
    path.write_text(json.dumps(notebook, indent=1), encoding="utf-8")
    done = kit_command("build", "--explain", cwd=workplace)
    assert done.stdout.startswith("small-tune is up to date: ")


def test_a_comment_rebuilds_the_notebook_alone(workplace, kit_command):
    before = tree(workplace / "build/small-tune")
    edited(workplace / "lessons/small-tune", "lesson.toml", "[rights]", "# mine\n[rights]")
    done = kit_command("build", "--explain", cwd=workplace)
    told = done.stdout.splitlines()
    assert told[0] == "small-tune: made again (changed: lesson.toml): notebook."
    assert told[1].startswith("small-tune: 1 piece made, ")
    after = tree(workplace / "build/small-tune")
    assert {name for name in after if after[name] != before[name]} == {"manifest.json"}


def test_explaining_names_what_a_changed_note_reaches(workplace, kit_command):
    edited(workplace / "lessons/small-tune", "tune.abc", "F A c A", "F A c B")
    told = kit_command("build", "--explain", cwd=workplace).stdout
    assert "small-tune: made again (changed: tune.abc): notebook." in told
    assert re.search(r"changed: the notes\): .*plain, audio", told)
    assert re.search(r"changed: the notes\): .*plain, tenor-sax", told)
    assert "the settings" not in told
    assert "the words" not in told


def test_explaining_tells_what_was_no_longer_in_the_cache(
    workplace, kit_command, command_environment, tmp_path
):
    shutil.rmtree(workplace / "build/small-tune/handouts")
    environment = command_environment | {"KIT_CACHE": str(tmp_path / "emptied")}
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build", "--explain"],
        cwd=workplace, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "made again, no longer being in the cache: " in done.stdout
    assert "changed" not in done.stdout
    assert ", 0 kept from before." in done.stdout


def test_explaining_an_unchanged_lesson_says_that_it_is_up_to_date(workplace, kit_command):
    done = kit_command("build", "--explain", cwd=workplace)
    assert done.stdout.count("\n") == 1
    assert done.stdout.startswith("small-tune is up to date: ")


def test_an_output_folder_that_cannot_be_is_one_sentence(workplace, kit_command):
    (workplace / "note.txt").write_text("in the way", encoding="utf-8")
    done = kit_command("build", "--out", "note.txt/build", cwd=workplace)
    assert done.returncode == 1
    assert re.search(r"^kit: .*note\.txt.*: .*\.$", done.stderr, re.MULTILINE)
    assert "Traceback" not in done.stderr
    assert (workplace / "note.txt").read_text(encoding="utf-8") == "in the way"
