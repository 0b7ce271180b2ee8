"""How can a chord be laid out under the hands, under this melody?

A voicing has three or four notes. It holds what tells the chord apart (third or
suspension, seventh or sixth, every altered or added note), then a tension or the fifth;
the root is the bass player's unless nothing else is left. Layouts that sound well are
offered for each top note (`layouts`); which of them is played, so that the top notes make a
line, is for `kit.band._top_line` to say.

The chord makes room for the melody: a note a semitone below a melody note is a minor ninth
under it and is not played. A major seventh gives way to the sixth where the melody has the
root, a third to the fourth where the melody has that (a suspension); a tension gives way to
its neighbour in the melody, nine to flat nine and the other way round.

Sources: common practice; low interval limits as given in orchestration handbooks (from
memory): no second below F3, no third below C3. A minor ninth above a sounding melody
note is the clash every handbook warns of.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from itertools import combinations, pairwise, product

from kit.tune.chord import ChordSymbol, degree_interval
from kit.tune.pitch import Key

__all__ = [
    "REGISTER",
    "Offer",
    "allowed_tensions",
    "chord_classes",
    "layouts",
    "leads_to_minor",
    "melody_costs",
    "movement",
    "pitch_classes",
    "rubs",
    "voice",
]

REGISTER = (50, 74)
"""D3 to D5: above the bass, mostly below the melody."""

_MINOR_KINDS = frozenset(
    {
        "minor", "minor-seventh", "minor-sixth", "minor-ninth", "major-minor",
        "minor-11th", "minor-13th", "half-diminished", "diminished",
    }
)  # fmt: skip

Note = tuple[int, int]

# The sixth for the major seventh, the fourth for the third (common practice).
_INSTEAD: dict[Note, Note] = {(7, 0): (6, 0), (3, 0): (4, 0)}
_EACH_TOP = 2
_DEAREST = 6.0
"""Layouts that sound so much worse than the best are never worth a better line."""


@cache
def _table() -> dict[str, tuple[Note, ...]]:
    text = (files("kit.band") / "tensions.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    minor = {f"{kind}>minor": rows for kind, rows in table.pop("to-minor").items()}
    return {
        kind: tuple((int(degree), int(alter)) for degree, alter in rows)
        for kind, rows in (table | minor).items()
    }


def leads_to_minor(symbol: ChordSymbol, follows: ChordSymbol | None) -> bool:
    """Say whether the next chord is a minor one a fourth above this root."""
    return (
        follows is not None
        and symbol.root is not None
        and follows.root is not None
        and follows.kind in _MINOR_KINDS
        # A fourth up, or a fifth down: the way a dominant resolves.
        and (follows.root.pitch_class - symbol.root.pitch_class) % 12 == 5
    )


def allowed_tensions(
    symbol: ChordSymbol, *, key: Key | None = None, to_minor: bool = False
) -> tuple[Note, ...]:
    """Give the notes that may be added to a chord, as (degree, alteration) pairs.

    Parameters
    ----------
    symbol : ChordSymbol
        With a root.
    key : Key, optional
        Tensions foreign to it are left out, except over dominants.
    to_minor : bool
        Whether a dominant resolves to a minor chord (`leads_to_minor`).

    Examples
    --------
    >>> from kit.tune.pitch import NoteName
    >>> allowed_tensions(ChordSymbol(NoteName("G"), "dominant"), to_minor=True)
    ((9, -1), (13, -1))
    """
    root = symbol.root
    if root is None:
        return ()
    table = _table()
    rows = table.get(f"{symbol.kind}>minor") if to_minor else None
    if rows is None:
        rows = table.get(symbol.kind, ())
    own = {degree % 7 for degree, _ in symbol.notes}
    classes = {name.pitch_class for name in symbol.note_names}
    home = (
        # A dominant's tensions come from where it leads, not from the key.
        _scale_classes(key) if key is not None and "dominant" not in symbol.kind else None
    )
    fit: list[Note] = []
    for note in rows:
        pitch_class = (root + degree_interval(*note)).pitch_class
        # Two and nine, six and thirteen are one letter: it is not taken twice.
        taken = note[0] % 7 in own or pitch_class in classes
        altered = any(d.alter for d in symbol.degrees)
        # A plain ninth beside a written flat nine would hide what the symbol asks for.
        rubs = altered and {(pitch_class + 1) % 12, (pitch_class - 1) % 12} & classes
        if not taken and not rubs and (home is None or pitch_class in home):
            fit.append(note)
    return tuple(fit)


def _scale_classes(key: Key) -> frozenset[int]:
    classes = {name.pitch_class for name in key.scale}
    if key.is_minor:
        tonic = key.tonic.pitch_class
        classes |= {(tonic + 9) % 12, (tonic + 11) % 12}
    return frozenset(classes)


def voice(
    symbol: ChordSymbol,
    *,
    before: Sequence[int] = (),
    melody: Collection[int] = (),
    key: Key | None = None,
    tensions: bool = True,
    to_minor: bool = False,
) -> tuple[int, ...]:
    """Choose one voicing by itself, as near as can be to the one before.

    Parameters
    ----------
    symbol : ChordSymbol
        With a root and notes.
    before : sequence of int
        The voicing before, lowest first; empty at the start.
    melody : collection of int
        MIDI numbers of the melody notes that sound with it.
    key : Key, optional
        In force, to choose tensions.
    tensions : bool
        Whether to add any.
    to_minor : bool
        Whether a dominant resolves to minor.

    Returns
    -------
    tuple of int
        MIDI numbers, lowest first, within `REGISTER`.

    Raises
    ------
    ValueError
        If the symbol has no root.
    """
    offer = layouts(*chord_classes(symbol, pitch_classes(melody), key, tensions, to_minor))
    rubs = melody_costs(offer, melody, melody)

    def cost(place: int) -> float:
        notes = offer.notes[place]
        way = 1.6 * movement(before, notes) if before else 0.0
        # The top voice is heard as a line.
        way += 0.35 * abs(notes[-1] - before[-1]) if before else 0.0
        return offer.costs[place] + rubs[place] + way

    return offer.notes[min(range(len(offer.notes)), key=cost)]


@dataclass(frozen=True, slots=True, eq=False)
class Offer:
    """Ways to play one chord, the best by their sound first, and what each costs by it."""

    notes: tuple[tuple[int, ...], ...]
    costs: tuple[float, ...]


def pitch_classes(melody: Iterable[int]) -> frozenset[int]:
    """Give the pitch classes of some MIDI numbers."""
    return frozenset([midi % 12 for midi in melody])


@lru_cache(maxsize=1024)
def layouts(must: tuple[int, ...], spare: tuple[int, ...]) -> Offer:
    """Give the layouts of a chord that sound best, a few under each top note.

    Parameters
    ----------
    must, spare : tuple of int
        Pitch classes that each layout holds, and that fill it up (`chord_classes`).
    """
    by_top: dict[int, dict[tuple[int, ...], float]] = {}
    for classes in _note_sets(must, spare):
        for notes in _placed(classes):
            cost = _sound(notes) + 1.5 * (4 - len(classes))
            by_top.setdefault(notes[-1], {})[notes] = cost
    offered = [
        (cost, notes)
        for under in by_top.values()
        for notes, cost in sorted(under.items(), key=lambda item: item[1])[:_EACH_TOP]
    ]
    offered.sort()
    dearest = offered[0][0] + _DEAREST
    kept = [(cost, notes) for cost, notes in offered if cost <= dearest]
    return Offer(tuple([notes for _, notes in kept]), tuple([cost for cost, _ in kept]))


def melody_costs(
    offer: Offer, melody: Collection[int], together: Collection[int]
) -> list[float]:
    """Give for each layout of an offer what it costs beside a melody.

    Parameters
    ----------
    offer : Offer
        What is weighed.
    melody : collection of int
        MIDI numbers of all melody notes that sound with it.
    together : collection of int
        Those of them that sound with it for long enough to rub.
    """
    return [_beside(notes, melody, together) for notes in offer.notes]


def _beside(
    notes: tuple[int, ...], melody: Collection[int], together: Collection[int]
) -> float:
    cost = 0.0
    for note in together:
        for tone in notes:
            apart = tone - note
            if rubs(tone, note):
                cost += 25.0
            elif apart % 12 == 1:
                # A major seventh below: heard, not hurting.
                cost += 3.0
    top = notes[-1]
    for note in melody:
        if top > note:
            # Right above the melody the top hides it; a third and more above it is clear.
            cost += 3.0 if top - note < 3 else 1.6
        elif top == note:
            cost += 0.4
    return cost


def rubs(tone: int, note: int) -> bool:
    """Say whether a chord tone rubs against a melody note, both MIDI numbers.

    So does a semitone or a minor ninth above the melody, and a semitone or a minor ninth
    below it, in any octave.

    Examples
    --------
    >>> [rubs(tone, 72) for tone in (73, 71, 59, 61, 83)]
    [True, True, True, False, False]
    """
    apart = tone - note
    return apart % 12 == 1 if apart > 0 else apart % 12 == 11


def movement(before: Sequence[int], after: Sequence[int]) -> float:
    """Give the mean movement per voice in semitones, each voice going to the nearest."""
    if not before or not after:
        return 0.0
    apart = [[abs(a - b) for b in before] for a in after]
    up = sum(map(min, apart)) / len(after)
    down: float = sum(map(min, zip(*apart, strict=True))) / len(before)
    return (up + down) / 2


@lru_cache(maxsize=4096)
def chord_classes(
    symbol: ChordSymbol,
    heard: frozenset[int] = frozenset(),
    key: Key | None = None,
    tensions: bool = True,
    to_minor: bool = False,
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Give the pitch classes that must and may be played under a melody.

    Parameters
    ----------
    symbol : ChordSymbol
        With a root.
    heard : frozenset of int
        Pitch classes of the melody, which the chord makes room for.
    key, tensions, to_minor
        As `voice` takes them.

    Raises
    ------
    ValueError
        If the symbol has no root.

    Examples
    --------
    >>> from kit.tune.pitch import NoteName
    >>> chord_classes(ChordSymbol(NoteName("C"), "major-seventh"), tensions=False)
    ((4, 11), (0, 7))
    >>> chord_classes(
    ...     ChordSymbol(NoteName("C"), "major-seventh"), frozenset([0]), tensions=False
    ... )
    ((4, 9), (0, 7))
    """
    root = symbol.root
    if root is None:
        raise ValueError("N.C. has no voicing")

    def pitch_class(note: Note) -> int:
        return (root + degree_interval(*note)).pitch_class

    def is_under(below: int) -> bool:
        return (below + 1) % 12 in heard and below not in heard

    must: list[int] = []
    spare: list[int] = []
    for note in symbol.notes:
        # These tell least of a chord, and the root is the bass player's.
        plain = note in ((1, 0), (5, 0), (9, 0), (11, 0))
        own = pitch_class(note)
        if is_under(own) and note in _INSTEAD:
            own = pitch_class(_INSTEAD[note])
        if not is_under(own):
            (spare if plain else must).append(own)
    must = list(dict.fromkeys(must))[:4]
    if tensions:
        beside = {(other + shift) % 12 for other in heard for shift in (1, -1)}
        added = allowed_tensions(symbol, key=key, to_minor=to_minor)
        spare += [c for c in map(pitch_class, added) if c not in beside]
    spare = [c for c in dict.fromkeys(spare) if c not in must]
    if not must and not spare:
        # A bare fifth under a melody that rubs with both: the chord is played all the same.
        return tuple(dict.fromkeys(map(pitch_class, symbol.notes)))[:4], ()
    return tuple(must), tuple(spare)


def _note_sets(must: tuple[int, ...], spare: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    wanted = max(0, 4 - len(must))
    least = min(3, len(must) + len(spare))
    for count in range(min(wanted, len(spare)), -1, -1):
        if len(must) + count < least:
            break
        for chosen in combinations(spare, count):
            yield (*must, *chosen)


def _placed(classes: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    low, high = REGISTER
    octaves = [[m for m in range(low, high + 1) if m % 12 == c] for c in classes]
    for notes in product(*octaves):
        layout = tuple(sorted(notes))
        if layout[-1] - layout[0] <= 19:
            yield layout


@cache
def _sound(layout: tuple[int, ...]) -> float:
    """Weigh a layout by itself: its spacing and its place in the register."""
    cost = 0.15 * abs(sum(layout) / len(layout) - 62)
    for a, b in pairwise(layout):
        gap = b - a
        # The low interval limits: seconds from F3 (53), thirds from C3 (48) upward.
        cost += 4.0 * (gap < 3 and a < 53) + 3.0 * (gap < 5 and a < 48)
        cost += 0.8 * (gap == 1) + 1.0 * max(0, gap - 8)
    # A semitone under the top rubs where it is heard most (common practice).
    if len(layout) > 1 and layout[-1] - layout[-2] == 1:
        cost += 2.5
    for a, b in combinations(layout, 2):
        # A minor ninth within the chord.
        cost += 1.5 * (b - a == 13)
    return cost
