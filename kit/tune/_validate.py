"""Is a tune whole: do its bars add up, and is everything in its place?

Every reader ends here, so the rooms behind may trust what they are given. A bar may be
shorter than its meter only where the trade has a reason for it: a pick-up, a bar that a
pick-up completes, or a bar at which a passage ends (repeat, double bar, ending, last bar).
No bar may be longer.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from kit.errors import NotationError, UnevenBarError
from kit.tune._lengths import length_in_words
from kit.tune._numbering import completes, ends_passage
from kit.tune.model import Bar, Tune

__all__ = ["MAX_BARS", "adds_up", "too_many_bars", "validate_tune"]

MAX_BARS = 1000
"""Bars of one lesson, as written and as played.

The longest medley of a dance, twelve tunes of 32 bars, each played twice, has 768; at 120
quarter notes a minute a thousand bars of 4/4 go on for 33 minutes.
"""


def too_many_bars(source: str | None = None) -> NotationError:
    """Make the error that refuses a tune which is too long for one lesson."""
    return NotationError(
        f"it has more than {MAX_BARS} bars, the most that one lesson can hold",
        file=source,
        remedy="make a lesson of each tune in it, or cut it into parts",
    )


def validate_tune(tune: Tune) -> None:
    """Check that a tune can be worked with.

    Raises
    ------
    NotationError
        With the bar, what is wrong with it and the remedy; `UnevenBarError` if it does not
        add up.
    """
    # Chords alone are no tune: every level starts from a melody.
    if not any(note.pitch for bar in tune.bars for note in bar.notes):
        raise NotationError(
            "there are no notes in it",
            file=tune.source or None,
            remedy="check that it is the right file",
        )
    if len(tune.bars) > MAX_BARS:
        raise too_many_bars(tune.source or None)
    for bar, following in pairwise((*tune.bars, None)):
        assert bar is not None
        try:
            _check_bar(bar, following)
        except NotationError as error:
            raise error.within(file=tune.source or None, bar=bar.number) from None


def adds_up(bar: Bar, following: Bar | None) -> bool:
    """Say whether a bar is as long as it may be where it stands."""
    full = bar.meter.bar_length
    return bar.length == full or (bar.length < full and _may_be_short(bar, following))


def _check_bar(bar: Bar, following: Bar | None) -> None:
    _check_order(bar)
    _check_pitches(bar)
    _check_length(bar, following)
    # Against the meter, not the notes: a chord may stand on a beat that a pick-up lacks.
    onsets = [event.onset for event in bar.chords]
    onsets += [word.onset for word in bar.words] + [end.onset for end in bar.spans]
    for onset in onsets:
        if not 0 <= onset <= bar.meter.bar_length:
            raise NotationError(
                "a chord symbol, text or line stands outside the bar",
                remedy="put it above a note of the bar",
            )


def _check_order(bar: Bar) -> None:
    # One voice without holes: what every room behind counts on when it adds durations up.
    now = Fraction(0)
    for note in bar.notes:
        if note.onset != now or note.duration <= 0:
            raise NotationError(
                f"the notes leave a gap or overlap at {length_in_words(note.onset)} "
                "from the bar line",
                remedy="fill the bar with notes and rests, one after another",
            )
        now = note.end


def _check_pitches(bar: Bar) -> None:
    for note in bar.notes:
        for pitch in (note.pitch, *(grace.pitch for grace in note.graces)):
            if pitch is not None and not (0 <= pitch.midi <= 127 and abs(pitch.alter) <= 2):
                raise NotationError(
                    f"the note {pitch} is outside the range of MIDI, 0 to 127, or is "
                    "altered more than twice",
                    remedy="check its octave and its accidentals",
                )


def _check_length(bar: Bar, following: Bar | None) -> None:
    if adds_up(bar, following):
        return
    full = bar.meter.bar_length
    if bar.length > full:
        raise UnevenBarError(
            f"{_found(bar)} in a bar of {bar.meter}",
            remedy=f"take out {length_in_words(bar.length - full, bar.meter)}, or tie the "
            "last note into the next bar",
        )
    raise UnevenBarError(
        f"{_found(bar)} in a bar of {bar.meter}",
        remedy=f"add {length_in_words(full - bar.length, bar.meter)} of notes or rests",
    )


def _found(bar: Bar) -> str:
    words = length_in_words(bar.length, bar.meter)
    return f"only {words}" if bar.is_short else words


def _may_be_short(bar: Bar, following: Bar | None) -> bool:
    if bar.pickup or following is None or ends_passage(bar, following):
        return True
    return following.pickup and completes(bar, following)
