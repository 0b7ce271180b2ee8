"""What an arranger decides: light and full choruses, pedals, intro, ending, loops."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from statistics import mean

import pytest

from kit.band._bass import play_bass
from kit.band._pedal import play_pedal
from kit.band.chart import read_chart
from kit.band.events import Performance
from kit.band.feel import load_feel, with_four_to_the_bar
from kit.band.loop import loop_of
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, Tag, plan_route
from kit.tune.chord import ChordSymbol
from kit.tune.model import ChordEvent, Tune
from kit.tune.pitch import NoteName

Make = Callable[..., Tune]
SAX = Soloist(65)
PASSAGES = (Passage("head"), Passage("solo"), Passage("head", tag=Tag(2, 3)))


def planned(
    tune: Tune, passages: tuple[Passage, ...] = PASSAGES, **options: object
) -> Route:
    first = 1 if tune.has_pickup else 0
    form = Form((Section("A", first, first + 7, 0 if first else None),))
    return plan_route(
        passages, form=form, head=tune, order=range(len(tune.bars)), **options
    )


def played(tune: Tune, route: Route, **options: object) -> Performance:
    return perform(tune, route, tempo_qpm=120, soloist=SAX, **options)


def within(show: Performance, player: str, start: Fraction, end: Fraction) -> list:
    return [e for e in show.of(player) if start / 2 - 0.05 <= e.start_s < end / 2 - 0.05]


def test_the_first_chorus_is_lighter_and_the_solos_are_fuller(tune: Tune) -> None:
    """Measured over eight seeds: chords struck a bar, and how hard, and the drums.

    Half of these bars have two changes, which are always played; the demo lesson's solo
    has 1.4 times the strokes of its first chorus.
    """
    route = planned(tune)
    kinds = {"head": route.bars[:8], "solo": route.bars[8:16]}
    strokes, levels, drums = {}, {}, {}
    for kind, bars in kinds.items():
        shows = [played(tune, route, seed=seed) for seed in range(8)]
        chords = [within(s, "chords", bars[0].start, bars[-1].end) for s in shows]
        strokes[kind] = mean(len({round(e.start_s, 2) for e in c}) / 8 for c in chords)
        levels[kind] = mean(e.velocity for c in chords for e in c)
        ride = [within(s, "drums", bars[0].start, bars[-1].end) for s in shows]
        drums[kind] = mean(e.velocity for d in ride for e in d if e.midi == 51)
    assert strokes["solo"] > 1.1 * strokes["head"]
    assert levels["solo"] > levels["head"] + 3
    assert drums["solo"] > drums["head"] + 3


def test_the_tag_is_played_full_and_the_last_chord_together(tune: Tune) -> None:
    route = planned(tune)
    chart = read_chart(tune, route, feel=load_feel("medium-swing"))
    assert all(bar.fullness == 1.0 for bar in chart[-4:])
    show = played(tune, route)
    start = float(route.bars[-1].start) / 2
    for player in ("bass", "chords", "drums"):
        last = [e.start_s for e in show.of(player) if e.start_s > start - 0.05]
        assert max(last) - min(last) < 0.03


def pedal_tune(tune: Tune) -> Tune:
    """Bars 5 and 6 of the tune over G, as a dominant pedal."""
    g = NoteName("G")
    symbols = [ChordSymbol(NoteName("A", -1), "major", bass=g), ChordSymbol(g, "dominant")]
    bars = list(tune.bars)
    for place in (4, 5):
        chords = tuple(ChordEvent(Fraction(2 * i), s) for i, s in enumerate(symbols))
        bars[place] = replace(bars[place], chords=chords)
    return replace(tune, bars=tuple(bars))


def test_a_pedal_in_the_changes_stays_in_the_bass(tune: Tune) -> None:
    sheet = pedal_tune(tune)
    chart = read_chart(sheet, planned(sheet), feel=load_feel("medium-swing"))
    assert [bar.is_pedal for bar in chart[3:7]] == [False, True, True, False]
    notes = play_bass(chart, rng=random.Random(1))
    on_pedal = [n for n in notes if chart[4].start <= n.start < chart[5].end]
    assert {n.midi % 12 for n in on_pedal} == {7}
    assert len({n.midi for n in on_pedal}) == 1
    assert chart[4].start in {n.start for n in on_pedal}


def test_a_pedal_note_never_outlasts_its_bar(tune: Tune) -> None:
    chart = read_chart(tune, planned(tune), feel=load_feel("medium-swing"))
    for seed in range(5):
        for bar in chart[:3]:
            notes = play_pedal([bar], 31, rng=random.Random(seed))
            assert notes[0].start == bar.start
            assert all(note.end <= bar.end for note in notes)


def test_an_ordinary_slash_chord_is_no_pedal(tune: Tune) -> None:
    slash = ChordSymbol(NoteName("C"), "minor-seventh", bass=NoteName("B", -1))
    bars = list(tune.bars)
    bars[2] = replace(bars[2], chords=(ChordEvent(Fraction(0), slash),))
    sheet = replace(tune, bars=tuple(bars))
    chart = read_chart(sheet, planned(sheet), feel=load_feel("medium-swing"))
    assert not any(bar.is_pedal for bar in chart)


def test_the_guitar_strikes_every_beat_and_nothing_else(tune: Tune) -> None:
    route = planned(tune)
    show = played(tune, route, chord_style="four-to-the-bar", humanise=False)
    assert show.programs["chords"] == 26
    body = within(show, "chords", route.bars[0].start, route.bars[-1].start)
    beats = {round(e.start_s / 0.5, 6) for e in body}
    assert beats == {float(n) for n in range(8, 8 + 4 * (len(route.bars) - 1))}
    assert max(e.duration_s for e in body) < 0.35


def test_every_feel_can_take_the_guitar(tune: Tune) -> None:
    feel = with_four_to_the_bar(load_feel("six-eight"))
    assert {len(feel.comp[n][0].hits) for n in (2, 3, 4)} == {2, 3, 4}


def test_a_section_feel_is_heard(tune: Tune) -> None:
    route = planned(tune)
    plain = played(tune, route)
    other = played(tune, route, section_feels={"A": "bossa-nova"})
    assert 37 not in {e.midi for e in plain.of("drums")}
    assert 37 in {e.midi for e in other.of("drums")}, "the bossa's rim"


def test_the_band_plays_an_intro_and_the_melody_waits(tune: Tune) -> None:
    route = planned(tune, intro="turnaround")
    show = played(tune, route)
    start, end = route.bars[0].start, route.bars[4].start
    assert within(show, "bass", start, end)
    assert not within(show, "melody", start, end)


def test_a_pickup_sounds_over_the_end_of_the_intro(make_tune: Make) -> None:
    tune = make_tune(pickup=True)
    route = planned(tune, intro="vamp")
    first = played(tune, route, humanise=False).of("melody")[0]
    head = next(bar for bar in route.bars if bar.kind == "head" and not bar.is_pickup)
    assert first.start_s < float(head.start) / 2
    assert first.start_s > float(head.start) / 2 - 0.5


def test_everybody_slows_down_together(tune: Tune) -> None:
    route = planned(tune, slows_down=True)
    show = played(tune, route, humanise=False)
    starts = route.bar_starts(120)
    clicks = [e.start_s for e in show.of("click")]
    for start in starts:
        assert min(abs(start - at) for at in clicks) < 1e-9
    last_bass = show.of("bass")[-1].start_s
    assert last_bass == pytest.approx(starts[-1])
    assert show.seconds == pytest.approx(route.second_at(route.end, 120))


def test_steady_playing_is_on_the_grid(make_tune: Make) -> None:
    tune = make_tune()
    show = played(tune, planned(tune), feel="straight-eighths", humanise=False)
    for player in ("melody", "bass", "chords", "drums"):
        for event in show.of(player):
            # Sixteenths and triplets at 120 are whole 24ths of a second.
            place = event.start_s * 24
            assert place == pytest.approx(round(place), abs=1e-6)


@pytest.mark.parametrize(
    ("changed", "match"),
    [({"a4_hz": 300.0}, "A4"), ({"chord_style": "strum"}, "chord style")],
)
def test_choices_that_are_none_are_refused(
    tune: Tune, changed: dict[str, object], match: str
) -> None:
    with pytest.raises(ValueError, match=match):
        played(tune, planned(tune), **changed)


def test_a_loop_is_a_bar_of_sticks_and_the_bars_to_the_sample(tune: Tune) -> None:
    route = planned(tune)
    loop = loop_of(played(tune, route, humanise=False), route.bars[2:4])
    assert loop.seconds == 6.0
    assert loop.music_start_s == 2.0
    assert [e.start_s for e in loop.of("count")] == [0.0, 0.5, 1.0, 1.5]
    assert loop.of("bass")[0].start_s == 2.0
    assert all(e.end_s <= 6.0 for e in loop.events)
    assert [e.midi for e in loop.of("melody")][:1] == [74], "bar 3 of the tune"


def test_what_is_held_into_a_loop_is_struck_on_its_first_beat(tune: Tune) -> None:
    # Bar 3's last eighth is tied into bar 4.
    route = planned(tune)
    loop = loop_of(played(tune, route, humanise=False), route.bars[3:4])
    assert 2.0 in [e.start_s for e in loop.of("melody")]


def test_a_pickup_sounds_over_the_sticks(make_tune: Make) -> None:
    tune = make_tune(pickup=True)
    route = planned(tune)
    loop = loop_of(played(tune, route, humanise=False), route.bars[:3])
    assert 1.5 < loop.of("melody")[0].start_s < 2.0
    assert loop.seconds == 6.0


def test_a_loop_of_nothing_or_of_a_ritardando_is_refused(tune: Tune) -> None:
    route = planned(tune)
    with pytest.raises(ValueError, match="full bar"):
        loop_of(played(tune, route), [])
    slowing = planned(tune, slows_down=True)
    with pytest.raises(ValueError, match="slow"):
        loop_of(played(tune, slowing), slowing.bars[:2])
