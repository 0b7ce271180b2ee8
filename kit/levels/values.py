"""Which note value does a word in a level file mean, and how is a length said?

Lengths are exact fractions of a quarter note. Source: common practice.
"""

from __future__ import annotations

from fractions import Fraction

__all__ = ["VALUES", "beat_words", "read_value", "value_words"]

VALUES: dict[str, Fraction] = {
    "whole": Fraction(4),
    "dotted half": Fraction(3),
    "half": Fraction(2),
    "dotted quarter": Fraction(3, 2),
    "quarter": Fraction(1),
    "dotted eighth": Fraction(3, 4),
    "triplet quarter": Fraction(2, 3),
    "eighth": Fraction(1, 2),
    "triplet eighth": Fraction(1, 3),
    "sixteenth": Fraction(1, 4),
}
_WORDS = {length: word for word, length in VALUES.items()}
_FRACTIONS = {
    Fraction(1, 4): "¼", Fraction(1, 3): "⅓", Fraction(1, 2): "½", Fraction(2, 3): "⅔",
    Fraction(3, 4): "¾",
}  # fmt: skip


def read_value(word: str) -> Fraction:
    """Give the length of a note value in quarter notes.

    Raises
    ------
    ValueError
        If the word is no note value; the message lists those there are.
    """
    length = VALUES.get(word.strip().lower())
    if length is None:
        raise ValueError(f"{word!r} is not one of {', '.join(VALUES)}")
    return length


def value_words(length: Fraction) -> str:
    """Say a length with its article: ``an eighth``, ``a dotted quarter``.

    A length that no single value has is said in quarters: ``2½ quarters``.
    """
    word = _WORDS.get(length)
    if word is None:
        return f"{_mixed(length)} quarters"
    return f"{'an' if word.startswith('eighth') else 'a'} {word}"


def beat_words(beat: Fraction) -> str:
    """Say a place in a bar: ``beat 2``, ``beat 2½``."""
    return f"beat {_mixed(beat)}"


def _mixed(number: Fraction) -> str:
    whole, rest = divmod(number, 1)
    if not rest:
        return str(whole)
    sign = _FRACTIONS.get(rest)
    if sign is None:
        return f"{whole} {rest}" if whole else str(rest)
    return f"{whole if whole else ''}{sign}"
