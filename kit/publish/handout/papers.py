"""Which sheets of paper are handouts laid out for?

Sources: ISO 216 for A4; ANSI/ASME Y14.1 for US Letter (8.5 by 11 inches). Margins are those
of ``templates/handout.typ``.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PAPERS", "Paper"]

NOTES_MARGIN_MM = 41.0
"""Width of the column of headings with the space beside it."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet by Typst's name for it, with its size and what is left inside the margins."""

    name: str
    width_mm: float
    height_mm: float
    margin_side_mm: float = 15.0
    margin_top_mm: float = 15.0
    margin_bottom_mm: float = 17.0

    @property
    def text_width_mm(self) -> float:
        """Width between the margins."""
        return self.width_mm - 2 * self.margin_side_mm

    @property
    def text_height_mm(self) -> float:
        """Height between the margins."""
        return self.height_mm - self.margin_top_mm - self.margin_bottom_mm

    def notes_width_mm(self, large: bool) -> float:
        """Width of the notes' text: beside their headings, or under them in large print."""
        return self.text_width_mm if large else self.text_width_mm - NOTES_MARGIN_MM


PAPERS = {
    "a4": Paper("a4", 210.0, 297.0),
    "letter": Paper("us-letter", 215.9, 279.4),
}
