"""Does the chord player play a line on top, out of the melody's way, and in its rests?

    python tests/benchmarks/comping.py                  tunes kept for judging (about 2 min)
    python tests/benchmarks/comping.py --tuning         the others
    python tests/benchmarks/comping.py --feel bossa-nova --seeds 3

Plays tunes of `solo_tunes` (head, open solo, head) in each feel that is made for their
meter and for each kind of harmony a level can have, and counts in what sounds. Everything
is measured on the events of a performance without human timing, so that another version of
the kit can be measured with the same program (PYTHONPATH).

* *steps*: of the moves of the top note, how many are of one or two semitones;
* *again*: of all strokes, how many have the top note of the one before;
* *run*: the longest row of strokes with one top note;
* *>9*: moves of the top note by more than a sixth;
* *clashes*: of 100 strokes, how many have a note a semitone or a minor ninth from a melody
  note that sounds with it for half a beat, or is struck with it;
* *movement*: mean way of a voice in semitones;
* *answers*: of the strokes under the melody, how many fall where it rests, or holds a note
  without moving within half a beat; *by chance*: the share of the half beats that are so;
* *ms*: processor time of one `perform` of the first tune, the best of three.
"""

from __future__ import annotations

import argparse
import inspect
import sys
import time
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parent))

from solo_tunes import Subject, number, subjects

from kit.band.chart import beat_of, swing_unit
from kit.band.events import NoteEvent, Performance
from kit.band.feel import feel_names, load_feel
from kit.band.perform import off_beats, perform
from kit.band.soloist import Soloist
from kit.route.plan import Passage, Route, plan_route
from kit.tune.model import Meter

KINDS = ("plain", "written", "substituted")
TUNES_A_FEEL = 6
TOGETHER_S = 0.03
SLACK = 0.12
"""Of a beat: the soloist's late downbeats are not late notes."""


@dataclass
class Count:
    """What was counted in some performances."""

    moves: list[int] = field(default_factory=list)
    repeats: int = 0
    strokes: int = 0
    clashing: int = 0
    longest: int = 0
    movement: list[float] = field(default_factory=list)
    under: int = 0
    answering: int = 0
    free: list[float] = field(default_factory=list)
    ms: list[float] = field(default_factory=list)

    def add(self, other: Count) -> None:
        self.moves += other.moves
        self.repeats += other.repeats
        self.strokes += other.strokes
        self.clashing += other.clashing
        self.longest = max(self.longest, other.longest)
        self.movement += other.movement
        self.under += other.under
        self.answering += other.answering
        self.free += other.free
        self.ms += other.ms

    def row(self) -> str:
        steps = mean(m <= 2 for m in self.moves) if self.moves else 0.0
        far = sum(m > 9 for m in self.moves)
        again = self.repeats / max(1, self.repeats + len(self.moves))
        answers = self.answering / max(1, self.under)
        return (
            f"{100 * steps:6.0f} {100 * again:7.0f} {self.longest:4} {far:5} "
            f"{100 * self.clashing / max(1, self.strokes):8.1f} "
            f"{mean(self.movement or [0]):8.2f} {100 * answers:8.0f} "
            f"{100 * mean(self.free or [0]):7.0f} {self.strokes:8} "
            f"{mean(self.ms or [0]):6.0f}"
        )


HEADER = (
    f"{'steps%':>6} {'again%':>7} {'run':>4} {'>9':>5} {'clash/100':>8} {'movement':>8} "
    f"{'answers%':>8} {'chance%':>7} {'strokes':>8} {'ms':>6}"
)


def count(show: Performance, route: Route, heard: Heard) -> Count:
    """Count what sounds in a performance."""
    found = Count()
    # The last bar is the ending's.
    last_s = route.second_at(route.bars[-1].start, show.tempo_qpm) - 1e-6
    chords = sorted(
        (e for e in show.of("chords") if e.start_s < last_s),
        key=lambda e: (e.start_s, e.midi),
    )
    strokes = [
        tuple(group) for _, group in groupby(chords, key=lambda e: round(e.start_s, 4))
    ]
    melody = sorted(show.of("melody"), key=lambda e: e.start_s)
    starts = [note.start_s for note in melody]
    tops = [stroke[-1].midi for stroke in strokes]
    found.strokes = len(strokes)
    found.longest = max((len(list(run)) for _, run in groupby(tops)), default=0)
    for a, b in pairwise(tops):
        if a == b:
            found.repeats += 1
        else:
            found.moves.append(abs(a - b))
    for one, two in pairwise(strokes):
        found.movement.append(movement([e.midi for e in one], [e.midi for e in two]))
    beat, beat_s = heard.beat, heard.beat * 60 / show.tempo_qpm
    even = Even(show, heard)
    spans = heard_spans(route, beat)
    for stroke in strokes:
        near = sounding(melody, starts, stroke[0].start_s, max(e.end_s for e in stroke))
        found.clashing += clashes(stroke, near, beat_s)
        at = even.band(stroke[0].start_s)
        if any(start - 1e-6 <= at < end for start, end in spans):
            found.under += 1
            found.answering += even.answers(at)
    for start, end in spans:
        grid = [start + k / 2 for k in range(round((end - start) * 2))]
        found.free += [float(even.answers(at)) for at in grid]
    return found


def heard_spans(route: Route, beat: float) -> list[tuple[float, float]]:
    """Give the bars in which the melody is played, in beats."""
    return [
        (float(bar.start) / beat, float(bar.end) / beat)
        for bar in route.bars
        if bar.melody and not bar.is_pickup
    ]


@dataclass(frozen=True)
class Heard:
    """How a feel divides a meter: beat and swung note in quarters, and the off-beats."""

    beat: float
    unit: float
    band: float
    soloist: float


def heard_as(feel: str, tempo_qpm: float, meter: Meter) -> Heard:
    loaded = load_feel(feel)
    shares = off_beats(loaded, tempo_qpm, meter)
    unit = float(swing_unit(meter, loaded))
    return Heard(float(beat_of(meter, loaded)), unit, *shares)


class Even:
    """Band and melody with their swing taken out, in beats."""

    def __init__(self, show: Performance, heard: Heard) -> None:
        self.heard, self.quarter_s = heard, 60 / show.tempo_qpm
        notes = sorted(show.of("melody"), key=lambda e: e.start_s)
        self.starts = [self._beats(note.start_s, heard.soloist) for note in notes]
        self.ends = [note.end_s / self.quarter_s / heard.beat for note in notes]

    def _beats(self, second: float, share: float) -> float:
        units = second / self.quarter_s / self.heard.unit
        return straight(units, share) * self.heard.unit / self.heard.beat

    def band(self, second: float) -> float:
        return self._beats(second, self.heard.band)

    def answers(self, at: float) -> bool:
        """Say whether the melody rests or holds at a moment."""
        place = bisect_right(self.starts, at + SLACK) - 1
        follows = self.starts[place + 1] if place + 1 < len(self.starts) else 1e9
        if place < 0 or self.ends[place] <= at + SLACK:
            # It rests, unless it comes in before the stroke has been heard.
            return follows - at > 2 * SLACK
        return at - self.starts[place] >= 0.5 - SLACK and follows - at >= 0.5 - SLACK


def straight(units: float, share: float) -> float:
    """Take the swing out of a moment in units of what swings."""
    whole, part = divmod(units + 1e-9, 1.0)
    even = part / (2 * share) if part < share else 0.5 + (part - share) / (2 - 2 * share)
    return whole + even


def sounding(
    melody: Sequence[NoteEvent], starts: Sequence[float], start: float, stop: float
) -> list[NoteEvent]:
    """Give the melody notes that sound in a stretch, of the last dozen before its end."""
    last = bisect_left(starts, stop)
    first = max(0, bisect_left(starts, start) - 12)
    return [note for note in melody[first:last] if note.end_s > start]


def clashes(stroke: Sequence[NoteEvent], near: Sequence[NoteEvent], beat_s: float) -> bool:
    """Say whether a stroke rubs with the melody."""
    for tone in stroke:
        for note in near:
            if abs(tone.midi - note.midi) not in (1, 13):
                continue
            shared = min(tone.end_s, note.end_s) - max(tone.start_s, note.start_s)
            together = abs(tone.start_s - note.start_s) < TOGETHER_S and shared > 0
            if together or shared >= beat_s / 2 - 1e-3:
                return True
    return False


def movement(before: Sequence[int], after: Sequence[int]) -> float:
    """Give the mean movement of a voice, each going to the nearest."""
    up = mean(min(abs(a - b) for b in before) for a in after)
    down = mean(min(abs(a - b) for a in after) for b in before)
    return (up + down) / 2


def routed(subject: Subject) -> Route:
    return plan_route(
        [Passage("head"), Passage("solo"), Passage("head")],
        form=subject.form,
        head=subject.tune,
        order=range(len(subject.tune.bars)),
    )


def measured(
    tunes: Sequence[Subject], feels: Sequence[str], kinds: Sequence[str], seeds: int
) -> dict[tuple[str, str], Count]:
    knows_kinds = "harmony" in inspect.signature(perform).parameters
    table: dict[tuple[str, str], Count] = {}
    for feel in feels:
        tempi = load_feel(feel).tempi
        fitting = [one for one in tunes if str(one.tune.meter) in tempi][:TUNES_A_FEEL]
        for subject in fitting:
            route, meter = routed(subject), subject.tune.meter
            # The middle of the tempi the feel is made for.
            tempo = sum(tempi[str(meter)]) / 2 * float(meter.pulse)
            for kind in kinds if knows_kinds else ("",):
                more = {"harmony": kind} if knows_kinds else {}
                for seed in range(seeds):
                    best, timed = float("inf"), subject is fitting[0]
                    for _ in range(3 if timed else 1):
                        begun = time.process_time()
                        show = perform(
                            subject.tune, route, feel=feel, tempo_qpm=tempo,
                            soloist=Soloist(), humanise=False, seed=seed, **more,
                        )  # fmt: skip
                        best = min(best, time.process_time() - begun)
                    found = count(show, route, heard_as(feel, tempo, meter))
                    if timed:
                        found.ms.append(best * 1000)
                    table.setdefault((feel, kind), Count()).add(found)
    return table


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tuning", action="store_true", help="the tunes tuned on")
    parser.add_argument("--feel", choices=feel_names(), help="this one only")
    parser.add_argument("--kind", choices=KINDS, help="this one only")
    parser.add_argument("--seeds", type=int, default=1)
    chosen = parser.parse_args()
    tunes = [one for one in subjects() if one.judged != chosen.tuning]
    tunes.sort(key=lambda one: number(one.name))
    feels = (chosen.feel,) if chosen.feel else feel_names()
    kinds = (chosen.kind,) if chosen.kind else KINDS
    table = measured(tunes, feels, kinds, chosen.seeds)
    print(f"{'feel':18} {'harmony':12} {HEADER}")
    totals: dict[str, Count] = {}
    for (feel, kind), found in table.items():
        print(f"{feel:18} {kind:12} {found.row()}")
        totals.setdefault(kind, Count()).add(found)
    for kind, found in totals.items():
        print(f"{'all':18} {kind:12} {found.row()}")


if __name__ == "__main__":
    main()
