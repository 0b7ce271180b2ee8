"""kit build never harms what it did not write: lessons, a teacher's files, links."""

import hashlib
import json
import shutil
import sys

import pytest

needs_links = pytest.mark.skipif(
    sys.platform == "win32", reason="links need a right there that few users have"
)


def tree(folder):
    """Give every file below a folder with its hash."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def change(school):
    """Change what the lesson sounds like, so that it is built anew."""
    path = school / "lessons/small-tune/tune.abc"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("F A c A", "F A c d"), encoding="utf-8")


def refused(done, *words):
    """Make sure that the command failed with one sentence that has these words."""
    assert done.returncode == 1, done.stdout + done.stderr
    (line,) = [x for x in done.stderr.splitlines() if x.startswith("kit: small-tune: ")]
    for word in words:
        assert word in line


# Where the command is run, what it builds, and the out folder.
NO_PLACES = {
    "the lessons folder": (".", "lessons/small-tune", "lessons"),
    "the folder of courses": ("lessons", "small-tune", "."),
    "above the lesson": ("lessons/small-tune", ".", ".."),
    "inside the lesson": ("lessons/small-tune", ".", "build"),
    "deep inside the lesson": (".", "lessons/small-tune", "lessons/small-tune/a/b"),
    "another lesson": (".", "lessons/small-tune", "lessons/other"),
    "another spelling": (".", "lessons/small-tune", "LESSONS"),
    "by a detour": (".", "lessons/small-tune", "build/../lessons"),
}


@pytest.mark.parametrize("case", NO_PLACES)
def test_output_and_lesson_may_not_hold_one_another(workplace, kit_command, case):
    shutil.copytree(workplace / "lessons/small-tune", workplace / "lessons/other")
    before = tree(workplace)
    where, lesson, out = NO_PLACES[case]
    done = kit_command("build", lesson, "--out", out, cwd=workplace / where)
    refused(done, "--out build")
    assert tree(workplace) == before


@needs_links
def test_a_link_does_not_hide_that_the_output_is_the_lesson(workplace, kit_command):
    (workplace / "site").symlink_to("lessons")
    before = tree(workplace)
    done = kit_command("build", "lessons/small-tune", "--out", "site", cwd=workplace)
    refused(done, "--out build")
    (workplace / "build2").mkdir()
    (workplace / "build2/small-tune").symlink_to("../lessons/small-tune")
    done = kit_command("build", "--out", "build2", cwd=workplace)
    refused(done, "--out build")
    (workplace / "lessons2").symlink_to("lessons")
    done = kit_command("build", "lessons2/small-tune", "--out", "lessons", cwd=workplace)
    refused(done, "--out build")
    shutil.rmtree(workplace / "build2")
    assert tree(workplace) == before


def test_an_output_folder_that_holds_the_lesson_is_refused(workplace, kit_command):
    home = workplace / "courses/small-tune/small-tune"
    shutil.copytree(workplace / "lessons/small-tune", home)
    before = tree(workplace)
    done = kit_command("build", home, "--out", "courses", cwd=workplace)
    refused(done, "holds the lesson")
    assert tree(workplace) == before


def test_the_notebook_says_why_a_lesson_cannot_be_built_there(workplace):
    from kit.build.state import build_state

    lesson = workplace / "lessons/small-tune"
    state = build_state(lesson, workplace / "lessons")
    assert state.kind == "never"
    assert "holds the lesson" in state.reasons[0]


@pytest.mark.parametrize(
    "manifest", [None, "", "{}", "[]", '{"name": "An app", "icons": []}', "\x00" * 50]
)
def test_a_folder_without_a_manifest_of_the_kit_is_never_replaced(
    workplace, kit_command, manifest
):
    other = workplace / "elsewhere/small-tune"
    other.mkdir(parents=True)
    (other / "index.html").write_text("my own page", encoding="utf-8")
    if manifest is not None:
        (other / "manifest.json").write_text(manifest, encoding="utf-8")
    before = tree(workplace)
    done = kit_command("build", "--out", "elsewhere", cwd=workplace)
    refused(done, "manifest.json", "elsewhere", "not replaced")
    assert tree(workplace) == before


def test_an_empty_folder_is_free_to_use(workplace, kit_command):
    (workplace / "elsewhere/small-tune").mkdir(parents=True)
    done = kit_command("build", "--out", "elsewhere", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert (workplace / "elsewhere/small-tune/index.html").is_file()


def test_a_file_with_the_lessons_name_is_refused(workplace, kit_command):
    (workplace / "elsewhere").mkdir()
    (workplace / "elsewhere/small-tune").write_text("notes", encoding="utf-8")
    done = kit_command("build", "--out", "elsewhere", cwd=workplace)
    refused(done, "is a file")
    assert (workplace / "elsewhere/small-tune").read_text(encoding="utf-8") == "notes"


def test_a_damaged_manifest_is_made_anew(workplace, kit_command):
    good = tree(workplace / "build/small-tune")
    (workplace / "build/small-tune/manifest.json").write_text("{", encoding="utf-8")
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert tree(workplace / "build/small-tune") == good


def test_what_the_teacher_put_into_the_output_is_kept_and_named(workplace, kit_command):
    out = workplace / "build/small-tune"
    (out / "audio/my take.mp3").write_bytes(b"my own playing")
    (out / "notes").mkdir()
    (out / "notes/to do.txt").write_text("call Ada", encoding="utf-8")
    (out / ".DS_Store").write_bytes(b"the desktop's")
    change(workplace)
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert "audio/my take.mp3 and notes/to do.txt" in done.stderr
    assert ".DS_Store" not in done.stderr
    assert (out / "audio/my take.mp3").read_bytes() == b"my own playing"
    assert (out / "notes/to do.txt").read_text(encoding="utf-8") == "call Ada"
    assert (out / ".DS_Store").read_bytes() == b"the desktop's"


def test_a_file_in_the_way_of_a_new_one_is_refused_by_name(workplace, kit_command):
    out = workplace / "build/small-tune"
    (out / "audio/plain-backing-80.mp3").write_bytes(b"my own playing")
    settings = workplace / "lessons/small-tune/lesson.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text + "[audio]\ntempos = [80]\n", encoding="utf-8")
    before = tree(out)
    done = kit_command("build", cwd=workplace)
    refused(done, "audio/plain-backing-80.mp3", "move that file away")
    assert tree(out) == before


def test_a_file_in_the_way_of_a_folder_is_refused_by_name(workplace, kit_command):
    out = workplace / "build/small-tune"
    (out / "midi/plain.mid").unlink()
    (out / "midi").rmdir()
    (out / "midi").write_text("about MIDI", encoding="utf-8")
    change(workplace)
    done = kit_command("build", cwd=workplace)
    refused(done, "midi")
    assert (out / "midi").read_text(encoding="utf-8") == "about MIDI"


def test_a_page_changed_by_hand_is_kept_and_its_place_told(workplace, kit_command):
    page = workplace / "build/small-tune/index.html"
    page.write_text("my own words", encoding="utf-8")
    change(workplace)
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    (kept,) = (workplace / "build/.earlier/small-tune").glob("*/changed/index.html")
    assert kept.read_text(encoding="utf-8") == "my own words"
    assert str(kept.parent) in done.stderr
    assert "my own words" not in page.read_text(encoding="utf-8")


@needs_links
@pytest.mark.parametrize("command", ["build", "restore"])
def test_an_out_folder_whose_links_go_round_is_one_sentence(
    workplace, kit_command, command
):
    (workplace / "round").symlink_to(workplace / "about")
    (workplace / "about").symlink_to(workplace / "round")
    words = ["small-tune"] if command == "restore" else []
    done = kit_command(command, *words, "--out", "round/out", cwd=workplace)
    assert done.returncode == 1, done.stderr
    assert "Traceback" not in done.stderr
    assert len(done.stderr.splitlines()) == 1


@needs_links
def test_a_linked_output_folder_keeps_its_link_and_is_updated_whole(workplace, kit_command):
    web = workplace / "web"
    web.mkdir()
    (workplace / "build/small-tune").rename(web / "tune of the week")
    link = workplace / "build/small-tune"
    link.symlink_to("../web/tune of the week")
    change(workplace)
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert link.is_symlink()
    assert str(link.readlink()) == "../web/tune of the week"
    manifest = json.loads((link / "manifest.json").read_text(encoding="utf-8"))
    described = {file["path"]: file["sha256"] for file in manifest["files"]}
    found = tree(web / "tune of the week")
    del found["manifest.json"]
    assert found == described
    assert [path.name for path in web.iterdir()] == ["tune of the week"]
    again = kit_command("build", cwd=workplace)
    assert "is up to date" in again.stdout


@needs_links
def test_a_link_that_leads_nowhere_is_told(workplace, kit_command):
    shutil.rmtree(workplace / "build/small-tune")
    (workplace / "build/small-tune").symlink_to("/not mounted/small-tune")
    done = kit_command("build", cwd=workplace)
    refused(done, "/not mounted/small-tune", "cannot be reached")
    assert (workplace / "build/small-tune").is_symlink()


@pytest.mark.parametrize("name", ["Public", "INDEX.HTML", ".earlier", ".recipes"])
def test_names_the_output_needs_itself_are_refused(workplace, kit_command, name):
    shutil.move(workplace / "lessons/small-tune", workplace / "lessons" / name)
    done = kit_command("build", f"lessons/{name}", cwd=workplace)
    assert done.returncode == 1
    assert f'a lesson cannot be called "{name}"' in done.stderr
