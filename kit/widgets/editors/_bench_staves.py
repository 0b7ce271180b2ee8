"""What does the bench show: two staves, what differs, and how hard it has become?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kit.engrave.engraver import SCREEN
from kit.engrave.pair import engrave_pair
from kit.figures.figure import Figure, draw, markup
from kit.instruments.part import Part
from kit.levels.compare import Difference, compare
from kit.levels.difficulty import difficulty

__all__ = ["Staves", "facts_html", "staves_figure"]

BARS_PER_LINE = 4


@dataclass(frozen=True, slots=True)
class Staves:
    """The bars on the bench, as one instrument reads them.

    Parameters
    ----------
    upper, lower : Part
        What is edited, and what has become of it.
    first, last : int
        Indices of the bars shown, both included.
    titles : (str, str)
        What the two staves are called.
    tempo_qpm : float
        The level's tempo, quarter notes a minute.
    """

    upper: Part
    lower: Part
    first: int
    last: int
    titles: tuple[str, str]
    tempo_qpm: float

    @property
    def svg(self) -> str:
        """Both staves as one drawing."""
        page = replace(SCREEN, bars_per_line=BARS_PER_LINE, fill_last_line=0.4)
        pair = engrave_pair(
            self.upper, self.lower, first=self.first, last=self.last, page=page
        )
        return pair.svg

    @property
    def differences(self) -> tuple[Difference, ...]:
        """What the lower staff does otherwise, in all bars."""
        return compare(self.upper.tune, self.lower.tune)

    def shown(self, found: Sequence[Difference]) -> tuple[Difference, ...]:
        """Choose the differences in the bars shown."""
        numbers = {bar.number for bar in self.lower.tune.bars[self.first : self.last + 1]}
        return tuple(item for item in found if item.bar_number in numbers)

    def profile(self) -> list[tuple[str, float, float, str]]:
        """Give the parts of the difficulty: name, above, below, and why, in words."""
        above = difficulty(self.upper.tune, self.tempo_qpm)
        below = difficulty(self.lower.tune, self.tempo_qpm)
        rows = [
            (name, above.parts[name].value, score.value, score.words)
            for name, score in below.parts.items()
        ]
        return [("overall", above.overall, below.overall, ""), *rows]


def staves_figure(staves: Staves, *, title: str, found: Sequence[Difference]) -> Figure:
    """Put staves, differences and difficulty together, as they are saved and printed."""
    shown = [item.text for item in staves.shown(found)]
    profile = staves.profile()
    instrument, key = staves.lower.instrument.name, staves.lower.tune.key
    aside = f"{instrument}, in {key}"
    html = draw(
        "bench",
        title=title,
        aside=aside,
        titles=staves.titles,
        svg=markup(staves.svg),
        facts=markup(facts_html(staves, found)),
    )
    overall = f"Difficulty {profile[0][1]:.1f}; then {profile[0][2]:.1f} of 10."
    told = [f"{text}." for text in shown] or ["The notes and changes are the same."]
    words = "\n".join((f"{title} ({aside}).", overall, *told))
    return Figure("comparison", title, html, words)


def facts_html(staves: Staves, found: Sequence[Difference]) -> str:
    """Say what differs in the bars shown, and how hard both versions are."""
    return draw(
        "bench_facts",
        titles=staves.titles,
        differences=[item.text[:1].upper() + item.text[1:] for item in staves.shown(found)],
        profile=staves.profile(),
    )
