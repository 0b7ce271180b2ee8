"""What does lesson.toml say about one passage of a level's route?"""

from __future__ import annotations

from typing import cast

from kit.lesson.toml_table import Table
from kit.route.bands import PASSAGE_BANDS, PassageBand
from kit.route.plan import Passage, PassageKind, Tag

__all__ = ["MOST_BREAK_BARS", "read_passage"]

MOST_BREAK_BARS = 8
"""Longer than that a soloist alone is no break any more (our choice)."""


def read_passage(table: Table) -> Passage:
    """Read one row of ``route``.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    play = table.choice("play", ("head", "solo"), "")
    band = table.choice("band", PASSAGE_BANDS, PASSAGE_BANDS[0])
    if band == "trading-fours" and play == "head":
        raise table.error(
            "fours are traded in solos", 'leave band out or write play = "solo"'
        )
    break_bars = table.get("break", 0)
    if not 0 <= break_bars <= MOST_BREAK_BARS:
        raise table.error(
            f"a break of {break_bars} bars is out of reach",
            f"choose 0 to {MOST_BREAK_BARS}",
        )
    passage = Passage(
        cast(PassageKind, play),
        table.get("sections", ""),
        _tag(table),
        cast(PassageBand, band),
        break_bars,
    )
    table.finish()
    return passage


def _tag(row: Table) -> Tag | None:
    table = row.table("tag")
    if not row.has("tag"):
        return None
    tag = Tag(table.get("bars", 2), table.get("times", 3), table.get("vamp", False))
    if not (1 <= tag.times <= 16 and tag.bars >= 1):
        raise table.error("a tag has at least one bar and 1 to 16 times")
    table.finish()
    return tag
