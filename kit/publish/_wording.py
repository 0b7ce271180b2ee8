"""Sentences that every handout and page says in the same way.

The cautions keep to common advice and send the reader to a teacher or doctor for more.
Sources: WHO and ITU, *Safe listening devices and systems* (2019), for moderate levels and
breaks when listening; the rest is common practice of wind teaching.
"""

from __future__ import annotations

__all__ = [
    "CAUTION_HEARING",
    "CAUTION_PLAYING",
    "RIGHTS_REMINDER",
    "capital",
    "feel_words",
]

CAUTION_HEARING = (
    "Keep headphones and speakers at a moderate level, and give your ears a rest now and "
    "then."
)
CAUTION_PLAYING = (
    "Rest five minutes in every half hour; stop if anything hurts, and ask your teacher or "
    "a doctor."
)
RIGHTS_REMINDER = (
    "Copy and share only what the rights above allow. This is a reminder, not legal advice."
)


def feel_words(feel: str) -> str:
    """Say a feel as one says it: ``medium-swing`` is ``medium swing``."""
    return feel.replace("-", " ")


def capital(text: str) -> str:
    """Begin a text with a capital letter."""
    return text[:1].upper() + text[1:]
