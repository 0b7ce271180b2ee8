"""Which cells of a lesson notebook go where?

A lesson notebook has Markdown cells (prose) and one-line code cells of kit calls. A call's
output carries the private type `FIGURE_MIME`: which figure it is and its options, as data,
so that an exporter draws the figure itself, for its own level and instrument, instead of
copying what the notebook happened to show.

Cell tags
---------
``level:<name>``
    The cell belongs to that level: the handouts of other levels leave it out.
``page-only``, ``handout-only``
    The cell is for one of the two only.
``members``
    The cell never reaches the public page or a free handout.
``hide``
    The cell is dropped everywhere.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from kit.errors import LessonError
from kit.figures import FIGURE_MIME
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from kit.pictures import CleanPicture

__all__ = [
    "FIGURE_MIME",
    "FigureCall",
    "LessonCell",
    "Picture",
    "cells_for_handout",
    "cells_for_page",
    "has_run",
    "read_cells",
]

LEVEL_TAG = "level:"
MAX_PICTURES = 100
"""More in one notebook is a loop that went wrong; each takes up to a second."""
MAX_PROSE_CHARS = 200_000
"""A cell of prose longer than a small book is a mistake."""


@dataclass(frozen=True, slots=True)
class FigureCall:
    """A figure that a notebook asks for: its kind (``form-chart``) and options."""

    show: str
    options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels its options name."""
        names = (self.options.get(key) for key in ("level", "lower", "upper"))
        return tuple(name for name in names if isinstance(name, str) and name)


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture another program put into the notebook, and its description in words.

    It holds its pixels and nothing else: this is the one door by which pictures come in.
    """

    shown: CleanPicture
    alt: str = ""


@dataclass(frozen=True, slots=True)
class LessonCell:
    """A cell that has something to show: prose, figures or pictures."""

    tags: frozenset[str] = frozenset()
    prose: str = ""
    figures: tuple[FigureCall, ...] = ()
    pictures: tuple[Picture, ...] = ()

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels it is tagged with; none means all."""
        return tuple(
            sorted(
                tag.removeprefix(LEVEL_TAG)
                for tag in self.tags
                if tag.startswith(LEVEL_TAG)
            )
        )


def read_cells(
    notebook: Mapping[str, Any], *, source: str = "lesson.ipynb"
) -> tuple[LessonCell, ...]:
    """Read a notebook's cells; those with nothing to show are left out.

    Parameters
    ----------
    notebook : mapping
        A notebook of format 4 (nbformat's node, or plain JSON); run, if figures are wanted.
    source : str
        How messages call it.

    Raises
    ------
    LessonError
        If a cell stopped with an error, a figure's data are damaged, or a picture is none.
    """
    cells: list[LessonCell] = []
    pictures = 0
    for number, cell in enumerate(notebook["cells"], start=1):
        place = f"{source}, cell {number}"
        cells.append(_read_cell(cell, place))
        pictures += len(cells[-1].pictures)
        if pictures > MAX_PICTURES:
            raise LessonError(
                f"the notebook shows more than {MAX_PICTURES} pictures", file=place
            )
    return tuple(cell for cell in cells if cell.prose or cell.figures or cell.pictures)


def has_run(notebook: Mapping[str, Any]) -> bool:
    """Say whether a notebook has been run, or has nothing to run."""
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    return not code or any(cell["outputs"] or cell["execution_count"] for cell in code)


def cells_for_handout(
    cells: Iterable[LessonCell], *, level: str, free: bool
) -> tuple[LessonCell, ...]:
    """Choose the cells of one level's handout; a free one has none tagged ``members``."""
    unwanted = {"hide", "page-only", "members"} if free else {"hide", "page-only"}
    return tuple(
        cell
        for cell in cells
        if not cell.tags & unwanted and (not cell.levels or level in cell.levels)
    )


def cells_for_page(
    cells: Iterable[LessonCell], *, audience: str, free_levels: Collection[str]
) -> tuple[LessonCell, ...]:
    """Choose the cells of the page.

    On the public page nothing is left that is tagged ``members``, belongs to a level that
    is not free, or shows one.
    """
    wanted = [cell for cell in cells if not cell.tags & {"hide", "handout-only"}]
    if audience == "members":
        return tuple(wanted)
    return tuple(_public(wanted, frozenset(free_levels)))


def _public(cells: Sequence[LessonCell], free: frozenset[str]) -> Iterator[LessonCell]:
    for cell in cells:
        if "members" in cell.tags or not set(cell.levels) <= free:
            continue
        figures = tuple(call for call in cell.figures if set(call.levels) <= free)
        if cell.prose or figures or cell.pictures:
            yield LessonCell(cell.tags, cell.prose, figures, cell.pictures)


def _read_cell(cell: Mapping[str, Any], place: str) -> LessonCell:
    tags = frozenset(str(tag) for tag in cell["metadata"].get("tags", ()))
    if cell["cell_type"] == "markdown":
        prose = _joined(cell["source"])
        if len(prose) > MAX_PROSE_CHARS:
            raise LessonError(
                f"the prose has more than {MAX_PROSE_CHARS} characters", file=place
            )
        return LessonCell(tags, prose=prose.strip())
    if cell["cell_type"] != "code":
        return LessonCell(tags)
    figures: list[FigureCall] = []
    pictures: list[Picture] = []
    for output in cell["outputs"]:
        if output["output_type"] == "error":
            raise LessonError(
                f"the cell stopped with {output['ename']}: {output['evalue']}",
                file=place,
                remedy="run the notebook and mend this cell",
            )
        data = output.get("data", {})
        if FIGURE_MIME in data:
            figures.append(_figure(data[FIGURE_MIME], place))
        else:
            pictures.extend(_pictures(data, output.get("metadata", {}), place))
    return LessonCell(tags, figures=tuple(figures), pictures=tuple(pictures))


def _joined(text: str | Sequence[str]) -> str:
    """Put a multi-line text together: a notebook on disk may store it line by line."""
    return text if isinstance(text, str) else "".join(text)


def _is_text(text: Any) -> bool:
    lines = text if isinstance(text, list | tuple) else [text]
    return all(isinstance(line, str) for line in lines)


def _figure(data: Any, place: str) -> FigureCall:
    if not isinstance(data, Mapping) or data.get("version") != 1:
        raise LessonError(
            "the figure's data are of a version this kit does not know",
            file=place,
            remedy="run the notebook again",
        )
    show = data.get("show")
    if not isinstance(show, str) or not show:
        raise LessonError("the figure does not say what it shows", file=place)
    options = {key: data[key] for key in data if key not in ("version", "show")}
    return FigureCall(show, options)


def _pictures(
    data: Mapping[str, Any], about: Mapping[str, Any], place: str
) -> Iterator[Picture]:
    """Give an output's picture; SVG and HTML are other programs' markup and left out."""
    from kit.pictures import PICTURE_TYPES, clean_notebook_picture  # noqa: PLC0415

    for mime in PICTURE_TYPES:
        if mime in data:
            text = data[mime]
            if not _is_text(text):
                raise LessonError(f"the output of type {mime} holds no picture", file=place)
            shown = clean_notebook_picture(_joined(text), place, mime=mime)
            yield Picture(shown, _alt(about.get(mime)))
            return


def _alt(about: Any) -> str:
    """Give the words that ``IPython.display.Image(..., alt="...")`` notes."""
    alt = about.get("alt") if isinstance(about, Mapping) else None
    return printable(alt) if isinstance(alt, str) else ""
