"""What did a reader decide, and what did it leave out?

Nothing in a teacher's file is lost without a word: a reader that meets what a lead sheet
cannot hold, or has a choice to make, says so here, a sentence each.
"""

from __future__ import annotations

from collections import Counter

__all__ = ["Notices"]

MAX_NOTICES = 40


class Notices:
    """Sentences in order of appearance, each once; what is left out is counted."""

    def __init__(self) -> None:
        self._sentences: dict[str, None] = {}
        self._left_out: Counter[str] = Counter()

    def say(self, sentence: str) -> None:
        """Add a sentence."""
        self._sentences[sentence] = None

    def left_out(self, what: str) -> None:
        """Count one thing that is not kept, named as in "a fingering"."""
        self._left_out[what] += 1

    def sentences(self) -> tuple[str, ...]:
        """Give all sentences; beyond a limit, only how many more there are."""
        said = list(self._sentences)
        for what, times in self._left_out.items():
            often = "" if times == 1 else f" ({times} times)"
            said.append(f"Left out: {what}{often}.")
        if len(said) > MAX_NOTICES:
            more = len(said) - MAX_NOTICES
            said[MAX_NOTICES:] = [f"There are {more} more remarks of this kind."]
        return tuple(said)
