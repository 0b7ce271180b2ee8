"""What could a solo at this level sound like?

A sample solo takes its rhythms and cells from the tune and is played by the level's own
advice: its scale, its guide tones and its phrase plan. It is a draft for the teacher to
edit, never more.

Conventions
-----------
* The line has the chosen sections' full bars, with their changes, numbered from 1; it is in
  the key of the sheet, concert or written.
* Over each phrase stands in a word or two what it does with the tune's idea.
* What is played is in `kit.solo._soloist`, to which rhythm in `kit.solo._plan`.

Source: common practice of jazz teaching; the choices are our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import islice

from kit.form.sections import Form, Section
from kit.levels.rewrite import silent, with_sounds
from kit.solo._limits import LevelName
from kit.solo._plan import Planned, planned
from kit.solo._soloist import Played, Soloist
from kit.solo._words import short_words, told_words
from kit.solo.phrases import Phrase, melody_of, phrase_of
from kit.tune.model import Bar, ChordEvent, Note, Tune, Word

__all__ = ["call_and_response", "draft_solo", "solo_bars", "solo_phrases"]


def draft_solo(
    sheet: Tune,
    form: Form,
    *,
    sections: Sequence[int] | None = None,
    level: LevelName = "beginner",
    seed: int = 0,
    tempo_qpm: float | None = None,
    breath_s: float | None = None,
) -> Tune:
    """Write a sample solo over some sections.

    Parameters
    ----------
    sheet : Tune
        Unfolded, with changes, in any key.
    form : Form
        Its sections.
    sections : sequence of int, optional
        Places in `Form.sections`, in the order they are played; all of them unless said.
    level : "beginner", "intermediate" or "advanced"
        Whose scale and rhythms.
    seed : int
        Another seed gives another solo.
    tempo_qpm : float, optional
        Quarter notes a minute; the sheet's own, or 100 beats, unless said.
    breath_s : float, optional
        What one breath of the player carries; what the level's does unless said.

    Returns
    -------
    Tune
        Full bars with the sections' changes; bars without a chord stay silent.

    Raises
    ------
    ValueError
        For another level, a tempo that is not above zero, or a place that the form does
        not have.
    """
    return _Soloed(
        sheet, form, sections=sections, level=level, seed=seed, tempo_qpm=tempo_qpm,
        breath_s=breath_s,
    ).tune()  # fmt: skip


def solo_phrases(
    sheet: Tune,
    form: Form,
    *,
    level: LevelName = "beginner",
    most: int | None = None,
    seed: int = 0,
    tempo_qpm: float | None = None,
    breath_s: float | None = None,
) -> tuple[Phrase, ...]:
    """Say of each phrase of the sample solo over the whole form what it does.

    Takes and raises what `draft_solo` does. The phrases bear the numbers of the sheet's
    bars; `most` is how many of them are wanted, all of them unless said.
    """
    return _phrases(sheet, form, level, most, seed, tempo_qpm, breath_s)


# Guide, page and handout ask for the same phrases, the page at two widths.
@lru_cache(maxsize=64)
def _phrases(  # noqa: PLR0917
    sheet: Tune,
    form: Form,
    level: LevelName,
    most: int | None,
    seed: int,
    tempo_qpm: float | None,
    breath_s: float | None,
) -> tuple[Phrase, ...]:
    soloed = _Soloed(
        sheet, form, level=level, seed=seed, tempo_qpm=tempo_qpm, breath_s=breath_s
    )
    return tuple(soloed.phrases(sheet, most))


def call_and_response(
    sheet: Tune,
    form: Form,
    *,
    sections: Sequence[int] | None = None,
    level: LevelName = "beginner",
    seed: int = 0,
) -> Tune:
    """Write two-bar calls with two bars of rest after each, for the student to answer.

    Takes and raises what `draft_solo` does; the calls are the questions of its phrases.
    """
    return _Soloed(sheet, form, sections=sections, level=level, seed=seed).calls()


class _Soloed:
    """Sections laid out, planned and played."""

    def __init__(
        self,
        sheet: Tune,
        form: Form,
        *,
        sections: Sequence[int] | None = None,
        level: LevelName,
        seed: int,
        tempo_qpm: float | None = None,
        breath_s: float | None = None,
    ) -> None:
        self.melody = melody_of(
            sheet, form, level=level, tempo_qpm=tempo_qpm, breath_s=breath_s
        )
        self.blank, laid = solo_bars(sheet, form, sections)
        self.places = range(len(form.sections)) if sections is None else sections
        sources = [form.sections[place] for place in self.places]
        self.plan = planned(self.blank, laid, self.melody, sources, seed=seed)
        self.soloist = Soloist(self.blank, self.melody, seed=seed)
        self.last = len(self.blank.bars) - 1

    def _played(self) -> Iterator[Played]:
        for plan in self.plan:
            yield self.soloist.play(plan, ends=plan.bars[-1] == self.last)

    def tune(self) -> Tune:
        return self._written(list(self._played()))

    def phrases(self, sheet: Tune, most: int | None) -> Iterator[Phrase]:
        """Tell the phrases of a solo over the whole form, in the sheet's own numbers."""
        indices = [
            index
            for section in self.melody.form.sections
            for index in range(section.first, section.last + 1)
            if not sheet.bars[index].pickup
        ]
        told: list[Phrase] = []
        for one in islice(self._played(), most):
            bars = tuple(indices[k] for k in one.plan.bars)
            plan = replace(one.plan, bars=bars)
            does = self._told(one)
            told = [phrase_of(plan, sheet, self.melody, does=does, after=told)]
            yield from told

    def calls(self) -> Tune:
        asked = [plan for plan in self.plan if plan.role == "question"]
        return self._written([self._call(plan) for plan in asked])

    def _call(self, plan: Planned) -> Played:
        """Play a question without its pick-up: the bars before it are the student's."""
        own = tuple(stroke for stroke in plan.strokes if stroke.onset >= 0)
        return self.soloist.play(replace(plan, strokes=own), ends=False)

    def _told(self, played: Played) -> str:
        return told_words(played.plan, played.idea, played.stated, self.melody)

    def _written(self, played: Sequence[Played]) -> Tune:
        sounds = [sound for one in played for sound in one.sounds]
        tune = with_sounds(self.blank, sounds)
        bars = list(tune.bars)
        for one in played:
            words = short_words(one.plan, self._told(one))
            first = one.plan.bars[0]
            if words:
                bars[first] = replace(bars[first], words=(Word(Fraction(0), words),))
        return replace(tune, bars=tuple(bars))


def solo_bars(
    sheet: Tune, form: Form, sections: Sequence[int] | None = None
) -> tuple[Tune, Form]:
    """Lay out silent full bars with the changes of some sections, and their form.

    Raises
    ------
    ValueError
        If a place is not in the form, or there are no sections.
    """
    places = range(len(form.sections)) if sections is None else sections
    if not places or any(not 0 <= place < len(form.sections) for place in places):
        raise ValueError(f"sections are places from 0 to {len(form.sections) - 1}")
    bars: list[Bar] = []
    laid: list[Section] = []
    for place in places:
        section = form.sections[place]
        first = len(bars)
        for index in range(section.first, section.last + 1):
            if not sheet.bars[index].pickup:
                bar = sheet.bars[index]
                # A section may begin under a chord that is written before it.
                held = sheet.chords_in_force(index) if len(bars) == first else bar.chords
                bars.append(_blank(bar, len(bars) + 1, held))
        bars[first] = replace(bars[first], section=section.label)
        laid.append(Section(section.label, first, len(bars) - 1))
    bars[-1] = replace(bars[-1], barline="final")
    title = f"{sheet.title}, sample solo" if sheet.title else "Sample solo"
    solo = replace(sheet, title=title, bars=tuple(bars), part_name="", lyricist="")
    return solo, Form(tuple(laid), form.source)


def _blank(bar: Bar, number: int, chords: tuple[ChordEvent, ...]) -> Bar:
    full = Note(Fraction(0), bar.meter.bar_length, None)
    return silent(Bar(number, (full,), chords, bar.meter, bar.key))
