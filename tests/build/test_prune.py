"""Removing outputs of withdrawn lessons, and nothing of the teacher's with them."""

import hashlib
import json
import shutil

import pytest

from kit.build.prune import remove_output, to_prune
from kit.errors import LessonError
from kit.output.origins import note_origin


def add(root, slug, where="lessons"):
    """Write a lesson folder and an output of three files."""
    (root / where / slug).mkdir(parents=True)
    (root / where / slug / "lesson.toml").touch()
    out = root / "build" / slug
    files = {"index.html": b"page", "audio/a.mp3": b"sound", "public/index.html": b"seen"}
    for name, data in files.items():
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        (out / name).write_bytes(data)
    entries = [
        {"path": name, "sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)}
        for name, data in files.items()
    ]
    data = {"lesson": slug, "built_from": "x", "kit_version": "1", "files": entries}
    (out / "manifest.json").write_text(json.dumps(data))
    (root / "build/.recipes").mkdir(exist_ok=True)
    (root / "build/.recipes" / f"{slug}.json").write_text("{}")
    note_origin(root / "build", slug, root / where / slug)
    return out


@pytest.fixture
def root(tmp_path):
    """A school of three lessons, of which eel was withdrawn."""
    for slug in ("crab", "eel", "eel.two"):
        add(tmp_path, slug)
    shutil.rmtree(tmp_path / "lessons/eel")
    return tmp_path


def names(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def test_an_output_without_a_lesson_goes_with_its_records_and_others_stay(root):
    others = [name for name in names(root) if "eel/" not in f"{name}/"]
    assert to_prune(root / "build").outputs == (root / "build/eel",)
    remove_output(root / "build/eel")
    left = [name for name in others if not name.startswith("build/.recipes/eel.")]
    assert names(root) == [*sorted([*left, *(n for n in others if "/eel.two." in n)])]
    assert to_prune(root / "build").outputs == ()


def spoil(out, how):
    if how == "file of the teacher's":
        (out / "notes.txt").write_text("mine")
    elif how == "hidden file":
        (out / "audio/.mine").write_text("mine")
    elif how == "edited file":
        (out / "index.html").write_text("mine")
    elif how == "edited, of the same length":
        (out / "index.html").write_text("mine"[:4])
    elif how == "link among the files":
        (out / "more").symlink_to(out.parent)
    elif how == "listed file made a link":
        (out / "index.html").rename(out.parent / "page")
        (out / "index.html").symlink_to(out.parent / "page")
    elif how == "folder in a file's place":
        (out / "index.html").unlink()
        (out / "index.html").mkdir()
        (out / "index.html/mine").touch()
    elif how == "manifest of another lesson":
        shutil.copy(out.parent / "crab/manifest.json", out)
    elif how == "no manifest of ours":
        (out / "manifest.json").write_text('{"name": "web app"}')
    elif how == "damaged manifest":
        (out / "manifest.json").write_text("[" * 100_000)
    else:
        out.rename(out.parent.parent / "moved")
        out.symlink_to(out.parent.parent / "moved", target_is_directory=True)


@pytest.mark.parametrize(
    "how",
    ["file of the teacher's", "hidden file", "edited file", "edited, of the same length",
     "link among the files", "listed file made a link", "folder in a file's place",
     "manifest of another lesson", "no manifest of ours", "damaged manifest", "linked"],
)  # fmt: skip
def test_a_folder_with_anything_else_is_named_and_kept(root, how):
    out = root / "build/eel"
    spoil(out, how)
    before = names(root)
    found = to_prune(root / "build")
    assert found.outputs == ()
    (error,) = found.refused
    assert str(error).startswith(str(out))
    assert error.remedy
    with pytest.raises(LessonError):
        remove_output(out)
    assert names(root) == before


def test_files_of_the_kits_that_are_missing_and_what_systems_leave_do_not_matter(root):
    (root / "build/eel/index.html").unlink()
    (root / "build/eel/.DS_Store").touch()
    remove_output(root / "build/eel")
    assert not (root / "build/eel").exists()


def test_an_empty_folder_of_the_teachers_is_no_file(root):
    (root / "build/eel/empty/deep").mkdir(parents=True)
    remove_output(root / "build/eel")
    assert not (root / "build/eel").exists()


def test_what_somebody_puts_there_meanwhile_comes_back(root, monkeypatch):
    out = root / "build/eel"
    replace = type(out).replace

    def late(path, target):
        moved = replace(path, target)
        if path == out:
            (target / "audio/mine.txt").write_text("mine")
        return moved

    monkeypatch.setattr(type(out), "replace", late)
    with pytest.raises(LessonError, match=r"mine\.txt"):
        remove_output(out)
    assert (out / "audio/mine.txt").read_text() == "mine"


@pytest.mark.parametrize("step", ["unlink", "rmdir"])
@pytest.mark.parametrize("after", range(1, 4))
def test_a_removal_that_was_killed_is_finished_by_the_next(root, monkeypatch, after, step):
    out = root / "build/eel"
    go_on, done = getattr(type(out), step), []

    def killed(path, **options):
        done.append(path)
        if len(done) == after:
            raise KeyboardInterrupt
        go_on(path, **options)

    with monkeypatch.context() as patched:
        patched.setattr(type(out), step, killed)
        with pytest.raises(KeyboardInterrupt):
            remove_output(out)
    assert not out.exists(), "never half an output under the lesson's name"
    add(root, "hake")
    shutil.rmtree(root / "lessons/hake")
    remove_output(root / "build/hake")
    assert not list((root / "build").glob(".pruned-*"))


def test_only_what_was_in_a_named_folder_goes(root):
    add(root, "gar", "courses")
    add(root, "hake", "courses")
    shutil.rmtree(root / "courses/hake")
    build = root / "build"
    assert to_prune(build).outputs == (build / "eel", build / "hake")
    assert to_prune(build, root / "courses").outputs == (build / "hake",)
    assert to_prune(build, root / "lessons").outputs == (build / "eel",)


def test_an_emptied_folder_is_pruned_only_if_it_is_named(root):
    (root / "lessons").rename(root / "drive")
    (root / "lessons").mkdir()
    build = root / "build"
    found = to_prune(build)
    assert found.outputs == ()
    assert "crab, eel and eel.two stay" in found.notes[0]
    assert len(to_prune(build, root / "lessons").outputs) == 3


def test_an_output_from_who_knows_where_is_never_pruned(root):
    (root / "build/.recipes/eel.origin").unlink()
    assert to_prune(root / "build").outputs == ()
    assert to_prune(root / "build", root / "lessons").outputs == ()
