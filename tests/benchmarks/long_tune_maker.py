"""Make long tunes of many kinds, by chance but musical, always the same ones.

A tune is made of bars whose melody walks over the scale by small steps and lands on chord
notes, over changes that move as songs do. Each kind stresses something else:

* ``through-composed``: no bar comes back, changes with sevenths, one or two in a bar;
* ``repetitive``: one strain of eight bars, over and over, now and then with another ending;
* ``ornamented``: triplets, grace notes, marks and ties, two changes in each bar;
* ``bare``: no changes, eighth notes without a rest;
* ``jig``: 6/8, plain triads, strains of eight bars in pairs;
* ``set``: tunes in a row as a book of sets prints them, each with repeats, endings, a
  pick-up, and a key of its own.

All are ABC, so that they go in by the door that a teacher uses.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

__all__ = ["KINDS", "long_tune"]

KINDS = ("through-composed", "repetitive", "ornamented", "bare", "jig", "set")

_HEAD = "X:1\nT:Long tune, {kind}, {bars} bars\nM:{meter}\nL:1/8\nQ:1/4=120\nK:{key}\n"
_STEPS = "CDEFGABcdefgab"
_MOVES = (-4, -2, -2, -1, -1, -1, 1, 1, 1, 2, 2, 3, 5)
_RHYTHMS = ((2, 2, 2, 2), (1, 1, 2, 1, 1, 2), (3, 1, 2, 2), (4, 2, 2), (2, 1, 1, 4), (4, 4),
            (1,) * 8, (6, 2), (2, 2, -2, 2), (3, 3, -2))  # fmt: skip
"""Eighth notes in a bar; rests are below zero."""
_JIG_RHYTHMS = ((1,) * 6, (2, 1, 2, 1), (3, 1, 1, 1), (2, 1, 1, 1, 1), (3, 3))
_SEVENTHS = ("Cmaj7", "Dm7", "Em7", "Fmaj7", "G7", "Am7", "Bm7b5", "A7", "D7", "E7", "C7")
_FOLLOWED_BY = {
    "Cmaj7": "Am7 Dm7 Fmaj7 A7 C7", "Dm7": "G7 G7 Bm7b5", "Em7": "Am7 A7", "C7": "Fmaj7",
    "Fmaj7": "Dm7 G7 Bm7b5", "G7": "Cmaj7 Cmaj7 Em7 Am7", "Am7": "Dm7 D7", "A7": "Dm7",
    "Bm7b5": "E7", "D7": "G7 Dm7", "E7": "Am7",
}  # fmt: skip
_TRIADS = ("C", "C", "F", "G", "Am", "C", "Dm", "G7")
_KEYS = ("C", "G", "D", "F", "Am", "Bb")
_MARKS = (".", "!accent!", "!tenuto!", "!turn!", "!mordent!")


def long_tune(kind: str, bars: int, *, seed: int = 0) -> str:
    """Write a tune of so many written bars as ABC.

    Raises
    ------
    ValueError
        For another kind.
    """
    if kind not in KINDS:
        raise ValueError(f"{kind!r} is none of {', '.join(KINDS)}")
    rng = Random(f"{kind} {seed}")
    head = _HEAD.format(
        kind=kind, bars=bars, meter="6/8" if kind == "jig" else "4/4", key="C"
    )
    if kind == "set":
        return head + "\n".join(_set(rng, bars)) + "\n"
    made = (
        _strains(rng, kind, bars)
        if kind in {"repetitive", "jig"}
        else list(_melody(rng, kind, bars))
    )
    lines = [" | ".join(made[at : at + 4]) for at in range(0, len(made), 4)]
    return head + " |\n".join(lines) + " |]\n"


def _strains(rng: Random, kind: str, bars: int) -> list[str]:
    """Repeat strains of eight bars: one all through, or in a jig each of them twice."""
    made: list[str] = []
    strain = list(_melody(rng, kind, 8))
    while len(made) < bars:
        made += strain
        if kind == "jig" and len(made) % 16 == 0:
            strain = list(_melody(rng, kind, 8))
        elif kind == "repetitive" and rng.random() < 0.25:
            strain = [*strain[:7], *_melody(rng, kind, 1)]
    return made[:bars]


def _set(rng: Random, bars: int) -> Iterator[str]:
    """Yield the lines of tunes of two strains, the second with two endings."""
    written = tune = 0
    while written < bars:
        key = _KEYS[tune % len(_KEYS)]
        count = min(17, bars - written)
        made = list(_melody(rng, "bare" if tune % 2 else "set", count))
        tune += 1
        written += count
        yield f"K:{key}"
        if count < 17:
            yield " | ".join(made) + " |]"
            return
        yield f"|: {' | '.join(made[:4])} |\n{' | '.join(made[4:8])} :|"
        yield f"|: {' | '.join(made[8:12])} |\n{' | '.join(made[12:15])}"
        yield f"|1 {made[15]} :|2 {made[16]} ||"


def _melody(rng: Random, kind: str, bars: int) -> Iterator[str]:
    """Yield bars of melody with what stands above them."""
    place = rng.randrange(3, 8)
    chord = "Cmaj7"
    for _ in range(bars):
        rhythm = rng.choice(_JIG_RHYTHMS if kind == "jig" else _RHYTHMS)
        if kind == "bare":
            rhythm = rng.choice(((1,) * 8, (2, 1, 1, 2, 1, 1), (2, 2, 1, 1, 1, 1)))
        symbols = []
        for _ in range(_chord_count(rng, kind)):
            seventh = kind in {"through-composed", "ornamented", "repetitive"}
            chord = rng.choice(_FOLLOWED_BY[chord].split()) if seventh else chord
            symbols.append(chord if seventh else rng.choice(_TRIADS))
        text, place = _bar(rng, rhythm, place, symbols, ornate=kind == "ornamented")
        yield text


def _chord_count(rng: Random, kind: str) -> int:
    if kind == "bare":
        return 0
    return 2 if kind == "ornamented" else 1 + (kind != "jig" and rng.random() < 0.2)


def _bar(
    rng: Random, rhythm: tuple[int, ...], place: int, symbols: list[str], *, ornate: bool
) -> tuple[str, int]:
    """Write a bar that goes on from a place of the scale; give also where it ends."""
    pieces: list[str] = []
    now, half = 0, sum(abs(length) for length in rhythm) // 2
    for length in rhythm:
        if symbols and (now == 0 or now >= half):
            pieces.append(f'"{symbols.pop(0)}"')
        now += abs(length)
        if length < 0:
            pieces.append(f"z{-length}")
            continue
        place = _moved(rng, place)
        pieces.append(_note(rng, place, length, ornate=ornate))
    return " ".join(pieces), place


def _note(rng: Random, place: int, length: int, *, ornate: bool) -> str:
    note = _STEPS[place]
    if not ornate:
        return f"{note}{length}"
    kind = rng.random()
    if length == 2 and kind < 0.4:
        return f"(3{note}{_STEPS[_moved(rng, place)]}{note}"
    if kind < 0.6:
        return f"{{{_STEPS[_moved(rng, place)]}}}{note}{length}"
    return f"{rng.choice(_MARKS)}{note}{length}" if kind < 0.8 else f"{note}{length}"


def _moved(rng: Random, place: int) -> int:
    """Take a step on the scale, back into the compass where it would leave it."""
    after = place + rng.choice(_MOVES)
    return after if 1 <= after < len(_STEPS) - 1 else place + (2 if after < 1 else -2)
