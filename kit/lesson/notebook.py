"""Is this file a notebook, and does every part of it have the kind it must have?

A notebook comes from many programs, and some write what others stumble over. So its shape
is looked at here, once, with the cell in every message; whoever reads its cells afterwards
may trust that texts are texts and lists are lists.

Conventions
-----------
* Cells are counted from 1.
* Texts may be stored as one text or as a list of lines.

Source: the notebook format 4 of the Jupyter project (nbformat, its JSON schema).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from kit.errors import LessonError
from kit.reading import MAX_JSON_BYTES, json_of, read_bytes, told

__all__ = ["notebook_of", "read_notebook"]

MAX_CELLS = 2000
FORMAT = 4
MINOR_WITH_IDS = 5
_ID = re.compile(r"[A-Za-z0-9_-]{1,64}")
_KINDS = ("markdown", "code", "raw")
_OUTPUTS: Mapping[str, tuple[str, ...]] = {
    "stream": ("name", "text"),
    "display_data": ("data", "metadata"),
    "execute_result": ("data", "metadata"),
    "error": ("ename", "evalue", "traceback"),
}
"""Kinds of output, and what each must have."""
_AGAIN = "open the notebook in JupyterLab and save it again"


def read_notebook(path: Path, *, source: str) -> dict[str, Any]:
    """Read a notebook as plain JSON of format 4.

    Parameters
    ----------
    path : Path
        The file.
    source : str
        What messages call it.

    Raises
    ------
    LessonError
        If it is missing, too large, no JSON, or a part of it is of the wrong kind.
    """
    with told(source):
        data = read_bytes(path, limit_bytes=MAX_JSON_BYTES)
    return notebook_of(data, source=source)


def notebook_of(data: str | bytes, *, source: str) -> dict[str, Any]:
    """Read a notebook from its text, as `read_notebook`.

    Raises
    ------
    LessonError
        As `read_notebook`.
    """
    with told(source):
        notebook = json_of(data)
    if not isinstance(notebook, dict) or "nbformat" not in notebook:
        raise LessonError("this is not a notebook", file=source, remedy=_AGAIN)
    version = notebook["nbformat"]
    if type(version) is not int or version != FORMAT:
        raise LessonError(
            f"the notebook says that it is of format {version!r}, and this kit reads "
            f"format {FORMAT}",
            file=source,
            remedy=_AGAIN,
        )
    return _shaped(notebook, source)


def _shaped(notebook: dict[str, Any], source: str) -> dict[str, Any]:
    look = _Look(source)
    look.need(isinstance(notebook.get("metadata"), dict), "its metadata must be a table")
    look.need(type(notebook.get("nbformat_minor")) is int, "its minor format is missing")
    cells = notebook.get("cells")
    look.need(isinstance(cells, list), "its cells must be a list")
    assert isinstance(cells, list)
    look.need(len(cells) <= MAX_CELLS, f"it has more than {MAX_CELLS} cells")
    for number, cell in enumerate(cells, start=1):
        _look_at_cell(cell, _Look(f"{source}, cell {number}"))
    if notebook["nbformat_minor"] >= MINOR_WITH_IDS:
        _give_ids(cells)
    return notebook


def _give_ids(cells: Sequence[dict[str, Any]]) -> None:
    """Give an id to each cell that has none of its own, the same with every reading.

    Many programs write none, and nbformat would make them up at random.
    """
    seen: set[str] = set()
    for number, cell in enumerate(cells, start=1):
        own = cell.get("id")
        if not isinstance(own, str) or not _ID.fullmatch(own) or own in seen:
            own = f"cell-{number}"
            while own in seen:
                own += "-"
            cell["id"] = own
        seen.add(own)


class _Look:
    """Somewhere in a notebook, for messages."""

    def __init__(self, place: str) -> None:
        self.place = place

    def need(self, is_so: bool, found: str) -> None:
        """Stop if something is not as it must be."""
        if not is_so:
            raise LessonError(found, file=self.place, remedy=_AGAIN)

    def need_text(self, value: Any, name: str) -> None:
        """Stop if something is no text, in one piece or in lines."""
        self.need(_is_text(value), f"its {name} must be a text")


def _look_at_cell(cell: Any, look: _Look) -> None:
    look.need(isinstance(cell, dict), "a cell must be a table")
    kind = cell.get("cell_type")
    look.need(kind in _KINDS if isinstance(kind, str) else False,
              "its cell_type must be markdown, code or raw")  # fmt: skip
    metadata = cell.get("metadata")
    look.need(isinstance(metadata, dict), "its metadata must be a table")
    tags = metadata.get("tags", [])
    look.need(
        isinstance(tags, list) and all(isinstance(tag, str) for tag in tags),
        "its tags must be a list of texts",
    )
    look.need("source" in cell, "it has no source")
    look.need_text(cell["source"], "source")
    _look_at_attachments(cell.get("attachments", {}), look)
    if kind == "code":
        outputs = cell.get("outputs")
        look.need(isinstance(outputs, list), "its outputs must be a list")
        assert isinstance(outputs, list)
        for output in outputs:
            _look_at_output(output, look)
        count = cell.get("execution_count")
        look.need(count is None or type(count) is int, "its execution_count is no number")


def _look_at_attachments(attachments: Any, look: _Look) -> None:
    look.need(isinstance(attachments, dict), "its attachments must be a table")
    for name, kinds in attachments.items():
        look.need(
            isinstance(kinds, dict) and all(map(_is_text, kinds.values())),
            f'its attachment "{name}" must be a table of texts',
        )


def _look_at_output(output: Any, look: _Look) -> None:
    look.need(isinstance(output, dict), "an output must be a table")
    kind = output.get("output_type")
    look.need(
        isinstance(kind, str) and kind in _OUTPUTS,
        f"an output must be one of {', '.join(_OUTPUTS)}",
    )
    for part in _OUTPUTS[kind]:
        look.need(part in output, f"an output of the kind {kind} has no {part}")
    if kind == "stream":
        look.need_text(output["name"], "output's name")
        look.need_text(output["text"], "output's text")
    elif kind == "error":
        look.need_text(output["ename"], "error's name")
        look.need_text(output["evalue"], "error's words")
        look.need_text(output["traceback"], "error's traceback")
    else:
        look.need(isinstance(output["metadata"], dict), "an output's metadata is no table")
        data = output["data"]
        look.need(isinstance(data, dict), "an output's data must be a table")
        for mime, value in data.items():
            # What is JSON itself may be anything; all else is text.
            if not mime.endswith("json"):
                look.need_text(value, f"output as {mime}")


def _is_text(value: Any) -> bool:
    if isinstance(value, list):
        return all(isinstance(line, str) for line in value)
    return isinstance(value, str)
