"""Where does the band have nothing to play from?

A tune without any chord symbol is probably unfinished; so are full bars before the first
symbol, and more than `LONG_BARS` bars without a new one. A symbol may be written again for
a chord that goes on: that says it is meant. Changes that the kit has proposed are told
until the teacher stands up for them.

Source: common practice; the length is our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.check._leaf import Leaf
from kit.check.finding import Finding
from kit.form.wording import counted
from kit.lesson.lesson import Lesson

__all__ = ["LONG_BARS", "missing_changes", "proposed_changes"]

LONG_BARS = 8
"""Eight bars of one chord are a section of many tunes; more are rare."""


def missing_changes(leaf: Leaf) -> Iterator[Finding]:
    """Yield what lacks changes: all of it (a warning), or long stretches (hints)."""
    bars = leaf.tune.bars
    marked = [index for index, bar in enumerate(bars) if bar.chords]
    if not marked:
        yield leaf.finding(
            "warning",
            "no-changes",
            "there are no changes, so the band has nothing to play",
            remedy="write chord symbols above the melody",
        )
        return
    before = [index for index in range(marked[0]) if not bars[index].pickup]
    if before:
        yield leaf.finding(
            "hint",
            "late-changes",
            f"the changes begin {counted(len(before), 'bar')} late, and the band rests "
            "until then",
            remedy="write a chord symbol above the first bar",
            bars=before,
        )
    for start, stop in zip(marked, [*marked[1:], len(bars)], strict=True):
        full = [index for index in range(start, stop) if not bars[index].pickup]
        if len(full) > LONG_BARS:
            chord = bars[start].chords[-1].symbol
            yield leaf.finding(
                "hint",
                "sparse-changes",
                f"no chord symbol follows {chord} for {len(full)} bars, and the band plays "
                "it all the while",
                remedy="write the changes that are missing, or the same symbol again where "
                "it goes on",
                bars=full,
            )


def proposed_changes(lesson: Lesson) -> Iterator[Finding]:
    """Yield a warning while the lesson plays changes that are only proposed."""
    if any(lesson.changes_are_proposed(name) for name in lesson.level_names):
        yield Finding(
            "warning",
            "the changes are proposed by the kit, the source has none, and handouts and "
            "pages say so",
            lesson.settings.source,
            remedy="look them over and accept them with kit.proposed_changes(lesson), or "
            'take out the line changes = "proposed"',
            code="proposed-changes",
        )
