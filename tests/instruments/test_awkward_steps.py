"""What lies badly in the hands, and why."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import LessonError
from kit.instruments.awkward import awkward, hands_of
from kit.instruments.table import Instrument, all_instruments, instrument
from kit.tune.pitch import Pitch


def step(slug, one, other):
    return awkward(Pitch.parse(one), Pitch.parse(other), instrument(slug))


@pytest.mark.parametrize(
    ("slug", "one", "other", "cost", "kind"),
    [
        ("alto-sax", "C#5", "D5", 2, "over the break"),
        ("tenor-sax", "Bb3", "B3", 2, "with a finger that slides"),
        ("tenor-sax", "C4", "Eb4", 2, "with a finger that slides"),
        ("alto-sax", "C6", "D6", 1, "with the palm or side keys"),
        ("clarinet", "A4", "B4", 2, "over the break"),
        ("clarinet", "F#4", "G#4", 1, "with a finger that slides"),
        ("flute", "C5", "D5", 2, "over the break"),
        ("flute", "C4", "Eb4", 2, "with a finger that slides"),
        ("oboe", "C5", "D5", 2, "over the break"),
        ("soprano-recorder", "D5", "E5", 2, "over the break"),
        ("alto-recorder", "A4", "Bb4", 1, "with fingers that cross"),
        ("trumpet", "D4", "F#4", 2, "with valves that cross"),
        ("trumpet", "F4", "F#4", 1, "with valves that cross"),
        ("tuba", "Eb2", "E2", 1, "with valves that cross"),
        ("trombone", "Bb2", "B2", 3, "with a long way of the slide"),
        ("trombone", "A2", "C3", 2, "with a long way of the slide"),
    ],
)
def test_methods_warn_of_these_steps(slug, one, other, cost, kind):
    """Common practice of methods; the degrees are our own."""
    found = step(slug, one, other)
    assert (found.cost, found.kind) == (cost, kind)


@pytest.mark.parametrize(
    ("slug", "one", "other"),
    [
        ("alto-sax", "G4", "A4"),
        ("clarinet", "E4", "F4"),
        ("flute", "A4", "B4"),
        ("trumpet", "C4", "D4"),
        ("trombone", "F3", "E3"),
        ("trombone", "Bb3", "C4"),
        ("violin", "A4", "B4"),
    ],
)
def test_these_steps_are_easy(slug, one, other):
    assert step(slug, one, other) is None


def test_another_position_helps_where_there_is_one():
    """Common practice: F3 may be taken in 6th position beside C3."""
    found = step("trombone", "C3", "F3")
    assert found.cost == 1
    assert "1st to 6th" in found.why
    assert found.why.endswith("(another position helps)")
    assert step("trombone", "Bb2", "C3").cost == 3


def test_the_same_notes_lie_differently_on_different_instruments():
    assert step("trombone", "Bb2", "C3").cost > 0
    assert step("euphonium", "Bb2", "C3") is None


@given(
    st.sampled_from(all_instruments()),
    st.integers(30, 96),
    st.integers(30, 96),
    st.booleans(),
)
def test_a_step_is_as_awkward_back_as_forth(player, one, other, flat):
    low, high = (
        Pitch.parse(f"{_name(midi, flat)}{midi // 12 - 1}") for midi in (one, other)
    )
    there, back = awkward(low, high, player), awkward(high, low, player)
    assert there == back
    if one == other:
        assert there is None
    assert there is None or 1 <= there.cost <= 3


def _name(midi, flat):
    sharps = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    flats = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
    return (flats if flat else sharps)[midi % 12]


def test_a_teachers_own_instrument_has_its_breaks_or_a_table_by_name():
    row = {"name": "Whistle", "written": "P1", "range": ["D4", "D6"]}
    plain = Instrument.from_row("whistle", row)
    assert hands_of(plain) is None
    whistle = {**row, "breaks": [["C#5", "D5", "the breath has to be pushed"]]}
    found = awkward(
        Pitch.parse("C#5"), Pitch.parse("D5"), Instrument.from_row("whistle", whistle)
    )
    assert found.why == "the line crosses the break, C♯5 to D5: the breath has to be pushed"
    fingered = Instrument.from_row("whistle", {**row, "fingering": ["flute", "P1"]})
    assert hands_of(fingered) == "fingers"


@pytest.mark.parametrize("entry", ["lute", 3, ["flute"], ["flute", "P1", 2], {}])
def test_a_table_that_is_not_there_is_refused(entry):
    row = {"name": "Whistle", "written": "P1", "range": ["D4", "D6"], "fingering": entry}
    with pytest.raises(LessonError, match="fingering is one of saxophone, clarinet"):
        Instrument.from_row("whistle", row)
