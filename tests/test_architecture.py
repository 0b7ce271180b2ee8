"""The house keeps its order: imports point upstream, and what is private is named so."""

import ast
from fnmatch import fnmatch
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import kit
from kit.lesson.figure_calls import FIGURES

PACKAGE = Path(kit.__file__).parent
ORDER = (
    "terminal", "errors", "reading", "shared_folder", "cache", "pictures", "tune", "form",
    "accompany", "instruments", "levels", "solo", "route", "engrave", "band", "sound",
    "rights", "lesson", "tracks", "authoring", "check", "figures", "output", "publish",
    "build", "widgets", "command", "new_command", "cli",
)  # fmt: skip
STARTED_BY_NAME = {
    "kit.publish.page.exporter",  # entry points of nbconvert
    "kit.publish.handout.exporter",
    "kit.build.process",  # python -m
    "kit.widgets.figures.show",  # what a notebook calls
    "kit.sound.font.making.make_font",  # run by hand, from a clone
    "kit.sound.font.making.drum_levels",
    *kit._HOMES.values(),
    *(f"kit.figures.{row.name}" for row in FIGURES),
}


def module_name(path):
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}
ROOMS = {name for name, path in MODULES.items() if path.name == "__init__.py"} - {"kit"}


def imports(path):
    """Yield what a module imports of the kit, deferred imports too: module and name."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("kit"):
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield (inner, None) if inner in MODULES else (node.module, alias.name)
        elif isinstance(node, ast.Import):
            yield from ((a.name, None) for a in node.names if a.name.startswith("kit."))


IMPORTS = {name: list(imports(path)) for name, path in MODULES.items()}
USERS = {name: set() for name in MODULES}
for importer, found in IMPORTS.items():
    for imported, _ in found:
        USERS[imported].add(importer)


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_upstream(module):
    if module in {"kit", "kit.__main__"}:
        return
    here = ORDER.index(module.split(".")[1])
    rooms = {imported.split(".")[1] for imported, _ in IMPORTS[module] if imported != "kit"}
    assert not {room for room in rooms if ORDER.index(room) > here}


def test_no_module_needs_one_that_needs_it():
    """Not even in a roundabout way, or while a function runs."""
    graph = {name: {imported for imported, _ in found} for name, found in IMPORTS.items()}
    graph["kit"] = set()  # names everything, loads it when it is asked for
    assert len(tuple(TopologicalSorter(graph).static_order())) == len(MODULES)


def belongs_to(room, module):
    return module == room or module.startswith(f"{room}.")


@pytest.mark.parametrize("module", MODULES)
def test_what_is_private_to_a_room_is_named_so_and_used_there_alone(module):
    """A leading underscore: for this folder and those in it; none: for rooms downstream."""
    room, _, name = module.rpartition(".")
    if room in {"", "kit"} or module in ROOMS:
        return
    outside = {user for user in USERS[module] if not belongs_to(room, user)}
    if name.startswith("_"):
        assert not outside, f"{module} is used outside of {room}: offer it, without _"
    else:
        assert outside or module in STARTED_BY_NAME, f"nobody else uses {module}: name it _"


@pytest.mark.parametrize("module", MODULES)
def test_a_module_is_asked_only_for_what_it_offers(module):
    for imported, name in IMPORTS[module]:
        if name is None or imported == "kit":
            continue
        assert imported not in ROOMS, f"{imported} is a room: name the module in it"
        assert name in offered(MODULES[imported]), f"{imported} does not offer {name}"


def offered(path):
    """Give a module's ``__all__`` without loading it."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    return set()


@pytest.mark.parametrize("module", sorted(ROOMS))
def test_a_room_says_what_it_is_for_and_holds_no_code(module):
    (only,) = ast.parse(MODULES[module].read_text(encoding="utf-8")).body
    assert ast.get_docstring(ast.Module([only], []))


def undocumented(body, prefix=""):
    """Name the public functions, methods and classes without a docstring."""
    for node in body:
        if isinstance(node, ast.If | ast.Try):
            yield from undocumented(node.body, prefix)
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            continue
        if node.name.startswith("_"):
            continue
        if not (ast.get_docstring(node) or "").strip():
            yield prefix + node.name
        if isinstance(node, ast.ClassDef):
            yield from undocumented(node.body, f"{prefix}{node.name}.")


@pytest.mark.parametrize("module", MODULES)
def test_every_public_function_method_and_class_says_what_it_is(module):
    """In private modules too: their public names are what the room works with."""
    tree = ast.parse(MODULES[module].read_text(encoding="utf-8"))
    assert not list(undocumented(tree.body))


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
    "build/_staging.py",
    "publish/recording/video.py",
    "widgets/desk/new_lesson.py",  # an upload, into a temporary folder
    "sound/font/making/make_font.py",  # run by hand: parts of the kit itself
    "sound/font/making/drum_levels.py",
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
        "authoring/_toml_edit.py",
        "publish/leaks/_stranger.py",
        "publish/page/packs.py",
        "publish/_press.py",
        "widgets/desk/_build_run.py",
    }


def test_no_module_is_longer_than_anyone_reads_at_once():
    long = {
        name
        for name, path in MODULES.items()
        if len(path.read_text("utf-8").splitlines()) > 400
    }
    assert not long


def test_no_folder_is_left_out_of_the_tests_by_its_name(pytestconfig):
    """Pytest passes over folders by name, without a word; "build" is one of them."""
    left_out = pytestconfig.getini("norecursedirs")
    folders = {
        path.parent.name
        for root in (PACKAGE, PACKAGE.parent / "tests")
        for path in root.rglob("*.py")
    }
    assert {"build", "tests"} <= folders
    hidden = {name for name in folders for one in left_out if fnmatch(name, one)}
    assert hidden == set()
