"""What do two old printings of one tune differ in? Writes kit/levels/printings.toml.

    python tests/benchmarks/printings.py            prints the counts
    python tests/benchmarks/printings.py --write    and writes the table

The collections in music21's corpus (Ryan's 1883, O'Neill's 1903 and 1907, Aird's 1782-1803)
hold many tunes in two settings. Two settings are taken for one tune if the notes on the two
strong places of their first eight bars, counted from the tonic, agree but for two of
sixteen, and they are of one kind of dance. In each pair of like bars (both strong places
agree) it is counted what one setting has and the other lacks: a grace note or ornament, a
note struck again, a note in passing, a neighbour note, or another note in the same place.

Only the counts go into the table, by kind of dance and place: on a dance beat or between.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from corpus_reading import abc_tunes
from referee_music import Sheet
from referee_tunes import kind_said

from kit.errors import KitError
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune

TABLE = Path(__file__).parents[2] / "kit" / "levels" / "printings.toml"
BOOKS = ("ryansMammoth", "oneills1850", "airdsAirs")
BARS = 8
MAY_DIFFER = 2
BEATS = {
    "reel": 2, "hornpipe": 2, "strathspey": 2, "march": 2, "polka": 2, "jig": 2,
    "slip jig": 3,
}  # fmt: skip
ORNAMENTS = {"turn", "inverted-turn", "mordent", "inverted-mordent", "trill-mark"}

Note = tuple[Fraction, int, bool]
"""Place in the bar as a share of it, half steps above the tonic, whether ornamented."""
Difference = tuple[str, str]
"""What one setting has more, and where: "beat" or "between"."""


@dataclass(frozen=True)
class Setting:
    """A tune as one book has it: its full bars, as notes from the tonic."""

    book: str
    kind: str
    title: str
    bars: tuple[tuple[Note, ...], ...]
    skeleton: tuple[int | None, ...]


def settings() -> Iterator[Setting]:
    """Read the collections."""
    for name, text in abc_tunes():
        kind = kind_said(name, text)
        if not name.startswith(BOOKS) or kind not in BEATS:
            continue
        try:
            tune = read_abc(text, source="corpus")
        except KitError:
            continue
        bars = tuple(_bars(tune))
        if len(bars) >= BARS:
            skeleton = tuple(height for bar in bars[:BARS] for height in _strong(bar))
            # Few different notes would match by chance.
            if None not in skeleton and len(set(skeleton)) >= 4:
                yield Setting(name.split("/")[0], kind, tune.title, bars, skeleton)


def _bars(tune: Tune) -> Iterator[tuple[Note, ...]]:
    tonic = tune.key.tonic.pitch_class
    by_bar: dict[int, list[Note]] = defaultdict(list)
    sheet = Sheet(tune)
    for heard in sheet.notes:
        length = tune.bars[heard.bar].meter.bar_length
        adorned = bool(heard.graces or ORNAMENTS & {*heard.marks})
        by_bar[heard.bar].append((heard.onset / length, heard.midi - tonic, adorned))
    for index, bar in enumerate(tune.bars):
        if not bar.is_short:
            yield tuple(by_bar[index])


def _strong(bar: tuple[Note, ...]) -> tuple[int | None, int | None]:
    """Give the pitch classes on the two strong places."""
    found = {place: height % 12 for place, height, _ in bar}
    middle = next((found[m] for m in (Fraction(1, 2), Fraction(2, 3)) if m in found), None)
    return found.get(Fraction(0)), middle


def pairs(every: list[Setting]) -> Iterator[tuple[Setting, Setting]]:
    """Find two settings of one tune, in two books or twice in one."""
    by_key: dict[tuple[object, ...], list[Setting]] = defaultdict(list)
    for setting in every:
        for first in range(0, 2 * BARS, BARS):
            # One of the two halves has to agree throughout: that makes the search short.
            by_key[setting.kind, first, setting.skeleton[first : first + BARS]].append(
                setting
            )
    seen = set()
    for alike in by_key.values():
        for one, other in combinations(alike, 2):
            key = (id(one), id(other))
            differ = sum(a != b for a, b in zip(one.skeleton, other.skeleton, strict=True))
            if differ <= MAY_DIFFER and key not in seen and one.bars != other.bars:
                seen.add(key)
                yield one, other


def differences(
    one: tuple[Note, ...], other: tuple[Note, ...], beats: int
) -> list[Difference]:
    """Say what the first bar has that the second lacks."""
    theirs = {place: (height, adorned) for place, height, adorned in other}
    # Settings may lie an octave apart.
    shift = one[0][1] - other[0][1]
    found: list[Difference] = []
    for index, (place, height, adorned) in enumerate(one):
        where = "beat" if (place * beats).denominator == 1 else "between"
        same = theirs.get(place)
        if same is not None and same[0] + shift == height:
            if adorned and not same[1]:
                found.append(("ornament", where))
            continue
        before = one[index - 1][1] if index else None
        after = one[index + 1][1] if index + 1 < len(one) else None
        if same is None and before == height:
            found.append(("repeat", where))
        elif same is None and before is not None and after is not None:
            found.append((_added(before, height, after), where))
        elif same is not None:
            found.append(("another note", where))
    return [item for item in found if item[0] != "other"]


def _added(before: int, height: int, after: int) -> str:
    up, on = height - before, after - height
    if 0 < abs(up) <= 2 and 0 < abs(on) <= 2:
        return "passing note" if up * on > 0 else "neighbour note"
    return "other"


def count() -> tuple[Counter[tuple[str, str, str]], Counter[str], int]:
    """Count differences by kind of dance, like bars by kind of dance, and pairs."""
    found: Counter[tuple[str, str, str]] = Counter()
    bars: Counter[str] = Counter()
    number = 0
    for one, other in pairs(list(settings())):
        number += 1
        for a, b in zip(one.bars, other.bars, strict=False):
            if not a or not b or _strong(a) != _strong(b) or None in _strong(a):
                continue
            bars[one.kind] += 1
            for first, second in ((a, b), (b, a)):
                # Each bar counts a kind of difference once: a roll printed out is one idea.
                for item in set(differences(first, second, BEATS[one.kind])):
                    found[one.kind, *item] += 1
    return found, bars, number


HEAD = """\
# What one old printing of a dance tune has and another printing of the same tune lacks, in
# like bars: counts by kind of dance, kind of difference, and place (on a dance beat, or
# between). Made by tests/benchmarks/printings.py; do not edit.
#
# Source: {pairs} pairs of settings in the ABC files that music21 10 ships of
# Ryan's Mammoth Collection (1883), O'Neill's Music of Ireland (1903) and Dance Music of
# Ireland (1907), and Aird's Selection (1782-1803). The tunes are in the public domain, the
# files are not copied: these are counts.
"""


def table() -> str:
    """Write the counts as TOML."""
    found, bars, number = count()
    lines = [HEAD.format(pairs=number)]
    for kind in BEATS:
        if not bars[kind]:
            continue
        lines.append(f"[{_key(kind)}]\nbars = {bars[kind]}\n")
        for where in ("beat", "between"):
            rows = {k: n for (d, k, w), n in found.items() if d == kind and w == where}
            if rows:
                lines.append(f"[{_key(kind)}.{where}]")
                lines += [f"{_key(k)} = {rows[k]}" for k in sorted(rows)]
                lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _key(name: str) -> str:
    return f'"{name}"' if " " in name else name


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true", help="write the table of the kit")
    given = parser.parse_args()
    text = table()
    print(text)
    if given.write:
        TABLE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
