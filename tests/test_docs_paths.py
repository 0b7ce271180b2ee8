"""What the guides and docstrings name is there: files, folders, modules and their names.

The code is read, not loaded. Looked at are the pages of docs/, DEVELOPERS.md and README.md,
and the docstrings and comments of the kit. Links are followed in `test_readme.py`.
"""

import ast
import io
import re
import tokenize
from functools import cache
from pathlib import Path, PurePosixPath

import pytest

import kit

PACKAGE = Path(kit.__file__).parent
ROOT = PACKAGE.parent
PAGES = [ROOT / "DEVELOPERS.md", ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md"))]
CODE = sorted(PACKAGE.rglob("*.py"))
SUFFIXES = {
    "abc", "css", "html", "ipynb", "j2", "js", "json", "md", "mid", "mp3", "musicxml", "py",
    "pyi", "toml", "typ", "xml", "zip",
}  # fmt: skip
TO_BE_WRITTEN = {
    "kit/figures/breath_plan.py",  # the figure that DEVELOPERS.md adds as an example
    "kit/figures/templates/breath_plan.html.j2",
    "page/stretch.js",  # files of an output, not of the kit: audio/<level>-band.js
    "-band.js",
}
FILES = [
    path.relative_to(ROOT)
    for folder in (PACKAGE, ROOT / "tests")
    for path in sorted(folder.rglob("*.*"))
]

_FENCE = re.compile(r"^ *```.*?^ *```", re.MULTILINE | re.DOTALL)
_TICKS = re.compile(r"(`+)(.+?)\1", re.DOTALL)
_PATH = re.compile(r"(?<![\w./-])(?:kit|tests|docs)/[\w./*-]*[\w/*]")
_DOTTED = re.compile(r"(?<![\w./-])kit(?:\.[A-Za-z_]\w*)+")
_FILE = re.compile(r"(?<![\w./*-])[\w/.-]+\.(?:py|js|css|typ|j2)\b")
_NAME = re.compile(r"\w*[a-z]_[a-z]\w*")
_SHORT = re.compile(r"(\w+)\.(\w+)(?:\(.*\))?", re.DOTALL)


def module_path(dotted):
    """Give the file of a module or the `__init__` of a folder, None if there is neither."""
    place = ROOT.joinpath(*dotted.split("."))
    for path in (place.with_suffix(".py"), place / "__init__.py"):
        if path.is_file():
            return path
    return None


def bound(body):
    """Give what a body binds, name by name: the class, or None for anything else."""
    names = {}
    for node in body:
        if isinstance(node, ast.ClassDef):
            names[node.name] = node
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            names[node.name] = None
            if node.name == "__init__":
                names |= {
                    target.attr: None
                    for target in ast.walk(node)
                    if isinstance(target, ast.Attribute)
                    and ast.unparse(target.value) == "self"
                }
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            names |= {
                n.id: None for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)
            }
    return names


@cache
def names_of(path):
    names = bound(ast.parse(path.read_text(encoding="utf-8")).body)
    if path == PACKAGE / "__init__.py":
        names |= dict.fromkeys(kit.__all__)
    return names


def has(path, names):
    """Tell whether a module has a name, or a class of it that name of its own."""
    known = names_of(path)
    for place, name in enumerate(names):
        if name not in known:
            return False
        if known[name] is None:
            # What lies in a value cannot be told from the code.
            return place == len(names) - 1
        known = bound(known[name].body)
    return True


def is_there(dotted):
    """Tell whether ``kit.a.b.c`` is a module, or a name in one."""
    parts = dotted.split(".")
    for length in range(len(parts), 0, -1):
        path = module_path(".".join(parts[:length]))
        if path is not None:
            return has(path, parts[length:])
    return False


def is_path(text):
    return any(ROOT.glob(text.rstrip("/"))) if "*" in text else (ROOT / text).exists()


def is_file(text):
    """Tell whether the path of a file of the kit or of its tests ends so."""
    end = PurePosixPath(text).parts
    return any(path.parts[-len(end) :] == end for path in FILES)


def missing(text, *, quoted=None):
    """Give what a text names and is not there.

    Parameters
    ----------
    text : str
        Searched for paths, ``kit.a.b`` and names of files.
    quoted : sequence of str, optional
        Parts of it in backticks. One such as ``cache.Cache`` means the name of a module and
        a name in it.
    """
    lost = {path for path in _PATH.findall(text) if not is_path(path)}
    lost |= {name for name in _DOTTED.findall(text) if not is_there(name)}
    lost |= {name for name in _FILE.findall(text) if not is_file(name)}
    for short in quoted or ():
        found = _SHORT.fullmatch(short)
        if found is None or found[2] in SUFFIXES or found[1] == "kit":
            continue
        name = found[1].lstrip("_")
        alike = [path for path in CODE if path.stem.lstrip("_") == name]
        there = [path for path in alike if path.stem == found[1] and has(path, [found[2]])]
        if alike and not there:
            lost.add(short)
    return lost - TO_BE_WRITTEN


def in_ticks(text):
    return [match[2] for match in _TICKS.finditer(text)]


@cache
def known_words():
    """Give every word of the kit's programs and tables, and of its tests."""
    texts = (path for path in FILES if path.suffix in {".py", ".js", ".toml", ".typ"})
    return {
        word
        for path in texts
        if path.name != Path(__file__).name
        for word in re.findall(r"\w+", (ROOT / path).read_text(encoding="utf-8"))
    }


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_a_page_names_is_there(page):
    text = page.read_text(encoding="utf-8")
    plain = _FENCE.sub("", text)
    quoted = in_ticks(plain)
    lost = missing("\n".join([*quoted, *_FENCE.findall(text)]), quoted=quoted)
    lost |= {word for word in quoted if _NAME.fullmatch(word)} - known_words()
    assert not lost


def words(path):
    """Give docstrings and comments of a module."""
    code = path.read_text(encoding="utf-8")
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield str(node.value.value)
    for token in tokenize.generate_tokens(io.StringIO(code).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


@pytest.mark.parametrize("path", CODE, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_what_docstrings_and_comments_name_is_there(path):
    assert not {
        name for text in words(path) for name in missing(text, quoted=in_ticks(text))
    }


@pytest.mark.parametrize(
    "path",
    [path for path in CODE if path.name == "__init__.py"],
    ids=lambda path: path.relative_to(ROOT).as_posix(),
)
def test_a_room_calls_its_private_modules_by_their_whole_names(path):
    quoted = {word for text in words(path) for word in in_ticks(text)}
    assert not {word for word in quoted if (path.parent / f"_{word}.py").exists()}


def architecture(name):
    """Give a constant of the test of the architecture, which is the truth."""
    for node in ast.parse((ROOT / "tests/test_architecture.py").read_text("utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name:
            return ast.literal_eval(node.value)
    raise AssertionError(f"there is no {name}")


def guide(heading, end):
    """Give a passage of the contributor's guide."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return text.partition(heading)[2].partition(end)[0]


def test_the_guide_draws_the_rooms_in_their_order():
    assert tuple(re.findall(r"\w+", guide("before it:", "| room |"))) == architecture(
        "ORDER"
    )


def test_the_guide_tells_of_each_room_what_it_is_for():
    cells = re.findall(r"^\| (`[^|]+) \|", guide("| room |", "**Borders.**"), re.MULTILINE)
    told = set()
    for cell in cells:
        first, *others = (name.removesuffix(".py") for name in re.findall(r"`(.+?)`", cell))
        inside = first.rpartition("/")[0]
        told |= {
            first,
            *(other if "/" in other else f"{inside}/{other}" for other in others),
        }
    rooms = {
        path.parent.relative_to(ROOT).as_posix()
        for path in CODE
        if path.name == "__init__.py"
    } - {"kit"}
    within_widgets = {room for room in rooms if room.startswith("kit/widgets/")}
    assert told == (rooms - within_widgets) | {"kit/cli"}


def test_the_guide_names_whoever_writes_files():
    row = re.compile(r"^\|[^|]+\|([^|]+)\|$", re.MULTILINE)
    named = set()
    for who in row.findall(guide("Who writes:", "No other module")):
        folder = ""
        for name in re.findall(r"`(kit/.+?|\w+\.py)`", who):
            path = name if "/" in name else f"{folder}/{name}"
            folder = path.rpartition("/")[0] if path.endswith(".py") else path
            named |= {path.removeprefix("kit/")} if path.endswith(".py") else set()
    through = {"cache.py"}  # it writes through shared_folder.py
    assert named == architecture("WRITERS") | through


@pytest.mark.parametrize(
    "named",
    [
        "kit/tune/readers.py",
        "kit/tunes",
        "kit/tune/midi_*.py",
        "tests/tune/test_nothing.py",
        "docs/developer/rooms.md",
        "kit.publish.crew",
        "kit.tune.read_tune",
        "kit.tune.read.reads",
        "kit.route.plan.Route.third_at",
        "kit.tune.read.read_tune.path",
        "readers.py",
        "tune/perform.py",
        "page.jsx.js",
        "staging.settle",
        "_staging.settled",
    ],
)
def test_what_is_not_there_is_found(named):
    assert missing(f"As `{named}` has it.", quoted=[named]) == {named}


@pytest.mark.parametrize(
    "named",
    [
        "kit/tune/read.py",
        "kit/tune/midi/*.py",
        "docs/developer",
        "kit.tune",
        "kit.tune.read",
        "kit.tune.read.read_tune",
        "kit.route.plan.Route.second_at",
        "kit.route.plan.Route.bars",
        "kit.build._staging.Stage.notices",
        "kit.excerpt",
        "band/perform.py",
        "page.js",
        "_staging.settle",
        "lesson.toml",
    ],
)
def test_what_is_there_is_left_alone(named):
    assert not missing(f"As `{named}` has it.", quoted=[named])
