"""What can be counted in a band's performance, bar by bar?

Everything is taken from the sounds (`kit.band.events.NoteEvent`, in seconds) and from the
chart, which says where the bars and changes are; no pattern of the kit is looked at. Each
measure gives counts and findings; a finding is a sentence with its printed bar number.

Conventions: a *stroke* is what begins together. Places are felt beats or, in rules of a
definition (``tests/reference/feels.toml``), beats of a bar of `of`; the grid is swung as
the definition says, and a sound counts as on it within `NEAR_S`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from importlib import import_module
from inspect import signature
from itertools import groupby, pairwise
from typing import Any

from kit.band.chart import Change, ChartBar, read_chart
from kit.band.events import NoteEvent, Performance
from kit.band.feel import load_feel
from kit.band.groove import rubs
from kit.band.perform import perform
from kit.route.plan import Route
from kit.tune.model import Meter, Tune

NEAR_S = 0.035
"""Human timing stays within 15 ms; below this two onsets are heard as one."""
MOST_ON_TOP = 4
"""Strokes for which the top voice may stay."""
MOST_ALIKE = 8
"""Bars that a drummer may play alike in a row."""
BASS_RANGE = (28, 50)
_CRASH = 49


@dataclass(frozen=True, slots=True)
class Found:
    """One thing to hear, with its printed bar number."""

    measure: str
    bar: int
    text: str

    def __str__(self) -> str:
        return f"bar {self.bar}: {self.text}"


@dataclass(frozen=True)
class Heard:
    """A performance beside its chart; `bars` and `numbers` go together."""

    show: Performance
    bars: tuple[ChartBar, ...]
    numbers: tuple[int, ...]
    meters: tuple[Meter, ...]
    kinds: tuple[str, ...]
    tempo_qpm: float

    def second(self, position: Fraction | float) -> float:
        return self.show.tempo_map.seconds(position, self.tempo_qpm)

    def inside(self, index: int, player: str) -> Sequence[NoteEvent]:
        """Give a player's sounds that belong to a bar."""
        return self._by_bar.get((index, player), ())

    @cached_property
    def _starts_s(self) -> list[float]:
        return [self.second(bar.start) for bar in self.bars]

    @cached_property
    def _by_bar(self) -> dict[tuple[int, str], list[NoteEvent]]:
        found: dict[tuple[int, str], list[NoteEvent]] = {}
        for event in self.show.events:
            if event.start_s >= self._starts_s[0] - NEAR_S:
                found.setdefault((self.bar_at(event.start_s), event.player), []).append(
                    event
                )
        return found

    @property
    def body(self) -> range:
        """The bars but the last, in which the band ends."""
        return range(len(self.bars) - 1)

    def bar_at(self, second: float) -> int:
        return max(0, bisect_right(self._starts_s, second + NEAR_S) - 1)

    @property
    def changes(self) -> list[Change]:
        return [change for bar in self.bars for change in bar.changes]


def listen(
    sheet: Tune,
    route: Route,
    *,
    feel: str,
    tempo_qpm: float,
    seed: int = 0,
    section_feels: Mapping[str, str] | None = None,
    humanise: bool = True,
) -> Heard:
    """Let the band play and take down what is needed to judge it."""
    show = perform(
        sheet, route, feel=feel, tempo_qpm=tempo_qpm, seed=seed,
        section_feels=section_feels, humanise=humanise, **_soloist(),
    )  # fmt: skip
    return beside(sheet, route, show, feel=feel, section_feels=section_feels)


def _soloist() -> dict[str, Any]:
    # An older kit only wants to know what a melody instrument sounds like.
    if "melody_program" in signature(perform).parameters:
        return {"melody_program": 65}
    return {"soloist": import_module("kit.band.soloist").Soloist()}


def beside(
    sheet: Tune,
    route: Route,
    show: Performance,
    *,
    feel: str,
    section_feels: Mapping[str, str] | None = None,
) -> Heard:
    """Put a performance beside its chart."""
    others = {label: load_feel(name) for label, name in (section_feels or {}).items()}
    chart = read_chart(sheet, route, feel=load_feel(feel), section_feels=others)
    played = [bar for bar in route.bars if not bar.is_pickup] or list(route.bars)
    return Heard(
        show,
        tuple(chart),
        tuple(bar.number for bar in played),
        tuple(bar.meter for bar in played),
        tuple(bar.kind for bar in played),
        show.tempo_qpm,
    )


# What a definition asks for


def tempo_of(definition: Mapping[str, Any], meter: str) -> float:
    """Give the definition's tempo in quarter notes a minute."""
    felt = definition["tempo"][definition["meters"].index(meter)]
    return felt * float(Meter.parse(meter).pulse)


def places(text: str) -> list[Fraction]:
    return [Fraction(word) for word in text.split()]


def grid(
    heard: Heard, index: int, at: Sequence[Fraction], definition: Mapping[str, Any]
) -> list[float]:
    """Turn places of a definition into seconds of a bar."""
    meter, start = heard.meters[index], heard.bars[index].start
    beats = meter.pulses
    if definition.get("each"):
        felt = [beat + place for beat in range(beats) for place in at]
    else:
        felt = [place * Fraction(beats, definition.get("of", 4)) for place in at]
    ratio = definition["swing"]
    if ratio == "ride":
        # Friberg and Sundstrom 2002: the short eighth stays at about 0.1 s, up to 3.5 to 1.
        ratio = min(3.5, max(1.0, (60 / heard.tempo_qpm - 0.1) / 0.1))
    return [heard.second(start + _swung(place, meter, ratio)) for place in felt]


def _swung(felt: Fraction, meter: Meter, ratio: float) -> Fraction:
    """Give the position of a place in a bar, in quarters, swung."""
    if meter.is_compound:
        whole, part = divmod(felt, 1)
        # Halves of a beat of three are its last third.
        part = Fraction(2, 3) if part == Fraction(1, 2) else part
        return (whole + part) * meter.pulse
    quarters = felt * meter.pulse
    whole, part = divmod(quarters, 1)
    if part == Fraction(1, 2):
        part = Fraction(ratio / (1 + ratio)).limit_denominator(10_000)
    return whole + part


@dataclass(frozen=True, slots=True)
class Score:
    """How much of a rule was heard: strokes that came of those due, and wrong ones."""

    due: int = 0
    heard: int = 0
    sounds: int = 0
    wrong: tuple[Found, ...] = ()

    def __add__(self, other: Score) -> Score:
        return Score(
            self.due + other.due,
            self.heard + other.heard,
            self.sounds + other.sounds,
            self.wrong + other.wrong,
        )

    @property
    def share(self) -> float:
        return self.heard / self.due if self.due else 1.0


def rule_score(
    heard: Heard, rule: Mapping[str, Any], definition: Mapping[str, Any]
) -> Score:
    """Hold a performance against one rule, whichever bar its figure begins with."""
    figure = max(len(rule.get("must", [""])), len(rule.get("never", [""])))
    scores = [_rule_score(heard, rule, definition, shift) for shift in range(figure)]
    return max(scores, key=lambda score: (score.heard, -len(score.wrong)))


def _rule_score(
    heard: Heard, rule: Mapping[str, Any], definition: Mapping[str, Any], shift: int
) -> Score:
    player = rule.get("player", "drums")
    total = Score()
    for index in heard.body:
        if definition.get("head_only") and heard.kinds[index] == "solo":
            continue
        if rule.get("led_into") and index == 0:
            continue
        must = _turn(rule.get("must"), index + shift)
        never = _turn(rule.get("never"), index + shift)
        wanted = grid(heard, index, must, definition)
        taboo = grid(heard, index, never, definition)
        own = sorted(
            {
                e.start_s
                for e in heard.inside(index, player)
                if "keys" not in rule or e.midi in rule["keys"]
            }
        )
        until = heard.second(heard.bars[index].end)
        if player == "drums" and not rule.get("through"):
            until = heard.second(_fill_start(heard, index, definition))
        wanted = [at for at in wanted if at < until - NEAR_S]
        own = [at for at in own if at < until - NEAR_S]
        came = sum(any(abs(at - s) <= NEAR_S for s in own) for at in wanted)
        wrong = [s for s in own if any(abs(at - s) <= NEAR_S for at in taboo)]
        if rule.get("only"):
            wrong += [s for s in own if not any(abs(at - s) <= NEAR_S for at in wanted)]
        number = heard.numbers[index]
        total += Score(
            len(wanted),
            came,
            len(own),
            tuple(Found("definition", number, f"not so: {rule['says']}") for _ in wrong),
        )
    return total


def _turn(rows: Sequence[str] | None, index: int) -> list[Fraction]:
    return places(rows[index % len(rows)]) if rows else []


def _fill_start(heard: Heard, index: int, definition: Mapping[str, Any]) -> Fraction:
    bar, meter = heard.bars[index], heard.meters[index]
    if not bar.fill:
        return bar.end
    # Two beats; half the bar where a figure of four beats has two felt ones.
    beats = meter.pulses
    closer = beats == 2 and definition.get("of", 4) == 4 and not definition.get("each")
    return bar.end - (1 if closer else 2) * meter.pulse


def clave_sides(heard: Heard, definition: Mapping[str, Any]) -> list[int | None]:
    """Say for each bar which side of the figure is heard, None if neither is."""
    floor = definition.get("clave_from_velocity", 0)
    sides: list[int | None] = []
    for index in heard.body:
        own = [
            e.start_s
            for e in heard.inside(index, "drums")
            if e.midi == definition["clave_key"] and e.velocity >= floor
        ]
        until = heard.second(heard.bars[index].end)
        if floor:
            until = heard.second(_fill_start(heard, index, definition))
        own = [at for at in own if at < until - NEAR_S]
        found = None
        for side, row in enumerate(definition["clave"]):
            due = [
                a for a in grid(heard, index, places(row), definition) if a < until - NEAR_S
            ]
            if len(due) == len(own) and all(
                abs(a - b) <= NEAR_S for a, b in zip(sorted(due), sorted(own), strict=True)
            ):
                found = side
        sides.append(found)
    return sides


def clave_breaks(heard: Heard, definition: Mapping[str, Any]) -> list[Found]:
    """Name the bars in which the figure is not heard or turns round.

    The rule: from the first bar to the last the sides take turns, through repeats, sections
    of odd length, solos and tags; they never begin anew.
    """
    sides = clave_sides(heard, definition)
    shifts = Counter(
        (side - place) % 2 for place, side in enumerate(sides) if side is not None
    )
    usual = shifts.most_common(1)[0][0] if shifts else 0
    return [
        Found("clave", heard.numbers[place], "the clave turns round or stops")
        for place, side in enumerate(sides)
        if side != (place + usual) % 2
    ]


# What any feel should keep to


def strokes(events: Sequence[NoteEvent]) -> Iterator[tuple[float, list[NoteEvent]]]:
    ordered = sorted(events, key=lambda event: event.start_s)
    for start, group in groupby(ordered, key=lambda event: event.start_s):
        yield start, list(group)


def foreign_chords(heard: Heard) -> tuple[int, list[Found]]:
    """Count chord strokes, and name those that already sound the chord that comes."""
    changes = heard.changes
    starts = [heard.second(change.start) for change in changes]
    end = heard.second(heard.bars[-1].start)
    count, found = 0, []
    for start, notes in strokes(heard.show.of("chords")):
        if start > end - NEAR_S:
            continue
        place = max(0, bisect_right(starts, start + NEAR_S) - 1)
        symbol = changes[place].symbol
        follows = next(
            (c.symbol for c in changes[place + 1 :] if c.symbol != symbol and c.symbol),
            None,
        )
        if symbol is None:
            continue
        count += 1
        classes = {note.midi % 12 for note in notes}
        own = len(classes & symbol.pitch_classes)
        if follows and len(classes & follows.pitch_classes) > own:
            bar = heard.numbers[heard.bar_at(start)]
            found.append(Found("after-beat", bar, f"a chord of {follows} over {symbol}"))
    return count, found


def roots_ahead(heard: Heard, definition: Mapping[str, Any]) -> tuple[int, list[Found]]:
    """Count the bars whose bass should sound the next root ahead, and those that fail."""
    count, found = 0, []
    for index in heard.body:
        here, there = heard.bars[index].changes[-1].symbol, heard.bars[index + 1].changes[0]
        if there.symbol is None or here == there.symbol:
            continue
        (at,) = grid(heard, index, places(definition["ahead"]), definition)
        bass = [e for e in heard.inside(index, "bass") if abs(e.start_s - at) <= NEAR_S]
        count += 1
        if not bass or bass[0].midi % 12 != _bass_class(there):
            text = f"the bass does not lead into {there.symbol}"
            found.append(Found("ahead", heard.numbers[index], text))
    return count, found


def _bass_class(change: Change) -> int | None:
    if change.symbol is None:
        return None
    name = change.symbol.bass or change.symbol.root
    return name.pitch_class if name else None


@dataclass(frozen=True, slots=True)
class TopLine:
    """Strokes of the chords, those on a top note that stays too long, moves by step."""

    strokes: int
    stuck: int
    moves: int
    steps: int
    found: tuple[Found, ...]


def top_line(heard: Heard) -> TopLine:
    end = heard.second(heard.bars[-1].start)
    tops = [
        (start, max(note.midi for note in notes))
        for start, notes in strokes(heard.show.of("chords"))
        if start < end - NEAR_S
    ]
    stuck, found = 0, []
    for top, run in groupby(tops, key=lambda pair: pair[1]):
        row = list(run)
        if len(row) > MOST_ON_TOP:
            stuck += len(row) - MOST_ON_TOP
            bar = heard.numbers[heard.bar_at(row[0][0])]
            text = f"the chords keep the top note {top} for {len(row)} strokes"
            found.append(Found("top line", bar, text))
    moves = [abs(b - a) for (_, a), (_, b) in pairwise(tops) if a != b]
    return TopLine(len(tops), stuck, len(moves), sum(m <= 2 for m in moves), tuple(found))


def clashes(heard: Heard) -> tuple[int, list[Found]]:
    """Count chord strokes, and name those that rub against the melody."""
    melody = sorted(heard.show.of("melody"), key=lambda event: event.start_s)
    chords = heard.show.of("chords")
    texts = {
        True: "a chord note a semitone or minor ninth above the melody",
        False: "a chord note a semitone or major seventh under the melody",
    }
    rubbing = {(chords[rub.chord].start_s, rub.is_above) for rub in rubs(melody, chords)}
    found = [
        Found("clash", heard.numbers[heard.bar_at(start)], texts[above])
        for start, above in sorted(rubbing)
    ]
    return sum(1 for _ in strokes(chords)), found


@dataclass(frozen=True, slots=True)
class BassLine:
    """What can be said of a bass line; counts, and the bars."""

    notes: int
    outside: int
    wide: int
    twice: int
    changes: int
    rooted: int
    led: int
    walked: int
    found: tuple[Found, ...]


def bass_line(heard: Heard) -> BassLine:
    """Measure range, leaps over an octave, leaps in one direction, roots, lead-ins."""
    line = sorted(heard.show.of("bass"), key=lambda event: event.start_s)
    moves = [b.midi - a.midi for a, b in pairwise(line)]
    low, high = BASS_RANGE
    found = []
    wide = [i for i, move in enumerate(moves) if abs(move) > 12]
    twice = [
        i
        for i, (a, b) in enumerate(pairwise(moves))
        if a * b > 0 and min(abs(a), abs(b)) > 5
    ]
    for places_, text in (
        (wide, "leaps more than an octave"),
        (twice, "leaps twice one way"),
    ):
        found += [
            Found(
                "bass", heard.numbers[heard.bar_at(line[i + 1].start_s)], f"the bass {text}"
            )
            for i in places_
        ]
    changes = rooted = led = walked = 0
    for change in heard.changes:
        # The start of the piece has nothing before it that could lead.
        if not change.is_new or change.symbol is None:
            continue
        at = heard.second(change.start) + NEAR_S
        sounding = [e for e in line if e.start_s <= at < e.end_s + NEAR_S]
        changes += 1
        if sounding and sounding[-1].midi % 12 == _bass_class(change):
            rooted += 1
        else:
            bar = heard.numbers[heard.bar_at(heard.second(change.start))]
            found.append(Found("bass", bar, f"no {change.symbol} under the chord"))
        before = [e for e in line if e.start_s < at - 2 * NEAR_S]
        # What sounds ahead of the change is not led into, it leads.
        if sounding and before and sounding[-1] is not before[-1]:
            walked += 1
            led += abs(sounding[-1].midi - before[-1].midi) in (1, 2, 5, 7, 12)
    outside = sum(not low <= e.midi <= high for e in line)
    return BassLine(
        len(line),
        outside,
        len(wide),
        len(twice),
        changes,
        rooted,
        led,
        walked,
        tuple(found),
    )


def bars_alike(heard: Heard) -> tuple[int, list[Found]]:
    """Give the longest row of bars that the drummer plays alike, and those past the limit.

    A bar is what is struck where, in hundredths of it; how hard does not count.
    """
    bars = []
    for index in heard.body:
        start, end = (
            heard.second(heard.bars[index].start),
            heard.second(heard.bars[index].end),
        )
        bars.append(
            frozenset(
                (e.midi, round((e.start_s - start) / (end - start) * 48))
                for e in heard.inside(index, "drums")
            )
        )
    longest, place, found = 0, 0, []
    for pattern, run in groupby(bars):
        size = len(list(run))
        if pattern:
            longest = max(longest, size)
            if size > MOST_ALIKE:
                text = f"the drums play {size} bars alike"
                found.append(Found("repeats", heard.numbers[place], text))
        place += size
    return longest, found
