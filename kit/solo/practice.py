"""In what order, how slowly and how often should a student practise?

Steps follow from the facts: sections in the order of what they are worth, the hardest bars
as loops, tempos as shares of the goal.

Conventions: tempos are quarter notes per minute, rounded to whole numbers; bars are printed
numbers. Source: slow practice in short loops, rests and stopping at pain are common
practice of teaching wind players; medical questions belong to a physician.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from kit.form.facts import FormFacts
from kit.form.wording import bars_words, listed, share_words
from kit.levels.difficulty import BarDifficulty

__all__ = ["TEMPO_SHARES", "Step", "hard_loops", "practice_plan"]

TEMPO_SHARES = (0.6, 0.8, 1.0)
"""Shares of the goal tempo, from the first time through to the last."""
_MOST_LOOPS = 3
_HARDER_BY = 0.5


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do; `tempo_qpm` and `bars` (first and last) where they apply."""

    title: str
    text: str
    tempo_qpm: int | None = None
    bars: tuple[int, int] | None = None


def practice_plan(
    facts: FormFacts,
    *,
    tempo_qpm: float,
    hardest: Sequence[BarDifficulty] = (),
    solo_scales: Sequence[str] = (),
    level: str = "",
    rests: bool = True,
) -> tuple[Step, ...]:
    """Lay out a practice plan for one level.

    Parameters
    ----------
    facts : FormFacts
        Of the level's head.
    tempo_qpm : float > 0
        The goal.
    hardest : sequence of BarDifficulty
        `kit.levels.difficulty.difficulty_by_bar` of the level's sheet.
    solo_scales : sequence of str
        Scales the solo uses, as printed; none leaves the solo out.
    level : str
        The level's name, for the last step.
    rests : bool
        Whether the plan ends with the caution to rest, for where it is not said beside it.

    Raises
    ------
    ValueError
        If the tempo is not above zero.
    """
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    tempos = [round(share * tempo_qpm) for share in TEMPO_SHARES]
    steps = [_listening(facts), *_memory(facts)]
    steps += _loops(hardest, tempos)
    steps += _tempos(tempos)
    if solo_scales:
        steps.append(_solo(solo_scales, tempos[0]))
    steps.append(_whole(tempos[-1], level))
    if rests:
        steps.append(_care())
    return tuple(steps)


def _listening(facts: FormFacts) -> Step:
    return Step(
        "Listen and count",
        f"Listen to the demonstration twice with the form chart before you: {facts.name}. "
        "Point at each section as it begins; then clap the rhythm along.",
    )


def _memory(facts: FormFacts) -> list[Step]:
    """Sections in the order of what they are worth."""
    ordered = sorted(facts.shares, key=lambda share: -share.bars)
    steps = []
    known = 0
    for place, share in enumerate(ordered):
        known += share.bars
        how = "Two bars at a time, then four." if place == 0 else "The same way."
        if known < share.of:
            worth = share_words(known, share.of)
            how += f" You then know {known} of the {share.of} bars: {worth} of the tune."
        elif len(ordered) > 1:
            how += f" You then know all {share.of} bars."
        varied = sorted(
            {
                item.number
                for item in facts.differences
                if _label_of(facts, item.section) == share.label
            }
        )
        if varied:
            how += f" Mind {bars_words(varied)}, where it differs."
        what = share.label if len(ordered) > 1 else "the tune"
        steps.append(Step(f"Learn {what} by heart", how))
    return steps


def _label_of(facts: FormFacts, place: int) -> str:
    words = facts.pattern.split()
    labels = words if len(words) > 1 else list(facts.pattern)
    return labels[place] if place < len(labels) else ""


def hard_loops(hardest: Sequence[BarDifficulty]) -> tuple[tuple[int, int], ...]:
    """Choose short stretches worth looping: bars clearly harder than the middle one.

    A bar that comes back is looped once. A loop takes the bar before the hard one along,
    because the way into it is what fails. At most three, hardest first.
    """
    if not hardest:
        return ()
    middle = sorted(bar.overall for bar in hardest)[len(hardest) // 2]
    hard = [
        bar
        for bar in hardest
        if bar.number > 0 and bar.overall >= middle + _HARDER_BY and bar.same_as is None
    ]
    runs = []
    for _, group in groupby(enumerate(hard), key=lambda pair: pair[1].bar - pair[0]):
        run = [bar for _, bar in group][:4]
        runs.append((max(bar.overall for bar in run), run[0].number, run[-1].number))
    lowest = min((bar.number for bar in hardest if bar.number > 0), default=1)
    chosen = sorted(runs, key=lambda item: (-item[0], item[1]))[:_MOST_LOOPS]
    return tuple((max(lowest, first - 1), last) for _, first, last in chosen)


def _loops(hardest: Sequence[BarDifficulty], tempos: Sequence[int]) -> list[Step]:
    """Loop the hard bars; what is told of one is not told again of the next."""
    low, high = tempos[0], tempos[-1]
    how = (
        f"Begin at {low}; after five clean times in a row add 5 to the tempo, up to {high}."
    )
    told: set[str] = set()
    steps = []
    for first, last in hard_loops(hardest):
        inside = [bar for bar in hardest if first <= bar.number <= last]
        worst = max(inside, key=lambda bar: (bar.overall, -bar.number))
        why = "it is the same" if worst.why and worst.why in told else worst.why
        reason = f"In bar {worst.number} {why}. " if why else ""
        title = f"Loop {bars_words(range(first, last + 1))}"
        steps.append(Step(title, reason + how, low, (first, last)))
        told.add(worst.why)
        how = f"In the same way, from {low} to {high}."
    return steps


def _tempos(tempos: Sequence[int]) -> list[Step]:
    first, *between, last = tempos
    texts = [
        f"With the backing track at {first}. Move on when it goes well twice in a row.",
        *(f"At {tempo}, again until it goes well twice in a row." for tempo in between),
        f"With the backing track at the full tempo, {last}.",
    ]
    return [
        Step(f"Head at {round(100 * share)} %", text, tempo)
        for share, tempo, text in zip(TEMPO_SHARES, tempos, texts, strict=True)
    ]


def _solo(scales: Sequence[str], tempo: int) -> Step:
    names = listed(list(dict.fromkeys(scales)))
    noun = "scale" if len(set(scales)) == 1 else "scales"
    text = (
        f"Play the {noun} ({names}) up and down with the backing track at {tempo}. Then "
        "improvise two bars and rest two bars, all the way through."
    )
    return Step("Solo", text, tempo)


def _whole(tempo: int, level: str) -> Step:
    name = f"the {level} level" if level else "the whole piece"
    return Step(
        "All of it",
        f"Play {name} from count-in to ending at {tempo} without stopping, whatever "
        "happens. Record it, listen, and choose one thing to better tomorrow.",
        tempo,
    )


def _care() -> Step:
    return Step(
        "Rest",
        "Put the instrument down for five minutes in every half hour. If playing hurts, "
        "stop; ask your teacher, and a physician if it does not pass.",
    )
