"""The form as a list of sections: what every other room means by AABA.

Conventions
-----------
* A section points at bars of the *unfolded* tune by index; `first` is its first full bar
  and `pickup` the index of the incomplete bar that leads into it, if it has one.
* Equal labels mean "the same music, perhaps with a varied ending".
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

__all__ = ["CODA", "FRAMES", "INTRO", "Form", "Section"]

INTRO = "Intro"
CODA = "Coda"
"""The labels of what is found to stand before and after the form proper."""
FRAMES = {
    "intro": "an intro", "introduction": "an introduction", "coda": "a coda",
    "tag": "a tag", "outro": "an outro",
}  # fmt: skip
"""What files call it, in small letters, with the article."""


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the tune with a label."""

    label: str
    first: int
    last: int
    pickup: int | None = None

    @property
    def is_frame(self) -> bool:
        """Whether it is an intro or a coda, and no section of the form proper."""
        return self.label.casefold() in FRAMES

    @property
    def bar_count(self) -> int:
        """Number of bars, pick-up left out."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Form:
    """The sections of a tune in order; `source` says how they are known."""

    sections: tuple[Section, ...]
    source: str = "marks"

    @property
    def pattern(self) -> str:
        """The labels in a row: ``AABA``; longer labels are parted by spaces."""
        labels = [section.label for section in self.sections]
        return ("" if all(len(label) == 1 for label in labels) else " ").join(labels)

    @property
    def core(self) -> Form:
        """The form without intro and coda; itself where there is nothing else."""
        proper = tuple(section for section in self.sections if not section.is_frame)
        return Form(proper or self.sections, self.source)

    @property
    def labels(self) -> tuple[str, ...]:
        """Each different label once, in order of appearance."""
        return tuple(dict.fromkeys(section.label for section in self.sections))

    @property
    def bar_count(self) -> int:
        """Number of bars in all, pick-ups left out."""
        return sum(section.bar_count for section in self.sections)

    def split_labels(self, text: str) -> tuple[str, ...]:
        """Take ``AAB``, ``A A B`` or ``Verse Refrain`` apart into labels."""
        words = tuple(text.split())
        known = set(self.labels)
        if all(word in known for word in words):
            return words
        return tuple(letter for letter in text if not letter.isspace())

    def section_at(self, index: int) -> Section | None:
        """Give the section that holds an unfolded bar, its pick-up included."""
        for section in self.sections:
            if section.first <= index <= section.last or section.pickup == index:
                return section
        return None

    @property
    def occurrences(self) -> tuple[int, ...]:
        """For each section which of those with its label it is, from 1."""
        times: Counter[str] = Counter()
        found = []
        for section in self.sections:
            times[section.label] += 1
            found.append(times[section.label])
        return tuple(found)

    def occurrence(self, place: int) -> int:
        """Say which of the sections with its label the one at `place` is, from 1."""
        return self.occurrences[place]
