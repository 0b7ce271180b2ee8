"""What may a stranger have? The rule once more, written from the specification.

This module does not ask the code that chooses what is given away (`kit.publish.cells`,
the tiers of `kit.lesson.settings`): what that code gets wrong must be noticed here. The
specification is ``docs/teacher/publishing.md``; where it leaves a doubt, what is in doubt
is the members'.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from kit.lesson.lesson import Lesson

__all__ = ["Cell", "Rules", "joined", "notebook_cells"]

Standing = Literal["free", "members", "nobody"]
_EVERYBODYS_TAGS = frozenset({"page-only", "handout-only"})
_PUBLIC_FILES = {
    "public/index.html": "page",
    "public/page/stretch.js": "program",
    "free.zip": "bundle",
}
_PUBLIC_NOTATION = "public/page/"
_AS_AUDIO = "stems"
"""The sound of a level, player by player: given away where its sound is."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell of the notebook as it was run; `number` counts from 1."""

    number: int
    standing: Standing
    source: str
    is_prose: bool
    outputs: tuple[Mapping[str, Any], ...]
    attachments: Mapping[str, Mapping[str, str]]

    @property
    def name(self) -> str:
        """How messages call it."""
        return f"cell {self.number}"


@dataclass(frozen=True, slots=True)
class Rules:
    """What lesson.toml says is given away: these kinds of files, of these levels."""

    levels: tuple[str, ...]
    free_levels: tuple[str, ...]
    free_kinds: frozenset[str]

    @classmethod
    def of(cls, lesson: Lesson) -> Rules:
        """Read them from a lesson's settings."""
        tiers = lesson.settings.tiers
        names = tuple(row.name for row in lesson.settings.levels)
        free = tuple(name for name in names if name in tiers.free_levels)
        return cls(names, free, frozenset(tiers.free_kinds))

    @property
    def paid_levels(self) -> tuple[str, ...]:
        """The levels that are the members'."""
        return tuple(name for name in self.levels if name not in self.free_levels)

    def gives(self, kind: str) -> bool:
        """Say whether a kind of file is given away of any level."""
        return bool(self.free_levels) and kind in self.free_kinds

    def gives_file(self, entry: Mapping[str, Any]) -> bool:
        """Say whether a file of the build is given away; its name has to agree."""
        path, kind = entry["path"], entry["kind"]
        if path in _PUBLIC_FILES:
            return bool(kind == _PUBLIC_FILES[path])
        level = entry.get("level")
        if kind == "notation":
            # What the public page shows of a level when it is chosen.
            free = path.startswith(_PUBLIC_NOTATION) and level in self.free_levels
            return bool(free and level == self._owner(path))
        kind = "audio" if kind == _AS_AUDIO else kind
        return self.gives(kind) and level in self.free_levels and level == self._owner(path)

    def _owner(self, path: str) -> str | None:
        """Give the level that a file's name begins with, the longest that fits."""
        stem = path.rpartition("/")[2].rpartition(".")[0]
        fitting = [n for n in self.levels if stem == n or stem.startswith(f"{n}-")]
        return max(fitting, key=len, default=None)

    def standing(self, tags: Any) -> Standing:
        """Say who may see a cell with these tags."""
        if not self.free_levels or not isinstance(tags, list | tuple):
            return "members"
        takes = False
        for tag in tags:
            if tag in _EVERYBODYS_TAGS:
                continue
            if not isinstance(tag, str):
                return "members"
            if tag in _other_tags():
                takes = takes or _other_tags()[tag] != "nothing"
            elif tag.partition(":")[0] != "level" or tag[6:] not in self.free_levels:
                # members, hide, a level that is not free, and whatever nobody knows.
                return "members"
        return "nobody" if takes else "free"


@cache
def _other_tags() -> Mapping[str, str]:
    """Give the tags of other tools, each with what it takes away from a cell."""
    table = files("kit.lesson").joinpath("cell_tags.toml")
    others = tomllib.loads(table.read_text(encoding="utf-8"))["others"]
    return {tag: row["does"] for tag, row in others.items()}


def notebook_cells(notebook: Mapping[str, Any], rules: Rules) -> Iterator[Cell]:
    """Read all cells of a notebook, and say of each who may see it."""
    for number, cell in enumerate(notebook.get("cells", ()), start=1):
        metadata = cell.get("metadata", {})
        yield Cell(
            number,
            rules.standing(metadata.get("tags", [])),
            joined(cell.get("source", "")),
            cell.get("cell_type") != "code",
            tuple(cell.get("outputs", ())),
            cell.get("attachments", {}),
        )


def joined(text: Any) -> str:
    """Put a text together that may be stored line by line."""
    return text if isinstance(text, str) else "".join(map(str, text))
