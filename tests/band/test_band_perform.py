from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.band.chart import read_chart
from kit.band.events import PLAYERS
from kit.band.feel import feel_names, load_feel
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.route.plan import INTROS, PerformedBar, Route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import NoteName, Pitch

Make = Callable[..., Tune]
MakeRoute = Callable[..., Route]
SAX = Soloist(65)


@settings(max_examples=60, deadline=None)
@given(
    semitone=st.integers(0, 11),
    feel=st.sampled_from(feel_names()),
    meter=st.sampled_from(["4/4", "3/4", "6/8", "5/4", "2/4", "2/2", "7/8", "12/8", "3/8"]),
    tempo=st.floats(50, 320),
    seed=st.integers(0, 99),
    pickup=st.booleans(),
    tag=st.booleans(),
    guitar=st.booleans(),
    intro=st.sampled_from(["", *INTROS]),
    slows_down=st.booleans(),
)
def test_the_laws_hold_in_every_key_feel_meter_and_tempo(
    semitone: int,
    feel: str,
    meter: str,
    tempo: float,
    seed: int,
    pickup: bool,
    tag: bool,
    guitar: bool,
    intro: str,
    slows_down: bool,
) -> None:
    tune = LAW_TUNES["transpose"](LAW_TUNES["make"](meter, pickup=pickup), semitone)
    route = LAW_TUNES["route"](tune, tag=tag, intro=intro, slows_down=slows_down)
    show = perform(
        tune, route, feel=feel, tempo_qpm=tempo, soloist=SAX, seed=seed,
        chord_style="four-to-the-bar" if guitar else "comping",
    )  # fmt: skip
    silent = {"drums"} if feel in ("hymn", "tango") else set()
    assert {event.player for event in show.events} == set(PLAYERS) - silent
    for event in show.events:
        assert event.start_s >= 0
        assert event.duration_s > 0
        assert 1 <= event.velocity <= 127
        assert 0 <= event.midi <= 127
        assert event.start_s < show.seconds + 0.05
    for player in PLAYERS:
        release: dict[int, float] = {}
        for event in show.of(player):
            assert event.start_s >= release.get(event.midi, 0.0) - 1e-6, (player, event)
            release[event.midi] = event.end_s
    assert all(28 <= event.midi <= 50 for event in show.of("bass"))
    for one, two in pairwise(show.of("bass")):
        assert two.start_s > one.start_s
    assert show.seconds == pytest.approx(route.second_at(route.end, tempo))
    if not slows_down:
        assert show.seconds == pytest.approx(float(route.end) * 60 / tempo)


LAW_TUNES: dict[str, Callable[..., object]] = {}


@pytest.fixture(autouse=True)
def _law_tunes(make_tune: Make, make_route: MakeRoute, transpose_tune: Make) -> None:
    """Hand the makers to the test above, which hypothesis calls without fixtures."""
    LAW_TUNES.update(make=make_tune, route=make_route, transpose=transpose_tune)


def test_the_same_seed_plays_the_same_and_another_does_not(
    tune: Tune, make_route: MakeRoute
) -> None:
    route = make_route(tune)

    def play(seed: int) -> object:
        return perform(tune, route, tempo_qpm=140, soloist=SAX, seed=seed)

    assert play(1) == play(1)
    assert play(1) != play(2)


def test_bars_start_on_the_map(tune: Tune, make_route: MakeRoute) -> None:
    route = make_route(tune)
    show = perform(tune, route, tempo_qpm=160, soloist=SAX, humanise=False)
    bass = [event.start_s for event in show.of("bass")]
    for start in route.bar_starts(160):
        assert min(abs(start - other) for other in bass) < 1e-9


def test_human_timing_stays_small_and_off_the_count_in(
    tune: Tune, make_route: MakeRoute
) -> None:
    route = make_route(tune)
    human = perform(tune, route, tempo_qpm=120, soloist=SAX)
    strict = perform(tune, route, tempo_qpm=120, soloist=SAX, humanise=False)
    for player in ("melody", "bass", "chords", "drums"):
        for one, two in zip(human.of(player), strict.of(player), strict=True):
            # The soloist's late downbeat comes on top of the error.
            assert abs(one.start_s - two.start_s) <= 0.046
    assert human.of("count") == strict.of("count")
    assert human.of("count")[0].start_s == 0.0


def test_straight_feels_are_straight_and_swing_swings(
    tune: Tune, make_route: MakeRoute
) -> None:
    route = make_route(tune)

    def places(feel: str) -> set[float]:
        show = perform(tune, route, feel=feel, tempo_qpm=120, soloist=SAX, humanise=False)
        return {round(event.start_s / 0.5 % 1, 3) for event in show.of("drums")}

    assert places("straight-eighths") <= {0.0, 0.25, 0.5, 0.75}
    assert 0.778 in places("medium-swing")  # 3.5 to 1
    assert 0.667 in places("shuffle-blues")


def test_the_melody_sounds_at_concert_pitch(tune: Tune, make_route: MakeRoute) -> None:
    show = perform(tune, make_route(tune), tempo_qpm=120, soloist=SAX)
    assert show.of("melody")[0].midi == 67
    assert show.programs["melody"] == SAX.program


def test_open_solos_leave_the_melody_out(tune: Tune, make_route: MakeRoute) -> None:
    route = make_route(tune)
    show = perform(tune, route, tempo_qpm=120, soloist=SAX)
    solo = [bar for bar in route.bars if bar.kind == "solo"]
    start, end = float(solo[0].start) / 2, float(solo[-1].end) / 2
    assert not [e for e in show.of("melody") if start + 0.1 < e.start_s < end - 0.1]
    assert [e for e in show.of("bass") if start < e.start_s < end]


def test_a_pickup_sounds_inside_the_count_in(
    make_tune: Make, make_route: MakeRoute
) -> None:
    tune = make_tune(pickup=True)
    show = perform(tune, make_route(tune), tempo_qpm=120, soloist=SAX)
    assert show.of("melody")[0].start_s < show.music_start_s


def test_ties_join_over_the_bar_line_and_a_tag_strikes_again() -> None:
    high = Pitch.parse("C5")
    bars = tuple(
        Bar(number, (Note(Fraction(0), Fraction(4), high, tied=True),)) for number in (1, 2)
    )
    sheet = Tune("Long note", bars)
    played = tuple(
        PerformedBar(
            kind=kind,
            section="A",
            sheet_index=index,
            form_index=index,
            number=index + 1,
            time_through=1,
            start=Fraction(4 * place),
            length=Fraction(4),
            meter=Meter(),
        )
        for place, (kind, index) in enumerate(
            [("head", 0), ("head", 1), ("tag", 0), ("tag", 1)]
        )
    )
    show = perform(sheet, Route((), played), tempo_qpm=120, soloist=SAX)
    starts = [event.start_s for event in show.of("melody")]
    assert starts == pytest.approx([0.0, 4.0], abs=0.05)


def test_no_chord_and_no_changes_at_all_leave_drums_and_melody(
    tune: Tune, make_route: MakeRoute
) -> None:
    silent = ChordEvent(Fraction(0), ChordSymbol(None, "none"))
    for chords in ((), (silent,)):
        bare = replace(tune, bars=tuple(replace(bar, chords=chords) for bar in tune.bars))
        show = perform(bare, make_route(bare), tempo_qpm=120, soloist=SAX)
        assert not show.of("bass")
        assert not show.of("chords")
        assert show.of("drums")
        assert show.of("melody")


def test_changes_off_the_beat_are_played_where_they_stand(make_route: MakeRoute) -> None:
    symbols = [ChordSymbol(NoteName(step), "minor-seventh") for step in "DGCF"]
    places = [Fraction(0), Fraction(3, 2), Fraction(7, 2), Fraction(15, 4)]
    chords = tuple(map(ChordEvent, places, symbols))
    rest = (Note(Fraction(0), Fraction(4), None),)
    sheet = Tune("Pushed", tuple(Bar(n, rest, chords) for n in range(1, 5)))
    for feel in feel_names():
        show = perform(
            sheet, make_route(sheet), feel=feel, tempo_qpm=120, soloist=SAX,
            humanise=False,
        )  # fmt: skip
        first = [event for event in show.of("bass") if 4 <= event.start_s < 6]
        assert len(first) >= 4
        assert [e.midi % 12 for e in first if e.midi % 12 in (2, 7, 0, 5)]


def test_the_turnaround_is_left_out_the_last_time(
    tune: Tune, make_route: MakeRoute
) -> None:
    chart = read_chart(tune, make_route(tune), feel=load_feel("medium-swing"))
    last = chart[-1].changes
    assert [str(change.symbol) for change in last] == ["Cm6"]
    inner = [bar for bar in chart[:-1] if len(bar.changes) == 2]
    assert any(str(bar.changes[1].symbol) == "G7" for bar in inner)


def test_the_last_chord_is_struck_together_and_rings_past_the_end(
    tune: Tune, make_route: MakeRoute
) -> None:
    route = make_route(tune)
    show = perform(tune, route, tempo_qpm=120, soloist=SAX)
    start = route.bar_starts(120)[-1]
    for player in ("bass", "chords", "drums"):
        last = [e for e in show.of(player) if e.start_s > start - 0.05]
        assert {round(e.start_s - start, 1) for e in last} == {0.0}
    assert max(e.end_s for e in show.of("chords")) > show.seconds + 0.5
    hard = perform(tune, route, tempo_qpm=120, soloist=SAX, ending="stop")
    assert max(e.end_s for e in hard.of("chords")) < show.seconds


def test_fills_announce_sections(tune: Tune, make_route: MakeRoute) -> None:
    chart = read_chart(tune, make_route(tune), feel=load_feel("medium-swing"))
    openings = [i for i, bar in enumerate(chart) if bar.opens_section and i]
    assert openings
    assert all(chart[i - 1].fill for i in openings)
    # Before each chorus a big one, and before the last section; small ones elsewhere.
    begins = [i for i in openings if chart[i].place % len(tune.bars) == 0]
    sizes = {i: chart[i - 1].fill for i in openings}
    assert {i for i, size in sizes.items() if size == "big"} >= {*begins, openings[-1]}
    assert "small" in sizes.values()


def test_a_section_can_have_a_feel_of_its_own(tune: Tune, make_route: MakeRoute) -> None:
    chart = read_chart(
        tune, make_route(tune), feel=load_feel("medium-swing"),
        section_feels={"B": load_feel("bossa-nova")},
    )  # fmt: skip
    assert {bar.feel.name for bar in chart} == {"medium-swing", "bossa-nova"}


def test_grace_notes_come_before_the_beat_and_falls_bend(make_route: MakeRoute) -> None:
    from kit.tune.model import Grace

    note = Note(
        Fraction(1), Fraction(1), Pitch.parse("C5"),
        graces=(Grace(Pitch.parse("B4")),), marks=("falloff",),
    )  # fmt: skip
    rest = Note(Fraction(0), Fraction(1), None)
    tail = Note(Fraction(2), Fraction(2), None)
    sheet = Tune("Fall", (Bar(1, (rest, note, tail)),) * 4)
    show = perform(sheet, make_route(sheet), tempo_qpm=100, soloist=SAX, humanise=False)
    grace, main = show.of("melody")[:2]
    assert grace.midi == 71
    assert grace.end_s <= main.start_s
    assert main.start_s == pytest.approx(9 * 0.6)
    assert main.bends[-1][1] == -4.0


@pytest.mark.parametrize(
    ("changed", "match"),
    [
        ({"feel": "gavotte"}, "no feel"),
        ({"tempo_qpm": 0}, "tempo"),
        ({"tempo_qpm": float("nan")}, "tempo"),
    ],
)
def test_misuse_is_refused(
    tune: Tune, make_route: MakeRoute, changed: dict[str, object], match: str
) -> None:
    arguments = {"tempo_qpm": 120, "soloist": SAX} | changed
    with pytest.raises(ValueError, match=match):
        perform(tune, make_route(tune), **arguments)


@pytest.mark.parametrize(
    ("wrong", "match"),
    [
        ({"program": 128}, "program"),
        ({"breath_s": 0.0}, "breath"),
        ({"vibrato_cents": -1.0}, "vibrato"),
    ],
)
def test_a_soloist_who_cannot_be_is_refused(wrong: dict[str, float], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        Soloist(**wrong)


def test_an_empty_route_is_refused(tune: Tune) -> None:
    with pytest.raises(ValueError, match="no bars"):
        perform(tune, Route((), ()), tempo_qpm=120, soloist=SAX)
