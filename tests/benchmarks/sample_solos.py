"""How much of its tune is in a sample solo, and does it keep the limits of its level?

    python tests/benchmarks/sample_solos.py             tunes kept for judging (about 1 min)
    python tests/benchmarks/sample_solos.py --tuning    the others

Writes solos at three levels over traditional tunes with plain changes and over tunes of our
own on textbook progressions (`solo_tunes`), and counts what `solo_measures` can count. To
which half a tune belongs follows from its name. Goals are those of a teacher: no two solos
share more than half of their bar rhythms, 85 % chord notes on strong beats, no leap over
an octave. Some tunes share more than half of their own; how many do is the baseline.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import solo_measures as measure
from solo_tunes import Subject, subjects

from kit.levels.rewrite import sounds_of
from kit.solo.sample import draft_solo
from kit.tune._validate import validate_tune
from kit.tune.model import Tune

LEVELS = ("beginner", "intermediate", "advanced")
DEFAULT_BEATS = 100


def tempo(tune: Tune) -> float:
    return tune.tempo_qpm or DEFAULT_BEATS * float(tune.meter.pulse)


def pairs(solos: dict[str, Tune], label: str) -> None:
    """Print what solos share with one another."""
    rhythms = {name: [r for r in measure.bar_rhythms(s) if r] for name, s in solos.items()}
    barred = {
        name: [(s.meter, r) for r in measure.bar_rhythms(s) if r]
        for name, s in solos.items()
    }
    printed = {name: measure.written_rhythms(s) for name, s in solos.items()}
    places = {name: measure.bar_rhythms(s) for name, s in solos.items()}
    rows: dict[str, list[tuple[float, str, str]]] = {}
    for a, b in combinations(solos, 2):
        same = sum(x == y != () for x, y in zip(places[a], places[b], strict=False))
        least = min(len(rhythms[a]), len(rhythms[b]))
        for name, value in (
            ("onsets, each bar once", measure.share_of_bag(rhythms[a], rhythms[b])),
            ("onsets, different ones", measure.share_of_set(rhythms[a], rhythms[b])),
            ("in a meter, each bar once", measure.share_of_bag(barred[a], barred[b])),
            ("in a meter, different ones", measure.share_of_set(barred[a], barred[b])),
            ("as printed, each bar once", measure.share_of_bag(printed[a], printed[b])),
            ("as printed, different ones", measure.share_of_set(printed[a], printed[b])),
            ("onsets, same bar number", same / least if least else 0.0),
        ):
            rows.setdefault(name, []).append((value, a, b))
    for name, row in rows.items():
        row.sort(reverse=True)
        over = sum(value > 0.5 for value, _, _ in row)
        mean = sum(value for value, _, _ in row) / len(row)
        print(
            f"{label:13} shared {name:27} mean {mean:5.1%} most {row[0][0]:6.1%} "
            f"over half {over} of {len(row)} pairs"
        )
        if over and "same bar" not in name:
            for value, a, b in row[:2]:
                print(f"{'':22}{value:.0%} {a[-40:]} | {b[-40:]}")


def report(level: str, items: list[tuple[Subject, Tune]]) -> None:
    """Print the figures of one level."""
    total: Counter[str] = Counter()
    most = {"breath": 0.0, "repeat": 0, "beyond": 0, "compass": 0}
    quickest = 99.0
    kinds = []
    breaths = []
    for subject, solo in items:
        validate_tune(solo)
        for kind, (part, whole) in (
            ("strong", measure.tones(solo)),
            ("beats", measure.tones(solo, every_beat=True)),
            ("held", measure.held(solo)),
            ("leading", measure.leading(solo)),
        ):
            total[kind] += part
            total[f"{kind} of"] += whole
        part, whole = measure.tones(solo)
        total["strong under 85"] += whole > 0 and part < 0.85 * whole
        total += measure.leaps(solo)
        for same, inside, cells in measure.from_tune(solo, subject.tune):
            total["bars with notes"] += 1
            total["a bar of the tune"] += same
            total["inside one"] += inside
            total["of its cells"] += cells
        total["bars"] += len(solo.bars)
        total["notes"] += len(sounds_of(solo))
        total["lonely"] += measure.lonely(solo)
        kinds.append(len({r for r in measure.bar_rhythms(solo) if r}))
        qpm = tempo(subject.tune)
        breaths.append(measure.longest_breath_s(solo, qpm))
        quickest = min(quickest, measure.shortest_s(solo, qpm))
        most["repeat"] = max(most["repeat"], measure.longest_repeat(solo))
        own = [s.pitch.midi for s in sounds_of(subject.tune)]
        new = [s.pitch.midi for s in sounds_of(solo)]
        if new:
            beyond = max(min(own) - min(new), max(new) - max(own))
            most["beyond"] = max(most["beyond"], beyond)
            most["compass"] = max(most["compass"], max(new) - min(new))

    def share(name: str, of: str) -> str:
        return f"{total[name] / total[of]:6.1%}" if total[of] else "     –"

    print(f"\n{level}: {len(items)} solos")
    print(
        f"  bars of the tune's own {share('a bar of the tune', 'bars with notes')}, "
        f"inside a bar of it {share('inside one', 'bars with notes')}, "
        f"of its cells {share('of its cells', 'bars with notes')}"
    )
    print(
        f"  chord notes on strong beats {share('strong', 'strong of')} "
        f"({total['strong under 85']} solos under 85 %), sounding there "
        f"{share('held', 'held of')}, on all beats {share('beats', 'beats of')}"
    )
    print(
        f"  leaps over an octave {total['over an octave']}, over a sixth "
        f"{share('over a sixth', 'all')}, "
        f"answered {share('answered', 'large in a phrase')} of "
        f"{total['large in a phrase']}, repeats {share('repeated', 'all')}, "
        f"longest repeat {most['repeat']} notes"
    )
    print(
        f"  half steps beyond the melody {most['beyond']}, compass up to {most['compass']}"
        f"; longest breath {max(breaths):.1f} s (mean {sum(breaths) / len(breaths):.1f}), "
        f"quickest notes {quickest:.2f} s"
    )
    print(
        f"  foreign notes led on {share('leading', 'leading of')} of {total['leading of']}"
        f", bars without notes {1 - total['bars with notes'] / total['bars']:.1%}, "
        f"notes a bar {total['notes'] / total['bars']:.1f}, "
        f"lonely notes {total['lonely']}, bar rhythms a solo {sum(kinds) / len(kinds):.1f}"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tuning", action="store_true", help="the tunes tuned on")
    wanted = not parser.parse_args().tuning
    chosen = [s for s in subjects() if s.judged == wanted]
    begun = time.perf_counter()
    made = {
        level: [(s, draft_solo(s.tune, s.form, level=level)) for s in chosen]
        for level in LEVELS
    }
    took = time.perf_counter() - begun
    print(f"{len(chosen)} tunes, {took / len(chosen) / len(LEVELS) * 1000:.0f} ms a solo")
    pairs({subject.name: subject.tune for subject in chosen}, "tunes alone")
    everything = {}
    for level, items in made.items():
        report(level, items)
        solos = {s.name: solo for s, solo in items}
        pairs(solos, level)
        everything |= {f"{name} {level}": solo for name, solo in solos.items()}
    print()
    pairs(everything, "all levels")
    return 0


if __name__ == "__main__":
    sys.exit(main())
