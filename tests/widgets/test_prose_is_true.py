"""What the demo lessons' prose says of the music, checked against the music."""

from fractions import Fraction

from kit.form.differences import bar_keys
from kit.tune.sounding import sounding


def melody(tune, number):
    """A bar's notes as (onset, duration, MIDI number)."""
    bar = tune.bars[tune.index_of(number)]
    return [(n.onset, n.duration, n.pitch.midi) for n in bar.notes if n.pitch]


def steps(tune, number):
    return [pitch for _, _, pitch in melody(tune, number)]


def roots(tune, number):
    return [str(event.symbol.root) for event in tune.chords_in_force(tune.index_of(number))]


class TestLamplightersDetour:
    def test_it_is_an_aaba_of_32_bars(self, lamplighter):
        assert lamplighter.form.pattern == "AABA"
        assert lamplighter.form.bar_count == 32

    def test_two_bar_ideas_of_a_begin_on_the_second_beat(self, lamplighter):
        for number in (1, 3, 5, 7, 9, 11, 13, 15, 25, 27, 29, 31):
            assert melody(lamplighter.tune, number)[0][0] == 1

    def test_bar_1_climbs_three_notes_and_bar_2_comes_down(self, lamplighter):
        climb, answer = steps(lamplighter.tune, 1), steps(lamplighter.tune, 2)
        assert len(climb) == 3
        assert climb == sorted(climb)
        assert answer == sorted(answer, reverse=True)

    def test_bars_3_and_4_begin_a_step_higher_and_do_the_same(self, lamplighter):
        first = lamplighter.tune.bars[0].notes[1].pitch
        third = lamplighter.tune.bars[2].notes[1].pitch
        assert (third - first).steps == 1
        assert [n[:2] for n in melody(lamplighter.tune, 3)] == [
            n[:2] for n in melody(lamplighter.tune, 1)
        ]
        assert steps(lamplighter.tune, 3) == sorted(steps(lamplighter.tune, 3))
        assert steps(lamplighter.tune, 4) == sorted(
            steps(lamplighter.tune, 4), reverse=True
        )

    def test_bars_5_and_6_have_the_highest_note_and_bar_8_is_home_and_lowest(
        self, lamplighter
    ):
        every = [p for number in range(1, 33) for p in steps(lamplighter.tune, number)]
        where = [n for n in range(1, 9) if max(every) in steps(lamplighter.tune, n)]
        assert where == [5, 6]
        home = lamplighter.tune.key.tonic.pitch_class
        assert steps(lamplighter.tune, 8) == [min(every)]
        assert min(every) % 12 == home

    def test_bar_7_steps_down_and_leaps_up_once(self, lamplighter):
        *down, leap = steps(lamplighter.tune, 7)
        assert down == sorted(down, reverse=True)
        assert leap - down[-1] > 2

    def test_only_bars_15_and_16_differ_and_end_an_octave_higher(self, lamplighter):
        played = lamplighter.played
        keys = bar_keys(played)
        differing = [n for n in range(9, 17) if keys[n - 1] != keys[n - 9]]
        assert differing == [15, 16]
        assert steps(played, 16) == [steps(played, 8)[0] + 12]
        assert steps(played, 15)[0] < steps(played, 15)[-1] < steps(played, 16)[0]
        assert all(keys[n - 1] == keys[n - 25] for n in range(25, 33))

    def test_the_bridge_comes_down_from_the_top_into_the_relative_major(self, lamplighter):
        tune = lamplighter.tune
        first = melody(tune, 17)[0]
        assert first[0] == 0
        assert first[2] == max(p for n in range(1, 33) for p in steps(tune, n))
        for number in (17, 18):
            assert steps(tune, number) == sorted(steps(tune, number), reverse=True)
        relative = (tune.key.tonic.pitch_class + 3) % 12
        bar = tune.bars[tune.index_of(19)]
        assert bar.chords[0].symbol.root.pitch_class == relative
        assert len(melody(tune, 24)) == 1

    def test_bars_17_and_18_have_the_chords_of_bars_21_and_22(self, lamplighter):
        tune = lamplighter.tune
        assert [roots(tune, n) for n in (17, 18)] == [roots(tune, n) for n in (21, 22)]

    def test_long_notes_are_as_long_as_said(self, lamplighter):
        assert melody(lamplighter.tune, 1)[-1][1] == 2
        assert melody(lamplighter.tune, 8)[0][1] == 3
        assert [n[1] for n in melody(lamplighter.tune, 1)[:2]] == [Fraction(1, 2)] * 2

    def test_intermediate_answers_come_an_eighth_early_and_are_held(self, lamplighter):
        sounds = list(sounding(lamplighter.level("intermediate").head.bars))
        early = [s for s in sounds if s.bar in (0, 2) and s.onset == Fraction(7, 2)]
        assert len(early) == 2
        assert all(s.duration > Fraction(1, 2) for s in early)

    def test_intermediate_graces_lie_a_half_step_below(self, lamplighter):
        notes = [n for b in lamplighter.level("intermediate").head.bars for n in b.notes]
        graced = [n for n in notes if n.graces]
        assert graced
        assert all(n.pitch.midi - n.graces[-1].pitch.midi == 1 for n in graced)

    def test_advanced_climbs_past_the_third_note_and_lands_before_bar_2(self, lamplighter):
        head = lamplighter.level("advanced").head
        climb = steps(head, 1)
        assert climb == sorted(climb)
        assert len(climb) > 3
        assert head.bars[0].notes[-1].tied
        assert head.bars[0].notes[-1].onset == Fraction(7, 2)

    def test_advanced_goes_home_from_a_half_step_above_in_bar_7_only(self, lamplighter):
        head = lamplighter.level("advanced").head
        home = head.key.tonic.pitch_class
        last = {n: head.bars[head.index_of(n)].chords[-1].symbol for n in (7, 15)}
        assert last[7].root.pitch_class == (home + 1) % 12
        assert last[15].root.pitch_class == (home + 7) % 12
        assert len(last[15].degrees) > 2

    def test_advanced_leaves_a_whole_chorus_open(self, lamplighter):
        route = lamplighter.level("advanced").route
        assert sum(bar.kind == "solo" and not bar.melody for bar in route.bars) == 32


class TestTheGirlILeftBehindMe:
    def test_the_pick_up_is_two_quick_notes_on_the_fourth_beat(self, girl):
        pickup = girl.tune.bars[0]
        assert pickup.pickup
        assert pickup.length == 1
        assert len(pickup.notes) == 2

    def test_the_second_strain_has_one_long_pick_up_note_and_climbs(self, girl):
        second = next(b for b in girl.tune.bars[1:] if b.pickup)
        assert len(second.notes) == 1
        assert second.notes[0].duration == 1
        assert steps(girl.tune, 9) == sorted(steps(girl.tune, 9))
        assert steps(girl.tune, 9)[0] < steps(girl.tune, 1)[0]

    def test_each_strain_of_eight_bars_is_played_twice(self, girl):
        assert girl.form.pattern == "AABB"
        assert {section.bar_count for section in girl.form.sections} == {8}

    def test_both_strains_end_with_the_same_four_bars(self, girl):
        for first, second in zip(range(5, 9), range(13, 17), strict=True):
            assert melody(girl.tune, first) == melody(girl.tune, second)

    def test_bar_5_is_bar_1_and_bar_11_is_bar_9(self, girl):
        assert melody(girl.tune, 5) == melody(girl.tune, 1)
        assert melody(girl.tune, 11) == melody(girl.tune, 9)

    def test_bars_2_and_6_differ_in_their_last_note(self, girl):
        second, sixth = melody(girl.tune, 2), melody(girl.tune, 6)
        assert second[:-1] == sixth[:-1]
        assert second[-1] != sixth[-1]

    def test_it_has_the_three_main_chords_and_one_more_in_bar_12(self, girl):
        tonic = girl.tune.key.tonic.pitch_class
        others = {
            (bar.number, event.symbol.root.pitch_class)
            for bar in girl.tune.bars
            for event in bar.chords
            if (event.symbol.root.pitch_class - tonic) % 12 not in (0, 5, 7)
        }
        assert {number for number, _ in others} == {12}

    def test_intermediate_has_turns_in_bars_6_and_14(self, girl):
        head = girl.level("intermediate").head
        turned = {b.number for b in head.bars if any("turn" in n.marks for n in b.notes)}
        assert turned == {6, 14}

    def test_intermediate_plays_the_first_strain_twice_without_melody(self, girl):
        bars = girl.level("intermediate").route.bars
        silent = [bar for bar in bars if not bar.melody and not bar.is_pickup]
        assert len(silent) == 16
        assert {bar.section for bar in silent} == {"A"}
