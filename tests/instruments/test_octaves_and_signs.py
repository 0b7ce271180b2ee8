"""Passages that change their octave, octave signs, and which key name is preferred."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sheets import bar, sheet

from kit.errors import LessonError
from kit.instruments._octave_signs import high_passages, without_octave_signs
from kit.instruments._passages import fold_row
from kit.instruments._phrases import Placed
from kit.instruments._spelling import keeps_function
from kit.instruments.table import Instrument, Range, instrument
from kit.instruments.transposition import to_concert, write_part
from kit.tune.model import Grace, Note, SpanEnd
from kit.tune.pitch import Key, Pitch

CALM = "C5 E5 G5 C5"


def narrow(low, high, **levels):
    """Give an instrument of few notes at concert pitch."""
    row = {"name": "Whistle", "written": "P1", "range": [low, high]}
    if levels:
        row["levels"] = levels
    return Instrument.from_row("whistle", row)


def kinds(part):
    return [(sign.first, sign.last, sign.kind) for sign in part.octave_signs]


# Passages of a phrase that fits in no octave


def test_a_phrase_that_fits_in_no_octave_changes_it_at_the_leap():
    tune = sheet("C5 D5 E5 F5", "C4 D4 E4 r", *[f"{CALM[:-3]} r"] * 4)
    part = write_part(tune, narrow("C5", "B5"))
    assert not part.out_of_range
    (move,) = part.moves
    assert (move.first, move.last, move.octaves, move.is_phrase) == (
        (1, 0),
        (1, 2),
        1,
        False,
    )
    assert to_concert(part) == tune
    assert any(
        "Bar 2: these notes an octave higher than the rest of the phrase, because they "
        "would leave the range of the instrument, C5 to B5." in reason
        for reason in part.reasons
    )


def test_a_whole_phrase_moves_where_it_can():
    part = write_part(sheet(*["C5 E5 G5 r"] * 6, "C4 D4 E4 r"), narrow("C5", "B5"))
    (move,) = part.moves
    assert move.is_phrase
    assert (move.first, move.last) == ((6, 0), (6, 2))


def test_a_note_that_fits_in_no_octave_is_reported():
    tune = sheet("C5 D5 E5 F#5", CALM)
    part = write_part(tune, narrow("G4", "E5"))
    assert part.out_of_range == ((0, 3),)
    assert to_concert(part) == tune


def row(*midi, durations=None, held=()):
    notes = []
    for place, number in enumerate(midi):
        length = Fraction(durations[place] if durations else 1)
        natural = {0: "C", 2: "D", 4: "E", 5: "F", 7: "G", 9: "A", 11: "B"}[number % 12]
        pitch = Pitch(natural, 0, number // 12 - 1)
        notes.append(Placed(0, place, Note(Fraction(place), length, pitch), place in held))
    return notes


C5_TO_B5 = Range(Pitch.parse("C5"), Pitch.parse("B5"))


def test_a_change_of_octave_prefers_a_leap_and_a_long_note():
    assert fold_row(row(72, 74, 67, 69, 71, 72), C5_TO_B5) == (0, 0, 1, 1, 1, 0)
    long = row(72, 71, 69, 67, durations=[1, 1, 1, 1])
    assert fold_row(long, C5_TO_B5) == (0, 1, 1, 1)


def test_a_tie_is_never_parted():
    tied = row(71, 71, 72, held=(1,))
    first, second, _ = fold_row(tied, C5_TO_B5)
    assert first == second == 1


@given(
    st.lists(st.sampled_from([48, 55, 60, 64, 67, 72, 76, 79, 84]), min_size=1, max_size=9)
)
def test_every_note_comes_into_a_range_of_an_octave(midi):
    folded = fold_row(row(*midi), C5_TO_B5)
    assert all(
        72 <= number + 12 * octaves <= 83
        for number, octaves in zip(midi, folded, strict=True)
    )


# Signs for the eye


def test_what_needs_five_ledger_lines_is_written_under_8va():
    tune = sheet(CALM, CALM, "G6 B6 G6 E6", CALM, CALM, CALM)
    part = write_part(tune, narrow("C4", "C7"))
    assert ((2, 0), (2, 3), "8va") in kinds(part)
    assert part.tune.bars[2].spans == (
        SpanEnd(Fraction(0), "8va", opens=True),
        SpanEnd(Fraction(4), "8va", opens=False),
    )
    assert part.tune.bars[2].notes[1].pitch == Pitch.parse("B6")
    assert any(reason.startswith("Bar 3: written under 8va") for reason in part.reasons)
    assert to_concert(part) == tune


@pytest.mark.parametrize(
    ("clef", "high", "fine"),
    [
        ("treble", "B6", "A6"),
        ("bass", "D5", "C5"),
        ("alto", "C6", "B5"),
        ("treble-8", "B5", "A5"),
    ],
)
def test_how_high_is_too_high_depends_on_the_clef(clef, high, fine):
    assert high_passages((bar(1, f"{high} r"),), clef)
    assert not high_passages((bar(1, f"{fine} r"),), clef)


def test_a_concert_part_keeps_the_octave_signs_of_its_sheet_and_others_do_not():
    spans = (
        SpanEnd(Fraction(0), "8va", opens=True),
        SpanEnd(Fraction(0), "crescendo", opens=True),
        SpanEnd(Fraction(4), "8va", opens=False),
        SpanEnd(Fraction(4), "crescendo", opens=False),
    )
    tune = replace(sheet("C5 E5 G5 C5"), bars=(bar(1, CALM, spans=spans),))
    concert = write_part(tune, instrument("concert"), octave_shift=0)
    assert concert.tune.bars[0].spans == spans
    alto = write_part(tune, instrument("alto-sax"))
    assert {end.kind for end in alto.tune.bars[0].spans} == {"crescendo"}
    assert to_concert(alto) == to_concert(concert) == tune
    assert without_octave_signs(tune.bars)[0].spans == (spans[1], spans[3])


# Signs for the player

LEVELS = {"beginner": ["C4", "G5"], "intermediate": ["C4", "C6"]}


def test_a_passage_above_the_level_may_be_played_lower():
    tune = sheet(*[CALM] * 8, "r G5 r r", "C6 B5 A5 r", *[CALM] * 4)
    whistle = narrow("C4", "C7", **LEVELS)
    part = write_part(tune, whistle, level="beginner", octave_shift=0)
    assert kinds(part) == [((9, 0), (9, 2), "optional 8vb")]
    assert part.tune.bars[9].notes[0].pitch == Pitch.parse("C6")
    assert any(
        "Bar 10: may be played an octave lower, as the sign says, because it leaves the "
        "beginner range, C4 to G5." in reason
        for reason in part.reasons
    )
    assert to_concert(part) == tune
    assert not write_part(
        tune, narrow("C4", "C7", **LEVELS), level="intermediate"
    ).octave_signs


def test_a_single_high_note_gets_no_sign():
    tune = sheet(*[CALM] * 8, "C5 C6 C5 r", *[CALM] * 4)
    assert not write_part(tune, narrow("C4", "C7", **LEVELS), level="beginner").octave_signs


def test_where_much_is_too_high_there_is_no_sign_at_all():
    tune = sheet(*["C5 D5 E5 r", "C6 B5 A5 r"] * 3)
    part = write_part(tune, narrow("C4", "C7", **LEVELS), level="beginner", octave_shift=0)
    assert not part.octave_signs
    assert part.uncomfortable


def test_grace_notes_count_for_a_sign():
    graced = bar(10, "F5 E5 G5 r")
    first = replace(graced.notes[0], graces=(Grace(Pitch.parse("A5")),))
    graced = replace(graced, notes=(first, *graced.notes[1:]))
    tune = replace(sheet(), bars=(*sheet(*["C5 E5 G5 r"] * 9).bars, graced))
    part = write_part(tune, narrow("C4", "C7", **LEVELS), level="beginner", octave_shift=0)
    assert [sign.kind for sign in part.octave_signs] == ["optional 8vb"]


# Sharps or flats


@pytest.mark.parametrize(
    ("concert", "slug", "prefer", "written"),
    [
        ("E major", "alto-sax", None, "Db major"),
        ("E major", "alto-sax", "sharps", "C# major"),
        ("A major", "alto-sax", None, "F# major"),
        ("A major", "alto-sax", "flats", "Gb major"),
        ("A major", "alto-sax", "sharps", "F# major"),
        ("F major", "trumpet", "flats", "G major"),
    ],
)
def test_sharps_or_flats_can_be_preferred(concert, slug, prefer, written):
    tune = sheet("C5 D5 E5 C5", key=concert)
    part = write_part(tune, instrument(slug), prefer=prefer)
    assert part.tune.key.name == written
    assert to_concert(part) == tune


def test_the_preference_is_among_the_reasons():
    tune = sheet("E5 G#5 B5 E5", key="E major")
    sharps = write_part(tune, instrument("alto-sax"), prefer="sharps")
    assert "Written in sharps, as asked for: C♯ major." in sharps.reasons
    low = write_part(
        sheet("F5 A5 C6 F5", key="F major"), instrument("trumpet"), prefer="flats"
    )
    assert any("G major has no other name" in reason for reason in low.reasons)


def test_another_preference_is_a_mistake_of_the_program():
    with pytest.raises(ValueError, match="sharps or flats"):
        write_part(sheet(CALM), instrument("flute"), prefer="naturals")
    with pytest.raises(LessonError):
        write_part(sheet(CALM), instrument("flute"), concert_key=Key.parse("A minor"))


# Names that stay for what they do


@pytest.mark.parametrize(
    ("pitch", "target", "key", "stays"),
    [
        ("Cb5", "Bb4", "Eb major", True),
        ("Cb5", "Bb4", "F major", True),
        ("Cb5", "Bb4", "C major", False),
        ("Cb5", "Eb5", "Eb major", False),
        ("Fb5", "Eb5", "Bb major", True),
        ("E#5", "F#5", "D major", True),
        ("E#5", "F#5", "C major", False),
        ("B#4", "C#5", "A major", True),
        ("B#4", "C5", "A major", False),
    ],
)
def test_a_name_stays_where_it_leads_to_a_note_of_the_key(pitch, target, key, stays):
    found = keeps_function(Pitch.parse(pitch), Pitch.parse(target), Key.parse(key))
    assert found == stays


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("Eb5 Cb5 Bb4 Bb4", "E♭ C♭ B♭ B♭"),
        ("Cb5 Eb5 Cb5 r", "B E♭ B"),
        ("Cb5 Cb5 Bb4 r", "B C♭ B♭"),
    ],
)
def test_c_flat_passes_down_to_b_flat_in_a_flat_key(text, names):
    part = write_part(sheet(text, key="Eb major"), instrument("concert"))
    written = [str(n.pitch.name) for n in part.tune.bars[0].notes if n.pitch]
    assert " ".join(written) == names
