"""Which names has a notebook given a meaning to, cell by cell, and which has it not?"""

from __future__ import annotations

import ast
import builtins
import difflib
from collections.abc import Iterator

from kit.check._notebook import Cell
from kit.check.finding import Finding

__all__ = ["Names"]

_OF_IPYTHON = frozenset(
    {"get_ipython", "display", "In", "Out", "exit", "quit", "_", "__", "___", "_i", "_ii"}
    | {"__name__", "__doc__", "__builtins__"}
)


_TIMING = frozenset({"time", "timeit", "prun"})
_BINDS_NOTHING = frozenset(
    {
        "matplotlib",
        "config",
        "autoreload",
        "load_ext",
        "pinfo",
        "pinfo2",
        "html",
        "javascript",
    }
    | {"latex", "svg", "markdown", "cd", "pwd", "ls", "env", "pip", "conda", "who", "whos"}
)
"""Magics that give no name a meaning; of any other one it is not known."""


def _is_shell(call: ast.Call) -> bool:
    return isinstance(call.func, ast.Attribute) and call.func.attr in (
        "system",
        "getoutput",
    )


class Names:
    """What the cells so far have given a meaning to."""

    def __init__(self) -> None:
        self.bound: set[str] = {*dir(builtins), *_OF_IPYTHON}
        self.kit: set[str] = set()
        """Names under which the kit is known."""
        self.functions: dict[str, str] = {}
        """What was imported from the kit, by the name it has here."""
        self.lessons: set[str] = set()
        """What holds an open lesson, and has held nothing else."""
        self.open = False
        """Whether something was done that may bind any name."""

    def note(self, tree: ast.Module) -> None:
        """Note what a cell gives a meaning to."""
        for node in ast.walk(tree):
            self._bind(node)
            if isinstance(node, ast.Call):
                self._note_magic(node)
        for statement in tree.body:
            self._note_lesson(statement)

    def unknown(self, cell: Cell, tree: ast.Module) -> Iterator[Finding]:
        """Yield an error for each name in a cell that has no meaning by then."""
        if self.open:
            return
        told: set[str] = set()
        for node in _top_level(tree):
            if (
                isinstance(node, ast.Name)
                and isinstance(node.ctx, ast.Load)
                and node.id not in self.bound | told
                and not node.id.startswith("_")
            ):
                told.add(node.id)
                meant = difflib.get_close_matches(node.id, self.bound, n=1, cutoff=0.8)
                yield cell.finding(
                    "error",
                    "code",
                    f'"{node.id}" has no meaning yet in this cell',
                    f"did you mean {meant[0]}?"
                    if meant
                    else "import it or give it a value in a cell above",
                )

    def _note_magic(self, call: ast.Call) -> None:
        """Note what a magic of IPython binds, as far as that can be told."""
        match call:
            case ast.Call(func=ast.Attribute(value=ast.Call(func=ast.Name("get_ipython")))):
                words = [arg.value for arg in call.args if isinstance(arg, ast.Constant)]
                magic = words[0] if words else ""
                if magic in _TIMING:
                    self._note_text(str(words[-1]))
                elif magic not in _BINDS_NOTHING and not _is_shell(call):
                    self.open = True
            case ast.Call(func=ast.Name(id="exec" | "eval" | "globals")):
                self.open = True

    def _note_text(self, code: str) -> None:
        try:
            self.note(ast.parse(code))
        except SyntaxError:
            self.open = True

    def _note_lesson(self, statement: ast.stmt) -> None:
        match statement:
            case ast.Assign(targets=[ast.Name(id=name)], value=ast.Call(func=function)):
                if self.called(function) == "open_lesson":
                    self.lessons.add(name)

    def _bind(self, node: ast.AST) -> None:
        match node:
            case ast.Name(id=name, ctx=ast.Store() | ast.Del()) | ast.arg(arg=name):
                self.bound.add(name)
                self.lessons.discard(name)
            case (
                ast.FunctionDef(name=str(name))
                | ast.AsyncFunctionDef(name=str(name))
                | ast.ClassDef(name=str(name))
                | ast.ExceptHandler(name=str(name))
                | ast.MatchAs(name=str(name))
                | ast.MatchStar(name=str(name))
                | ast.MatchMapping(rest=str(name))
            ):
                self.bound.add(name)
            case ast.Import(names=names):
                for alias in names:
                    here = alias.asname or alias.name.partition(".")[0]
                    self.bound.add(here)
                    if alias.name == "kit":
                        self.kit.add(here)
            case ast.ImportFrom(module=module, names=names):
                for alias in names:
                    self.open |= alias.name == "*"
                    self.bound.add(alias.asname or alias.name)
                    if module == "kit":
                        self.functions[alias.asname or alias.name] = alias.name

    def called(self, function: ast.expr) -> str | None:
        """Give the name of the kit's function that an expression is, if it is one."""
        match function:
            case ast.Attribute(value=ast.Name(id=owner), attr=name) if owner in self.kit:
                return name
            case ast.Name(id=name):
                return self.functions.get(name)
        return None


def _top_level(tree: ast.Module) -> Iterator[ast.AST]:
    """Yield what is evaluated when the cell runs: not the bodies of functions."""
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            waiting.extend(node.decorator_list)
        elif not isinstance(node, ast.Lambda):
            waiting.extend(ast.iter_child_nodes(node))
