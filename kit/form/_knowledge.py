"""What is known about a form: the records that `kit.form.facts` fills in.

Conventions: bars are printed numbers unless said otherwise; pick-ups are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from kit.form.differences import BarDifference, MovedSection, SharedEnding
from kit.form.harmony import Cadence, Pedal, Turnaround
from kit.form.key_centres import KeyCentre
from kit.form.wording import share_words
from kit.tune.pitch import Key

__all__ = ["FormFacts", "RhythmCell", "Share"]


@dataclass(frozen=True, slots=True)
class Share:
    """What one label is worth: `bars` of the tune's `of` bars, played `times` times."""

    label: str
    times: int
    bars: int
    of: int

    @property
    def fraction(self) -> Fraction:
        """Its share of the tune, exactly."""
        return Fraction(self.bars, self.of)

    @property
    def sentence(self) -> str:
        """Say what learning it gains."""
        return (
            f"Learn the {self.label} section and you know {self.bars} of the {self.of} "
            f"bars: {share_words(self.bars, self.of)} of the tune."
        )


@dataclass(frozen=True, slots=True)
class RhythmCell:
    """A bar's rhythm that comes back: printed numbers of the bars that have it."""

    onsets: tuple[Fraction, ...]
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class FormFacts:
    """What `form_facts` knows; `sentences` says the parts worth saying.

    `centres` holds the key centres of each section, in the order of the form; `keys` the
    main one of each, the home key for a section without chords; `key_words` says them in a
    few words, empty where they are in doubt.
    """

    name: str
    pattern: str
    bar_count: int
    different_bars: int
    shares: tuple[Share, ...]
    differences: tuple[BarDifference, ...]
    moved: tuple[MovedSection, ...]
    keys: tuple[Key, ...]
    cadences: tuple[Cadence, ...]
    turnarounds: tuple[Turnaround, ...]
    pedals: tuple[Pedal, ...]
    rhythm_cells: tuple[RhythmCell, ...]
    sentences: tuple[str, ...]
    shared_endings: tuple[SharedEnding, ...] = ()
    has_chords: bool = True
    centres: tuple[tuple[KeyCentre, ...], ...] = ()
    key_words: tuple[str, ...] = ()
