"""What stands on the page is heard in the soloist's events.

Sources: lengths of staccato and portato: Türk, *Klavierschule* (1789), from memory; slurs,
jazz articulation, breathing, vibrato: common practice of wind teaching.
"""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import log10
from statistics import mean

import pytest

from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.band.swell import level_at, summed, swell_of
from kit.form.sections import Form, Section
from kit.instruments.table import instrument
from kit.route.plan import Passage, plan_route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, SpanEnd, Tune, Word
from kit.tune.pitch import NoteName, Pitch

HALF = Fraction(1, 2)
SCALE = ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5"]
C_CHORD = (ChordEvent(Fraction(0), ChordSymbol(NoteName("C"), "major-sixth")),)


def tune_of(rows, *, words=(), spans=()):
    """Give bars of 4/4, each a list of (pitch or None, quarters, changes to the note)."""
    bars = []
    for number, row in enumerate(rows, start=1):
        at, notes = Fraction(0), []
        for pitch, length, changes in row:
            note = Note(at, Fraction(length), Pitch.parse(pitch) if pitch else None)
            notes.append(replace(note, **changes))
            at += Fraction(length)
        assert at == 4
        bars.append(Bar(number, tuple(notes), C_CHORD, meter=Meter()))
    bars[0] = replace(bars[0], words=tuple(words), spans=tuple(spans))
    return Tune("Marks", tuple(bars))


def played(tune, *, tempo=120, feel="straight-eighths", **soloist):
    count = len(tune.bars)
    route = plan_route(
        [Passage("head")],
        form=Form((Section("A", 0, count - 1),)),
        head=tune,
        order=range(count),
    )
    show = perform(
        tune, route, tempo_qpm=tempo, feel=feel, humanise=False, soloist=Soloist(**soloist)
    )
    return show.of("melody")


def eighths(changes=()):
    """Give a bar of eighths up the scale; `changes` by place."""
    return [(name, HALF, dict(changes).get(n, {})) for n, name in enumerate(SCALE)]


def quarters(*marks):
    return [(SCALE[n], 1, {"marks": marks}) for n in range(4)]


def share(events, quarter_s=0.5, quarters_long=1):
    return mean(event.duration_s for event in events) / (quarter_s * quarters_long)


def loudness_db(event):
    return 40 * log10(event.velocity)


def gaps(events):
    """Give the silence behind each note but the last, in seconds."""
    return [after.start_s - before.end_s for before, after in pairwise(events)]


REST = [(None, 4, {})]


def test_under_a_slur_only_the_first_note_is_tongued():
    slurred = eighths({0: {"slurs_started": 1}, 7: {"slurs_ended": 1}})
    events = played(tune_of([slurred, eighths(), REST]))
    assert [event.joined for event in events[:8]] == [False] + [True] * 7
    assert not any(event.joined for event in events[8:])
    for before, after in pairwise(events[:8]):
        assert before.end_s == pytest.approx(after.start_s), "no gap under a slur"
    for before, after in pairwise(events[8:16]):
        assert before.end_s < after.start_s, "a tongue between two notes"


def test_slurs_within_a_phrase_mark_say_what_is_tongued():
    marks = {
        0: {"slurs_started": 2}, 3: {"slurs_ended": 1}, 4: {"slurs_started": 1},
        7: {"slurs_ended": 2},
    }  # fmt: skip
    events = played(tune_of([eighths(marks), REST]))
    assert [event.joined for event in events] == [False, *[True] * 3, False, *[True] * 3]


def test_slurs_that_meet_on_a_note_go_on_through_it():
    marks = {
        0: {"slurs_started": 1}, 3: {"slurs_ended": 1, "slurs_started": 1},
        5: {"slurs_ended": 1},
    }  # fmt: skip
    events = played(tune_of([eighths(marks), REST]))
    assert [event.joined for event in events] == [False, *[True] * 5, False, False]


def test_a_repeated_note_under_a_slur_is_tongued():
    row = [("A4", 1, {"slurs_started": 1}), ("A4", 1, {"slurs_ended": 1}), (None, 2, {})]
    assert not any(event.joined for event in played(tune_of([row])))


def test_lengths_follow_the_marks():
    long = {
        mark: share(played(tune_of([quarters(mark), REST]))[:3])
        for mark in ("staccatissimo", "staccato", "strong-accent", "tenuto")
    }
    plain = share(played(tune_of([quarters(), REST]))[:3])
    assert long["staccatissimo"] == pytest.approx(0.25, abs=0.02)
    assert long["staccato"] == pytest.approx(0.45, abs=0.02)
    assert long["staccato"] < long["strong-accent"] < plain < long["tenuto"]
    portato = share(played(tune_of([quarters("staccato", "tenuto"), REST]))[:3])
    assert long["staccato"] < portato < plain


def test_accents_are_louder_and_ghosts_far_softer():
    def level(*marks):
        return mean(map(loudness_db, played(tune_of([quarters(*marks), REST]))[:3]))

    assert level("accent") - level() == pytest.approx(4, abs=0.5)
    assert level("strong-accent") > level("accent")
    assert level("ghost") - level() == pytest.approx(-10, abs=1)


@pytest.mark.parametrize("feel", ["medium-swing", "shuffle-blues"])
def test_the_off_beats_of_a_swung_run_are_at_least_as_loud_as_the_beats(feel):
    events = played(tune_of([eighths(), eighths(), REST]), feel=feel)
    beats, off = events[:16:2], events[1:16:2]
    assert mean(e.velocity for e in off) >= mean(e.velocity for e in beats)


def test_slurring_from_the_off_beat_leans_on_it():
    pairs = {n: {"slurs_started": 1} for n in (1, 3, 5)}
    pairs |= {n: {"slurs_ended": 1} for n in (2, 4, 6)}
    events = played(tune_of([eighths(pairs), REST]), feel="medium-swing")
    tongued = [e for e in events if not e.joined]
    slurred = [e for e in events if e.joined]
    assert min(loudness_db(e) for e in tongued[1:4]) > max(map(loudness_db, slurred)) + 1


def test_even_runs_lean_on_the_beat():
    events = played(tune_of([eighths(), REST]))
    assert mean(e.velocity for e in events[:8:2]) > mean(e.velocity for e in events[1:8:2])


def test_dynamics_and_hairpins_shape_level_and_swell():
    def level(sign):
        word = Word(Fraction(0), sign, "dynamics")
        return loudness_db(played(tune_of([quarters(), REST], words=[word]))[0])

    assert level("ff") - level("pp") >= 12
    ends = [
        SpanEnd(Fraction(0), "crescendo", True),
        SpanEnd(Fraction(4), "crescendo", False),
    ]
    (note,) = played(tune_of([[("A4", 4, {})], REST], spans=ends))
    rises = [level_at(note.swell, at) for at in (0.1, 0.6, 1.2, 1.6)]
    assert rises == sorted(rises)
    assert rises[-1] - rises[0] >= 2


def test_a_player_breathes_where_the_line_is_longer_than_a_breath():
    rows = [[(name, 1, {}) for name in SCALE[:4]] for _ in range(8)]
    # A bar lasts two seconds; a breath four: behind every second bar.
    events = played(tune_of([*rows, REST]), breath_s=4.2)
    breaths = [place for place, gap in enumerate(gaps(events)) if gap > 0.2]
    assert breaths == [7, 15, 23]
    without = gaps(played(tune_of([*rows, REST])))
    assert max(without) < 0.1, "who needs no breath takes none"


def test_a_written_breath_is_taken_by_everybody():
    row = quarters()
    row[1] = (*row[1][:2], {"marks": ("breath-mark",)})
    events = played(tune_of([row, REST]))
    assert events[2].start_s - events[1].end_s > 0.2


def test_long_notes_bloom_and_get_a_late_vibrato():
    (note,) = played(tune_of([[("A4", 4, {})], REST]), vibrato_cents=11.0)
    assert note.swell[0][1] < -2
    assert max(level for _, level in note.swell) == 0
    assert note.bends[0][0] >= 0.4
    (straight,) = played(tune_of([[("A4", 4, {})], REST]), vibrato_cents=0.0)
    assert not straight.bends


def test_a_fall_bends_down_and_dies_away_also_at_the_end_of_a_tie():
    row = [("A4", 2, {"tied": True}), ("A4", 1, {"marks": ("falloff",)}), (None, 1, {})]
    (note,) = played(tune_of([row, REST]))
    assert note.bends[-1][1] < -3
    assert note.swell[-1][1] < -10


@pytest.mark.parametrize(
    ("slug", "level", "swings", "cents"),
    [
        ("clarinet", "beginner", False, 0),
        ("clarinet", "advanced", False, 0),
        ("clarinet", "beginner", True, 0),
        ("clarinet", "advanced", True, 11),
        ("horn", "advanced", True, 0),
        ("alto-sax", "advanced", False, 11),
        ("alto-sax", "beginner", False, 5.5),
    ],
)
def test_vibrato_is_where_the_instrument_and_the_style_have_it(slug, level, swings, cents):
    assert instrument(slug).vibrato_cents(level, swings=swings) == cents


def test_curves_add_up_and_never_lie_above_their_loudest_moment():
    loudest, below = summed([((0.0, -2.0), (1.0, 4.0)), swell_of(1.0)])
    assert loudest == pytest.approx(4 - 0.16 * 6, abs=0.1)
    assert max(level for _, level in below) == 0
    assert summed([(), ((0.0, 3.0), (1.0, 3.0))]) == (3.0, ())


def with_fermata(bar):
    rows = [quarters() for _ in range(4)]
    rows[bar][3] = (*rows[bar][3][:2], {"marks": ("fermata",)})
    return tune_of(rows)


def whole_show(tune):
    count = len(tune.bars)
    route = plan_route(
        [Passage("head"), Passage("head")],
        form=Form((Section("A", 0, count - 1),)),
        head=tune,
        order=range(count),
        count_in_bars=1,
    )
    show = perform(tune, route, tempo_qpm=120, humanise=False, soloist=Soloist())
    return route, show


def test_a_fermata_doubles_its_note_and_the_band_waits() -> None:
    route, show = whole_show(with_fermata(1))
    steady, _ = whole_show(with_fermata(3))
    # A bar of sticks, then beat 4 of bar 2, in each of two choruses.
    assert len(route.holds) == 2
    start = 2.0 + 2.0 + 1.5
    held = next(e for e in show.of("melody") if e.start_s == pytest.approx(start))
    assert held.duration_s == pytest.approx(1.0, rel=0.15)
    for player in ("bass", "chords", "drums", "click"):
        begun = [e.start_s for e in show.of(player)]
        assert not [at for at in begun if start + 0.05 < at < start + 0.95], player
    assert route.second_at(route.end, 120) == pytest.approx(
        steady.second_at(steady.end, 120) + 0.5
    )


def test_a_fermata_at_the_end_of_the_form_is_held_the_last_time_only() -> None:
    route, show = whole_show(with_fermata(3))
    assert len(route.holds) == 1
    assert route.holds[0][1] == route.end
    assert show.seconds == pytest.approx(2.0 + 16.0 + 0.5)
