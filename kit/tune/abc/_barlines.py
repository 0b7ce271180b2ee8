"""What do ABC's bar lines and ending numbers say about repeats?

Source: ABC standard 2.1, sections 4.8 to 4.10.
"""

from __future__ import annotations

__all__ = ["closing_and_opening", "passes_of"]


def closing_and_opening(sign: str) -> tuple[int, int]:
    """Count the colons before and behind the bar line: closing and opening repeats."""
    if set(sign) == {":"}:
        return (len(sign) + 1) // 2, (len(sign) + 1) // 2
    return len(sign) - len(sign.lstrip(":")), len(sign) - len(sign.rstrip(":"))


def passes_of(text: str) -> tuple[int, ...]:
    """Read ``1``, ``1,3`` or ``1-3``; nothing if it is a text."""
    passes: list[int] = []
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        ends = (first, last) if dash else (first,)
        if not all(end.isdecimal() and len(end) < 3 for end in ends):
            return ()
        passes.extend(range(int(first), int(last or first) + 1))
    return tuple(dict.fromkeys(p for p in passes if p))
