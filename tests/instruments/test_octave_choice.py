"""In which octave a part lies, what is moved out of it, and where levels may differ."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheets import bar, sheet

from kit.instruments._moves import move_phrases, moved_count, octave
from kit.instruments._phrases import phrases, rows
from kit.instruments.table import Instrument, Range, all_instruments, instrument
from kit.instruments.transposition import octaves_of_levels, to_concert, write_part
from kit.tune._loose_ends import without_loose_ends
from kit.tune._notices import Notices
from kit.tune.model import Bar, Note, Tune, transposed
from kit.tune.pitch import Pitch

LEVELS = ("beginner", "intermediate", "advanced")


def ends(part):
    pitches = [n.pitch for b in part.tune.bars for n in b.notes if n.pitch is not None]
    return f"{min(pitches)} to {max(pitches)}"


def of_levels(tune, slug):
    return octaves_of_levels([(tune, level) for level in LEVELS], instrument(slug))


def phrases_of(bars):
    return [phrase for row in rows(bars) for phrase in phrases(bars, row)]


def whistle(low, high):
    return Instrument.from_row(
        "whistle", {"name": "Whistle", "written": "P1", "range": [low, high]}
    )


# Where it lies


def test_a_tune_of_a_sixth_lies_in_the_middle_of_the_tenor():
    tune = sheet("C4 D4 E4 F4", "G4 A4 G4 E4", "C4 E4 G4 A4", "G4 E4 D4 C4")
    part = write_part(tune, instrument("tenor-sax"), level="beginner")
    assert ends(part) == "D4 to B4"
    assert len(set(of_levels(tune, "tenor-sax"))) == 1


def test_a_blues_does_not_lie_high_for_a_beginner_on_alto():
    """From C sharp 5 to D6 it would at the usual octave."""
    tune = sheet("F4 A4 C5 D5", "Eb5 D5 C5 A4", "F5 D5 C5 A4", "F4 E4 F4 r", key="F major")
    (beginner, *_) = of_levels(tune, "alto-sax")
    part = write_part(tune, instrument("alto-sax"), level="beginner", octave_shift=beginner)
    assert ends(part) == "C♯4 to D5"


def test_an_octave_with_every_note_comfortable_is_taken():
    """One high note among many: the middle alone would leave it where it is."""
    tune = sheet(*["E4 G4 E4 G4"] * 12, "G5 E5 C5 C4")
    part = write_part(tune, instrument("flute"), level="intermediate")
    assert (ends(part), part.uncomfortable) == ("C5 to G6", ()) or not part.uncomfortable


def test_a_score_stays_where_its_sheet_is():
    assert write_part(sheet("G3 A3 B3 G3"), instrument("concert")).octave_shift == 0


# What is moved


def test_one_note_too_far_is_moved_alone():
    tune = sheet("C5 D5 E5 F5", "E5 D5 B4 D5", "E5 F5 G5 F5", "E5 D5 C5 B5")
    part = write_part(tune, whistle("C5", "B5"))
    (move,) = part.moves
    assert (move.first, move.last, move.octaves) == ((1, 2), (1, 2), 1)
    assert (
        "Bar 2: this note an octave higher than the rest of the phrase, because it would "
        "leave the range of the instrument, C5 to B5."
    ) in part.reasons
    assert to_concert(part) == tune


def test_its_tied_symbols_go_with_a_note():
    tune = sheet("C5 D5 E5 B4", "B4 D5 E5 B5")
    notes = tune.bars[0].notes
    tied = replace(tune.bars[0], notes=(*notes[:3], replace(notes[3], tied=True)))
    part = write_part(replace(tune, bars=(tied, tune.bars[1])), whistle("C5", "B5"))
    (move,) = part.moves
    assert (move.first, move.last) == ((0, 3), (1, 0))


def test_a_phrase_without_rests_is_cut_where_it_breathes():
    """Behind the long note of the fourth bar, not at the bar line of the fifth."""
    line = ["C5 D5 E5 F5"] * 3
    held = Bar(
        4,
        (
            Note(Fraction(0), Fraction(3), Pitch.parse("C5")),
            Note(Fraction(3), Fraction(1), Pitch.parse("G4")),
        ),
    )
    after = ["C5 D5 E5 F5"] * 4
    tune = sheet(*line, *["r r r r"], *after)
    tune = replace(tune, bars=(*tune.bars[:3], held, *tune.bars[4:]))
    first, second = phrases_of(tune.bars)
    assert second[-1].bar == 7
    assert (first[-1].bar, first[-1].position) == (3, 0)
    assert (second[0].bar, second[0].position) == (3, 1)


@pytest.mark.parametrize(
    "more", [{"barline": "double"}, {"repeat_times": 2}], ids=["double bar", "repeat"]
)
def test_the_end_of_a_section_is_the_end_of_a_phrase(more):
    bars = (bar(1, "C5 D5"), bar(2, "E5 F5", **more), bar(3, "G5 F5"))
    assert [len(phrase) for phrase in phrases_of(bars)] == [4, 2]


def test_a_breath_mark_is_the_end_of_a_phrase_and_a_tie_is_not():
    (one,) = (bar(1, "C5 D5 E5 F5"),)
    breath = replace(one.notes[1], marks=("breath-mark",))
    marked = replace(one, notes=(one.notes[0], breath, *one.notes[2:]))
    assert [len(phrase) for phrase in phrases_of((marked,))] == [2, 2]
    long = [bar(n, "C5", barline="double") for n in range(1, 9)]
    tied = [replace(b, notes=(replace(b.notes[0], tied=True),)) for b in long]
    assert len(list(phrases_of(tied))) == 1


PITCHES = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(3, 6)
)
NOTES = st.tuples(st.none() | PITCHES, st.booleans())


@st.composite
def tunes(draw):
    """Bars of quarter notes over four octaves, with rests and ties."""
    bars = []
    for number in range(1, draw(st.integers(1, 8)) + 1):
        notes = tuple(
            Note(Fraction(i), Fraction(1), pitch, tied=tied and pitch is not None)
            for i, (pitch, tied) in enumerate(draw(st.lists(NOTES, min_size=4, max_size=4)))
        )
        bars.append(Bar(number, notes))
    # As every reader does: a tie to another pitch is none.
    return Tune("Any", without_loose_ends(bars, Notices()))


def moved_share(part):
    """Give how many sounds were moved, and how many there are."""
    # On the sheet: a note may be moved to where a loose tie before it points.
    every = [placed for row in rows(to_concert(part).bars) for placed in row]
    return moved_count(every, part.moves), sum(not placed.is_held for placed in every)


@settings(deadline=None, max_examples=40)
@given(tunes(), st.sampled_from(all_instruments()), st.sampled_from(LEVELS))
def test_no_octave_is_taken_that_moves_more_notes_than_another(tune, player, level):
    """More than one in sixteen, that is: a note or two may be moved for comfort."""
    moved, count = moved_share(write_part(tune, player, level=level))
    others = [
        moved_share(write_part(tune, player, level=level, octave_shift=octaves))[0]
        for octaves in range(-3, 4)
    ]
    assert moved <= max(1, count // 16, min(others))


@settings(deadline=None, max_examples=40)
@given(tunes(), st.sampled_from(all_instruments()), st.sampled_from(LEVELS))
def test_what_is_moved_keeps_its_name(tune, player, level):
    part = write_part(tune, player, level=level)
    plain = write_part(
        tune, replace(player, range_written=Range(Pitch("C", 0, -4), Pitch("C", 0, 14)))
    )
    names = [
        [note.pitch.name for b in one.tune.bars for note in b.notes if note.pitch]
        for one in (part, plain)
    ]
    assert names[0] == names[1]
    assert to_concert(part) == tune


@settings(deadline=None, max_examples=40)
@given(tunes(), st.sampled_from(all_instruments()), st.integers(-2, 2))
def test_it_does_not_matter_in_which_octave_the_sheet_was_put_down(tune, player, octaves):
    if player.family == "score":
        return
    elsewhere = transposed(tune, octave(octaves))
    for level in LEVELS:
        one, other = (write_part(t, player, level=level) for t in (tune, elsewhere))
        assert one.tune.bars == other.tune.bars
    there, here = (
        octaves_of_levels([(t, level) for level in LEVELS], player)
        for t in (elsewhere, tune)
    )
    silent = not any(note.pitch for b in tune.bars for note in b.notes)
    assert silent or tuple(count + octaves for count in there) == here


@settings(deadline=None, max_examples=40)
@given(tunes(), st.integers(0, 12))
def test_everything_comes_into_a_range_of_an_octave_or_more(tune, more):
    full = Range(Pitch.parse("C4"), Pitch.parse("B4") + octave(0))
    full = Range(full.low, Pitch.parse("B4") if more < 6 else Pitch.parse("B5"))
    moves = move_phrases(tune.bars, full)
    for index, each in enumerate(tune.bars):
        for position, note in enumerate(each.notes):
            if note.pitch is None:
                continue
            place = (index, position)
            by = sum(m.octaves for m in moves if m.first <= place <= m.last)
            assert full.low.midi <= note.pitch.midi + 12 * by <= full.high.midi


# Levels


def test_levels_share_an_octave_that_is_comfortable_for_all():
    tune = sheet("C4 E4 G4 C5", "C5 G4 E4 C4")
    for player in all_instruments():
        found = of_levels(tune, player.slug)
        parts = [
            write_part(tune, player, level=level, octave_shift=count)
            for level, count in zip(LEVELS, found, strict=True)
        ]
        if not any(part.uncomfortable for part in parts):
            assert len(set(found)) == 1, player.slug


def test_a_beginner_leaves_the_octave_of_the_others_where_that_serves():
    """The upper levels go down to what only the low octave of their sheets leaves out."""
    plain = sheet("G4 A4 B4 C5", "D5 C5 B4 A4")
    wide = sheet("G4 A4 B4 C5", "D5 C5 B4 F3")
    player = instrument("alto-sax")
    found = octaves_of_levels(
        [(plain, "beginner"), (wide, "intermediate"), (wide, "advanced")], player
    )
    assert found[1] == found[2] == 0
    assert found[0] == -1
    low = write_part(plain, player, level="beginner", octave_shift=-1)
    assert not low.uncomfortable


# Keys


@pytest.mark.parametrize(
    ("first", "then", "slug", "written"),
    [
        ("A major", "E major", "alto-sax", "Db major"),
        ("E major", "B major", "trumpet", "Db major"),
        ("Db major", "Gb major", "flute", "Gb major"),
        ("Bb minor", "Ab minor", "flute", "G# minor"),
    ],
)
def test_a_key_in_mid_tune_never_has_seven_accidentals(first, then, slug, written):
    bars = [bar(n, "C5 E5 G5 C5", first if n < 9 else then) for n in range(1, 13)]
    tune = Tune("Sheet", tuple(bars))
    part = write_part(tune, instrument(slug))
    assert part.tune.bars[-1].key.name == written
    assert all(abs(b.key.fifths) <= 6 for b in part.tune.bars)
    assert to_concert(part) == tune


def test_who_asks_for_sharps_gets_all_seven():
    bars = [bar(n, "C5 E5", "A major" if n < 9 else "E major") for n in range(1, 13)]
    tune = Tune("Sheet", tuple(bars))
    part = write_part(tune, instrument("alto-sax"), prefer="sharps")
    assert part.tune.bars[-1].key.name == "C# major"
