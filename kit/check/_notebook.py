"""Is the notebook fit to be run and printed? Its cells' tags, pictures and prose.

What its code cells call is looked at in `kit.check._calls`, the signs of its prose in
`kit.check._printing`.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kit.check.finding import Finding
from kit.lesson.cell_tags import CellTags, cell_tags, read_tags
from kit.lesson.lesson import Lesson
from kit.lesson.prose import MAX_PROSE_CHARS

__all__ = ["Cell", "cells_of", "notebook_findings"]

_ATTACHED = re.compile(r"!\[[^\]]*\]\(\s*<?attachment:([^)>\s]+)")
_PICTURES = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF87a", b"GIF89a", b"RIFF", b"<svg")


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell as it stands in the file, `number` counted from 1."""

    number: int
    kind: str
    source: str
    tags: CellTags
    attachments: Mapping[str, Any]
    place: str
    """How messages call it."""

    @property
    def is_printed(self) -> bool:
        """Say whether it can reach a page or a handout at all."""
        return not (
            self.tags.problems or "hide" in self.tags.own or "cell" in self.tags.takes
        )

    def finding(self, severity: str, code: str, text: str, remedy: str) -> Finding:
        """Make a finding about the cell."""
        return Finding(severity, text, self.place, remedy=remedy, code=code)  # type: ignore[arg-type]


def cells_of(notebook: Mapping[str, Any], lesson: Lesson) -> tuple[Cell, ...]:
    """Give the cells of a notebook that has been read."""
    name = lesson.name_of("lesson.ipynb")
    return tuple(
        Cell(
            number,
            str(cell["cell_type"]),
            _joined(cell["source"]),
            read_tags(cell_tags(cell), lesson.level_names),
            cell.get("attachments", {}),
            f"{name}, cell {number}",
        )
        for number, cell in enumerate(notebook["cells"], start=1)
    )


def notebook_findings(cells: Sequence[Cell]) -> Iterator[Finding]:
    """Yield what is wrong with the tags and the attached pictures of cells."""
    for cell in cells:
        for problem in cell.tags.problems:
            yield cell.finding("error", "tag", problem.found, problem.remedy)
        if cell.kind != "markdown" or not cell.is_printed:
            continue
        if len(cell.source) > MAX_PROSE_CHARS:
            found = f"the prose has more than {MAX_PROSE_CHARS} characters"
            yield cell.finding("error", "prose", found, "cut it into several cells")
        yield from _attached(cell)


def _attached(cell: Cell) -> Iterator[Finding]:
    """Yield what JupyterLab itself could not show; pages print a picture's description."""
    for name in dict.fromkeys(_ATTACHED.findall(cell.source)):
        if name not in cell.attachments:
            yield cell.finding(
                "warning",
                "attachment",
                f'the picture "{name}" is named here and not attached to the cell',
                "attach it again, or take its name out",
            )
        elif not _is_picture(cell.attachments[name]):
            yield cell.finding(
                "warning",
                "attachment",
                f'what is attached as "{name}" is not a picture',
                "attach a PNG or JPEG picture",
            )


def _is_picture(bundle: Any) -> bool:
    if not isinstance(bundle, Mapping):
        return False
    for mime, data in bundle.items():
        if not str(mime).startswith("image/"):
            continue
        text = _joined(data)
        try:
            start = base64.b64decode("".join(text.split())[:64], validate=True)
        except (binascii.Error, ValueError):
            start = text.lstrip()[:64].encode(errors="replace")
        return start.startswith(_PICTURES)
    return False


def _joined(text: Any) -> str:
    """Put a text together that may be stored line by line."""
    return text if isinstance(text, str) else "".join(map(str, text))
