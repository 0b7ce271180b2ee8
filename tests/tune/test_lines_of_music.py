"""Where lines of music break: at passages, with their endings and pick-ups together."""

from dataclasses import replace
from fractions import Fraction

from kit.tune.lines import line_starts
from kit.tune.model import Bar, Note
from kit.tune.pitch import Pitch

C5 = Pitch.parse("C5")


def bars(count, symbols=4):
    notes = tuple(
        Note(Fraction(4 * i, symbols), Fraction(4, symbols), C5) for i in range(symbols)
    )
    return [Bar(number, notes) for number in range(1, count + 1)]


def pickup():
    return Bar(0, (Note(Fraction(0), Fraction(1), C5),), pickup=True)


def test_a_second_ending_of_one_bar_stands_on_the_line_of_the_first() -> None:
    sheet = bars(17)
    sheet[7] = replace(sheet[7], endings=(1,), repeat_times=2)
    sheet[8] = replace(sheet[8], endings=(2,))
    assert line_starts(sheet) == (0, 4, 9, 13)


def test_a_passage_behind_a_repeat_begins_a_line_with_its_pickup() -> None:
    sheet = bars(16)
    sheet[7] = replace(sheet[7], repeat_times=2)
    sheet.insert(8, pickup())
    assert line_starts(sheet) == (0, 4, 8, 13)


def test_a_passage_too_short_for_a_line_shares_one() -> None:
    sheet = bars(8)
    sheet[1] = replace(sheet[1], barline="double")
    assert line_starts(sheet) == (0, 4)
    sheet = bars(9)
    sheet[7] = replace(sheet[7], barline="double")
    assert line_starts(sheet) == (0, 4)


def test_seventeen_bars_leave_no_bar_alone_and_no_line_too_full() -> None:
    assert line_starts(bars(17)) == (0, 4, 8, 12)
    assert line_starts(bars(17, symbols=10)) == (0, 4, 8, 12, 15)
