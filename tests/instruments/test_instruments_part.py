"""Parts: transposition, octave fit, spelling, and the way back."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.errors import LessonError
from kit.instruments._spelling import plain_chord, plain_key, plain_name
from kit.instruments.table import all_instruments, instrument
from kit.instruments.transposition import key_for, to_concert, write_part
from kit.tune.chord import ChordSymbol
from kit.tune.marks import in_written_order
from kit.tune.model import Bar, ChordEvent, Grace, Note, Tune
from kit.tune.pitch import Interval, Key, NoteName, Pitch


@pytest.fixture
def make_sheet():
    """Build a tune of quarter notes: one text of pitches per bar, ``r`` for a rest."""

    def make(*bars, key="C major", **more):
        made = []
        for number, text in enumerate(bars, start=1):
            notes = tuple(
                Note(Fraction(i), Fraction(1), None if name == "r" else Pitch.parse(name))
                for i, name in enumerate(text.split())
            )
            made.append(Bar(number, notes, key=Key.parse(key)))
        return Tune("Sheet", tuple(made), **more)

    return make


NAMES = st.builds(NoteName, st.sampled_from("CDEFGAB"), st.integers(-2, 2))
PITCHES = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(3, 5)
)
KEYS = st.builds(Key, st.integers(-7, 7), st.sampled_from(["major", "minor", "dorian"]))
SIGNS = st.sets(st.sampled_from(["turn", "up-bow", "stopped", "staccato"]))
NOTES = st.tuples(st.none() | PITCHES, st.booleans(), st.lists(PITCHES, max_size=2), SIGNS)


@st.composite
def sheets(draw):
    """Any bars of quarter notes, chords and keys."""
    bars = []
    for number in range(1, draw(st.integers(1, 4)) + 1):
        notes = tuple(
            Note(
                Fraction(i),
                Fraction(1),
                pitch,
                tied=tied and pitch is not None,
                graces=tuple(map(Grace, graces)) if pitch else (),
                marks=in_written_order(sorted(signs)),
            )
            for i, (pitch, tied, graces, signs) in enumerate(
                draw(st.lists(NOTES, min_size=4, max_size=4))
            )
        )
        chords = tuple(
            ChordEvent(Fraction(2 * i), ChordSymbol(root, "dominant", (), bass))
            for i, (root, bass) in enumerate(
                draw(st.lists(st.tuples(NAMES, st.none() | NAMES), max_size=2))
            )
        )
        bars.append(Bar(number, notes, chords, key=draw(KEYS)))
    return Tune("Any", tuple(bars))


def midi(tune):
    return [note.pitch.midi for bar in tune.bars for note in bar.notes if note.pitch]


@settings(deadline=None)
@given(
    sheets(), st.sampled_from(all_instruments()), st.sampled_from(["beginner", "advanced"])
)
def test_a_part_goes_back_to_its_sheet(sheet, horn, level):
    assert to_concert(write_part(sheet, horn, level=level)) == sheet


@settings(deadline=None)
@given(sheets(), st.sampled_from(all_instruments()))
def test_a_part_sounds_like_its_sheet_but_for_octaves(sheet, horn):
    part = write_part(sheet, horn)
    up = horn.written_above_concert.semitones
    assert [(note - up) % 12 for note in midi(part.tune)] == [n % 12 for n in midi(sheet)]
    assert all(abs(bar.key.fifths) <= 7 for bar in part.tune.bars)


@settings(deadline=None)
@given(sheets(), st.sampled_from(all_instruments()))
def test_without_respelling_a_part_is_plain_transposition(sheet, horn):
    part = write_part(sheet, horn)
    mended = {(r.bar, r.position, r.grace) for r in part.respelled}
    moved = [
        (move.first, move.last, Interval(7 * move.octaves, 12 * move.octaves))
        for move in part.moves
    ]
    for index, (old, new) in enumerate(zip(sheet.bars, part.tune.bars, strict=True)):
        for position, (a, b) in enumerate(zip(old.notes, new.notes, strict=True)):
            if a.pitch is None:
                assert b.pitch is None
                continue
            plain = a.pitch + part.bar_intervals[index]
            for first, last, octaves in moved:
                if first <= (index, position) <= last:
                    plain += octaves
            if (index, position, None) in mended:
                assert b.pitch != plain
                assert b.pitch.midi == plain.midi
            else:
                assert b.pitch == plain


@given(NAMES, KEYS)
def test_a_plain_name_sounds_the_same_and_is_plain_or_the_keys_own(name, key):
    plain = plain_name(name, key)
    assert plain.pitch_class == name.pitch_class
    assert plain_name(plain, key) == plain
    assert abs(plain.alter) < 2 or plain == name


@given(NAMES, st.none() | NAMES, KEYS)
def test_a_respelled_chord_has_the_same_notes(root, bass, key):
    symbol = ChordSymbol(root, "minor-seventh", (), bass)
    assert plain_chord(symbol, key).pitch_classes == symbol.pitch_classes


@pytest.mark.parametrize(
    ("name", "key", "plain"),
    [
        ("Cb", "C minor", "B"),
        ("Cb", "Gb major", "C♭"),
        ("E#", "D major", "F"),
        ("E#", "F# minor", "E♯"),
        ("Fx", "G# minor", "F𝄪"),
        ("Fx", "B major", "G"),
        ("Bbb", "Eb major", "A"),
        ("F#", "C major", "F♯"),
        ("Gb", "C major", "G♭"),
    ],
)
def test_names_a_student_stumbles_over_are_mended(name, key, plain):
    assert str(plain_name(NoteName.parse(name), Key.parse(key))) == plain


@pytest.mark.parametrize(
    ("root", "key", "plain"),
    [("Fb", "Eb major", "E"), ("Abb", "Db major", "G"), ("B#", "C# minor", "B♯"),
     ("Db", "C minor", "D♭"), ("E#", "A major", "F")],
)  # fmt: skip
def test_chord_roots_are_mended(root, key, plain):
    symbol = ChordSymbol(NoteName.parse(root), "dominant")
    assert str(plain_chord(symbol, Key.parse(key))) == f"{plain}7"


def test_a_slash_bass_turns_with_its_root():
    symbol = ChordSymbol(NoteName.parse("Fb"), "major", (), NoteName.parse("Ab"))
    assert str(plain_chord(symbol, Key.parse("Ab major"))) == "E/G♯"


@pytest.mark.parametrize(
    ("slug", "concert", "written"),
    [
        ("alto-sax", "C minor", "A minor"),  # common practice
        ("tenor-sax", "C minor", "D minor"),
        ("baritone-sax", "C minor", "A minor"),
        ("trumpet", "F major", "G major"),
        ("alto-sax", "E major", "Db major"),  # 5 flats rather than 7 sharps
        ("clarinet", "B major", "Db major"),
        ("horn", "Bb major", "F major"),
        ("trombone", "Ab major", "Ab major"),
    ],
)
def test_written_keys(slug, concert, written):
    assert key_for(instrument(slug), Key.parse(concert)).name == written


@given(KEYS)
def test_the_plain_key_never_has_more_accidentals(key):
    assert abs(plain_key(key).fifths) <= min(abs(key.fifths), 6)


def test_a_key_beyond_repair_is_refused():
    with pytest.raises(ValueError, match="no spelling"):
        plain_key(Key(20))


def test_a_part_takes_the_key_with_fewest_accidentals(make_sheet):
    part = write_part(make_sheet("E4 G#4 B4 D#5", key="E major"), instrument("alto-sax"))
    assert part.tune.key.name == "Db major"
    assert [str(n.pitch) for n in part.tune.bars[0].notes] == ["D♭5", "F5", "A♭5", "C6"]
    assert any("D♭ major instead of C♯ major" in reason for reason in part.reasons)


def test_the_usual_octave_is_kept_where_it_lies_well(make_sheet):
    part = write_part(make_sheet("C4 E4 G4 C5"), instrument("alto-sax"))
    assert (part.octave_shift, part.interval.name) == (0, "M6")
    assert part.reasons == ("Alto saxophone: written a major sixth above concert pitch.",)


def test_a_high_tune_moves_down_for_baritone(make_sheet):
    part = write_part(make_sheet("C4 E4 G4 C5", "D5 D5 C5 B4"), instrument("baritone-sax"))
    assert part.octave_shift < 0
    assert not part.out_of_range
    assert not part.uncomfortable
    assert any("lower than usual" in reason for reason in part.reasons)


def test_one_high_note_in_a_long_tune_moves_nothing(make_sheet):
    bars = ["C4 E4 G4 C5"] * 8 + ["C4 E4 G4 F5"]
    part = write_part(make_sheet(*bars), instrument("alto-sax"), level="beginner")
    assert part.octave_shift == 0
    assert (8, 3) in part.uncomfortable


def test_only_the_phrase_that_leaves_the_range_is_moved(make_sheet):
    bars = ["D4 F4 A4 D5", "A5 G5 F5 r"] * 8 + ["A3 G3 F#3 r", "D4 E4 F4 G4"]
    sheet = make_sheet(*bars)
    part = write_part(sheet, instrument("oboe"))
    (move,) = part.moves
    assert (move.first, move.last, move.octaves) == ((16, 0), (16, 2), 1)
    assert not part.out_of_range
    assert any(
        reason.startswith("Bar 17: this phrase an octave higher") for reason in part.reasons
    )
    assert to_concert(part) == sheet


@pytest.mark.parametrize(
    ("slug", "kept"),
    [
        ("violin", ("up-bow", "stopped", "staccato")),
        ("trombone", ("stopped", "staccato")),
        ("alto-sax", ("staccato",)),
        ("concert", ("up-bow", "stopped", "staccato")),
    ],
)
def test_nobody_reads_the_signs_of_other_instruments(make_sheet, slug, kept):
    sheet = make_sheet("D4 E4 F4 G4")
    bar = sheet.bars[0]
    signed = replace(bar.notes[1], marks=("up-bow", "stopped", "staccato"))
    sheet = replace(
        sheet, bars=(replace(bar, notes=(bar.notes[0], signed, *bar.notes[2:])),)
    )
    part = write_part(sheet, instrument(slug))
    assert part.tune.bars[0].notes[1].marks == kept
    assert any("bowings" in reason for reason in part.reasons) == (kept != signed.marks)
    assert to_concert(part) == sheet


def test_a_teachers_own_instrument_reads_every_sign(make_sheet):
    sheet = make_sheet("D5 E5 F5 G5")
    bar = sheet.bars[0]
    notes = tuple(replace(note, marks=("up-bow",)) for note in bar.notes)
    sheet = replace(sheet, bars=(replace(bar, notes=notes),))
    own = replace(instrument("violin"), family="other")
    assert write_part(sheet, own).tune.bars[0].notes == notes


def test_a_grace_note_out_of_range_counts(make_sheet):
    sheet = make_sheet("C4 D4 E4 F4")
    notes = (replace(sheet.bars[0].notes[0], graces=(Grace(Pitch.parse("A3")),)),)
    bar = replace(sheet.bars[0], notes=notes + sheet.bars[0].notes[1:])
    part = write_part(
        replace(sheet, bars=(bar, *[bar] * 3)), instrument("soprano-recorder")
    )
    assert part.octave_shift == 2


def test_another_concert_key_can_be_asked_for(make_sheet):
    sheet = make_sheet("C5 E5 G5 C5")
    part = write_part(sheet, instrument("tenor-sax"), concert_key=Key.parse("Eb major"))
    assert part.tune.key.name == "F major"
    assert to_concert(part) == sheet
    assert part.sounding_interval.name == "-M9"


def test_a_key_of_the_other_mode_is_refused(make_sheet):
    with pytest.raises(LessonError, match="name a major key"):
        write_part(make_sheet("C5"), instrument("flute"), concert_key=Key.parse("A minor"))


@pytest.mark.parametrize(
    "tonic", ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"]
)
def test_all_twelve_keys_stay_within_six_accidentals(make_sheet, tonic):
    for horn in all_instruments():
        key = Key.parse(f"{tonic} major")
        part = write_part(make_sheet("C5 E5 G5 C5"), horn, concert_key=key)
        assert abs(part.tune.key.fifths) <= 6
        assert not part.respelled


def test_a_tie_keeps_its_spelling_over_a_change_of_key():
    flat = Bar(
        1,
        (Note(Fraction(0), Fraction(4), Pitch.parse("Cb5"), tied=True),),
        key=Key.parse("Gb major"),
    )
    plain = Bar(
        2, (Note(Fraction(0), Fraction(4), Pitch.parse("Cb5")),), key=Key.parse("C major")
    )
    sheet = Tune("Tie", (flat, plain))
    part = write_part(sheet, instrument("flute"))
    assert part.tune.bars[0].notes[0].pitch == part.tune.bars[1].notes[0].pitch
    assert to_concert(part) == sheet
