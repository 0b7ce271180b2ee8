from __future__ import annotations

from fractions import Fraction

import pytest

from kit.errors import NotationError
from kit.tune.abc._fields import default_unit, parse_key, parse_meter, parse_tempo
from kit.tune.abc.read import read_abc
from kit.tune.model import Meter, Tune
from kit.tune.pitch import Key
from kit.tune.sounding import sounding
from kit.tune.unfold import playing_order


def read(text: str, **options) -> Tune:
    return read_abc(text, source="tune.abc", **options)


def pitches(tune: Tune) -> list[str]:
    return [str(n.pitch) for bar in tune.bars for n in bar.notes if n.pitch]


def durations(tune: Tune) -> list[Fraction]:
    return [note.duration for bar in tune.bars for note in bar.notes]


def test_header_is_read(abc) -> None:
    text = "X:7\nT:Caf\\'e Waltz\nC:Someone\nR:waltz\nM:3/4\nL:1/4\nQ:1/4=96\nK:Bb\nBcd|\n"
    tune = read(text)
    assert (tune.title, tune.composer, tune.feel) == ("Café Waltz", "Someone", "waltz")
    assert (tune.tempo_qpm, tune.meter, tune.key) == (96, Meter(3, 4), Key(-2))


def test_octave_marks_and_lengths(abc) -> None:
    tune = read(abc("C,2C2c2c'2|C/D/E//F// G3/2A/ B4-B/|"))
    assert pitches(tune)[:4] == ["C3", "C4", "C5", "C6"]
    assert durations(tune)[4:8] == [Fraction(1, 4)] * 2 + [Fraction(1, 8)] * 2


def test_accidentals_hold_to_the_bar_line_in_all_octaves(abc) -> None:
    tune = read(abc("^F2f2=f2F2|f8|", key="C"))
    assert pitches(tune) == ["F♯4", "F♯5", "F5", "F4", "F5"]


def test_accidentals_hold_over_a_tie(abc) -> None:
    assert pitches(read(abc("^f8-|f4f4|"))) == ["F♯5", "F♯5", "F5"]


def test_propagation_can_be_switched_off(abc) -> None:
    tune = read("%%propagate-accidentals not\n" + abc("^f4f4|"))
    assert pitches(tune) == ["F♯5", "F5"]


@pytest.mark.parametrize(
    ("field", "key"),
    [
        ("Am", Key(0, "minor")), ("A minor", Key(0, "minor")), ("F#m", Key(3, "minor")),
        ("D dorian", Key(0, "dorian")), ("Ddor", Key(0, "dorian")),
        ("Gmix", Key(0, "mixolydian")), ("E phr", Key(0, "phrygian")),
        ("F lydian", Key(0, "lydian")), ("Bloc", Key(0, "locrian")),
        ("C", Key(0)), ("Eb maj", Key(-3)), ("Hp", Key(2, "mixolydian")), ("none", Key(0)),
        ("G clef=bass", Key(1)),
    ],
)  # fmt: skip
def test_keys_in_all_modes(field: str, key: Key) -> None:
    assert parse_key(field).key == key


def test_key_field_sets_accidentals_of_its_own(abc) -> None:
    assert pitches(read(abc("g4c4|", key="Am ^g")))[0] == "G♯5"


@pytest.mark.parametrize(
    ("field", "qpm"),
    [("1/4=120", 120), ("3/8=60", 90), ("120", 60), ('"Easy" 1/2=80', 160)],
)
def test_tempo_fields(field: str, qpm: float) -> None:
    assert parse_tempo(field, Fraction(1, 8)).tempo_qpm == qpm


def test_meters_and_default_lengths() -> None:
    assert parse_meter("C|") == Meter(2, 2)
    assert parse_meter("2+3/8") == Meter(5, 8)
    assert parse_meter("none") is None
    assert default_unit(Meter(2, 4)) == Fraction(1, 16)
    assert default_unit(Meter(6, 8)) == Fraction(1, 8)


def test_broken_rhythm(abc) -> None:
    tune = read(abc("A>B c<d e>>f g2|"))
    eighth = Fraction(1, 2)
    assert durations(tune)[:6] == [
        eighth * 3 / 2, eighth / 2, eighth / 2, eighth * 3 / 2, eighth * 7 / 4, eighth / 4,
    ]  # fmt: skip


def test_tuplets_by_meter_and_by_number(abc) -> None:
    tune = read(abc("(3ABc d2 (5:4:5ABcde|"))
    assert durations(tune)[0] == Fraction(1, 3)
    assert tune.bars[0].notes[0].tuplet == (3, 2)
    assert tune.bars[0].notes[4].tuplet == (5, 4)
    compound = read(abc("(2AB A3|", meter="6/8"))
    assert compound.bars[0].notes[0].tuplet == (2, 3)


def test_lengths_without_a_symbol_are_tied(abc) -> None:
    tune = read(abc("A5B3|"))
    first, second, third = tune.bars[0].notes
    assert (first.duration, second.duration, first.tied) == (2, Fraction(1, 2), True)
    assert [s.duration for s in sounding(tune.bars)] == [Fraction(5, 2), third.duration]


def test_grace_notes_slurs_and_marks(abc) -> None:
    tune = read(abc("{/cd}(!accent!e2 .f2) TA2 !fermata!B2|"))
    first, second, third, fourth = tune.bars[0].notes
    assert [str(g.pitch) for g in first.graces] == ["C5", "D5"]
    assert first.graces[0].slash
    assert (first.slurs_started, second.slurs_ended) == (1, 1)
    assert (first.marks, second.marks) == (("accent",), ("staccato",))
    assert (third.marks, fourth.marks) == (("trill-mark",), ("fermata",))


def test_a_tie_behind_a_grace_note_ties_nothing(abc) -> None:
    tune = read(abc("c4B2B2|{c}-B2AF G4|"))
    assert [note.tied for bar in tune.bars for note in bar.notes] == [False] * 7


def test_a_label_within_a_bar_parts_it(abc) -> None:
    tune = read(abc("c8|d4\nP:B\ne4|f8|]"))
    assert [(bar.number, bar.pickup, bar.section) for bar in tune.bars] == [
        (1, False, ""), (2, False, ""), (2, True, "B"), (3, False, ""),
    ]  # fmt: skip


def test_of_a_chord_of_notes_the_top_is_kept_and_told(abc) -> None:
    tune = read(abc("[CEG]4[A,C]4|"))
    assert pitches(tune) == ["G4", "C4"]
    assert any("highest" in notice for notice in tune.notices)


def test_chord_symbols_stand_above_their_notes(abc) -> None:
    tune = read(abc('"Cm7"c4"F7b9"A4|"^rit."B8|'))
    assert [(e.onset, str(e.symbol)) for e in tune.bars[0].chords] == [
        (0, "Cm7"),
        (2, "F7♭9"),
    ]
    assert [word.text for word in tune.bars[1].words] == ["rit."]


def test_unreadable_chord_is_an_error_with_its_bar(abc) -> None:
    with pytest.raises(NotationError, match=r'tune\.abc, bar 2: in the chord "C7xyz"'):
        read(abc('c8|"C7xyz"c8|'))


def test_pickup_is_bar_0_and_repeats_unfold(abc) -> None:
    tune = read(abc("G2|:c8|d8|1e8:|2f8|]"))
    assert [bar.number for bar in tune.bars] == [0, 1, 2, 3, 4]
    assert tune.has_pickup
    assert [bar.endings for bar in tune.bars] == [(), (), (), (1,), (2,)]
    assert playing_order(tune) == (0, 1, 2, 3, 1, 2, 4)
    assert tune.bars[-1].barline == "final"


def test_pickup_into_a_section_bears_the_number_before_it(abc) -> None:
    tune = read(abc("P:A\nG2|c8|d6||\nP:B\nG2|e8|f6|]"))
    assert [(bar.number, bar.pickup) for bar in tune.bars] == [
        (0, True), (1, False), (2, False), (2, True), (3, False), (4, False),
    ]  # fmt: skip
    assert [bar.section for bar in tune.bars] == ["A", "", "", "B", "", ""]
    assert [bar.line_break for bar in tune.bars] == [
        False,
        False,
        False,
        True,
        False,
        False,
    ]


def test_endings_that_begin_within_a_bar(abc) -> None:
    tune = read(abc("|:c8|d4[1e4:|[2f4|]"))
    assert [(bar.number, bar.pickup) for bar in tune.bars[1:]] == [
        (2, False), (2, True), (2, True),
    ]  # fmt: skip


def test_double_colons_close_and_open(abc) -> None:
    tune = read(abc("c8::d8:|"))
    assert (tune.bars[0].repeat_times, tune.bars[1].repeat_start) == (2, True)
    assert tune.bars[1].repeat_times == 2


def test_three_times(abc) -> None:
    assert read(abc("|::c8|d8::|")).bars[1].repeat_times == 3


def test_jumps_from_decorations_and_texts(abc) -> None:
    tune = read(abc('!segno!c8|!coda!d8|"^D.S. al Coda"e8||!coda!f8|]'))
    assert [bar.jumps for bar in tune.bars] == [
        ("segno",), ("to coda",), ("D.S. al coda",), ("coda",),
    ]  # fmt: skip
    assert playing_order(tune) == (0, 1, 2, 0, 1, 3)


def test_fine_and_da_capo(abc) -> None:
    tune = read(abc("c8|d8 !fine!||e8|f8 !D.C.!|]"))
    assert playing_order(tune) == (0, 1, 2, 3, 0, 1)


def test_key_meter_and_length_change_within_the_tune(abc) -> None:
    tune = read(abc("c8|[M:3/4][K:G]f6|[L:1/4]f3|"))
    assert [str(bar.meter) for bar in tune.bars] == ["4/4", "3/4", "3/4"]
    assert pitches(tune) == ["C5", "F♯5", "F♯5"]


def test_lyrics_of_two_verses(abc) -> None:
    tune = read(
        abc("C2D2E2F2|G4z2A2|\nw:Sing-ing a song _|now * \nw:Play-ing the horn|too,~then")
    )
    words = [note.lyrics for bar in tune.bars for note in bar.notes if note.pitch]
    assert words[0] == ("Sing-", "Play-")
    assert words[1] == ("ing", "ing")
    assert words[3] == ("song", "horn")
    assert words[4][1] == "too, then"


def test_multi_bar_rests_and_free_meter(abc) -> None:
    assert len(read(abc("c8|Z3|d8|")).bars) == 5
    free = read(abc("c3|d4e2|f|", meter="none"))
    assert [str(bar.meter) for bar in free.bars] == ["3/8", "3/4", "1/8"]
    assert any("free" in notice for notice in free.notices)


def test_continued_lines_and_comments(abc) -> None:
    tune = read(abc("c4\\\n d4|% a comment | c8\ne8|"))
    assert len(tune.bars) == 2
    assert tune.bars[1].line_break


def test_bar_lines_missing_at_line_ends_are_added(abc) -> None:
    tune = read(abc("c8|d8\ne8|f8"))
    assert [bar.number for bar in tune.bars] == [1, 2, 3, 4]
    assert any("Bar lines" in notice for notice in tune.notices)


def test_first_of_several_voices_is_read(abc) -> None:
    tune = read('X:1\nM:4/4\nL:1/8\nV:1 name="Lead"\nV:2\nK:C\nV:1\nc8|d8|\nV:2\nC8|D8|\n')
    assert pitches(tune) == ["C5", "D5"]
    assert tune.part_name == "Lead"
    assert any("voice" in notice for notice in tune.notices)


def test_a_transposing_voice_is_read_as_it_sounds() -> None:
    tune = read("X:1\nM:4/4\nL:1/8\nK:D transpose=-2\nd8|e8|\n")
    assert pitches(tune) == ["C5", "D5"]


def test_tunes_are_chosen_by_number() -> None:
    book = "X:1\nT:One\nM:4/4\nL:1/1\nK:C\nC|\n\nX:5\nT:Five\nM:4/4\nL:1/1\nK:C\nD|\n"
    assert read(book).title == "One"
    assert read(book, tune_number=5).title == "Five"
    with pytest.raises(NotationError, match=r"no tune X:9 in it; .* has: 1, 5"):
        read(book, tune_number=9)


def test_a_tune_that_was_asked_for_needs_no_notice_that_there_are_others() -> None:
    book = "X:1\nM:4/4\nL:1/1\nK:C\nC|\n\nX:5\nM:4/4\nL:1/1\nK:C\nD|\n"
    assert read(book).notices == ("The file holds 2 tunes; this is X:1.",)
    assert read(book, tune_number=1).notices == ()


@pytest.mark.parametrize(
    ("music", "message"),
    [
        ("c8|d9|e8|", r"bar 2: 9 eighths in a bar of 4/4; take out 1 eighth"),
        ("c8|d7|e8|f8|", r"bar 2: only 7 eighths in a bar of 4/4; add 1 eighth"),
        ("c8|d4/0|", "not a note length"),
        ("z8|", "no notes"),
        ("c8|[M:9]d8|", "the field M: cannot be read"),
        ("c8|[K:Q]d8|", "the field K: cannot be read"),
        ("c8|Z9999|", "a rest of 9999 bars"),
    ],
)
def test_wrong_music_is_one_sentence_with_its_bar(abc, music: str, message: str) -> None:
    with pytest.raises(NotationError, match=message) as caught:
        read(abc(music))
    assert str(caught.value).startswith("tune.abc")
    assert "\n" not in str(caught.value)


def test_uneven_bars_can_be_kept(abc) -> None:
    tune = read(abc("c8|d9|e8|"), keep_uneven=True)
    assert str(tune.bars[1].meter) == "9/8"
    assert any("did not add up" in notice for notice in tune.notices)


def test_what_is_left_out_is_told(abc) -> None:
    tune = read(abc("!editorial!c4 &e8|!8va(!d8|\nW:more words"))
    told = " ".join(tune.notices)
    assert "editorial" in told
    assert "one end of a hairpin or octave sign" in told
    assert "second voice" in told
    assert "W:" in told


def test_script_in_a_title_stays_text(abc) -> None:
    tune = read("X:1\nT:<script>alert(1)</script>\u202e\x07\nM:4/4\nL:1/1\nK:C\nC|\n")
    assert tune.title == "<script>alert(1)</script>"
