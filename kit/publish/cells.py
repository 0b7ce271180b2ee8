"""Which cells of a lesson notebook go where?

A lesson notebook has Markdown cells (prose) and one-line code cells of kit calls. A call's
output carries the private type `FIGURE_MIME`: which figure it is and its options, as data,
so that an exporter draws the figure itself, for its own level and instrument, instead of
copying what the notebook happened to show.

Cell tags
---------
``level:<name>``
    The cell belongs to that level: the handouts of other levels leave it out. It is public
    only if every level it names is free, on the page and in the free handouts alike.
``page-only``, ``handout-only``
    The cell is for one of the two only.
``members``
    The cell never reaches the public page or a free handout.
``hide``
    The cell is dropped everywhere.

Tags of other tools, and what becomes of a cell whose tag nobody knows, are told in
`kit.lesson.cell_tags`. Such a cell is left out here, whoever exports, so that no slip of
the pen publishes it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from kit.errors import LessonError
from kit.figures.figure import FIGURE_MIME
from kit.lesson.cell_tags import (
    HIDE,
    LEVEL_TAG,
    MEMBERS,
    CellTags,
    cell_tags,
    read_tags,
    tag_problems,
)
from kit.lesson.figure_calls import LEVEL_PARAMETERS
from kit.lesson.prose import MAX_PROSE_CHARS
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from kit.pictures.clean import CleanPicture

__all__ = [
    "FIGURE_MIME",
    "FigureCall",
    "LessonCell",
    "Picture",
    "cells_for_handout",
    "cells_for_page",
    "has_run",
    "read_cells",
    "withheld_cells",
]

MAX_PICTURES = 100
"""More in one notebook is a loop that went wrong; each takes up to a second."""


@dataclass(frozen=True, slots=True)
class FigureCall:
    """A figure that a notebook asks for: its kind (``form-chart``) and options."""

    show: str
    options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def levels(self) -> tuple[str, ...]:
        """The levels its options name."""
        names = (self.options.get(key) for key in LEVEL_PARAMETERS)
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
    """A cell that has something to show: prose, figures or pictures.

    `tags` are the kit's own, all of them known.
    """

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
    notebook: Mapping[str, Any],
    *,
    levels: Collection[str],
    source: str = "lesson.ipynb",
) -> tuple[LessonCell, ...]:
    """Read a notebook's cells.

    Left out are those with nothing to show, those that a tag takes away, and those with a
    tag that is not known (`withheld_cells` tells which).

    Parameters
    ----------
    notebook : mapping
        A notebook of format 4 (nbformat's node, or plain JSON); run, if figures are wanted.
    levels : collection of str
        Names of the lesson's levels, for the tags that name one.
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
        cells.append(_read_cell(cell, read_tags(cell_tags(cell), levels), place))
        pictures += len(cells[-1].pictures)
        if pictures > MAX_PICTURES:
            raise LessonError(
                f"the notebook shows more than {MAX_PICTURES} pictures", file=place
            )
    return tuple(cell for cell in cells if cell.prose or cell.figures or cell.pictures)


def withheld_cells(notebook: Mapping[str, Any], levels: Collection[str]) -> list[str]:
    """Say of each cell that is left out for its tags why, and what to do: a clause each."""
    return [
        f"cell {number} is left out: {problem.found}; {problem.remedy}"
        for number, problem in tag_problems(notebook["cells"], levels)
    ]


def has_run(notebook: Mapping[str, Any]) -> bool:
    """Say whether a notebook has been run, or has nothing to run."""
    code = [cell for cell in notebook["cells"] if cell["cell_type"] == "code"]
    return not code or any(cell["outputs"] or cell["execution_count"] for cell in code)


def cells_for_handout(
    cells: Iterable[LessonCell],
    *,
    level: str,
    free: bool,
    free_levels: Collection[str],
) -> tuple[LessonCell, ...]:
    """Choose the cells of one level's handout.

    In a free handout nothing is left that is not on the public page too: what is tagged
    ``members``, or with a level that is not free beside the handout's own.

    Parameters
    ----------
    cells : iterable of LessonCell
        All that the notebook has, in order.
    level : str
        Whose handout it is.
    free : bool
        Whether everybody may have it.
    free_levels : collection of str
        The levels that everybody may have.
    """
    return tuple(
        cell
        for cell in cells
        if not cell.tags & {HIDE, "page-only"}
        and (not cell.levels or level in cell.levels)
        and (not free or _is_public(cell, frozenset(free_levels)))
    )


def cells_for_page(
    cells: Iterable[LessonCell], *, audience: str, free_levels: Collection[str]
) -> tuple[LessonCell, ...]:
    """Choose the cells of the page.

    On the public page nothing is left that is tagged ``members``, belongs to a level that
    is not free, or shows one.

    Parameters
    ----------
    cells : iterable of LessonCell
        All that the notebook has, in order.
    audience : "public" or "members"
        Who sees the page.
    free_levels : collection of str
        The levels that everybody may have.
    """
    wanted = [cell for cell in cells if not cell.tags & {HIDE, "handout-only"}]
    if audience == "members":
        return tuple(wanted)
    return tuple(_public(wanted, frozenset(free_levels)))


def _public(cells: Sequence[LessonCell], free: frozenset[str]) -> Iterator[LessonCell]:
    for cell in cells:
        if not _is_public(cell, free):
            continue
        figures = tuple(call for call in cell.figures if set(call.levels) <= free)
        if cell.prose or figures or cell.pictures:
            yield LessonCell(cell.tags, cell.prose, figures, cell.pictures)


def _is_public(cell: LessonCell, free: frozenset[str]) -> bool:
    """Say whether strangers may see a cell: one rule for the page and for paper."""
    return MEMBERS not in cell.tags and set(cell.levels) <= free


def _read_cell(cell: Mapping[str, Any], said: CellTags, place: str) -> LessonCell:
    tags = said.own
    if said.problems or "cell" in said.takes:
        return LessonCell(tags)
    if cell["cell_type"] == "markdown":
        if said.takes & {"input", "output"}:
            return LessonCell(tags)
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
            if "errors" in said.takes:
                continue
            raise LessonError(
                f"the cell stopped with {output['ename']}: {output['evalue']}",
                file=place,
                remedy="run the notebook and mend this cell",
            )
        if said.takes & {"output", "run"}:
            continue
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
    for key in LEVEL_PARAMETERS:
        if not isinstance(options.get(key), str | None):
            # What names no level that can be read would pass for a figure of all levels.
            raise LessonError(
                f'the figure\'s "{key}" is not the name of a level',
                file=place,
                remedy="run the notebook again",
            )
    return FigureCall(show, options)


def _pictures(
    data: Mapping[str, Any], about: Mapping[str, Any], place: str
) -> Iterator[Picture]:
    """Give an output's picture; SVG and HTML are other programs' markup and left out."""
    from kit.pictures.clean import clean_notebook_picture  # noqa: PLC0415
    from kit.pictures.limits import PICTURE_TYPES  # noqa: PLC0415

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
