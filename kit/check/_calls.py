"""Will the notebook's code cells run? As far as that can be told without running them.

Looked for: what is not Python, names that nothing has given a meaning to, calls of the kit
that do not exist, and levels, instruments, sections, keys and mixes that the lesson does
not have, where they are written out in the call. What a cell computes is not known here.

Source: the grammar of IPython as its own ``TransformerManager`` turns it into Python.
"""

from __future__ import annotations

import ast
import importlib.util
import sys
import warnings
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from functools import partial
from types import MappingProxyType
from typing import Any

from kit.check._code_names import Names
from kit.check._notebook import Cell
from kit.check.finding import Finding
from kit.errors import KitError, LevelError
from kit.lesson.audio_table import LEVEL_MIXES
from kit.lesson.choices import SIZE_NAMES, bars_from, stretch_of
from kit.lesson.figure_calls import FIGURES, LEVEL_PARAMETERS
from kit.lesson.handout_table import PAPER_NAMES
from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.toml_table import near

__all__ = ["CALLS", "call_findings"]

CALLS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]] = MappingProxyType(
    {
        "Lesson": (("folder",), ()),
        "bench": (("lesson", "level", "instrument", "section"), ()),
        "builder": (("lesson", "out"), ()),
        "changes_editor": (("lesson", "level", "instrument"), ()),
        "form_editor": (("lesson",), ()),
        "from_music21": (("stream",), ("part", "keep_uneven")),
        "new_lesson": (("folder",), ()),
        "open_lesson": (("folder",), ()),
        "preview": (("lesson", "level", "instrument", "paper"), ()),
        "proposed_changes": (("lesson",), ()),
        "rights_summary": (("lesson",), ()),
        "route_editor": (("lesson", "level"), ()),
        "school": (("folder", "out"), ()),
        "to_music21": (("tune",), ()),
        **{row.name: (("lesson", *row.by_place), row.by_name) for row in FIGURES},
    }
)
"""What a notebook may call, with the parameters in order and those that must be named. A
test compares it with the functions, which are too slow to load for a check."""

_OF_KIT = frozenset({*CALLS, "__version__", "*"})


def call_findings(
    lesson: Lesson, cells: Sequence[Cell], *, intact: Collection[str]
) -> Iterator[Finding]:
    """Yield an error for each cell that cannot run as it is written.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    cells : sequence of Cell
        All cells of its notebook.
    intact : collection of str
        The levels that can be made: sections and bars are looked for in these only.
    """
    names = Names()
    for cell in cells:
        if cell.kind != "code" or "run" in cell.tags.takes:
            continue
        may_fail = "errors" in cell.tags.takes
        try:
            tree = _parsed(cell.source)
        except (SyntaxError, ValueError, RecursionError, MemoryError) as error:
            if not may_fail:
                remedy = "run the notebook and mend this cell"
                yield cell.finding("error", "code", _not_python(error), remedy)
            continue
        names.note(tree)
        if may_fail:
            continue
        yield from _imports(lesson, cell, tree)
        yield from names.unknown(cell, tree)
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                yield from _call(lesson, cell, node, names, intact)
            elif isinstance(node, ast.Attribute):
                yield from _attribute(lesson, cell, node, names)


def _not_python(error: Exception) -> str:
    if isinstance(error, SyntaxError):
        return f"line {error.lineno or 1} is not Python ({error.msg})"
    return "this is not Python"


def _parsed(source: str) -> ast.Module:
    try:
        return _compiled(source)
    except SyntaxError:
        if not any(sign in source for sign in "%!?"):
            raise
    # A second to load, so only where a cell speaks to IPython itself.
    from IPython.core.inputtransformer2 import TransformerManager  # noqa: PLC0415

    transformer = TransformerManager()  # type: ignore[no-untyped-call]
    return _compiled(transformer.transform_cell(source))


def _compiled(source: str) -> ast.Module:
    flags = ast.PyCF_ALLOW_TOP_LEVEL_AWAIT
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        compile(source, "cell", "exec", flags=flags, dont_inherit=True)
        return ast.parse(source)


def _imports(lesson: Lesson, cell: Cell, tree: ast.Module) -> Iterator[Finding]:
    """Yield an error for a module that this Python does not have.

    An import inside something else (a ``try``, an ``if``) has a reason to be there.
    """
    for node in tree.body:
        modules: list[str] = []
        if isinstance(node, ast.Import):
            modules = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            modules = [node.module]
            if node.module == "kit":
                modules += [f"kit.{a.name}" for a in node.names if a.name not in _OF_KIT]
        for module in modules:
            if _is_missing(module, lesson):
                what = (
                    f'the kit has no function "{module.removeprefix("kit.")}"'
                    if module.startswith("kit.")
                    else f'there is no module "{module.partition(".")[0]}" on this machine'
                )
                remedy = (
                    near(module.removeprefix("kit."), CALLS)
                    if module.startswith("kit.")
                    else "install it, or take the import out"
                )
                yield cell.finding("error", "code", what, remedy)


def _is_missing(module: str, lesson: Lesson) -> bool:
    top, _, inner = module.partition(".")
    if (lesson.folder / f"{top}.py").is_file() or (lesson.folder / top).is_dir():
        return False
    # Only a module of ours is looked into: to look into another would run it.
    name = module if top == "kit" and inner.isidentifier() else top
    return name not in sys.modules and importlib.util.find_spec(name) is None


def _call(
    lesson: Lesson,
    cell: Cell,
    node: ast.Call,
    names: Names,
    intact: Collection[str],
) -> Iterator[Finding]:
    name = names.called(node.func)
    if name is None:
        return
    if name not in CALLS:
        yield cell.finding(
            "error", "call", f'the kit has no function "{name}"', near(name, CALLS)
        )
        return
    given, wrong = _arguments(name, node)
    if wrong is not None:
        yield cell.finding("error", "call", *wrong)
        return
    for found, remedy in _values(lesson, given, intact):
        yield cell.finding("error", "call", found, remedy)
    folder = given.get("folder")
    if (
        name == "open_lesson"
        and isinstance(folder, str)
        and not _holds_lesson(lesson, folder)
    ):
        found = f'there is no lesson in "{folder}", seen from the lesson folder'
        yield cell.finding("error", "call", found, f"write kit.{name}()")


def _holds_lesson(lesson: Lesson, folder: str) -> bool:
    if "\0" in folder:
        return False
    place = lesson.folder / folder
    return ((place.parent if place.is_file() else place) / "lesson.toml").is_file()


def _attribute(
    lesson: Lesson, cell: Cell, node: ast.Attribute, names: Names
) -> Iterator[Finding]:
    """Yield an error for what a lesson does not have, where a name means nothing else."""
    match node:
        case ast.Attribute(value=ast.Name(id=owner), attr=attr, ctx=ast.Load()):
            known = [name for name in dir(lesson) if not name.startswith("_")]
            if owner in names.lessons and attr not in known and not attr.startswith("_"):
                found = f'a lesson has nothing called "{attr}"'
                yield cell.finding("error", "code", found, near(attr, known))


def _arguments(name: str, node: ast.Call) -> tuple[dict[str, Any], tuple[str, str] | None]:
    """Give the arguments that are written out, and what the function does not take."""
    by_place, by_name = CALLS[name]
    starred = any(isinstance(value, ast.Starred) for value in node.args)
    if len(node.args) > len(by_place) and not starred:
        wrong = f"kit.{name} takes {len(by_place)} values at most without their names"
        return {}, (wrong, f"name them: {', '.join((*by_place, *by_name))}")
    given: dict[str, Any] = {}
    if not starred:
        given |= {
            key: _constant(value) for key, value in zip(by_place, node.args, strict=False)
        }
    for keyword in node.keywords:
        if keyword.arg is None:
            continue
        if keyword.arg not in (*by_place, *by_name):
            wrong = f'kit.{name} has no parameter "{keyword.arg}"'
            return {}, (wrong, near(keyword.arg, (*by_place, *by_name)))
        given[keyword.arg] = _constant(keyword.value)
    unsure = starred or any(keyword.arg is None for keyword in node.keywords)
    if "lesson" in by_place and not unsure:
        if "lesson" not in given:
            return {}, (f"kit.{name} is not told the lesson", f"write kit.{name}(lesson)")
        if given["lesson"] is not None:
            wrong = f"the first value of kit.{name} is not a lesson"
            return {}, (wrong, f"write kit.{name}(lesson, …)")
    return {key: value for key, value in given.items() if value is not None}, None


def _constant(node: ast.expr) -> Any:
    """Give a value that is written out, None if it is not, or nothing."""
    try:
        return ast.literal_eval(node)
    except (ValueError, TypeError, SyntaxError, MemoryError, RecursionError):
        return None


def _values(
    lesson: Lesson, given: Mapping[str, Any], intact: Collection[str]
) -> Iterator[tuple[str, str]]:
    """Yield the values of a call that the lesson does not have, with what to do."""
    instruments = [instrument.slug for instrument in lesson.settings.instruments]
    known: Mapping[str, Sequence[str]] = {
        **dict.fromkeys(LEVEL_PARAMETERS, lesson.level_names),
        "instrument": instruments,
        "mix": LEVEL_MIXES,
        "paper": PAPER_NAMES,
        "size": SIZE_NAMES,
    }
    wrong = {
        key: choices
        for key, choices in known.items()
        if given.get(key) and given[key] not in choices
    }
    for key, choices in wrong.items():
        what, remedy = (
            "level" if key in LEVEL_PARAMETERS else key,
            near(f"{given[key]}"[:80], choices),
        )
        yield f'the lesson has no {what} "{given[key]}"', remedy
    if wrong or not intact:
        return
    for level in _drawn(lesson, given, intact) if given.get("key") else ():
        named = f"{given['key']}"
        yield from _refused(partial(practice_key, lesson, named, level=level))
    level = given.get("level") or lesson.level_names[0]
    if level in intact:
        yield from _refused(lambda: _stretch(lesson.level(level), given))


def _drawn(
    lesson: Lesson, given: Mapping[str, Any], intact: Collection[str]
) -> Iterator[str]:
    """Yield the levels a figure is drawn at: each on its own pages if none is named."""
    named = given.get("level")
    yield from (
        name for name in lesson.level_names if name in intact and named in (None, name)
    )


def _stretch(level: Level, given: Mapping[str, Any]) -> None:
    """Find the bars that a call names.

    Raises
    ------
    LevelError
        If the level has none such.
    """
    section, bars = given.get("section"), given.get("bars")
    if section and bars:
        found, remedy = "the call names a section and bars", "ask for one of the two"
        raise LevelError(found, remedy=remedy)
    if bars:
        pair = isinstance(bars, tuple | list) and [type(bar) for bar in bars] == [int, int]
        if not pair:
            raise LevelError("bars are two whole numbers", remedy="write bars=(1, 4)")
        stretch_of(level, bars=(bars[0], bars[1]))
    elif section and (not isinstance(section, str) or bars_from(level, section) is None):
        stretch_of(level, section=f"{section}")


def _refused(ask: Callable[[], object]) -> Iterator[tuple[str, str]]:
    try:
        ask()
    except KitError as error:
        yield error.found, error.remedy or "correct the call"
