"""Route arithmetic: which bars, in what order, at what second."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import RouteError
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Tag, plan_route
from kit.route.timing import chapters_vtt, timing_map
from kit.tune.model import Bar, Meter, Note, Tune
from kit.tune.unfold import playing_order

AABA = Form(tuple(Section(label, 8 * i, 8 * i + 7) for i, label in enumerate("AABA")))


def bar(number, quarters=4, **signs):
    return Bar(number, (Note(Fraction(0), Fraction(quarters), None),), **signs)


SONG = Tune("Song", tuple(bar(n) for n in range(1, 33)))
TAUGHT = (
    Passage("head"),
    Passage("solo", "AAB"),
    Passage("head", "A", Tag(bars=2, times=3)),
)


def planned(passages, *, form=AABA, head=SONG, **options):
    return plan_route(passages, form=form, head=head, order=playing_order(head), **options)


def test_head_solo_over_aab_and_head_out_with_tag_are_68_bars():
    # Common practice: 32 + 24 + 8 + 2 x 2 = 68.
    assert planned(TAUGHT).counted_bars == 68


def test_68_bars_of_four_at_120_last_136_seconds_and_two_thirds_of_it_at_180():
    route = planned(TAUGHT)
    assert route.seconds(120) == 136.0
    assert route.seconds(180) == pytest.approx(136.0 * 2 / 3, rel=1e-15)


def test_the_head_out_after_a_solo_over_aab_is_the_last_a():
    last = planned(TAUGHT).bars[56:64]
    assert [b.number for b in last] == list(range(25, 33))


def test_the_tag_plays_the_last_two_bars_three_times_in_all():
    assert [b.number for b in planned(TAUGHT).bars[-6:]] == [31, 32] * 3


def test_bars_count_how_often_they_were_heard():
    heard = [b.time_through for b in planned(TAUGHT).bars if b.number == 32]
    assert heard == [1, 2, 3, 4]


def test_an_open_solo_is_silent_and_a_written_one_is_not():
    assert not any(b.melody for b in planned(TAUGHT).bars[32:56])
    sheet = Tune("Song", tuple(bar(n) for n in range(1, 57)))
    route = plan_route(TAUGHT, form=AABA, head=sheet, order=tuple(range(32)), solo=(32, 24))
    assert [b.sheet_index for b in route.bars[32:56]] == list(range(32, 56))
    assert all(b.melody for b in route.bars)


def test_a_written_solo_of_another_length_is_refused():
    with pytest.raises(RouteError, match="has 23 bars, and the route's solos take 24"):
        planned(TAUGHT, solo=(8, 23))


def test_a_section_the_form_does_not_have_is_refused():
    with pytest.raises(RouteError, match="no section C"):
        planned([Passage("solo", "AAC")])


def test_a_tag_longer_than_its_passage_is_refused():
    with pytest.raises(RouteError, match="does not fit"):
        planned([Passage("head", "A", Tag(bars=9, times=2))])


def test_the_count_in_is_before_the_first_bar():
    route = planned([Passage("head")], count_in_bars=2)
    assert route.music_start == 8
    assert route.bar_starts(120)[0] == 4.0


# A strain of eight bars with a pick-up of one beat: bar 8 lacks what the pick-up brings.
STRAIN = Tune(
    "March",
    (
        bar(0, 1, pickup=True),
        *(bar(n) for n in range(1, 8)),
        bar(8, 3, repeat_times=2),
    ),
)
STRAINS = Form((Section("A", 1, 8, pickup=0), Section("A", 10, 17, pickup=9)))


def test_the_first_pickup_overlaps_the_count_in():
    route = planned([Passage("head")], form=STRAINS, head=STRAIN)
    assert route.bars[0].start == route.music_start - 1
    assert route.bars[1].start == route.music_start


def test_a_pickup_completes_the_short_bar_before_it():
    route = planned([Passage("head")], form=STRAINS, head=STRAIN)
    assert route.counted_bars == 16
    assert route.bars[10].start == route.music_start + 32


def test_a_short_last_bar_is_filled_with_silence_before_a_tag():
    route = planned([Passage("head", tag=Tag(bars=2, times=2))], form=STRAINS, head=STRAIN)
    assert route.bars[-2].start == route.music_start + 64


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["head", "solo"]), st.sampled_from(["A", "AAB", "BA", ""])
        ),
        min_size=1,
        max_size=6,
    ),
    st.integers(0, 4),
    st.floats(40, 300),
)
def test_bars_follow_each_other_without_gap_or_overlap(passages, count_in, tempo):
    route = planned([Passage(*p) for p in passages], count_in_bars=count_in)
    assert route.bars[0].start == route.music_start
    for before, after in zip(route.bars, route.bars[1:], strict=False):
        assert before.end == after.start
    assert list(route.bar_starts(tempo)) == sorted(set(route.bar_starts(tempo)))


def test_other_meters_keep_the_quarter_as_the_unit():
    waltz = Tune("Waltz", tuple(bar(n, 3, meter=Meter(3, 4)) for n in range(1, 33)))
    assert planned([Passage("head")], head=waltz).seconds(180) == 32.0


def test_the_timing_map_runs_on_the_audio_clock():
    timing = timing_map(planned(TAUGHT), 120)
    assert timing["count_in"] == {"bars": 2, "end": 4.0}
    assert timing["bars"][0] == {
        "number": 1, "section": "A", "pass": 1, "kind": "head", "start": 4.0, "end": 6.0,
    }  # fmt: skip
    assert timing["bars"][-1]["end"] == 140.0


def test_chapters_name_count_in_sections_and_tag_once_each():
    text = chapters_vtt(planned(TAUGHT), 120)
    assert text.startswith("WEBVTT\n\n00:00:00.000 --> 00:00:04.000\nCount-in\n")
    assert text.count("-->") == 1 + 4 + 3 + 1 + 1
    assert "Tag A, bar 31" in text


def test_a_tempo_of_zero_is_a_programmers_mistake():
    with pytest.raises(ValueError, match="above zero"):
        planned([Passage("head")]).seconds(0)
