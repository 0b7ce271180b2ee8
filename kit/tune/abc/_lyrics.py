"""Which syllable of a ``w:`` line belongs below which note?

Source: ABC standard 2.1, section 5.1: ``-`` parts syllables, ``_`` holds one on, ``*``
skips a note, ``~`` is a space within a syllable, ``|`` goes on to the next bar.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from kit.tune._bar_draft import BarDraft, NoteDraft
from kit.tune.source_text import printable

__all__ = ["set_lyrics"]

_SIGN = re.compile(r"(?P<sign>[-_*|])|(?P<word>(?:\\-|[^-_*|\s])+)|(?P<space>\s+)")


def set_lyrics(
    text: str, sung: Sequence[tuple[BarDraft, NoteDraft]], *, verse: int
) -> bool:
    """Put a line of syllables below the notes of the music line above it.

    Parameters
    ----------
    text : str
        The ``w:`` line without its letter.
    sung : sequence of (bar, note)
        The notes in order, rests left out.
    verse : int >= 0

    Returns
    -------
    bool
        Whether there was a note for every syllable.
    """
    place = 0
    last: NoteDraft | None = None
    after_hyphen = False
    for match in _SIGN.finditer(text):
        if match["space"]:
            continue
        if match["sign"] == "-":
            # A second hyphen in a row holds the syllable on over one more note.
            if after_hyphen or last is None:
                place += 1
            elif last.lyrics[verse] and not last.lyrics[verse].endswith("-"):
                last.lyrics[verse] += "-"
            after_hyphen = True
            continue
        after_hyphen = False
        if match["sign"] == "|":
            place = _next_bar(sung, place)
        elif match["sign"]:
            place += 1
        else:
            if place >= len(sung):
                return False
            last = sung[place][1]
            syllable = match["word"].replace("\\-", "-").replace("~", " ")
            last.add_lyric(verse, printable(syllable, 80))
            place += 1
    return True


def _next_bar(sung: Sequence[tuple[BarDraft, NoteDraft]], place: int) -> int:
    if not 0 < place < len(sung):
        return place
    bar = sung[place - 1][0]
    while place < len(sung) and sung[place][0] is bar:
        place += 1
    return place
