"""Range, breath and breaks: what an instrument makes of the music."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.check._breath import long_phrases
from kit.check._crossing import awkward_crossings
from kit.check._reach import outside_comfort, outside_range


def test_a_note_the_instrument_does_not_have_is_a_warning_in_its_written_pitch(leaf, part):
    music = leaf("C8 | D8- | D4 A4 |")
    (finding,) = outside_range(music, [part(music, "toy-horn"), part(music, "trumpet")])
    assert finding.severity == "warning"
    assert finding.instruments == ("toy-horn",)
    assert (finding.numbers, finding.notes) == ((3,), ("b2n1",))
    assert str(finding) == (
        "warning: tune.abc, beginner, bar 3: Toy horn: the written B4 is outside the "
        "instrument's range of C4 to A4; rewrite the music there, or leave the instrument "
        "out of lesson.toml."
    )


def test_a_grace_note_counts_for_the_range(leaf, part):
    music = leaf("C8 | {A}C8 |")
    (finding,) = outside_range(music, [part(music, "toy-horn")])
    assert finding.notes == ("b1n0",)


def test_notes_that_lie_well_say_nothing(leaf, part):
    music = leaf("C8 | E8 |")
    trumpet = part(music, "trumpet")
    assert list(outside_range(music, [trumpet])) == []
    assert list(outside_comfort(music, [trumpet])) == []


def test_one_hint_names_each_instrument_with_its_own_bars(leaf, part):
    # Concert C5, D5, C4: the trumpet's D5, E5, D4, of which beginners read C4 to D5;
    # beginners on the flute read F4 to D6.
    music = leaf("c8 | d8 | C8 |")
    trumpet, flute = part(music, "trumpet"), part(music, "flute")
    (finding,) = outside_comfort(music, [trumpet, flute])
    assert finding.severity == "hint"
    assert finding.instruments == ("trumpet", "flute")
    assert finding.text.endswith(
        "on trumpet in B♭ (C4 to D5 written; E5 in bar 2) and flute (F4 to D6 written; C4 "
        "in bar 3)"
    )
    (alone,) = outside_comfort(music, [trumpet])
    assert alone.text.endswith("on trumpet in B♭ (C4 to D5 written; E5)")
    assert alone.numbers == (2,)


def test_what_is_out_of_range_is_not_called_uncomfortable_as_well(leaf, part):
    music = leaf("G8 | A8 |")
    horn = part(music, "toy-horn")
    (beyond,), (strained,) = (
        list(find(music, [horn])) for find in (outside_range, outside_comfort)
    )
    assert (beyond.numbers, strained.numbers) == ((2,), (1,))


LONG = (
    "c2 d2 e2 f2 | g4 f4 | e2 d2 c2 d2 | e4 d4 | c2 d2 e2 f2 | g4 f4 | e2 d2 c2 B2 | c8 |"
)


def test_a_phrase_longer_than_the_breath_says_how_long_and_where_to_breathe(leaf, part):
    music = leaf(LONG)
    (finding,) = long_phrases(music, [part(music, "trumpet")], tempo_qpm=100)
    # 8 bars of 4 quarters at 100 a minute are 19.2 s; a beginner's breath is 5 s, two bars.
    assert "up to 19 seconds go by without a rest" in finding.text
    assert "5 seconds on trumpet in B♭" in finding.text
    assert (
        finding.remedy == "add a breath mark or a short rest at the end of bars 2, 4 and 6"
    )
    assert finding.numbers == tuple(range(1, 9))


@pytest.mark.parametrize(
    "music",
    [
        LONG.replace("f4 |", "f2 z2 |").replace("d4 |", "d2 z2 |"),
        LONG.replace("f4 |", "!breath!f4 |").replace("d4 |", "!breath!d4 |"),
    ],
)
def test_rests_and_breath_marks_are_breaths(leaf, part, music):
    of = leaf(music)
    assert list(long_phrases(of, [part(of, "trumpet")], tempo_qpm=100)) == []


def test_a_rest_too_short_to_breathe_in_is_none(leaf, part):
    of = leaf(LONG.replace("f4 |", "f3 z |").replace("d4 |", "d3 z |"))
    trumpet = part(of, "trumpet")
    assert list(long_phrases(of, [trumpet], tempo_qpm=100)) == []  # an eighth is 0.3 s
    assert len(list(long_phrases(of, [trumpet], tempo_qpm=180))) == 1  # and here 0.17 s


def test_repeats_are_read_as_played(leaf, part):
    half = "c2 d2 e2 f2 | g4 f4 "  # 4.8 s at 100
    once, twice = leaf(f"{half} |]"), leaf(f"|: {half} :|")
    assert list(long_phrases(once, [part(once, "trumpet")], tempo_qpm=100)) == []
    (finding,) = long_phrases(twice, [part(twice, "trumpet")], tempo_qpm=100)
    assert "up to 10 seconds" in finding.text


def test_an_instrument_without_breath_needs_no_rest(leaf, part):
    of = leaf(LONG)
    assert list(long_phrases(of, [part(of, "concert")], tempo_qpm=40)) == []


@settings(deadline=None)
@given(tempo=st.integers(40, 240))
def test_the_slower_the_tune_the_more_players_run_out_of_breath(leaf, part, tempo):
    of = leaf(LONG)
    parts = [part(of, slug) for slug in ("trumpet", "flute", "clarinet", "baritone-sax")]

    def short(tempo_qpm):
        return {
            slug
            for finding in long_phrases(of, parts, tempo_qpm=tempo_qpm)
            for slug in finding.instruments
        }

    assert short(tempo + 20) <= short(tempo)


def test_fast_notes_over_the_break_are_a_hint_and_slow_ones_are_not(leaf, part):
    # Concert G A: written A4 to B4, over the clarinet's break.
    of = leaf("G2 A2 G2 A2 | G8 |")
    clarinet = part(of, "clarinet")
    (finding,) = awkward_crossings(of, [clarinet], tempo_qpm=220)
    assert finding.code == "awkward-crossing"
    assert "written B♭4 to B4 on clarinet in B♭" in finding.text
    assert finding.notes == ("b0n0", "b0n1", "b0n2", "b0n3", "b1n0")
    assert list(awkward_crossings(of, [clarinet], tempo_qpm=100)) == []


def test_a_rest_or_a_leap_is_no_crossing(leaf, part):
    # The last stays above the break: written B4, C♯5, D5.
    for music in ("G2 z2 A4 |", "C2 A2 C2 A2 |", "A2 B2 c2 B2 | c8 |"):
        of = leaf(music)
        assert list(awkward_crossings(of, [part(of, "clarinet")], tempo_qpm=220)) == []


def test_an_advanced_player_crosses_faster(leaf, part):
    of = leaf("G2 A2 G2 A2 | G8 |")
    player = part(of, "clarinet", level="advanced")
    assert list(awkward_crossings(of, [player], tempo_qpm=220)) == []


def test_horns_that_read_the_same_are_named_together_and_others_with_their_bars(leaf, part):
    # Concert E4 F4 is C♯5 D5 on the alto; concert B4 C5 is that on the soprano, and the
    # clarinet's break lies below.
    of = leaf("E F E F z4 | B c B c z4 |")
    low = part(of, "alto-sax"), part(of, "soprano-sax")
    (finding,) = awkward_crossings(of, low, tempo_qpm=120)
    assert finding.text == (
        "fast notes cross a break: written C♯5 to D5 on alto saxophone in bar 1, on "
        "soprano saxophone in bar 2 (all fingers go down at once over the octave key)"
    )
    assert finding.instruments == ("alto-sax", "soprano-sax")
    twice = [part(of, "soprano-sax"), part(of, "soprano-sax")]
    (same,) = awkward_crossings(of, twice, tempo_qpm=120)
    assert "on soprano saxophone and soprano saxophone (" in same.text
