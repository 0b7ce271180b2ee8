"""pyproject.toml asks for what the kit needs, all of it and nothing else.

Which distribution a module comes from is what the installed packages say themselves
(`importlib.metadata.packages_distributions`).
"""

from __future__ import annotations

import ast
import importlib.util
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from kit.build import identity

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = PROJECT["optional-dependencies"]
NEEDED_WITHOUT_IMPORT = {
    "ipykernel": "runs the notebooks that nbclient executes",
    "ipywidgets": "brings JupyterLab's half of the widgets that anywidget makes",
    "jupyterlab": "is started by kit lab as a program",
}


def plain(name: str) -> str:
    """Spell a distribution's name as PEP 503 does."""
    return re.sub(r"[-_.]+", "-", name).lower()


def names(requirements: list[str]) -> set[str]:
    return {plain(re.match(r"[A-Za-z0-9._-]+", text)[0]) for text in requirements}


RUNTIME = names(PROJECT["dependencies"])
OPTIONAL = names(EXTRAS["cluster"]) | names(EXTRAS["video"])


def imported_modules(path: Path) -> set[str]:
    """Give the top names that a module imports, also while it runs and for its types."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module.partition(".")[0])
    return found - set(sys.stdlib_module_names) - {"kit"}


IMPORTED = set().union(*map(imported_modules, (ROOT / "kit").rglob("*.py")))


def distributions() -> set[str]:
    """Give the distributions of all that the kit imports."""
    known = packages_distributions()
    return {plain(name) for module in IMPORTED for name in known.get(module, [module])}


def test_everything_the_kit_imports_is_asked_for():
    assert distributions() - RUNTIME - OPTIONAL == set()


def test_everything_asked_for_is_imported_or_has_a_named_reason():
    unused = RUNTIME - distributions()
    # A wheel of no use on this machine (its marker) is imported all the same.
    assert unused == set(NEEDED_WITHOUT_IMPORT)


def test_libraries_that_stamp_the_cache_are_ones_the_kit_uses():
    assert {plain(name) for name in identity._LIBRARIES} <= RUNTIME | OPTIONAL


def test_what_the_extras_ask_for_the_tests_have_too():
    assert names(EXTRAS["test"]) >= OPTIONAL


def lowest_versions():
    spec = importlib.util.spec_from_file_location(
        "lowest_versions", ROOT / "tests" / "lowest_versions.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_each_dependency_is_pinned_to_its_lower_bound_with_its_marker():
    table = {"dependencies": ["typst>=0.15", "midirenderer>=0.1.3; platform_system != 'X'"]}
    assert lowest_versions().constraints(table) == [
        "typst==0.15",
        "midirenderer==0.1.3; platform_system != 'X'",
    ]


@pytest.mark.parametrize("requirement", ["typst", "typst>=0.15,<1", "typst==0.15"])
def test_a_dependency_without_a_lower_bound_alone_is_refused(requirement):
    with pytest.raises(ValueError, match="not a name with a lower bound alone"):
        lowest_versions().constraints({"dependencies": [requirement]})


def test_every_dependency_of_the_kit_has_a_lower_bound_alone():
    assert len(lowest_versions().constraints(PROJECT)) == len(PROJECT["dependencies"])


def test_the_package_says_that_it_is_typed():
    assert (ROOT / "kit" / "py.typed").exists()
    assert "Typing :: Typed" in PROJECT["classifiers"]


def test_nothing_the_kit_writes_points_to_a_file_that_an_installation_lacks():
    """Templates and messages name pages of the guide, never its place in a clone."""
    templates = [path for path in (ROOT / "kit").rglob("templates/**/*") if path.is_file()]
    assert len(templates) > 20
    assert [path.name for path in templates if b"docs/" in path.read_bytes()] == []


def test_no_text_asks_for_the_kit_from_a_registry():
    """It is not published: what a text says to install must be there."""
    said = {
        path.relative_to(ROOT).as_posix()
        for top in ("kit", "docs", "lessons", "README.md", "DEVELOPERS.md")
        for path in ([ROOT / top] if (ROOT / top).is_file() else (ROOT / top).rglob("*"))
        if path.is_file()
        and path.suffix in {".py", ".md", ".j2", ".toml", ".ipynb", ".js", ".typ"}
        and re.search(r"pip install[^\n]*tune-lesson-kit", path.read_text(encoding="utf-8"))
    }
    assert said == set()
