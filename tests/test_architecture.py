"""The house keeps its order: imports point upstream, and packages list what is public."""

import ast
import importlib
from pathlib import Path

import pytest

import kit

PACKAGE = Path(kit.__file__).parent
ORDER = (
    "terminal", "errors", "reading", "shared_folder", "cache", "pictures", "tune", "form",
    "levels", "solo", "route", "instruments", "engrave", "band", "sound", "rights",
    "lesson", "tracks", "authoring", "check", "figures", "output", "publish", "build",
    "widgets", "command", "cli",
)  # fmt: skip
ROOMS = sorted(path.parent.name for path in PACKAGE.glob("*/__init__.py"))


def imported_rooms(path):
    """Give the rooms a module imports when it is loaded (deferred imports count too)."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if (
            isinstance(node, ast.ImportFrom)
            and node.module
            and node.module.startswith("kit.")
        ):
            yield node.module.split(".")[1]
        elif isinstance(node, ast.Import):
            yield from (
                a.name.split(".")[1] for a in node.names if a.name.startswith("kit.")
            )


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_imports_point_upstream(path):
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    if parts in {("__init__",), ("__main__",)}:
        return
    here = ORDER.index(parts[0])
    downstream = {room for room in imported_rooms(path) if ORDER.index(room) > here}
    assert not downstream


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_lists_exactly_what_it_offers(room):
    module = importlib.import_module(f"kit.{room}")
    assert module.__doc__
    for name in getattr(module, "__all__", ()):
        assert getattr(module, name) is not None


WRITES = {
    "write_text", "write_bytes", "mkstemp", "mkdtemp", "NamedTemporaryFile", "rmtree",
    "unlink", "rename", "copyfile", "copy2", "copytree", "symlink_to", "mkdir",
    "touch", "rmdir",
}  # fmt: skip
WRITERS = {
    "shared_folder.py",  # the cache, and nothing else
    "authoring/store.py",  # a lesson's files: what the teacher saves, with its history
    "authoring/history.py",
    "authoring/start.py",  # a new lesson, into a folder that is not there yet
    "authoring/start_page.py",  # a new notebook beside the lessons
    "build/lesson.py",  # the rest: outputs
    "publish/bundles.py",
    "build/earlier.py",
    "output/origins.py",
    "output/own_files.py",
    "publish/pdf_pages.py",
    "build/prune.py",
    "build/staging.py",
    "publish/recording/video.py",
    "widgets/desk/new_lesson.py",  # an upload, into a temporary folder
}


def changes_files(path):
    """Give what a module calls that could change a file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in WRITES:
                yield node.func.attr
            elif node.func.attr == "open" and any(
                isinstance(a, ast.Constant)
                and isinstance(a.value, str)
                and set(a.value) & set("wax+")
                for a in node.args
            ):
                yield "open"


def test_a_lessons_files_are_written_by_one_door_only():
    """Whatever a teacher has saved has its earlier version: nothing else writes there."""
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if any(changes_files(path))
    }
    assert found == WRITERS


def calls(path):
    """Name what a module calls."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func)


def test_what_reaches_a_terminal_goes_through_one_function():
    """The build's own process tells its news as JSON of ASCII alone."""
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if {"print", "click.echo", "click.secho", "sys.stderr.write"} & set(calls(path))
    }
    assert found == {"terminal.py", "build/process.py"}


def test_toml_and_json_of_others_are_read_by_one_module():
    """The kit's own tables, and what another process of ours has just said, need none."""
    found = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        if {"json.loads", "json.load", "tomllib.load", "nbformat.read", "nbformat.reads"}
        & set(calls(path))
        or ("tomllib.loads" in set(calls(path)) and "files" not in set(calls(path)))
    }
    assert found == {
        "reading.py",
        "authoring/toml_edit.py",
        "publish/leaks/stranger.py",
        "publish/page/packs.py",
        "publish/press.py",
        "widgets/desk/build_run.py",
    }
