"""Which tunes does the referee draft levels for, and of what kind are they?

The kind (idiom) is what the collection says of a tune, or what a tune was made as: it owes
nothing to the kit's own guess.

* Dances, marches, airs and songs from the ABC collections in music21's corpus: Ryan's
  (1883), O'Neill's (1903, 1907), Aird's (1782-1803), and Essen's songs. Kind: the field R:,
  the title's own word, or (Essen) religious songs as hymns, other songs as airs.
* Every third of them gets chords by a plain rule (`with_chords`), because the collections
  have none and a teacher's files often do.
* Jazz, blues, ballads, waltzes, hymns and marches are made: a seeded generator writes a
  melody of chord notes and steps over progressions "as every textbook has them". A half of
  them says its kind in words above the notes, the other half leaves it to the music.
* The demo lessons.

A hash of the name decides whether a tune is for tuning or for judging.
"""

from __future__ import annotations

import hashlib
import random
import re
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from corpus_reading import abc_tunes

from kit.errors import KitError
from kit.form.find import find_form
from kit.form.sections import Form
from kit.lesson.lesson import open_lesson
from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol
from kit.tune.chord_text import parse_chord
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Key, Pitch
from kit.tune.unfold import unfolded

REPOSITORY = Path(__file__).parents[2]

WANTED = {
    "reel": 46, "jig": 34, "slip jig": 10, "hornpipe": 34, "strathspey": 12, "march": 18,
    "waltz": 4, "minuet": 6, "polka": 4, "air": 40, "hymn": 12,
}  # fmt: skip
"""How many of each kind are taken from the collections (fewer where there are fewer)."""
MADE_OF_EACH = 12


@dataclass(frozen=True)
class Case:
    """A tune with its name and kind; `half` is "tuned" or "judged"."""

    name: str
    idiom: str
    tune: Tune
    half: str = ""

    @property
    def form(self) -> Form:
        return find_form(unfolded(self.tune))


def _hash(text: str) -> int:
    return int(hashlib.sha256(text.encode()).hexdigest()[:8], 16)


def cases() -> list[Case]:
    """Give all tunes, in order of their names."""
    by_idiom: dict[str, list[Case]] = defaultdict(list)
    for case in (*_from_collections(), *_made(), *_demo()):
        by_idiom[case.idiom].append(case)
    found = []
    for alike in by_idiom.values():
        # Every other one in the order of their hashes, so that both halves have each kind.
        ordered = sorted(alike, key=lambda case: _hash("half " + case.name))
        found += [
            replace(case, half=("tuned", "judged")[place % 2])
            for place, case in enumerate(ordered)
        ]
    return sorted(found, key=lambda case: case.name)


# --- the collections

_TITLE_KINDS = (
    (r"slip jig", "slip jig"), (r"jig", "jig"), (r"reel", "reel"),
    (r"strathspey|highland fling|fling", "strathspey"), (r"hornpipe|clog", "hornpipe"),
    (r"quick ?step|march", "march"), (r"waltz|valse", "waltz"), (r"minuet", "minuet"),
    (r"polka", "polka"),
)  # fmt: skip
_METERS = {
    "reel": {"2/2", "4/4", "2/4"}, "jig": {"6/8"}, "slip jig": {"9/8"},
    "hornpipe": {"2/2", "4/4", "2/4"}, "strathspey": {"4/4", "2/2"},
    "march": {"2/4", "4/4", "2/2", "6/8"}, "waltz": {"3/4"}, "minuet": {"3/4"},
    "polka": {"2/4"},
}  # fmt: skip
"""A tune whose meter is not its kind's was written down wrongly: left out."""


def kind_said(name: str, text: str) -> str:
    """Give the kind that a collection says a tune is of, empty if none."""
    rhythm = re.search(r"(?m)^R:\s*(.*)", text)
    titles = " ".join(re.findall(r"(?m)^T:\s*(.*)", text)).lower()
    said = rhythm.group(1).strip().lower() if rhythm else ""
    if name.startswith("essenFolksong"):
        if "geistlich" in said or "relig" in said:
            return "hymn"
        return "air" if "lied" in said else ""
    if name.startswith("airdsAirs"):
        said = ""  # there are none in this collection
    said = said.replace("slipjig", "slip jig")
    if said == "air" or "slow" in said or re.search(r'(?m)^N:.*"Slow', text):
        return "air"
    for pattern, kind in _TITLE_KINDS:
        if re.search(rf"\b(?:{pattern})s?\b", said or titles):
            if kind == "jig" and re.search(r"(?m)^M:\s*9/8", text):
                return "slip jig"
            return kind
    return ""


def _from_collections() -> Iterator[Case]:
    by_kind: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for name, text in abc_tunes():
        if name.startswith(("airdsAirs", "essenFolksong", "oneills", "ryans")):
            kind = kind_said(name, text)
            if kind in WANTED:
                by_kind[kind].append((name, text))
    for kind, texts in sorted(by_kind.items()):
        taken = 0
        for name, text in sorted(texts, key=lambda item: _hash("draw " + item[0])):
            if taken == WANTED[kind]:
                break
            tune = _read(text)
            if tune is None or not 8 <= len(tune.bars) <= 64:
                continue
            if kind in _METERS and str(tune.meter) not in _METERS[kind]:
                continue
            taken += 1
            if _hash("chords " + name) % 3 == 0:
                tune = with_chords(tune)
            yield Case(name, kind, tune)


def _read(text: str) -> Tune | None:
    try:
        tune = read_abc(text, source="corpus")
    except KitError:
        return None
    return tune if any(note.pitch for bar in tune.bars for note in bar.notes) else None


def with_chords(tune: Tune) -> Tune:
    """Set the tonic, subdominant or dominant over each bar, whichever its notes fit best.

    The last bar gets the tonic. Triads only, but the dominant has its seventh.
    """
    bars = []
    key = tune.key
    minor = key.is_minor
    tonic = key.tonic.pitch_class
    rows = [
        (0, "minor" if minor else "major"), (5, "minor" if minor else "major"),
        (7, "dominant"),
    ]  # fmt: skip
    if minor:
        rows.append((10, "major"))
    triads = []
    for steps, kind in rows:
        name = next((n for n in key.scale if n.pitch_class == (tonic + steps) % 12), None)
        if name is not None:
            triads.append(ChordSymbol(name, kind))
    for index, bar in enumerate(tune.bars):
        if bar.pickup:
            bars.append(bar)
            continue
        best = triads[0]
        if index < len(tune.bars) - 1:
            best = max(triads, key=lambda chord: (_fit(bar, chord), -triads.index(chord)))
        bars.append(replace(bar, chords=(ChordEvent(Fraction(0), best),)))
    return replace(tune, bars=tuple(bars))


def _fit(bar: Bar, chord: ChordSymbol) -> Fraction:
    fit = Fraction(0)
    for note in bar.notes:
        if note.pitch is not None:
            weight = note.duration * (2 if note.onset == 0 else 1)
            inside = note.pitch.midi % 12 in chord.pitch_classes
            fit += weight if inside else -weight / 2
    return fit


# --- made tunes

_TABLE = tomllib.loads(
    Path(__file__).with_name("referee_tunes.toml").read_text(encoding="utf-8")
)
_WORDS = {
    "jazz": "Medium swing", "blues": "Blues", "ballad": "Ballad", "waltz": "Waltz",
    "hymn": "Hymn", "march": "March",
}  # fmt: skip
_TEMPI = {"jazz": 144.0, "blues": 120.0, "ballad": 66.0, "hymn": 84.0, "waltz": 150.0,
          "march": 112.0}  # fmt: skip
_KEYS = (0, -1, -2, 1, -3, 2)


def _made() -> Iterator[Case]:
    for idiom, progressions in _TABLE["progressions"].items():
        for number in range(MADE_OF_EACH):
            name = f"made/{idiom}-{number}"
            row = progressions[number % len(progressions)]
            yield Case(name, idiom, _make(name, idiom, row, number))


def _make(name: str, idiom: str, row: dict[str, str], number: int) -> Tune:
    chance = random.Random(name)
    form, a_part, b_part = row["form"], row["a"], row["b"]
    compound = idiom == "march" and number % 4 == 3
    meter = Meter.parse(
        "6/8" if compound else {"waltz": "3/4", "march": "2/4"}.get(idiom, "4/4")
    )
    minor = a_part.startswith("Am")
    fifths = _KEYS[number % len(_KEYS)]
    key = Key(fifths, "minor" if minor else "major")
    up = key.tonic.pitch_class - (9 if minor else 0)
    up = up - 12 if up > 6 else up
    rhythms = _TABLE["rhythms"]["march in 6/8" if compound else idiom]
    parts = {
        label: _part(chords, meter, key, up, rhythms, chance)
        for label, chords in (("A", a_part), ("B", b_part), ("C", b_part))
        if chords
    }
    bars: list[Bar] = []
    for place, label in enumerate(form):
        for offset, bar in enumerate(parts[label]):
            section = label if offset == 0 else ""
            bars.append(replace(bar, number=len(bars) + 1, section=section))
        if place == len(form) - 1:
            bars[-1] = replace(_closed(bars[-1], key), number=len(bars))
    # A half says in words what it is, and every third its tempo.
    said = number % 2 == 0
    tempo = _TEMPI[idiom] * (1.5 if compound else 1.0)
    return Tune(
        f"Made {number}",
        tuple(bars),
        feel=_WORDS[idiom] if said else "",
        # A ballad is known by its words or its tempo only.
        tempo_qpm=tempo if number % 3 == 0 or idiom == "ballad" else None,
    )


def _part(
    chords: str,
    meter: Meter,
    key: Key,
    up: int,
    rhythms: list[str],
    chance: random.Random,
) -> list[Bar]:
    bars = []
    height = 67 + chance.randint(-3, 3)
    for text in chords.split("|"):
        symbols = [_moved(parse_chord(one), key, up) for one in text.split()]
        each = meter.bar_length / len(symbols)
        events = tuple(ChordEvent(k * each, s) for k, s in enumerate(symbols))
        notes, height = _melody(meter, key, events, chance.choice(rhythms), height, chance)
        bars.append(Bar(1, notes, events, meter=meter, key=key))
    return bars


def _moved(symbol: ChordSymbol, key: Key, up: int) -> ChordSymbol:
    """Bring a chord from C major or A minor into the key, spelled as in the key."""
    assert symbol.root is not None
    fifths = symbol.root.fifths + key.fifths
    return ChordSymbol(type(symbol.root).from_fifths(fifths), symbol.kind, symbol.degrees)


def _melody(
    meter: Meter,
    key: Key,
    events: tuple[ChordEvent, ...],
    rhythm: str,
    height: int,
    chance: random.Random,
) -> tuple[tuple[Note, ...], int]:
    notes = []
    onset = Fraction(0)
    for item in rhythm.split():
        length = Fraction(item.lstrip("r"))
        if item.startswith("r"):
            notes.append(Note(onset, length, None))
        else:
            symbol = [e.symbol for e in events if e.onset <= onset][-1]
            strong = onset % meter.pulse == 0 or length >= meter.pulse
            names = symbol.note_names if strong else key.scale
            pool = [
                pitch
                for octave in (3, 4, 5)
                for name in names
                if 59 <= (pitch := Pitch(name.step, name.alter, octave)).midi <= 81
            ]
            aim = height + chance.choice((-4, -3, -2, -2, 0, 2, 2, 3, 4, 5))
            aim = min(max(aim, 61), 79)
            pitch = min(pool, key=lambda p: (abs(p.midi - aim), p.midi))
            notes.append(Note(onset, length, pitch))
            height = pitch.midi
        onset += length
    return tuple(notes), height


def _closed(bar: Bar, key: Key) -> Bar:
    """End on the tonic."""
    name = key.tonic
    last = Pitch(name.step, name.alter, 4)
    kind = bar.chords[0].symbol.kind
    home = kind if kind in ("dominant", "minor-seventh", "minor") else "major"
    note = Note(Fraction(0), bar.meter.bar_length, last)
    return replace(
        bar, notes=(note,), chords=(ChordEvent(Fraction(0), ChordSymbol(name, home)),)
    )


def _demo() -> Iterator[Case]:
    for slug, idiom in (
        ("lamplighters-detour", "jazz"), ("the-girl-i-left-behind-me", "march"),
    ):  # fmt: skip
        yield Case(f"demo/{slug}", idiom, open_lesson(REPOSITORY / "lessons" / slug).tune)
