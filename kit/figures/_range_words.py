"""How do some bars lie on an instrument, in words?"""

from __future__ import annotations

from kit.check.players import name_in_text
from kit.instruments.part import Part

__all__ = ["range_words"]


def range_words(part: Part, *, first: int, last: int, level: str) -> str:
    """Say from where to where some bars go, against the instrument's range.

    Parameters
    ----------
    part : Part
        At written pitch.
    first, last : int
        Indices of the first and last bar, both included.
    level : str
        Whose comfortable range is meant.

    Returns
    -------
    str
        ``Written E4 to B5. The alto saxophone reads B♭3 to F6; at this level D4 to A5 lies
        well, and these bars go beyond that.`` Nothing if the bars have no notes.
    """
    heard = [
        note.pitch
        for bar in part.tune.bars[first : last + 1]
        for note in bar.notes
        if note.pitch is not None
    ]
    if not heard:
        return ""
    low, high = min(heard, key=lambda p: p.midi), max(heard, key=lambda p: p.midi)
    instrument = part.instrument
    comfortable, full = instrument.comfortable_range(level), instrument.range_written
    here = f"{low} to {high}" if low.midi != high.midi else f"only {low}"
    if low in comfortable and high in comfortable:
        verdict = "these bars stay within that"
    elif low in full and high in full:
        verdict = "these bars go beyond that"
    else:
        verdict = "some notes of these bars cannot be played"
    if comfortable == full:
        return f"Written {here}. {_player(part)} reads {full}, and {verdict}."
    return (
        f"Written {here}. {_player(part)} reads {full}; "
        f"at this level {comfortable} lies well, and {verdict}."
    )


def _player(part: Part) -> str:
    return f"The {name_in_text(part.instrument.name)}"
