"""How does a recorded tone begin in tune, and in its own octave?

Of some tones the first tenth of a second carries the octave below as loudly as the note
(FluidR3's tenor saxophone about E4). A wave added to itself one period later loses exactly
that octave and keeps the note, so it is done there, and fades out where the tone is clean.
Tones that slide into their pitch from too far are played a little faster there: a player
of the sound scoops where the music asks for it, and only there.

The tone that is held is measured as well and brought to its pitch.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from kit.sound.font.making._pitch import deviation_cents, octave_below_db, window_points
from kit.sound.font.making._tones import Tone, as_words

__all__ = ["in_tune", "mended"]

Wave = NDArray[np.float64]

_ONSET_SHARE = 0.2
_CLEAN_DB = -24.0
"""The octave below is no more heard as one; ours, below the leak of the window's edges."""
_HEARD_DB, _GONE_DB, _MOST_TIMES = -15.0, -22.0, 3
_FADE_S = 0.06
_SEARCHED_S = 0.4
_STEP_S = 0.01
_SCOOP_S = 0.3
_LEFT_CENTS = 12.0
_IS_PERIODIC = 0.8
_HELD_S = (0.25, 1.0)
_MOST_CENTS = 60.0


def in_tune(tone: Tone) -> Tone:
    """Correct a tone's tuning by the pitch of the sound that is held."""
    wave = tone.sample.data.astype(np.float64)
    rate = tone.sample.rate_hz
    start, stop = (round(s * rate) for s in _HELD_S)
    end = tone.sample.loop[1]
    start = min(start, max(0, tone.sample.loop[0], end - (stop - start)))
    held = wave[start : min(stop, end)]
    if len(held) < window_points(rate, tone.recorded_hz):
        held = wave[max(0, end - window_points(rate, tone.recorded_hz)) : end]
    cents, likeness = deviation_cents(held, rate, tone.recorded_hz)
    if likeness < _IS_PERIODIC or abs(cents) > _MOST_CENTS:
        return tone
    return replace(tone, cents=tone.cents - cents)


def mended(tone: Tone) -> tuple[Tone, str]:
    """Mend the beginning of a tone where it needs it, and say what was done."""
    rate, pitch = tone.sample.rate_hz, tone.recorded_hz
    wave = tone.sample.data.astype(np.float64)
    onset = _onset(wave[: tone.sample.loop[1]], rate)
    done = []
    level, clean_at = _octave_below(wave, onset, rate, pitch)
    if level > _HEARD_DB:
        after = level
        for _ in range(_MOST_TIMES):
            if after > _GONE_DB:
                wave = _without_octave_below(wave, clean_at, rate, pitch)
                after, _ = _octave_below(wave, onset, rate, pitch)
        done.append(f"octave below {level:.0f} -> {after:.0f} dB")
    moved, loop = wave, tone.sample.loop
    worst = 0.0
    for _ in range(2):
        track = _scoop(moved, onset, rate, pitch)
        worst = worst or max(track.values(), key=abs, default=0.0)
        moved, shift = _straightened(moved, track, rate)
        loop = (loop[0] + shift, loop[1] + shift)
    if moved is not wave:
        left = max(_scoop(moved, onset, rate, pitch).values(), key=abs, default=0.0)
        done.append(f"slides {worst:.0f} -> {left:.0f} cents")
    if not done:
        return tone, ""
    sample = replace(tone.sample, data=as_words(moved), loop=loop)
    return replace(tone, sample=sample), ", ".join(done)


def _onset(wave: Wave, rate: int) -> int:
    early = np.abs(wave[: rate // 4])
    return int(np.argmax(early >= _ONSET_SHARE * early.max(initial=0.0)))


def _octave_below(wave: Wave, onset: int, rate: int, pitch: float) -> tuple[float, int]:
    """Give its worst level in the attack, and the point from which the tone is clean."""
    length, step = window_points(rate, pitch), round(_STEP_S * rate)
    last = onset + round(_SEARCHED_S * rate)
    # The very first periods rise from nothing, which leaks between the harmonics.
    first = onset + round(2 * rate / pitch)
    worst, clean_at = -math.inf, onset
    for at in range(first, min(last, len(wave) - length), step):
        level = octave_below_db(wave[at : at + length], rate, pitch)
        worst = max(worst, level)
        if level > _CLEAN_DB:
            clean_at = at + length // 2
    return worst, clean_at


def _without_octave_below(wave: Wave, clean_at: int, rate: int, pitch: float) -> Wave:
    points = np.arange(len(wave), dtype=np.float64)
    later = np.interp(points + rate / pitch, points, wave)
    fade = round(_FADE_S * rate)
    share = np.clip((clean_at + fade - points) / fade, 0, 1) / 2
    return (1 - share) * wave + share * later


def _scoop(wave: Wave, onset: int, rate: int, pitch: float) -> dict[int, float]:
    """Give how many cents too far from its pitch the tone is, at points of the attack."""
    length = math.ceil(6.5 * rate / pitch)
    track = {}
    for at in range(onset, onset + round(_SCOOP_S * rate), round(_STEP_S * rate)):
        cents, likeness = deviation_cents(wave[at : at + length], rate, pitch)
        if likeness > _IS_PERIODIC and abs(cents) < 3 * _MOST_CENTS:
            beyond = cents - max(-_LEFT_CENTS, min(_LEFT_CENTS, cents))
            if beyond:
                track[at + length // 2] = cents
    return track


def _straightened(wave: Wave, track: dict[int, float], rate: int) -> tuple[Wave, int]:
    """Play the attack at changing speed; give by how many points it is longer."""
    if not track:
        return wave, 0
    end = max(track) + round(_FADE_S * rate)
    places = [0, *track, end]
    cents = [
        c - max(-_LEFT_CENTS, min(_LEFT_CENTS, c)) * (1 if c else 0)
        for c in (next(iter(track.values())), *track.values(), 0.0)
    ]
    # Where it is flat by so many cents, it is read faster by as many.
    speed = 2 ** (-np.interp(np.arange(end), places, cents) / 1200)
    read_at = np.concatenate(([0.0], np.cumsum(speed)))
    # What follows is taken over point by point, so the whole must be a whole number.
    last = round(float(read_at[-1]))
    read_at *= last / read_at[-1]
    spline = CubicSpline(np.arange(last + 8), wave[: last + 8])
    return np.concatenate((spline(read_at[:-1]), wave[last:])), end - last
