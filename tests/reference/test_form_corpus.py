"""Does the form finder agree with dance tunes whose repeats tell their form?

Source: the ABC collections in music21's corpus (ryansMammoth, oneills1850, airdsAirs). Two
eight-bar strains, each with its own closing repeat, are AABB once played out (common
practice). The bars are numbered anew before analysis, so that nothing but the music is left
to tell the sections apart. All of them: ``python tests/reference/test_form_corpus.py``.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from music21 import corpus

from kit.errors import KitError
from kit.form._search import found_form
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.unfold import unfolded

FOLDERS = ("ryansMammoth", "oneills1850", "airdsAirs")


def strains(stride: int) -> Iterator[Tune]:
    """Played-out tunes of two repeated eight-bar strains, marks and numbers taken away."""
    root = Path(corpus.__file__).parent
    texts = [
        text
        for folder in FOLDERS
        for path in sorted((root / folder).rglob("*.abc"))
        for text in re.split(
            r"\n(?=X:)", path.read_text(encoding="utf-8", errors="replace")
        )
        if text.startswith("X") and text.count(":|") == 2 and "P:" not in text
    ]
    for text in texts[::stride]:
        try:
            played = unfolded(read_abc(text, source="corpus"))
        except KitError:
            continue
        full = [bar for bar in played.bars if not bar.pickup]
        numbers = [bar.number for bar in full]
        twice = numbers[:8] == numbers[8:16] and numbers[16:24] == numbers[24:]
        if len(full) == 32 and twice and numbers[16] > numbers[7]:
            yield replace(
                played,
                bars=tuple(
                    replace(bar, number=k, section="") for k, bar in enumerate(played.bars)
                ),
            )


def is_exact(played: Tune) -> bool:
    form = found_form(played)
    return form.pattern == "AABB" and {s.bar_count for s in form.sections} == {8}


def measured(stride: int) -> tuple[int, int]:
    found = [is_exact(played) for played in strains(stride)]
    return sum(found), len(found)


def test_nine_of_ten_sampled_dance_tunes_are_found_exactly():
    exact, total = measured(stride=24)
    assert total >= 40
    assert exact >= 0.9 * total, f"{exact} of {total}"


if __name__ == "__main__":
    exact_count, total_count = measured(stride=1)
    print(f"{exact_count} of {total_count} exactly AABB")
