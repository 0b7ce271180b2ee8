"""What does a melody sound like whose page has signs on it? Rendered audio, not events.

Every measure plays short tunes that hold one kind of sign, on the pitches of an
instrument's middle octave, through the synthesiser and its SoundFont, and looks at the
finished stem:

* an *attack* is a note at whose beginning the envelope (root mean square of 10 ms) first
  falls by `DIP_DB` below both its sides: a tongue is heard, a slurred note is not;
* a note's *length* reaches to where its envelope has fallen `AUDIBLE_DB` below its loudest
  moment: further down the room rings on;
* *level* is the K-weighted mean of the sound (ITU-R BS.1770-5).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import log10
from statistics import mean, median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.instruments.table import Instrument
from kit.route.plan import Passage, plan_route
from kit.sound._loudness import k_weighted
from kit.sound._stems import render_stem
from kit.sound.synth import SAMPLE_RATE_HZ, Synth
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, SpanEnd, Tune, Word
from kit.tune.pitch import NoteName, Pitch

__all__ = ["Stage"]

Samples = NDArray[np.float32]
Row = Sequence[tuple[int | None, Fraction, Mapping[str, Any]]]

DIP_DB = 2.0
AUDIBLE_DB = 12.0
_FRAME = SAMPLE_RATE_HZ // 100
_SCALE = (0, 2, 4, 5, 7, 9, 11, 12)
_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_EIGHTH = Fraction(1, 2)
_REST: Row = ((None, Fraction(4), {}),)
_CHORD = (ChordEvent(Fraction(0), ChordSymbol(NoteName("C"), "major-sixth")),)


@dataclass(frozen=True, slots=True)
class Stage:
    """An instrument with its sounds, to play what a measure asks for.

    Parameters
    ----------
    instrument : Instrument
        Whose sound and middle octave.
    synth : Synth
        With its SoundFont.
    tempo_qpm : float
        Quarter notes a minute.
    """

    instrument: Instrument
    synth: Synth
    tempo_qpm: float = 112.0

    # ---- what is asked ----

    def attacks(self, slurs: Mapping[int, Mapping[str, int]], *, feel: str) -> int:
        """Count the attacks in two bars of eighths with these slurs in each."""
        sound, events = self._played(
            [self._eighths(slurs), self._eighths(slurs)], feel=feel
        )
        level = _envelope_db(sound)
        heard = 1
        for after in events[1:]:
            edge = after.start_s
            dip = _between(level, edge - 0.04, edge + 0.03).min()
            sides = (
                np.median(_between(level, edge - 0.12, edge - 0.04)),
                np.median(_between(level, edge + 0.03, edge + 0.12)),
            )
            heard += bool(min(sides) - dip >= DIP_DB)
        return heard

    def swells_between_db(self) -> float:
        """Give how far a slurred line stands out where two notes overlap, the median."""
        slurs = {0: {"slurs_started": 1}, 7: {"slurs_ended": 1}}
        sound, events = self._played([self._eighths(slurs)] * 2)
        level = _envelope_db(sound)
        found = []
        for event in events:
            if event.joined:
                edge = event.start_s
                most = _between(level, edge - 0.02, edge + 0.04).max()
                sides = (
                    np.median(_between(level, edge - 0.12, edge - 0.04)),
                    np.median(_between(level, edge + 0.05, edge + 0.12)),
                )
                found.append(float(most - max(sides)))
        return median(found)

    def length_share(self, *marks: str) -> float:
        """Give how much of a quarter note sounds, as a share of its time."""
        row = [(step, Fraction(1), {"marks": marks}) for step in _SCALE[:4]]
        sound, events = self._played([row])
        level = _envelope_db(sound)
        quarter_s = 60 / self.tempo_qpm
        shares = []
        for event in events[:3]:
            own = _between(level, event.start_s - 0.02, event.start_s + quarter_s - 0.02)
            loud = np.nonzero(own >= own.max() - AUDIBLE_DB)[0]
            shares.append(float(loud[-1] - loud[0] + 1) / 100 / quarter_s)
        return mean(shares)

    def level_db(self, sign: str = "", *marks: str) -> float:
        """Give the level at which quarter notes begin, under a sign or with marks."""
        words = [Word(Fraction(0), sign, "dynamics")] if sign else []
        row = [(step, Fraction(1), {"marks": marks}) for step in _SCALE[:4]]
        sound, events = self._played([row], words=words)
        return mean(_level_db(sound, e.start_s, e.start_s + 0.12) for e in events)

    def off_beats_db(self, *, feel: str) -> float:
        """Give how much louder off-beats are than the beats of tongued runs."""
        rows = [self._eighths({}), self._eighths({})]
        sound, events = self._played(rows, feel=feel)
        levels = [_level_db(sound, e.start_s, e.start_s + 0.12) for e in events]
        return mean(levels[1::2]) - mean(levels[::2])

    def slur_two_db(self) -> float:
        """Give how much louder the tongued off-beats are than the beats slurred to them."""
        pairs: dict[int, dict[str, int]] = {n: {"slurs_started": 1} for n in (1, 3, 5)}
        pairs |= {n: {"slurs_ended": 1} for n in (2, 4, 6)}
        sound, events = self._played([self._eighths(pairs)] * 2, feel="medium-swing")
        levels = [_level_db(sound, e.start_s, e.start_s + 0.12) for e in events]
        leaned = [levels[n] for n in (1, 3, 5, 9, 11, 13)]
        return mean(leaned) - mean(levels[n + 1] for n in (1, 3, 5, 9, 11, 13))

    def hairpin_db(self) -> float:
        """Give how far a note of four beats rises under a hairpin, early to late."""
        ends = [
            SpanEnd(Fraction(0), "crescendo", True),
            SpanEnd(Fraction(4), "crescendo", False),
        ]
        return self._rise_db(ends, 0.25, 0.85)

    def bloom_db(self) -> float:
        """Give how far a plain note of four beats grows in its first part."""
        return self._rise_db([], 0.06, 0.35)

    def vibrato_cents(self) -> float:
        """Give half the way between high and low of a long note's late pitch."""
        sound, (event, *_) = self._played([[(9, Fraction(4), {})]])
        late = [event.start_s + event.duration_s * at for at in np.arange(0.55, 0.9, 0.01)]
        cents = [_cents(sound, at, event.midi) for at in late]
        return float(np.percentile(cents, 90) - np.percentile(cents, 10)) / 2

    def breaths(self, breath_s: float) -> list[int]:
        """Give the bars behind which a line of quarter notes is silent for a breath."""
        rows = [[(step, Fraction(1), {}) for step in _SCALE[:4]] for _ in range(8)]
        sound, events = self._played(rows, breath_s=breath_s)
        level = _envelope_db(sound)
        usual = median(_between(level, e.start_s, e.start_s + 0.2).max() for e in events)
        found = []
        for number, last in enumerate(events[3:-4:4], start=1):
            bar_end = last.start_s + 60 / self.tempo_qpm
            gap = _between(level, bar_end - 0.1, bar_end - 0.03)
            if usual - gap.mean() > 10:
                found.append(number)
        return found

    # ---- how it is played ----

    def _eighths(self, changes: Mapping[int, Mapping[str, Any]]) -> Row:
        return [(step, _EIGHTH, changes.get(n, {})) for n, step in enumerate(_SCALE)]

    def _rise_db(self, ends: Sequence[SpanEnd], early: float, late: float) -> float:
        sound, (event, *_) = self._played([[(9, Fraction(4), {})]], spans=ends)
        at = [event.start_s + share * event.duration_s for share in (early, late)]
        return _level_db(sound, at[1], at[1] + 0.15) - _level_db(sound, at[0], at[0] + 0.15)

    def _played(
        self,
        rows: Iterable[Row],
        *,
        feel: str = "straight-eighths",
        words: Sequence[Word] = (),
        spans: Sequence[SpanEnd] = (),
        breath_s: float | None = None,
    ) -> tuple[Samples, tuple[NoteEvent, ...]]:
        show = self._performance([*rows, _REST], feel, words, spans, breath_s)
        sound = render_stem(show, "melody", self.synth).floats()
        # A second more, so that every window lies inside.
        return np.pad(sound, ((0, SAMPLE_RATE_HZ), (0, 0))), show.of("melody")

    def _performance(
        self,
        rows: Sequence[Row],
        feel: str,
        words: Sequence[Word],
        spans: Sequence[SpanEnd],
        breath_s: float | None,
    ) -> Performance:
        bars = [
            Bar(number, self._notes(row), _CHORD, meter=Meter())
            for number, row in enumerate(rows, start=1)
        ]
        bars[0] = replace(bars[0], words=tuple(words), spans=tuple(spans))
        tune = Tune("Signs", tuple(bars))
        route = plan_route(
            [Passage("head")],
            form=Form((Section("A", 0, len(bars) - 1),)),
            head=tune,
            order=range(len(bars)),
            count_in_bars=1,
        )
        soloist = Soloist(self.instrument.gm_program, breath_s=breath_s)
        return perform(
            tune,
            route,
            tempo_qpm=self.tempo_qpm,
            feel=feel,
            humanise=False,
            soloist=soloist,
        )

    def _notes(self, row: Row) -> tuple[Note, ...]:
        notes, at = [], Fraction(0)
        for step, length, changes in row:
            pitch = None if step is None else _pitch(self._tonic + step)
            notes.append(replace(Note(at, length, pitch), **changes))
            at += length
        return tuple(notes)

    @property
    def _tonic(self) -> int:
        """The MIDI number of the scale's first note, so that it lies in the middle."""
        written = self.instrument.range_written
        above = self.instrument.written_above_concert.semitones
        return (written.low.midi + written.high.midi) // 2 - above - 6


def _pitch(midi: int) -> Pitch:
    return Pitch.parse(f"{_NAMES[midi % 12]}{midi // 12 - 1}")


def _envelope_db(sound: Samples) -> NDArray[np.float64]:
    """Give the level of every 10 ms, in dB, never below -120."""
    frames = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME * sound.shape[1])
    power = np.square(frames, dtype=np.float64).mean(axis=1)
    return 10 * np.log10(np.maximum(power, 1e-12))


def _between(level: NDArray[np.float64], start_s: float, end_s: float) -> Any:
    first = max(0, round(start_s * 100))
    return level[first : max(first + 1, round(end_s * 100))]


def _level_db(sound: Samples, start_s: float, end_s: float) -> float:
    # Filtered with some sound in front, so that the filter has settled.
    first = max(0, round((start_s - 0.1) * SAMPLE_RATE_HZ))
    piece = k_weighted(sound[first : round(end_s * SAMPLE_RATE_HZ)])
    skipped = round(start_s * SAMPLE_RATE_HZ) - first
    energy = float(np.square(piece[skipped:]).mean(axis=0).sum())
    return 10 * log10(max(energy, 1e-12))


def _cents(sound: Samples, at_s: float, midi: int) -> float:
    """Give how far the pitch around a moment lies from a key, by autocorrelation."""
    expected_hz = 440.0 * 2 ** ((midi - 69) / 12)
    size = max(round(6 * SAMPLE_RATE_HZ / expected_hz), SAMPLE_RATE_HZ // 50)
    first = round(at_s * SAMPLE_RATE_HZ)
    piece = sound[first : first + 2 * size].mean(axis=1).astype(np.float64)
    period = SAMPLE_RATE_HZ / expected_hz
    lags = np.arange(int(period * 0.94), int(period * 1.06) + 2)
    likeness = np.array([np.dot(piece[:size], piece[lag : lag + size]) for lag in lags])
    best = int(np.clip(np.argmax(likeness), 1, len(lags) - 2))
    left, middle, right = likeness[best - 1 : best + 2]
    bend = left - 2 * middle + right
    exact = lags[best] + (0.5 * (left - right) / bend if bend else 0.0)
    return float(1200 * np.log2(period / exact))
