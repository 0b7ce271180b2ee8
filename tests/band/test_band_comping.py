"""What the chord player does: a line on top, out of the melody's way, in its rests.

The figures are taken on tunes made by seeds that the weights were not set on (odd seeds of
`tests/benchmarks/groove_tunes.py`), in every feel.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.band._cells import cell_hits, cell_names
from kit.band._comp_rhythm import Melody, _cells, strokes_of
from kit.band._comping import comp
from kit.band._harmony import HARMONIES, arranged, plain_symbol
from kit.band._top_line import MOST_REPEATS, Asked, lead
from kit.band._voicing import REGISTER, chord_classes, layouts, rubs
from kit.band.chart import read_chart
from kit.band.events import PartNote
from kit.band.feel import feel_names, load_feel
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.route.plan import Route
from kit.tune.chord import KINDS, ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import NoteName

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import groove_measures as measure
from groove_tunes import subject

SEEDS = (31, 33, 35)
PLAYABLE = [kind for kind, row in KINDS.items() if row.notes]
ROOTS = [NoteName.from_fifths(fifths) for fifths in range(-6, 7)]
FREE = [name for name in feel_names() if not load_feel(name).vamps]


@cache
def heard(feel: str) -> tuple[measure.Heard, ...]:
    meter = next(iter(load_feel(feel).tempi))
    low, high = load_feel(feel).tempi[meter]
    found = []
    for seed in SEEDS:
        made = subject(seed, meter, jazzy=load_feel(feel).tensions)
        tempo = (low + high) / 2 * float(made.tune.meter.pulse)
        found.append(measure.listen(made.tune, made.route, feel=feel, tempo_qpm=tempo))
    return tuple(found)


@pytest.mark.parametrize("feel", FREE)
def test_the_top_notes_move_by_step_and_none_is_struck_five_times(feel: str) -> None:
    lines = [measure.top_line(one) for one in heard(feel)]
    assert sum(line.stuck for line in lines) == 0
    assert sum(line.steps for line in lines) >= 0.85 * sum(line.moves for line in lines)


@pytest.mark.parametrize("feel", [name for name in feel_names() if name not in FREE])
def test_a_dance_keeps_its_grip_only_while_a_chord_goes_on(feel: str) -> None:
    """It stays longer than four strokes only within a chord, and then moves by step."""
    steps = moves = 0
    for one in heard(feel):
        line = measure.top_line(one)
        steps, moves = steps + line.steps, moves + line.moves
        tops = [
            (one.bar_at(at + 0.03), max(note.midi for note in notes))
            for at, notes in measure.strokes(one.show.of("chords"))
        ]
        for _, run in groupby(tops, key=lambda pair: pair[1]):
            row = [bar for bar, _ in run if bar < len(one.bars) - 1]
            symbols = {c.symbol for bar in row for c in one.bars[bar].changes}
            if len(row) > 2 * MOST_REPEATS:
                assert len(set(row)) <= 8, (feel, row)
                assert len(symbols) < len(row), (feel, symbols)
    assert steps >= 0.7 * moves


def test_of_a_hundred_strokes_at_most_one_rubs_with_the_melody() -> None:
    """One in all feels together, and two in any."""
    rubbed = struck = 0
    for feel in feel_names():
        counts = [measure.clashes(one) for one in heard(feel)]
        found, strokes = sum(len(f) for _, f in counts), sum(n for n, _ in counts)
        assert found <= 0.02 * strokes, feel
        rubbed, struck = rubbed + found, struck + strokes
    assert rubbed <= 0.01 * struck


def test_free_comping_answers_more_than_chance_would() -> None:
    """Strokes that fall where the melody rests or holds, against all half beats."""
    struck, free = [], []
    for seed in SEEDS:
        for feel in ("medium-swing", "fast-swing", "ballad"):
            made = subject(seed, "4/4", jazzy=True)
            notes = melody_of(made.tune, made.route)
            chart = read_chart(
                made.tune, made.route, feel=load_feel(feel), melody=notes.notes
            )
            rhythm = strokes_of(chart, notes, seed=1)
            for bar, strokes in zip(chart, rhythm, strict=True):
                if not notes.begun(bar.start, bar.end):
                    continue
                struck += [notes.room(at, bar.pulse) > 0 for at, _ in strokes]
                grid = [bar.start + bar.pulse * n / 2 for n in range(2 * bar.beats)]
                free += [notes.room(at, bar.pulse) > 0 for at in grid]
    assert sum(struck) / len(struck) > 0.05 + sum(free) / len(free)


def melody_of(tune: Tune, route: Route) -> Melody:
    notes = [
        PartNote(bar.start + note.onset, note.duration, note.pitch.midi, 80)
        for bar in route.bars
        if bar.melody
        for note in tune.bars[bar.sheet_index].notes
        if note.pitch is not None
    ]
    return Melody(notes)


def test_a_rhythm_is_kept_for_a_stretch_and_varied_at_its_end(
    tune: Tune, make_route: Callable[..., Route]
) -> None:
    chart = read_chart(tune, make_route(tune), feel=load_feel("medium-swing"))
    kept = []
    for seed in range(20):
        cells = _cells(chart[:4], Melody([]), random.Random(seed))
        assert cells[0] == cells[1]
        assert cells[3] not in cells[:3]
        kept.append(cells[0])
    assert len(set(kept)) > 1, "not always the same one"


@pytest.mark.parametrize("name", cell_names())
def test_a_cell_lies_in_its_beats_and_its_strokes_do_not_overlap(name: str) -> None:
    for beats in (2, 3, 4):
        try:
            hits = cell_hits(name, beats)
        except ValueError:
            continue
        ends = [at + length for at, length in hits]
        assert hits[0][0] >= 0
        assert ends[-1] <= beats
        assert all(end <= at for end, (at, _) in zip(ends, hits[1:], strict=False))


def test_an_unknown_cell_is_named() -> None:
    with pytest.raises(ValueError, match='no cell "polka" for 4 beats'):
        cell_hits("polka", 4)


def chains() -> st.SearchStrategy[list[tuple[str, NoteName, int | None]]]:
    melody = st.one_of(st.none(), st.integers(55, 84))
    return st.lists(
        st.tuples(st.sampled_from(PLAYABLE), st.sampled_from(ROOTS), melody),
        min_size=1,
        max_size=12,
    )


def asked(
    chain: list[tuple[str, NoteName, int | None]], *, tensions: bool
) -> Iterator[Asked]:
    for kind, root, note in chain:
        melody = [] if note is None else [note]
        classes = chord_classes(
            ChordSymbol(root, kind),
            frozenset(midi % 12 for midi in melody),
            tensions=tensions,
        )
        yield Asked(layouts(*classes), melody, melody)


@given(chains(), st.booleans())
def test_voices_keep_their_range_their_order_and_their_own_notes(
    chain: list[tuple[str, NoteName, int | None]], tensions: bool
) -> None:
    """For all kinds of chords: no voice crosses, no note is doubled, none rubs."""
    for one, (kind, root, note) in zip(
        lead(list(asked(chain, tensions=tensions))), chain, strict=True
    ):
        assert REGISTER[0] <= one[0] <= one[-1] <= REGISTER[1]
        assert all(low < high for low, high in pairwise(one))
        classes = [midi % 12 for midi in one]
        assert len(set(classes)) == len(classes), "a guide tone is there once"
        assert 1 <= len(one) <= 4
        under = {(note - 1) % 12} if note is not None else set()
        own = {name.pitch_class for name in ChordSymbol(root, kind).note_names}
        if own - under:
            assert not under & set(classes) or own <= under


def test_a_top_note_is_not_struck_five_times_over_one_chord() -> None:
    classes = chord_classes(ChordSymbol(NoteName("C"), "dominant"))
    line = lead([Asked(layouts(*classes), (), ())] * 40)
    runs = [len(list(run)) for _, run in groupby(notes[-1] for notes in line)]
    assert max(runs) <= MOST_REPEATS
    steps = [abs(a[-1] - b[-1]) for a, b in pairwise(line) if a[-1] != b[-1]]
    assert sum(step <= 2 for step in steps) >= 0.8 * len(steps)


@pytest.mark.parametrize("root", ROOTS)
def test_a_major_seventh_under_the_melodys_root_is_the_sixth(root: NoteName) -> None:
    symbol = ChordSymbol(root, "major-seventh")
    home = root.pitch_class
    must, spare = chord_classes(symbol, frozenset([home]))
    assert (home + 9) % 12 in must
    assert (home + 11) % 12 not in {*must, *spare}
    must, _ = chord_classes(symbol)
    assert (home + 11) % 12 in must


@given(st.integers(40, 90), st.integers(55, 90))
def test_a_semitone_and_a_minor_ninth_rub_and_a_major_seventh_below_does_not(
    tone: int, note: int
) -> None:
    apart = tone - note
    expected = apart in (1, 13, 25, -1, -13, -25, -37, -49)
    assert rubs(tone, note) == expected


def test_a_chord_note_is_let_go_where_the_melody_comes_to_rub(
    tune: Tune, make_route: Callable[..., Route]
) -> None:
    route = make_route(tune)
    chart = read_chart(tune, route, feel=load_feel("ballad"))
    first = comp(chart, [], rng=random.Random(3))[-1]
    start = first.start + first.duration * 3 / 4
    late = PartNote(start, Fraction(1, 8), first.midi + 1, 80)
    again = comp(chart, [late], rng=random.Random(3))
    for note in again:
        if rubs(note.midi, late.midi):
            assert note.end <= late.start or note.start >= late.end


def test_beginners_hear_plain_chords_on_the_beat_over_roots_and_fifths(
    tune: Tune, make_route: Callable[..., Route]
) -> None:
    route = make_route(tune)
    show = perform(
        tune, route, tempo_qpm=120, soloist=Soloist(), humanise=False, harmony="plain"
    )
    chart = read_chart(tune, route, feel=load_feel("medium-swing"))
    for bar in chart[:-1]:
        start, end = float(bar.start) / 2, float(bar.end) / 2
        allowed = {
            n.pitch_class
            for change in bar.changes
            if change.symbol
            for n in plain_symbol(change.symbol).note_names
        }
        # Under the melody's root a seventh is a sixth, under its fourth a third is that.
        allowed |= {
            (change.symbol.root.pitch_class + more) % 12
            for change in bar.changes
            if change.symbol and change.symbol.root
            for more in (5, 9)
        }
        for player in ("chords", "bass"):
            for event in show.of(player):
                if start - 1e-6 <= event.start_s < end - 1e-6:
                    assert event.midi % 12 in allowed
                    assert (event.start_s * 2) % 1 == pytest.approx(0, abs=1e-6)


def test_substitutes_hold_what_the_melody_plays_and_leave_edges_alone() -> None:
    changed = 0
    for seed in range(31, 71, 2):
        made = subject(seed, "4/4", jazzy=True)
        notes = melody_of(made.tune, made.route)
        chart = read_chart(made.tune, made.route, feel=load_feel("medium-swing"))
        other = arranged(chart, "substituted", notes.notes, seed=str(seed))
        assert other == arranged(chart, "substituted", notes.notes, seed=str(seed))
        assert (other[0], other[-1]) == (chart[0], chart[-1])
        places = [i for i, (a, b) in enumerate(zip(chart, other, strict=True)) if a != b]
        assert all(b - a > 1 for a, b in pairwise(places)), "never two bars in a row"
        changed += len(places)
        for place in places:
            old = {c.symbol for c in chart[place].changes}
            for change in other[place].changes:
                if change.symbol in old or change.symbol is None:
                    continue
                for note in notes.between(change.start, change.end):
                    off = (note.start - chart[place].start) % 1 != 0
                    if note.duration > Fraction(1, 2) or not off:
                        root = change.symbol.root.pitch_class
                        assert (note.midi - root) % 12 not in {1, 8, 11}
    assert changed > 10


@pytest.mark.parametrize("harmony", HARMONIES)
def test_every_harmony_is_the_same_each_time(
    tune: Tune, make_route: Callable[..., Route], harmony: str
) -> None:
    options = {"tempo_qpm": 132.0, "soloist": Soloist(), "harmony": harmony, "seed": 9}
    route = make_route(tune)
    assert perform(tune, route, **options) == perform(tune, route, **options)
    with pytest.raises(ValueError, match="no harmony"):
        perform(tune, route, tempo_qpm=120, soloist=Soloist(), harmony="plan")
