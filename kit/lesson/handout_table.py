"""What does lesson.toml say about the handouts' paper?

The table ``[handout]``: on which papers they are laid out, and whether large print is made
too. The first paper in ordinary print is the handout of the output contract
(``handouts/<level>-<instrument>.pdf``); every other one adds its name to that.
"""

from __future__ import annotations

from dataclasses import dataclass

from kit.lesson.toml_table import Table, near

__all__ = [
    "PAPER_NAMES",
    "PLAIN_HANDOUT",
    "HandoutSettings",
    "HandoutVariant",
    "read_handout",
]

PAPER_NAMES = ("a4", "letter")


@dataclass(frozen=True, slots=True)
class HandoutVariant:
    """One layout of a handout; `suffix` is what its file name has after the instrument."""

    paper: str
    large_print: bool
    suffix: str


@dataclass(frozen=True, slots=True)
class HandoutSettings:
    """The papers, the usual one first, and whether there is large print."""

    papers: tuple[str, ...] = PAPER_NAMES[:1]
    large_print: bool = False

    @property
    def variants(self) -> tuple[HandoutVariant, ...]:
        """Every layout that is made, the handout of the contract first.

        Examples
        --------
        >>> [v.suffix for v in HandoutSettings(("a4", "letter"), True).variants]
        ['', '-letter', '-large', '-letter-large']
        """
        sizes = (False, True) if self.large_print else (False,)
        return tuple(
            HandoutVariant(
                paper,
                large,
                (f"-{paper}" if place else "") + ("-large" if large else ""),
            )
            for large in sizes
            for place, paper in enumerate(self.papers)
        )


PLAIN_HANDOUT = HandoutSettings()


def read_handout(table: Table) -> HandoutSettings:
    """Read ``[handout]``.

    Raises
    ------
    LessonError
        If it names no paper, or one that there is not.
    """
    papers = tuple(dict.fromkeys(table.texts("papers", PAPER_NAMES[:1])))
    if not papers:
        raise table.error("the list of papers is empty", "name at least one")
    for paper in papers:
        if paper not in PAPER_NAMES:
            raise table.error(f'no paper "{paper}"', near(paper, PAPER_NAMES))
    settings = HandoutSettings(papers, table.get("large_print", False))
    table.finish()
    return settings
