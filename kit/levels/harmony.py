"""Edits that change the changes.

chord, chord quality, secondary dominant, ii before V, tritone substitute, passing
diminished, turnaround, side-step. A chord stands above a moment and holds until the next
one; an edit that needs time before or after a chord refuses if there is none. The melody
sounds as before; over another chord its notes may have other names.

Conventions: the address of every edit is that of the chord it works on or leads to.
Source: common practice of jazz harmony.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.form.harmony import is_dominant, is_half_diminished, is_minor
from kit.levels._music import Music
from kit.levels._respell import spelled_over_chords
from kit.levels.edit import Operation, Option, Site
from kit.levels.steps import plain_name
from kit.levels.values import beat_words, value_words
from kit.tune.chord import ChordSymbol
from kit.tune.chord_text import parse_chord
from kit.tune.model import ChordEvent, Tune
from kit.tune.pitch import Interval, NoteName

__all__ = ["OPERATIONS"]

_ASCII = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_FIFTH_UP = Interval(4, 7)
_FLAT_FIFTH = Interval(4, 6)


@dataclass(frozen=True, slots=True)
class _Timed:
    """A chord on the timeline of the written bars."""

    start: Fraction
    symbol: ChordSymbol


def _timed(music: Music) -> list[_Timed]:
    return [
        _Timed(music.starts[index] + event.onset, event.symbol)
        for index, bar in enumerate(music.tune.bars)
        for event in bar.chords
    ]


def _with_chords(music: Music, chords: Sequence[_Timed]) -> Tune:
    """Write a tune with other chords, in order; a bar that keeps its own stays as it is."""
    starts = music.starts
    bars = []
    place = 0
    for index, bar in enumerate(music.tune.bars):
        events = []
        while place < len(chords) and chords[place].start < starts[index + 1]:
            chord = chords[place]
            events.append(ChordEvent(chord.start - starts[index], chord.symbol))
            place += 1
        same = tuple(events) == bar.chords
        bars.append(bar if same else replace(bar, chords=tuple(events)))
    return spelled_over_chords(music, replace(music.tune, bars=tuple(bars)))


def _put(site: Site, chords: list[_Timed], start: Fraction, symbol: ChordSymbol) -> Tune:
    """Set one chord, in place of one that starts at the same moment."""
    kept = [chord for chord in chords if chord.start != start]
    kept.append(_Timed(start, symbol))
    return _with_chords(site.music, sorted(kept, key=lambda chord: chord.start))


def _here(site: Site, chords: list[_Timed]) -> ChordSymbol:
    """Give the chord that starts at the address."""
    found = next((chord.symbol for chord in chords if chord.start == site.at), None)
    if found is None:
        start = site.bar_start
        inside = [
            beat_words(site.beat_of(c.start))[5:]
            for c in chords
            if start <= c.start < start + site.bar.length
        ]
        raise site.refuse(
            f"no chord starts on {beat_words(site.edit.beat)}",
            f"chords start on beat {', '.join(inside)}"
            if inside
            else "the bar has no chord of its own",
        )
    if found.root is None:
        raise site.refuse("no chord is played here (N.C.)")
    return found


def _root(symbol: ChordSymbol) -> NoteName:
    assert symbol.root is not None
    return symbol.root


def _next_start(site: Site, chords: list[_Timed]) -> Fraction:
    return min((chord.start for chord in chords if chord.start > site.at), default=site.end)


def _following(site: Site, chords: list[_Timed]) -> ChordSymbol | None:
    later = [chord for chord in chords if chord.start > site.at]
    return later[0].symbol if later else None


def _chord(site: Site) -> Tune:
    text = site.text("to")
    try:
        symbol = parse_chord(text)
    except ValueError as error:
        raise site.refuse(str(error), 'write a chord such as to = "Dm7b5"') from error
    return _put(site, _timed(site.music), site.at, symbol)


def _quality(site: Site) -> Tune:
    """Keep the root and change the rest."""
    chords = _timed(site.music)
    old = _here(site, chords)
    text = site.text("to").strip()
    root = _root(old)
    try:
        new = parse_chord(f"{root.step}{_ASCII[root.alter]}{text}")
    except ValueError as error:
        raise site.refuse(
            str(error), 'write the quality alone, such as to = "m7"'
        ) from error
    # Behind C, "b5" would be read as a root of its own: C flat.
    if new.root != root:
        raise site.refuse(
            f'"{text}" is not the quality of a chord',
            f'to change the root of {old}, use do = "chord"',
        )
    if new == old:
        raise site.refuse(f"the chord is {old} already", "take the edit out")
    return _put(site, chords, site.at, new)


def _require_dominant(site: Site, symbol: ChordSymbol) -> None:
    if not is_dominant(symbol):
        raise site.refuse(
            f"{symbol} is not a dominant seventh chord",
            f'"{site.edit.do}" needs one, such as G7',
        )


def _tritone(site: Site) -> Tune:
    chords = _timed(site.music)
    symbol = _here(site, chords)
    _require_dominant(site, symbol)
    # Both chords have the same third and seventh, exchanged; only the bass differs.
    root = plain_name(_root(symbol) + _FLAT_FIFTH)
    return _put(site, chords, site.at, ChordSymbol(root, "dominant"))


def _slot_before(site: Site, chords: list[_Timed], by: Fraction) -> Fraction:
    """Where a chord of length `by` before the address would start, if there is room."""
    start = site.at - by
    site.require_way_back(start)
    if any(start < chord.start < site.at for chord in chords):
        raise site.refuse(
            f"another chord stands less than {value_words(by)} before",
            "use a smaller value",
        )
    return start


def _secondary(site: Site) -> Tune:
    chords = _timed(site.music)
    target = _here(site, chords)
    start = _slot_before(site, chords, site.length())
    dominant = ChordSymbol(plain_name(_root(target) + _FIFTH_UP), "dominant")
    return _put(site, chords, start, dominant)


def _two_before_five(site: Site) -> Tune:
    chords = _timed(site.music)
    dominant = _here(site, chords)
    _require_dominant(site, dominant)
    end = _next_start(site, chords)
    half = (end - site.at) / 2
    if half < site.bar.meter.pulse or half % site.bar.meter.pulse:
        raise site.refuse(
            f"{dominant} does not last long enough to share its time with a ii",
            "choose a dominant of two beats or more",
        )
    goal = _following(site, chords)
    # In minor the ii has the key's sixth for its fifth: half-diminished.
    darker = goal is not None and (is_minor(goal) or is_half_diminished(goal))
    kind = "half-diminished" if darker else "minor-seventh"
    chosen = site.text("quality")
    if chosen != "by goal":
        kind = "half-diminished" if chosen == "m7♭5" else "minor-seventh"
    # The ii lies a fifth above the dominant that it leads to.
    two = ChordSymbol(plain_name(_root(dominant) + _FIFTH_UP), kind)
    moved = [replace(c, start=c.start + half) if c.start == site.at else c for c in chords]
    return _put(site, moved, site.at, two)


def _passing_diminished(site: Site) -> Tune:
    chords = _timed(site.music)
    target = _here(site, chords)
    start = _slot_before(site, chords, site.length())
    earlier = [chord.symbol for chord in chords if chord.start <= start]
    if not earlier or earlier[-1].root is None:
        raise site.refuse("there is no chord before to come from")
    step = (_root(target).pitch_class - earlier[-1].root.pitch_class) % 12
    if step not in (2, 10):
        raise site.refuse(
            f"{earlier[-1]} and {target} do not lie a whole step apart",
            "a passing diminished chord joins two that do",
        )
    # Between the two roots, so that the bass goes by half steps.
    root = _root(target) + Interval(-1, -1) if step == 2 else _root(target) + Interval(1, 1)
    return _put(site, chords, start, ChordSymbol(plain_name(root), "diminished-seventh"))


def _turnaround(site: Site) -> Tune:
    starts = site.music.starts
    if site.index + 2 >= len(starts) or site.at != starts[site.index]:
        raise site.refuse("a turnaround takes this bar and the next, from beat 1")
    key = site.bar.key
    tonic = key.tonic
    if key.is_minor:
        # With the raised sixth step the roots go down by fifths in minor too.
        rows = ((0, "minor-sixth"), (9, "half-diminished"), (2, "half-diminished"))
    else:
        rows = ((0, "major-sixth"), (9, "dominant"), (2, "minor-seventh"))
    letters = {0: 0, 9: 5, 2: 1, 7: 4}
    symbols = [
        ChordSymbol(plain_name(tonic + Interval(letters[semitones], semitones)), kind)
        for semitones, kind in (*rows, (7, "dominant"))
    ]
    moments = []
    for index in (site.index, site.index + 1):
        meter = site.tune.bars[index].meter
        # In three the first chord has two beats.
        half = (meter.pulses + 1) // 2 * meter.pulse
        moments += [starts[index], starts[index] + half]
    kept = [
        chord
        for chord in _timed(site.music)
        if not moments[0] <= chord.start < starts[site.index + 2]
    ]
    new = [_Timed(start, symbol) for start, symbol in zip(moments, symbols, strict=True)]
    return _with_chords(site.music, sorted(kept + new, key=lambda chord: chord.start))


def _side_step(site: Site) -> Tune:
    chords = _timed(site.music)
    symbol = _here(site, chords)
    length = _next_start(site, chords) - site.at
    by = site.length()
    if by * 2 > length:
        raise site.refuse(
            f"{symbol} does not last long enough to leave it for {value_words(by)}",
            "use a smaller value",
        )
    root = plain_name(_root(symbol) + Interval(1, 1))
    away = ChordSymbol(root, symbol.kind, symbol.degrees)
    back = [*chords, _Timed(site.at + 2 * by, symbol)] if by * 2 < length else chords
    return _put(site, back, site.at + by, away)


_BY_HALF = {"by": Option("value", "half")}

OPERATIONS = (
    Operation("chord", "another chord", _chord, {"to": Option("text")}, needs_note=False),
    Operation(
        "chord quality",
        "the same root with another quality",
        _quality,
        {"to": Option("text")},
        needs_note=False,
    ),
    Operation(
        "secondary dominant",
        "the chord's own dominant comes before it",
        _secondary,
        _BY_HALF,
        needs_note=False,
    ),
    Operation(
        "ii before V",
        "a dominant shares its time with the ii before it",
        _two_before_five,
        {"quality": Option("choice", "by goal", ("by goal", "m7", "m7♭5"))},
        needs_note=False,
    ),
    Operation(
        "tritone substitute",
        "the dominant a tritone away takes this one's place",
        _tritone,
        needs_note=False,
    ),
    Operation(
        "passing diminished",
        "a diminished seventh chord joins two chords a whole step apart",
        _passing_diminished,
        _BY_HALF,
        needs_note=False,
    ),
    Operation(
        "turnaround",
        "two bars of i vi ii V in the key lead back",
        _turnaround,
        needs_note=False,
    ),
    Operation(
        "side-step",
        "the chord moves up a half step for a moment and back",
        _side_step,
        {"by": Option("value", "quarter")},
        needs_note=False,
    ),
)
