"""How lengths, beams, tuplets, accidentals and lines are written."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.tune.lines import line_starts
from kit.tune.model import Bar, Meter, Note
from kit.tune.musicxml._accidentals import shown_accidentals
from kit.tune.notation import VALUE_NAMES, beams_of, note_value, tuplet_groups
from kit.tune.pitch import Key, Pitch


def bar(*notes, meter="4/4", key="C major", pickup=False, number=1, **more):
    """Build a bar from ``(pitch or None, quarters)`` or ``(pitch, quarters, tuplet)``."""
    onset, made = Fraction(0), []
    for pitch, quarters, *tuplet in notes:
        length = Fraction(quarters)
        made.append(
            Note(
                onset,
                length,
                pitch and Pitch.parse(pitch),
                tuplet=tuplet[0] if tuplet else None,
            )
        )
        onset += length
    return Bar(
        number,
        tuple(made),
        meter=Meter.parse(meter),
        key=Key.parse(key),
        pickup=pickup,
        **more,
    )


def eighths(count, **more):
    return bar(*[("C5", "1/2")] * count, **more)


def outer(written):
    """Give the outermost beam of each note, ``-`` for none."""
    beams = beams_of(written)
    return [beams.get(i, ("-",))[0][0] for i in range(len(written.notes))]


@given(st.sampled_from(sorted(VALUE_NAMES)), st.integers(0, 3), st.booleans())
def test_every_dotted_value_is_one_symbol(length, dots, triplet):
    written = length * (2 - Fraction(1, 2**dots))
    value = note_value(written * Fraction(2, 3), (3, 2)) if triplet else note_value(written)
    assert (value.type, value.dots) == (VALUE_NAMES[length], dots)


@pytest.mark.parametrize("length", ["5/2", "5/4", "1/3", "9/2"])
def test_a_length_without_a_symbol_is_refused(length):
    with pytest.raises(ValueError, match="no single note symbol"):
        note_value(Fraction(length))


def test_four_plain_eighths_share_a_beam_in_half_a_bar():
    assert outer(eighths(8)) == list("bccebcce")


def test_eighths_mixed_with_other_values_are_beamed_by_the_beat():
    mixed = bar(
        ("C5", "1/2"), ("C5", "1/2"), ("C5", "1/4"), ("C5", "1/4"), ("C5", "1/2"), ("C5", 2)
    )
    assert outer(mixed) == list("bebce-")


def test_six_eight_is_beamed_in_threes():
    assert outer(eighths(6, meter="6/8")) == list("bcebce")


def test_three_four_is_beamed_by_the_beat():
    assert outer(eighths(6, meter="3/4")) == list("bebebe")


@pytest.mark.parametrize(("meter", "beams"), [("5/8", "bcebe"), ("7/8", "bebebce")])
def test_odd_meters_have_their_groups(meter, beams):
    assert outer(eighths(len(beams), meter=meter)) == list(beams)


def test_a_pickup_is_beamed_towards_its_bar_line():
    assert outer(eighths(3, pickup=True)) == list("-be")


def test_no_beam_crosses_a_rest():
    broken = bar(("C5", "1/2"), (None, "1/2"), ("C5", "1/2"), ("C5", "1/2"), (None, 2))
    assert outer(broken) == list("--be-")


def test_a_sixteenth_after_a_dotted_eighth_has_a_backward_hook():
    assert beams_of(bar(("C5", "3/4"), ("C5", "1/4"), (None, 3))) == {
        0: ("begin",),
        1: ("end", "backward hook"),
    }


def test_inner_beams_break_at_the_beat_in_cut_time():
    beams = beams_of(bar(*[("C5", "1/4")] * 8, (None, 2), meter="2/2"))
    assert [b[0][0] for b in beams.values()] == list("bcccccce")
    assert [b[1][0] for b in beams.values()] == list("bccebcce")


def test_triplets_are_told_apart():
    three = (3, 2)
    row = bar(
        *[("C5", "1/3", three)] * 6, ("C5", "2/3", three), ("C5", "1/3", three), ("C5", 1)
    )
    assert tuplet_groups(row.notes) == ((0, 2), (3, 5), (6, 7))


def test_a_dotted_note_does_not_end_its_triplet():
    three = (3, 2)
    row = bar(("C5", "1/2", three), ("C5", "1/6", three), ("C5", "1/3", three), ("C5", 3))
    assert tuplet_groups(row.notes) == ((0, 2),)


def test_an_accidental_is_shown_once_in_its_bar_and_recalled_in_the_next():
    bars = [bar(("F#4", 1), ("F#4", 1), ("F4", 2)), bar(("F4", 4)), bar(("F4", 4))]
    assert shown_accidentals(bars) == {(0, 0, None): "needed", (0, 2, None): "needed"}
    bars[0] = bar(("F#4", 4))
    assert shown_accidentals(bars) == {(0, 0, None): "needed", (1, 0, None): "courtesy"}


def test_another_octave_gets_a_courtesy_accidental():
    assert shown_accidentals([bar(("F#4", 2), ("F5", 2))])[0, 1, None] == "courtesy"
    assert shown_accidentals([bar(("F#4", 2), ("F#5", 2))])[0, 1, None] == "needed"


def test_a_note_tied_over_the_bar_line_needs_no_accidental_but_the_next_does():
    first = bar(("Eb4", 4))
    tied = Bar(
        1, (Note(Fraction(0), Fraction(4), Pitch.parse("Eb4"), tied=True),), key=first.key
    )
    after = bar(("Eb4", 2), ("Eb4", 2), number=2)
    assert shown_accidentals([tied, after]) == {
        (0, 0, None): "needed",
        (1, 1, None): "needed",
    }


def sheet(*sections, pickups=()):
    """Build bars: each section a length, pick-ups before the named sections."""
    bars = []
    for place, length in enumerate(sections):
        if place in pickups:
            bars.append(bar(("C5", 1), pickup=True, number=0))
        for i in range(length):
            bars.append(bar(("C5", 4), number=len(bars), section="A" if i == 0 else ""))
    return bars


def test_four_bars_a_line_and_a_section_starts_one():
    assert line_starts(sheet(8, 6, 8)) == (0, 4, 8, 12, 14, 18)


def test_no_bar_stands_alone_on_a_line():
    assert line_starts(sheet(9, 5)) == (0, 4, 9)


def test_a_pickup_goes_with_its_section():
    assert line_starts(sheet(8, 8, pickups=(0, 1))) == (0, 5, 9, 14)


def test_a_line_too_full_is_halved():
    full = [bar(*[("C5", "1/4")] * 16, number=i) for i in range(4)]
    assert line_starts(full) == (0, 2)


@given(st.lists(st.integers(1, 20), min_size=1, max_size=6), st.integers(2, 5))
def test_lines_cover_every_bar_and_begin_every_section(lengths, bars_per_line):
    bars = sheet(*lengths)
    starts = line_starts(bars, bars_per_line)
    assert starts[0] == 0
    assert list(starts) == sorted(set(starts))
    assert {i for i, b in enumerate(bars) if b.section} <= set(starts)
    widths = [b - a for a, b in zip(starts, (*starts[1:], len(bars)), strict=True)]
    assert max(widths) <= bars_per_line + 1
    assert 1 not in widths or 1 in lengths
