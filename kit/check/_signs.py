"""Do repeats, endings and jumps on the sheet lead where a player expects?

What a player would stumble over although the kit can play it: a repeat that opens and never
closes, an ending without its repeat or without the ending before it, a sign that nothing
leads to, a jump whose fine or coda is missing. (A jump to a segno or coda sign that does
not exist is an error; `kit.tune.unfold` raises it.)

Source: common practice of notation.
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.check._leaf import Leaf
from kit.check.finding import Finding
from kit.form.wording import ordinal
from kit.tune.model import Bar

__all__ = ["sign_findings"]


def sign_findings(leaf: Leaf) -> Iterator[Finding]:
    """Yield a warning for each sign that leads nowhere, a hint for one never needed."""
    bars = leaf.tune.bars
    for index in _never_closed(bars):
        yield leaf.finding(
            "warning",
            "open-repeat",
            "the repeat that opens here never closes, so it is played once",
            remedy="add the closing repeat sign, or take the opening one out",
            bars=[index],
        )
    for chain in _chains(bars):
        yield from _ending_findings(leaf, chain)
    yield from _jump_findings(leaf)


def _never_closed(bars: tuple[Bar, ...]) -> list[int]:
    """Give the bars with an opening repeat that no closing one answers."""
    opened: list[int] = []
    closed_in_chain = False
    for index, bar in enumerate(bars):
        if not (bar.endings and index and bars[index - 1].endings):
            closed_in_chain = False
        if bar.repeat_start:
            opened.append(index)
        # Each ending but the last closes the one repeat they share.
        if bar.repeat_times and not closed_in_chain:
            closed_in_chain = bool(bar.endings)
            if opened:
                opened.pop()
    return opened


def _chains(bars: tuple[Bar, ...]) -> Iterator[list[list[int]]]:
    """Yield the endings that stand in a row, each as a list of bar indices."""
    chain: list[list[int]] = []
    for index, bar in enumerate(bars):
        if bar.endings and index and bars[index - 1].endings == bar.endings and chain:
            chain[-1].append(index)
        elif bar.endings:
            # A first ending after another chain begins a chain of its own.
            if chain and 1 in bar.endings:
                yield chain
                chain = []
            chain.append([index])
        elif chain:
            yield chain
            chain = []
    if chain:
        yield chain


def _ending_findings(leaf: Leaf, chain: list[list[int]]) -> Iterator[Finding]:
    bars = leaf.tune.bars
    expected = 1
    for place, ending in enumerate(chain):
        passes = bars[ending[0]].endings
        if passes[0] != expected:
            yield leaf.finding(
                "warning",
                "missing-ending",
                f"the {ordinal(passes[0])} ending stands here without the "
                f"{ordinal(expected)}",
                remedy=f"add the {ordinal(expected)} ending or correct the number",
                bars=ending,
            )
        expected = max(passes) + 1
        is_last = place == len(chain) - 1
        goes_back = any(bars[index].repeat_times for index in ending)
        # A last ending leads on; one alone is only a first ending if it goes back.
        if not goes_back and (not is_last or passes == (1,)):
            yield leaf.finding(
                "warning",
                "ending-without-repeat",
                f"the {ordinal(passes[0])} ending does not go back: there is no closing "
                "repeat at its end",
                remedy="add the repeat sign, or take the ending out",
                bars=ending,
            )


def _jump_findings(leaf: Leaf) -> Iterator[Finding]:
    bars = leaf.tune.bars
    where: dict[str, list[int]] = {}
    for index, bar in enumerate(bars):
        for jump in bar.jumps:
            where.setdefault(jump, []).append(index)
    orders = [jump for jump in where if jump.startswith(("D.C.", "D.S."))]
    to_fine = [jump for jump in orders if "coda" not in jump]
    to_coda = [jump for jump in orders if "fine" not in jump]
    to_segno = [jump for jump in orders if jump.startswith("D.S.")]
    lost = (
        ("segno", to_segno, "D.S."),
        ("fine", to_fine, "D.C. or D.S. al fine"),
        ("to coda", to_coda, "D.C. or D.S. al coda"),
    )
    for sign, wanted_by, order in lost:
        if sign in where and not wanted_by:
            yield leaf.finding(
                "hint",
                "idle-sign",
                f'nothing leads to the "{sign}" here',
                remedy=f"add the {order}, or take the sign out",
                bars=where[sign],
            )
    for goal, sign in (("fine", "fine"), ("coda", "to coda")):
        for order in orders:
            if order.endswith(f"al {goal}") and sign not in where:
                yield leaf.finding(
                    "warning",
                    "jump-without-goal",
                    f'the "{order}" here finds no "{sign}", so the tune is played to its '
                    "last bar",
                    remedy=f'write "{sign}" where the player is to '
                    f"{'stop' if goal == 'fine' else 'leave for the coda'}",
                    bars=where[order],
                )
