"""How is a chord laid out under the hands, next to the chord before?

A voicing has three or four notes. It holds what tells the chord apart (third or
suspension, seventh or sixth, every altered or added note), then a tension or the fifth;
the root is the bass player's unless nothing else is left. Of all layouts in the register
the cheapest is taken: least movement of the voices, no clash with the melody, top note
not above it, no thick sound below.

Sources: common practice; low interval limits as given in orchestration handbooks (from
memory): no second below F3, no third below C3. A minor ninth above a sounding melody
note is the clash every handbook warns of.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Collection, Iterator, Sequence
from functools import cache
from importlib.resources import files
from itertools import combinations, pairwise, product

from kit.tune.chord import ChordSymbol, degree_interval
from kit.tune.pitch import Key

__all__ = ["REGISTER", "allowed_tensions", "leads_to_minor", "movement", "voice"]

REGISTER = (50, 74)
"""D3 to D5: above the bass, mostly below the melody."""

_MINOR_KINDS = frozenset(
    {
        "minor", "minor-seventh", "minor-sixth", "minor-ninth", "major-minor",
        "minor-11th", "minor-13th", "half-diminished", "diminished",
    }
)  # fmt: skip

Note = tuple[int, int]


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
    rng: random.Random | None = None,
) -> tuple[int, ...]:
    """Choose a voicing.

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
    rng : random.Random, optional
        A little chance, so that a repeated chord is not always laid out alike.

    Returns
    -------
    tuple of int
        MIDI numbers, lowest first, within `REGISTER`.

    Raises
    ------
    ValueError
        If the symbol has no root.
    """
    if symbol.root is None:
        raise ValueError("N.C. has no voicing")
    best: tuple[float, tuple[int, ...]] = (float("inf"), ())
    for extra, layout in _layouts(symbol, key, tensions, to_minor):
        chance = rng.random() if rng is not None else 0.0
        # Costs only add up: what is dearer already cannot win.
        if extra + chance >= best[0]:
            continue
        cost = extra + _cost(layout, tuple(before), frozenset(melody)) + chance
        if cost < best[0]:
            best = (cost, layout)
    return best[1]


def movement(before: Sequence[int], after: Sequence[int]) -> float:
    """Give the mean movement per voice in semitones, each voice going to the nearest."""
    if not before or not after:
        return 0.0
    apart = [[abs(a - b) for b in before] for a in after]
    up = sum(map(min, apart)) / len(after)
    down: float = sum(map(min, zip(*apart, strict=True))) / len(before)
    return (up + down) / 2


@cache
def _layouts(
    symbol: ChordSymbol, key: Key | None, tensions: bool, to_minor: bool
) -> tuple[tuple[float, tuple[int, ...]], ...]:
    found = [
        (_sound(layout) + 1.5 * (4 - len(classes)), layout)
        for classes in _note_sets(symbol, key, tensions, to_minor)
        for layout in _placed(classes)
    ]
    return tuple(found)


def _note_sets(
    symbol: ChordSymbol, key: Key | None, tensions: bool, to_minor: bool
) -> Iterator[tuple[int, ...]]:
    root = symbol.root
    assert root is not None

    def pitch_class(note: Note) -> int:
        return (root + degree_interval(*note)).pitch_class

    must: list[Note] = []
    spare: list[Note] = []
    for note in symbol.notes:
        # These tell least of a chord, and the root is the bass player's.
        plain = note in ((1, 0), (5, 0), (9, 0), (11, 0))
        (spare if plain else must).append(note)
    must_classes = list(dict.fromkeys(pitch_class(note) for note in must))[:4]
    added = allowed_tensions(symbol, key=key, to_minor=to_minor) if tensions else ()
    spare_classes = [
        c
        for c in dict.fromkeys(pitch_class(note) for note in (*spare, *added))
        if c not in must_classes
    ]
    wanted = max(0, 4 - len(must_classes))
    for count in range(min(wanted, len(spare_classes)), -1, -1):
        chosen_any = False
        for chosen in combinations(spare_classes, count):
            if len(must_classes) + count >= min(3, len(must_classes) + len(spare_classes)):
                chosen_any = True
                yield (*must_classes, *chosen)
        if not chosen_any:
            break


def _placed(classes: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
    low, high = REGISTER
    octaves = [[m for m in range(low, high + 1) if m % 12 == c] for c in classes]
    for notes in product(*octaves):
        layout = tuple(sorted(notes))
        if layout[-1] - layout[0] <= 19:
            yield layout


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


def _cost(
    layout: tuple[int, ...], before: tuple[int, ...], melody: frozenset[int]
) -> float:
    cost = 1.6 * movement(before, layout)
    if before:
        # The top voice is heard as a line.
        cost += 0.35 * abs(layout[-1] - before[-1])
    for note in melody:
        cost += 1.2 * (layout[-1] > note)
        for tone in layout:
            # A semitone under the melody muddies it; a minor ninth above it is worse.
            cost += 6.0 * (tone == note - 1) + 8.0 * ((tone - note) % 12 == 1)
    return cost
