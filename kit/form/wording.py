"""How are counts, shares and bars said in plain English?

Conventions: printed bar numbers; ranges with an en dash (``bars 1–8``); numbers up to
twelve in words, as in running text. Source: common practice of English music teaching.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

__all__ = [
    "bars_words", "counted", "listed", "number_word", "ordinal", "share_words",
    "stretch_words",
]  # fmt: skip

_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
_ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
    "tenth", "eleventh", "twelfth",
)  # fmt: skip
_SHARES = {
    Fraction(1, 4): "a quarter", Fraction(1, 3): "a third", Fraction(3, 8): "three eighths",
    Fraction(1, 2): "half", Fraction(5, 8): "five eighths", Fraction(2, 3): "two thirds",
    Fraction(3, 4): "three quarters", Fraction(1): "all",
}  # fmt: skip


def number_word(number: int) -> str:
    """Say a count: ``three``, ``32``."""
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def counted(number: int, noun: str) -> str:
    """Say how many of a thing: ``1 bar``, ``24 bars``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def ordinal(number: int) -> str:
    """Say a place in a row: ``second``, ``21st``."""
    if 1 <= number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    teens = number % 100 in (11, 12, 13)
    ending = "th" if teens else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def listed(items: Sequence[str], *, last: str = "and") -> str:
    """Join words as one says them: ``a, b and c``."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def bars_words(numbers: Iterable[int]) -> str:
    """Name bars by their printed numbers: ``bar 7``, ``bars 1–8 and 15``.

    Bar 0 is said as what it is, the pick-up.

    Examples
    --------
    >>> bars_words([1, 2, 3, 7, 9, 10])
    'bars 1–3, 7, 9 and 10'
    >>> bars_words([0, 1])
    'the pick-up and bar 1'
    """
    every = sorted(set(numbers))
    ordered = [number for number in every if number != 0]
    if len(ordered) < len(every):
        return f"the pick-up and {bars_words(ordered)}" if ordered else "the pick-up"
    runs: list[list[int]] = []
    for number in ordered:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts: list[str] = []
    for run in runs:
        if len(run) > 2:
            parts.append(f"{run[0]}–{run[-1]}")
        else:
            parts.extend(str(number) for number in run)
    return f"{'bar' if len(ordered) == 1 else 'bars'} {listed(parts)}"


def stretch_words(first: int, last: int) -> str:
    """Name bars in a row by first and last as one reads them out: ``bars 1 to 8``."""
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def share_words(part: int, whole: int) -> str:
    """Say what share a part is of the whole.

    Raises
    ------
    ValueError
        If the whole is not above zero.

    Examples
    --------
    >>> share_words(24, 32), share_words(7, 32)
    ('three quarters', 'about 22 %')
    """
    if whole <= 0:
        raise ValueError("a share needs a whole above zero")
    share = Fraction(part, whole)
    return _SHARES.get(share, f"about {round(100 * share)} %")
