"""What do the ABC fields for key, meter, note length and tempo say?

Conventions: lengths are exact fractions of a whole note as ABC writes them and of a
quarter note where the name says so. Each function raises ``ValueError`` with what it
cannot read; the reader adds file and bar.

Source: ABC standard 2.1, sections 3.1.6 (M), 3.1.7 (L), 3.1.8 (Q), 3.1.14 (K) and 4.6.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from kit.tune._semitones import semitones_to_interval
from kit.tune.model import Meter
from kit.tune.pitch import Interval, Key, NoteName

__all__ = ["AbcKey", "AbcTempo", "default_unit", "parse_key", "parse_meter", "parse_tempo",
           "parse_unit"]  # fmt: skip

_MODES = {
    "maj": "major", "ion": "ionian", "min": "minor", "m": "minor", "aeo": "aeolian",
    "mix": "mixolydian", "dor": "dorian", "phr": "phrygian", "lyd": "lydian",
    "loc": "locrian",
}  # fmt: skip
_TONIC_FIFTHS = re.compile(r"([A-G])([#b♯♭]?)")
_EXTRA = re.compile(r"(\^\^|__|\^|_|=)([A-Ga-g])")
_ALTER = {"^^": 2, "__": -2, "^": 1, "_": -1, "=": 0}
# A setting's name is in small letters; in "Dmix=c" the natural belongs to the key.
_SETTING = re.compile(r"(?<!\S)([a-z][\w-]*)=\s*(\"[^\"]*\"|\S+)")
_CLEF_WORDS = frozenset({
    "treble", "bass", "alto", "tenor", "perc", "none", "bass3", "alto1", "alto2",
    "treble+8", "treble-8", "bass-8", "bass+8", "tenor-8", "alto-8", "alto4",
    "bass4", "auto",
})  # fmt: skip
MAX_BEATS = 64


@dataclass(frozen=True, slots=True)
class AbcKey:
    """A key with what ABC can add to it.

    `altered` gives notes whose accidental the field sets itself, beyond the signature;
    `transposition` and `octaves` say how far written notes lie from the sounding ones.
    """

    key: Key = field(default_factory=lambda: Key(0))
    altered: tuple[tuple[str, int], ...] = ()
    transposition: Interval = field(default_factory=lambda: Interval(0, 0))
    octaves: int = 0
    remark: str = ""

    def alter_of(self, step: str) -> int:
        """Give the alteration of a letter in the signature."""
        for letter, alter in self.altered:
            if letter == step:
                return alter
        # On the line of fifths sharps come in the order F C G D A E B.
        place = "FCGDAEB".index(step)
        return (self.key.fifths - place + 6) // 7


@dataclass(frozen=True, slots=True)
class AbcTempo:
    """Quarter notes per minute if given, and any words."""

    tempo_qpm: float | None = None
    words: str = ""


def parse_key(value: str, current: AbcKey | None = None) -> AbcKey:
    """Read a key field such as ``Bb``, ``F#m``, ``D mix``, ``Am ^g``, ``none``, ``HP``.

    A field that only sets the clef or a transposition keeps the `current` key.

    Raises
    ------
    ValueError
        If it names no key.
    """
    settings = {m[1].lower(): m[2].strip('"') for m in _SETTING.finditer(value)}
    words = [w for w in _SETTING.sub(" ", value).split() if w.lower() not in _CLEF_WORDS]
    text = " ".join(words)
    base = current or AbcKey()
    if value.strip().lower() == "none":
        base = AbcKey(remark="The source gives no key; C major is assumed.")
    elif text in ("HP", "Hp"):
        # ABC 2.1, section 3.1.14: Hp prints its signature, HP none.
        key = Key(2, "mixolydian") if text == "Hp" else Key(0, "mixolydian")
        base = AbcKey(key, remark="The key is that of the Highland pipes.")
    elif text:
        base = _named_key(text)
    elif current is None and not settings:
        base = AbcKey(remark="The source gives no key; C major is assumed.")
    return AbcKey(
        base.key,
        base.altered,
        _transposition(settings, base.transposition),
        _integer(settings["octave"], 4) if "octave" in settings else base.octaves,
        base.remark,
    )


def _transposition(settings: dict[str, str], before: Interval) -> Interval:
    name = next((n for n in ("transpose", "t") if n in settings), None)
    if name is None:
        return before
    return semitones_to_interval(_integer(settings[name], 48))


def _integer(text: str, limit: int) -> int:
    if not re.fullmatch(r"[+-]?\d{1,2}", text) or abs(int(text)) > limit:
        raise ValueError(f'"{text}" is not a whole number up to {limit}')
    return int(text)


def _named_key(text: str) -> AbcKey:
    extras = tuple((m[2].upper(), _ALTER[m[1]]) for m in _EXTRA.finditer(text))
    bare = _EXTRA.sub(" ", text).strip()
    match = _TONIC_FIFTHS.match(bare)
    if match is None:
        if extras and not bare:
            return AbcKey(Key(0), extras, remark=_EXTRA_REMARK)
        raise ValueError(f'"{text}" is not a key such as Am, Bb or D dorian')
    rest = bare[match.end() :].strip().lower()
    word = rest.split()[0] if rest else ""
    mode = _MODES.get(word if word == "m" else word[:3], "") if word else "major"
    explicit = word == "exp" or rest.endswith(" exp")
    if word == "exp":
        mode = "major"
    if not mode:
        raise ValueError(f'"{text}" is not a key such as Am, Bb or D dorian')
    key = Key.parse(f"{NoteName.parse(match[0])} {mode}")
    if abs(key.fifths) > 7:
        raise ValueError(f'the key "{text}" has more than seven accidentals')
    if explicit:
        return AbcKey(Key(0), extras, remark=_EXTRA_REMARK)
    return AbcKey(key, extras, remark=_EXTRA_REMARK if extras else "")


_EXTRA_REMARK = (
    "The key field sets accidentals of its own; they are printed before the notes instead."
)


def parse_meter(value: str) -> Meter | None:
    """Read a meter field; None is free meter.

    Raises
    ------
    ValueError
        If it is not a meter.
    """
    text = value.strip()
    # The Essen collection writes FREI, German for free, before the meter that it leans to.
    if text.lower() in ("none", "") or text.startswith("FREI"):
        return None
    if text in ("C", "c"):
        return Meter(4, 4)
    if text in ("C|", "c|"):
        return Meter(2, 2)
    match = re.fullmatch(r"\(?\s*(\d{1,3}(?:\s*\+\s*\d{1,3})*)\s*\)?\s*/\s*(\d{1,3})", text)
    if match is None:
        raise ValueError(f'"{text}" is not a meter such as 6/8')
    beats = sum(int(part) for part in match[1].split("+"))
    if not 0 < beats <= MAX_BEATS:
        raise ValueError(f'"{text}" is not a meter of 1 to {MAX_BEATS} beats')
    return Meter.parse(f"{beats}/{match[2]}")


def default_unit(meter: Meter | None) -> Fraction:
    """Give the note length that holds without an L: field, as part of a whole note."""
    if meter is not None and Fraction(meter.beats, meter.beat_type) < Fraction(3, 4):
        # ABC 2.1, section 3.1.7: sixteenths where a bar is less than 3/4 long.
        return Fraction(1, 16)
    return Fraction(1, 8)


def parse_unit(value: str) -> Fraction:
    """Read a note length field, as part of a whole note.

    Raises
    ------
    ValueError
        If it is not a length from a whole note to a 1/512.
    """
    match = re.fullmatch(r"(\d)(?:\s*/\s*(\d{1,3}))?", value.strip())
    unit = (
        Fraction(int(match[1]), int(match[2] or 1)) if match and match[2] != "0" else None
    )
    if unit is None or not Fraction(1, 512) <= unit <= 4:
        raise ValueError(f'"{value.strip()}" is not a note length such as 1/8')
    return unit


def parse_tempo(value: str, unit: Fraction) -> AbcTempo:
    """Read a tempo field such as ``1/4=120``, ``"Easy" 3/8=60`` or the old ``C=100``.

    Raises
    ------
    ValueError
        If it is not a tempo.
    """
    words = " ".join(re.findall(r'"([^"]*)"', value)).strip()
    rest = re.sub(r'"[^"]*"', " ", value).strip()
    if not rest:
        return AbcTempo(None, words)
    left, equals, right = rest.rpartition("=")
    number = re.fullmatch(r"(\d{1,4}(?:\.\d{1,3})?)", right.strip())
    if number is None or float(number[1]) <= 0:
        raise ValueError(f'"{value.strip()}" is not a tempo such as 1/4=120')
    beat = _beat(left, unit) if equals else unit
    qpm = float(number[1]) * float(4 * beat)
    if not 5 <= qpm <= 1000:
        raise ValueError(f"the tempo, {qpm:g} quarter notes a minute, cannot be played")
    return AbcTempo(qpm, words)


def _beat(text: str, unit: Fraction) -> Fraction:
    """Give the length of the beat, summed where it is a group such as ``3/8 1/8``."""
    old = re.fullmatch(r"\s*C(\d?)\s*", text)
    if old:
        return unit * int(old[1] or 1)
    parts = text.split()
    return sum((parse_unit(part) for part in parts), Fraction(0)) if parts else unit
