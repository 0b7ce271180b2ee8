"""Sample solos: playable, resolved, breathing, free of clashes, and the same for a seed."""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby, pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.form.find import find_form
from kit.levels.clash import clashes
from kit.levels.rewrite import bar_starts, sounds_of
from kit.solo.guide import scale_guide
from kit.solo.phrases import rhythm_prompts
from kit.solo.sample import call_and_response, draft_solo, solo_phrases
from kit.tune._validate import validate_tune
from kit.tune.abc.read import read_abc
from kit.tune.model import Meter, transposed
from kit.tune.pitch import Interval
from kit.tune.read import read_tune
from kit.tune.unfold import unfolded

LEVELS = ("beginner", "intermediate", "advanced")


@given(level=st.sampled_from(LEVELS), seed=st.integers(0, 10_000))
@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_any_seed_gives_a_solo_that_can_be_printed_and_does_not_clash(aaba, level, seed):
    form = find_form(aaba)
    solo = draft_solo(aaba, form, level=level, seed=seed)
    validate_tune(solo)
    assert clashes(solo) == frozenset()
    heights = [s.pitch.midi for s in sounds_of(aaba)]
    wider = {"beginner": 0, "intermediate": 2, "advanced": 4}[level]
    for sound in sounds_of(solo):
        assert min(heights) - wider <= sound.pitch.midi <= max(heights) + wider


@pytest.mark.parametrize("level", LEVELS)
def test_the_last_note_is_home_and_every_phrase_rests(aaba, level):
    form = find_form(aaba)
    solo = draft_solo(aaba, form, level=level, seed=3)
    last = sounds_of(solo)[-1]
    assert str(last.pitch.name) == "C"
    starts = bar_starts(solo)
    played = [
        [
            starts[phrase.numbers[0] - 1] + at
            for on, long in phrase.rhythm.notes
            for at in (on, on + long)
        ]
        for phrase in solo_phrases(aaba, form, level=level, seed=3)
        if phrase.rhythm.notes
    ]
    assert all(after[0] - one[-1] >= 1 for one, after in pairwise(played))


@pytest.mark.parametrize("level", LEVELS)
def test_what_is_told_of_the_phrases_is_what_is_played(aaba, level):
    form = find_form(aaba)
    solo = draft_solo(aaba, form, level=level, seed=4)
    starts = bar_starts(solo)
    told = [
        (starts[phrase.numbers[0] - 1] + onset, length)
        for phrase in solo_phrases(aaba, form, level=level, seed=4)
        for onset, length in phrase.rhythm.notes
    ]
    assert told == [(s.start, s.duration) for s in sounds_of(solo)]


@given(
    level=st.sampled_from(LEVELS),
    seed=st.integers(0, 1000),
    interval=st.sampled_from(["M6", "M2", "-m3", "P4", "M9"]),
)
@settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_the_solo_is_the_same_in_every_key(aaba, level, seed, interval):
    by = Interval.parse(interval)
    moved = transposed(aaba, by)
    form = find_form(aaba)
    one = sounds_of(draft_solo(aaba, form, level=level, seed=seed))
    other = sounds_of(draft_solo(moved, form, level=level, seed=seed))
    assert [(s.start, s.duration) for s in one] == [(s.start, s.duration) for s in other]
    assert {b.pitch.midi - a.pitch.midi for a, b in zip(one, other, strict=True)} == {
        by.semitones
    }


def test_a_step_higher_is_said_only_of_what_is_one(aaba):
    form = find_form(aaba)
    sizes = {"step": 1, "third": 2, "fourth": 3, "fifth": 4, "sixth": 5, "octave": 7}
    found = 0
    for seed in range(12):
        solo = draft_solo(aaba, form, level="beginner", seed=seed)
        phrases = solo_phrases(aaba, form, level="beginner", seed=seed)
        starts, sounds = bar_starts(solo), sounds_of(solo)

        def notes(phrase, starts=starts, sounds=sounds):
            begin = starts[phrase.numbers[0] - 1]
            return [s.pitch.diatonic for s in sounds if begin <= s.start < begin + 4]

        stated = None
        for phrase in phrases:
            *_, size, way = phrase.does.split()
            if way in ("higher", "lower"):
                moved = sizes[size] if way == "higher" else -sizes[size]
                pairs = list(zip(notes(stated), notes(phrase), strict=False))
                assert {b - a for a, b in pairs[:2]} == {moved}
                found += 1
            if phrase.move == "state":
                stated = phrase
    assert found


def test_a_note_does_not_go_on_into_bars_without_chord(build):
    tune = build('"C"cdef|"N.C."g4|"C"cdef|"F"g4|"N.C."cdef|"N.C."g4|"C"cdef|"C"g4|]')
    for seed in range(6):
        solo = draft_solo(tune, find_form(tune), level="advanced", seed=seed)
        for bar in (1, 4, 5):
            assert not any(note.pitch for note in solo.bars[bar].notes)


@pytest.mark.parametrize("level", LEVELS)
def test_no_note_comes_more_than_four_times_in_a_row(build, level):
    tune = build('"C"cccc|"C"cccc|"F"cccc|"C"cccc|' * 4)
    for seed in range(4):
        heights = [s.pitch.midi for s in sounds_of(draft_solo(tune, find_form(tune),
                   level=level, seed=seed))]  # fmt: skip
        runs = [len(list(run)) for _, run in groupby(heights)]
        assert max(runs) <= 4


def test_a_dominant_that_goes_to_minor_has_its_dark_notes(build):
    home = '"C"cdef|"C"gfed|"G7"gfed|"G7"Bdfg|"Cm"c_edc|"Cm"_edcB|"G7"Bdfg|"C"c4|'
    tune = build(home * 2)
    heard = set()
    for seed in range(4):
        solo = draft_solo(tune, find_form(tune), level="advanced", seed=seed)
        starts = bar_starts(solo)
        for sound in sounds_of(solo):
            if any(starts[k] <= sound.start < starts[k + 2] for k in (2, 10)):
                heard.add(sound.pitch.midi % 12)
    # The flat ninth or thirteenth of G, and never the natural ninth.
    assert heard & {8, 3}
    assert 9 not in heard


def test_a_jig_keeps_its_lilt():
    body = '"D"d2e F2A|"G"B2G d2B|"D"d2e F2A|"A7"c2A E2A|' * 2
    text = f"X:1\nT:Jig\nM:6/8\nL:1/8\nK:D\n{body[:-1]}|]"
    jig = read_abc(text, source="jig.abc")
    for level in LEVELS:
        solo = draft_solo(jig, find_form(jig), level=level)
        places = {note.onset for bar in solo.bars for note in bar.notes if note.pitch}
        # Long and short, as the tune has them.
        assert places & {Fraction(1), Fraction(5, 2)}
        if level == "beginner":
            assert not {Fraction(1, 2), Fraction(2)} & places


def test_a_beginners_solo_keeps_to_the_simple_scale_or_the_chord(aaba):
    form = find_form(aaba)
    scales = {item.label: item.scale for item in scale_guide(aaba, form)}
    solo = draft_solo(aaba, form, level="beginner", seed=5)
    starts = bar_starts(solo)
    for sound in sounds_of(solo):
        index = max(k for k in range(32) if starts[k] <= sound.start)
        label = form.section_at(index).label
        chord = {pc for e in solo.chords_in_force(index) for pc in e.symbol.pitch_classes}
        assert sound.pitch.midi % 12 in scales[label].pitch_classes | chord


def test_seeds_and_levels_differ_and_the_same_seed_does_not(aaba):
    form = find_form(aaba)
    one, same, other = (
        draft_solo(aaba, form, level="advanced", seed=seed) for seed in (1, 1, 2)
    )
    assert one == same != other
    counts = [len(sounds_of(draft_solo(aaba, form, level=level))) for level in LEVELS]
    assert counts == sorted(set(counts))


def test_sections_may_be_chosen_as_a_route_plays_them(aaba):
    form = find_form(aaba)
    solo = draft_solo(aaba, form, sections=[0, 1, 2])
    assert [bar.number for bar in solo.bars] == list(range(1, 25))
    assert [bar.section for bar in solo.bars if bar.section] == ["A", "A", "B"]
    with pytest.raises(ValueError, match="from 0 to 3"):
        draft_solo(aaba, form, sections=[4])


def test_a_solo_in_the_players_key_uses_the_players_names(aaba):
    written = transposed(aaba, Interval.parse("M6"))
    solo = draft_solo(written, find_form(written), level="beginner")
    assert str(sounds_of(solo)[-1].pitch.name) == "A"


@pytest.mark.parametrize("level", LEVELS)
@pytest.mark.parametrize(
    "path",
    [
        "lessons/lamplighters-detour/tune.musicxml",
        "lessons/the-girl-i-left-behind-me/tune.abc",
    ],
)
def test_the_demo_tunes_get_a_solo_at_every_level(request, path, level):
    played = unfolded(read_tune(request.config.rootpath / path))
    solo = draft_solo(played, find_form(played), level=level, seed=1)
    validate_tune(solo)
    assert len(solo.bars) == 32
    assert clashes(solo) == frozenset()


def test_a_waltz_and_a_tune_without_chords(build):
    waltz = build('"C6"c3|"G7"d3|"C6"e3|"C6"c3|]', meter="3/4")
    validate_tune(draft_solo(waltz, find_form(waltz), level="intermediate"))
    bare = build("c4|d4|]")
    assert sounds_of(draft_solo(bare, find_form(bare))) == ()


def test_two_bars_of_call_are_answered_by_two_bars_of_rest(aaba):
    material = call_and_response(aaba, find_form(aaba), level="intermediate", seed=2)
    validate_tune(material)
    for index, bar in enumerate(material.bars):
        calls = any(note.pitch for note in bar.notes)
        assert not calls or index % 4 < 2
    assert sum(any(n.pitch for n in bar.notes) for bar in material.bars) >= 8


def test_rhythms_to_borrow_go_from_easy_to_hard_in_any_meter():
    for meter in (Meter(4, 4), Meter(3, 4), Meter(6, 8)):
        prompts = rhythm_prompts(meter)
        levels = [level for level, _ in prompts]
        assert levels == sorted(levels, key=("beginner", "intermediate", "advanced").index)
        for _, prompt in prompts:
            ends = [onset + length for onset, length in prompt.notes]
            assert ends == sorted(ends)
            assert ends[-1] < 2 * meter.bar_length
