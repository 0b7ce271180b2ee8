"""What does a section mark in the notation mean?

Conventions
-----------
* ``A1``, ``A'`` and ``A2`` all mean the label ``A``; a mark printed on a pick-up or on the
  full bar after it means the same. A plain number is a rehearsal mark, and no label.
"""

from __future__ import annotations

import re

from kit.tune.model import Tune

__all__ = ["label_of", "marked_starts", "pickup_before"]

_VARIANT = re.compile(r"(.+?)[\s\-.]*(?:\d+|['′’″\"]+)?")


def marked_starts(played: Tune) -> list[tuple[int, str]]:
    """Give the first full bar of each marked section with its label."""
    starts: list[tuple[int, str]] = []
    for index, bar in enumerate(played.bars):
        label = label_of(bar.section)
        if not label:
            continue
        first = index + 1 if bar.pickup else index
        if first >= len(played.bars):
            continue
        if starts and starts[-1][0] == first:
            starts[-1] = (first, label)
        else:
            starts.append((first, label))
    return starts


def label_of(mark: str) -> str:
    """Take the variant off a mark: ``A2`` is A, ``Verse 2`` is Verse, ``17`` is none."""
    text = mark.strip().strip("[]()").strip()
    match = _VARIANT.fullmatch(text)
    label = match[1].strip() if match else text
    if not any(sign.isalpha() for sign in label):
        return ""
    # A small letter means the same section; words are printed as they are written.
    return label.upper() if len(label) == 1 else label


def pickup_before(played: Tune, first: int) -> int | None:
    """Give the index of the incomplete bar right before a bar, if there is one."""
    return first - 1 if first > 0 and played.bars[first - 1].pickup else None
