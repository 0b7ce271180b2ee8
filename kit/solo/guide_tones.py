"""Which line of thirds and sevenths leads through the changes?

Guide tones are the third and the seventh of a chord (the sixth where there is no seventh,
the fourth where it is suspended). The line takes, at each change, the one that lies nearest
to where it is.

Conventions: the line is a `Tune` with the sheet's bars, chords and numbers, one long note
per chord and bar. Source: common practice of jazz teaching.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from kit.levels.rewrite import Sound, bar_starts, silent, sounds_of, with_sounds
from kit.levels.steps import plain_name
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Key, NoteName, Pitch

__all__ = ["guide_tone_line", "guide_tones"]

_NEAR = 7
"""Half steps from the centre within which the line may go without turning back."""


def guide_tones(symbol: ChordSymbol, key: Key | None = None) -> tuple[NoteName, ...]:
    """Give a chord's guide tones, the third first; without a seventh the sixth or fifth.

    They have the names that are played: the third of D♭m7 is E unless `key` has an F♭.

    Examples
    --------
    >>> " ".join(map(str, guide_tones(ChordSymbol(NoteName("D"), "minor-seventh"))))
    'F C'
    """
    first = symbol.degree(3) or symbol.degree(4, 2, 5, 1)
    second = symbol.degree(7) or symbol.degree(6) or symbol.degree(5)
    names = (name for name in (first, second) if name is not None)
    return tuple(dict.fromkeys(plain_name(name, key) for name in names))


def guide_tone_line(
    sheet: Tune,
    *,
    around: Pitch | None = None,
    start_on: Literal["third", "seventh"] = "third",
) -> Tune:
    """Write the guide tones of a sheet's changes as a playable line.

    Parameters
    ----------
    sheet : Tune
        Whose bars and changes are taken, in any key.
    around : Pitch, optional
        Near which the line starts and stays; the middle of the sheet's own melody unless
        said.
    start_on : "third" or "seventh"
        Which guide tone comes first; the other gives a second line beside the first.

    Raises
    ------
    ValueError
        For another `start_on`.
    """
    if start_on not in ("third", "seventh"):
        raise ValueError(f'start_on is "third" or "seventh", not {start_on!r}')
    centre = _middle(sheet) if around is None else around.midi
    now: Pitch | None = None
    sounds: list[Sound] = []
    for start, end, symbol, key in _stretches(sheet):
        names = guide_tones(symbol, key)
        if not names:
            now = None
            continue
        if now is None:
            first = names[0] if start_on == "third" else names[-1]
            now = _nearest([first], centre, centre)
        else:
            now = _nearest(names, now.midi, centre)
        sounds.append(Sound(start, end - start, now))
    blank = replace(sheet, bars=tuple(silent(bar) for bar in sheet.bars))
    return with_sounds(blank, sounds)


def _middle(sheet: Tune) -> int:
    midis = sorted(sound.pitch.midi for sound in sounds_of(sheet))
    return (midis[0] + midis[-1]) // 2 if midis else 71


def _stretches(sheet: Tune) -> Iterator[tuple[Fraction, Fraction, ChordSymbol, Key]]:
    """Each chord with its time and key, begun anew at every bar; pick-ups stay silent."""
    for index, (bar, begin) in enumerate(zip(sheet.bars, bar_starts(sheet), strict=False)):
        if bar.pickup:
            continue
        events = [e for e in sheet.chords_in_force(index) if e.onset < bar.length]
        ends = [event.onset for event in events[1:]] + [bar.length]
        for event, end in zip(events, ends, strict=False):
            if end > event.onset:
                yield begin + event.onset, begin + end, event.symbol, bar.key


def _nearest(names: Sequence[NoteName], midi: int, centre: int) -> Pitch:
    """Give the pitch of these names nearest to a place, kept near the centre."""
    pitches = [
        Pitch(name.step, name.alter, octave) for name in names for octave in range(10)
    ]
    return min(
        pitches,
        key=lambda pitch: (
            abs(pitch.midi - midi) + max(0, abs(pitch.midi - centre) - _NEAR),
            abs(pitch.midi - centre),
            pitch.midi,
        ),
    )
