"""Drafts on dance tunes that they were not written for come out in order of difficulty.

Source of the tunes: the ABC collections in music21's corpus. All sampled tunes with their
figures: ``python tests/reference/test_draft_corpus.py``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from music21 import corpus

from kit.authoring._start_levels import start_levels
from kit.errors import KitError
from kit.form.find import find_form
from kit.levels.difficulty import difficulty
from kit.tune._validate import validate_tune
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.unfold import unfolded

FOLDERS = ("ryansMammoth", "oneills1850", "airdsAirs")
COUNT = 30


def sampled() -> Iterator[Tune]:
    root = Path(corpus.__file__).parent
    texts = [
        text
        for folder in FOLDERS
        for path in sorted((root / folder).rglob("*.abc"))
        for text in re.split(
            r"\n(?=X:)", path.read_text(encoding="utf-8", errors="replace")
        )
        if text.startswith("X")
    ]
    found = 0
    for text in texts[7 :: len(texts) // (COUNT + 10)]:
        try:
            tune = read_abc(text, source="corpus")
        except KitError:
            continue
        found += 1
        yield tune
        if found == COUNT:
            return


def figures(tune: Tune) -> tuple[float, ...]:
    """Give the difficulty of each level of a new lesson, as printed: at its own tempo."""
    form = find_form(unfolded(tune))
    pulse = float(tune.meter.pulse)
    levels = start_levels(tune, form, say=lambda _: None)
    for level in levels:
        validate_tune(level.head)
    return tuple(difficulty(one.head, one.tempo * pulse).overall for one in levels)


def test_drafts_are_harder_level_by_level():
    found = [figures(tune) for tune in sampled()]
    assert len(found) == COUNT
    in_order = sum(plain < middle < hard for plain, middle, hard in found)
    assert in_order >= 0.95 * COUNT, f"{in_order} of {COUNT}"


if __name__ == "__main__":
    for sampled_tune in sampled():
        print(sampled_tune.title[:40].ljust(42), *figures(sampled_tune))
