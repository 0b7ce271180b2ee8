"""How large are the rooms of the kit, how well described, and how well do borders hold?

    python tests/benchmarks/house.py [ROOT ...]

Counts, for each checkout named (this one if none is): modules and their length, public
names with a docstring, lines that are comments, and names that a room imports of another:
from the room itself (its ``__init__``), from a module that offers them, or from one that is
private by its name. Two checkouts beside each other show what a change has done.
"""

from __future__ import annotations

import argparse
import ast
import io
import statistics
import tokenize
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
_NO_WORDS = ("# noqa", "# type", "# fmt")


def comment_lines(text: str) -> int:
    """Count the comments that are words, not orders to a tool."""
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return sum(
        token.type == tokenize.COMMENT and not token.string.startswith(_NO_WORDS)
        for token in tokens
    )


def public(tree: ast.Module) -> list[ast.AST]:
    """List the functions, methods and classes whose name has no underscore in front."""
    kinds = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
    return [n for n in ast.walk(tree) if isinstance(n, kinds) and n.name[0] != "_"]


def borders(root: Path, path: Path, tree: ast.Module) -> dict[str, int]:
    """Count the names that a module imports of other rooms, by the way they come."""
    ways = {"by the room": 0, "by a module": 0, "of a private module": 0}
    own = path.relative_to(root / "kit").parts[0]
    for node in ast.walk(tree):
        if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith(
            "kit."
        ):
            continue
        _, room, *inner = str(node.module).split(".")
        if room == own or not (root / "kit" / room).is_dir():
            continue
        way = "by a module" if inner else "by the room"
        if any(name.startswith("_") for name in inner):
            way = "of a private module"
        ways[way] += len(node.names)
    return ways


def report(root: Path) -> None:
    """Print the figures of one checkout."""
    paths = sorted((root / "kit").rglob("*.py"))
    texts = {path: path.read_text(encoding="utf-8") for path in paths}
    trees = {path: ast.parse(text) for path, text in texts.items()}
    modules = [path for path in paths if path.name[:2] != "__"]
    lengths = [len(texts[path].splitlines()) for path in modules]
    print(f"{root}")
    print(
        f"{len(modules)} modules in {sum(p.name == '__init__.py' for p in paths)} rooms, "
        f"{sum(path.name[0] == '_' for path in modules)} of them private; "
        f"median {statistics.median(lengths):g} lines, longest {max(lengths)}"
    )
    names = [name for tree in trees.values() for name in public(tree)]
    told = sum(bool(ast.get_docstring(name)) for name in names)  # type: ignore[arg-type]
    print(f"{told} of {len(names)} public names have a docstring")
    comments = sum(map(comment_lines, texts.values()))
    lines = sum(len(text.splitlines()) for text in texts.values())
    print(f"{comments} comments in {lines} lines, {comments / lines:.1%}")
    totals: dict[str, int] = {}
    for path, tree in trees.items():
        for way, count in borders(root, path, tree).items():
            totals[way] = totals.get(way, 0) + count
    print("names of other rooms:", ", ".join(f"{n} {way}" for way, n in totals.items()))


def main() -> None:
    """Report on each checkout."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("roots", nargs="*", type=Path, default=[HERE])
    for root in parser.parse_args().roots:
        report(root.resolve())


if __name__ == "__main__":
    main()
