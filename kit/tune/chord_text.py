"""What chord does a piece of text such as ``C-7`` or ``F7(b9,#5)`` mean?

Conventions
-----------
* A text is root, quality, number, changes, bass; round brackets, commas and spaces only
  separate. The many usual spellings of one chord give one `ChordSymbol`.
* A sign straight after the root belongs to the root: ``Cb5`` is a C flat power chord, and
  ``C(b5)`` a C major chord with a flat fifth.
* A bare triangle means the major seventh, a bare ``ø`` the half-diminished seventh,
  ``2`` an added second, ``alt`` both altered fifths and both altered ninths.
* A changed degree that the kind holds is an ``alter``, any other an ``add``, as MusicXML
  means the two words.

Source: common practice; the kinds are those of MusicXML 4.0, ``kind-value``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.pitch import NoteName

__all__ = ["looks_like_chord", "parse_chord"]

MAX_LENGTH = 40
"""Longer texts are not chord symbols."""

_NO_CHORD = re.compile(r"N\.? ?C\.?|n\.c\.|no chord", re.IGNORECASE)
# Double signs first: `match` takes the first alternative that fits.
_ROOT = re.compile(r"[A-G](?:bb|♭♭|##|♯♯|[b♭𝄫#♯x𝄪])?")
_BASS = re.compile(r"[A-Ga-g](?:bb|♭♭|##|♯♯|[b♭𝄫#♯x𝄪+])?")
_LIKE_A_CHORD = re.compile(
    r"\(?[A-G][b#♭♯]?(?:$|[^a-zA-Z.\s]|M(?![A-Z])|m(?:add|maj|sus|(?![a-z]{3}))|(?:maj|min|mi|dim|aug|sus|add|o)(?![a-z]{2}))"
)

_QUALITY = re.compile(
    r"(?P<triangle>Δ|△|∆)"
    r"|(?P<minor>min|Min|MIN|mi(?!x)|Mi|MI|m(?!a(?!dd))|[-−–])"
    r"|(?P<major>maj|Maj|MAJ|ma|Ma|MA|M)"
    r"|(?P<diminished>dim|Dim|DIM|[o°º])"
    r"|(?P<half>[øØ∅])"
    r"|(?P<augmented>aug|Aug|AUG|\+)"
    r"|(?P<dominant>dom)"
)
_NUMBER = re.compile(r"6/9|69|13|11|[256790]")
_CHANGE = re.compile(
    r"(?P<separator>[\s(),]+)"
    r"|(?P<word>add|no|omit)\s*(?P<word_sign>[b♭#♯]?)(?P<word_degree>13|11|[2-79])"
    r"|(?P<major_seventh>maj7|Maj7|ma7|Ma7|M7|Δ7?|△7?|∆7?)"
    r"|(?P<sus>sus)\s*(?P<sus_degree>[24]?)"
    r"|(?P<alt>alt)"
    r"|(?P<sign>bb|[b♭#♯+\-−])(?P<degree>13|11|[4-79])"
    r"|(?P<plus>\+)"
    r"|(?P<sixth>6)"
    r"|(?P<extension>13|11|9)"
)
_SIGN_SEMITONES = {
    "b": -1,
    "♭": -1,
    "-": -1,
    "−": -1,
    "bb": -2,
    "#": 1,
    "♯": 1,
    "+": 1,
    "": 0,
}

_SEVENTH, _NINTH, _11TH = Degree(7), Degree(9), Degree(11)
_MAJOR_7TH = Degree(7, 1)
_SHARP_FIFTH = Degree(5, 1, "alter")

# (quality, number) to (kind, degrees on top of it).
_STEMS: dict[tuple[str, str], tuple[str, tuple[Degree, ...]]] = {
    ("", ""): ("major", ()),
    ("", "2"): ("major", (Degree(2),)),
    ("", "5"): ("power", ()),
    ("", "6"): ("major-sixth", ()),
    ("", "69"): ("major-sixth", (_NINTH,)),
    ("", "7"): ("dominant", ()),
    ("", "9"): ("dominant-ninth", ()),
    ("", "11"): ("dominant-11th", ()),
    ("", "13"): ("dominant-13th", ()),
    ("dominant", "7"): ("dominant", ()),
    ("dominant", "9"): ("dominant-ninth", ()),
    ("major", ""): ("major", ()),
    ("major", "6"): ("major-sixth", ()),
    ("major", "69"): ("major-sixth", (_NINTH,)),
    ("major", "7"): ("major-seventh", ()),
    ("major", "9"): ("major-ninth", ()),
    ("major", "11"): ("major-11th", ()),
    ("major", "13"): ("major-13th", ()),
    ("triangle", ""): ("major-seventh", ()),
    ("minor", ""): ("minor", ()),
    ("minor", "6"): ("minor-sixth", ()),
    ("minor", "69"): ("minor-sixth", (_NINTH,)),
    ("minor", "7"): ("minor-seventh", ()),
    ("minor", "9"): ("minor-ninth", ()),
    ("minor", "11"): ("minor-11th", ()),
    ("minor", "13"): ("minor-13th", ()),
    ("minor-major", "7"): ("major-minor", ()),
    ("minor-major", "9"): ("major-minor", (_NINTH,)),
    ("minor-major", "11"): ("major-minor", (_NINTH, _11TH)),
    ("minor-major", "13"): ("major-minor", (_NINTH, _11TH, Degree(13))),
    ("diminished", ""): ("diminished", ()),
    ("diminished", "7"): ("diminished-seventh", ()),
    ("diminished", "9"): ("diminished-seventh", (_NINTH,)),
    ("diminished", "11"): ("diminished-seventh", (_NINTH, _11TH)),
    ("diminished-major", "7"): ("diminished", (_MAJOR_7TH,)),
    ("half", ""): ("half-diminished", ()),
    ("half", "7"): ("half-diminished", ()),
    ("half", "9"): ("half-diminished", (_NINTH,)),
    ("half", "11"): ("half-diminished", (_NINTH, _11TH)),
    ("augmented", ""): ("augmented", ()),
    ("augmented", "7"): ("augmented-seventh", ()),
    ("augmented", "9"): ("augmented-seventh", (_NINTH,)),
    ("augmented-major", "7"): ("major-seventh", (_SHARP_FIFTH,)),
    ("augmented-major", "9"): ("major-ninth", (_SHARP_FIFTH,)),
}

# Kinds that are written as a word of their own and take no changes.
_NAMED = {
    KINDS[kind].suffix.strip(): kind
    for kind in ("pedal", "Neapolitan", "Italian", "French", "German", "Tristan")
}
# What a chord is called once its fifth is changed: kind and change to kind.
_BY_FIFTH = {
    ("major", 1): "augmented",
    ("minor", -1): "diminished",
    ("dominant", 1): "augmented-seventh",
    ("minor-seventh", -1): "half-diminished",
}
_BY_MAJOR_SEVENTH = {"major": "major-seventh", "minor": "major-minor"}
_ALTERED_DEGREES = (Degree(5, -1, "alter"), Degree(5, 1), Degree(9, -1), Degree(9, 1))


def looks_like_chord(text: str) -> bool:
    """Say whether a text is meant as a chord symbol, readable or not."""
    text = text.strip()
    return bool(_NO_CHORD.fullmatch(text) or _LIKE_A_CHORD.match(text))


def parse_chord(text: str) -> ChordSymbol:
    """Read a chord symbol in any of the usual spellings.

    Parameters
    ----------
    text : str
        Such as ``Cm7``, ``C-7``, ``E♭Δ7``, ``F7(b9,#5)``, ``C6/9``, ``G13sus``, ``D/F#``
        or ``N.C.``.

    Raises
    ------
    ValueError
        If the text, or a part of it, cannot be read; the message names the part.

    Examples
    --------
    >>> str(parse_chord("Bb-7b5/E"))
    'B♭m7♭5/E'
    """
    trimmed = text.strip()
    if len(trimmed) > MAX_LENGTH:
        raise ValueError(f'"{trimmed[:MAX_LENGTH]}…" is too long for a chord symbol')
    if _NO_CHORD.fullmatch(trimmed):
        return ChordSymbol(None, "none")
    if trimmed.startswith("(") and trimmed.endswith(")") and trimmed.count("(") == 1:
        trimmed = trimmed[1:-1].strip()
    root = _ROOT.match(trimmed)
    if root is None:
        raise ValueError(f'chord "{trimmed}" does not begin with a note from A to G')
    body, bass = _split_bass(trimmed[root.end() :])
    suffix = _Suffix.read(body, trimmed)
    return ChordSymbol(NoteName.parse(root[0]), suffix.kind, suffix.sorted_degrees(), bass)


def _split_bass(rest: str) -> tuple[str, NoteName | None]:
    body, slash, bass = rest.rpartition("/")
    if slash and _BASS.fullmatch(bass.strip()):
        # Older ABC collections write a sharp bass note with a plus sign.
        return body, NoteName.parse(bass.replace("+", "#"))
    return rest, None


@dataclass(slots=True)
class _Suffix:
    """What stands behind the root, being read from left to right."""

    whole: str
    kind: str = "major"
    degrees: tuple[Degree, ...] = ()
    suspended: str = ""

    @classmethod
    def read(cls, body: str, whole: str) -> _Suffix:
        suffix = cls(whole)
        if body.strip() in _NAMED:
            suffix.kind = _NAMED[body.strip()]
            return suffix
        rest = suffix._stem(body.lstrip())
        while rest:
            match = _CHANGE.match(rest)
            if match is None:
                raise ValueError(f'in the chord "{whole}", "{rest}" cannot be read')
            suffix._change(match)
            rest = rest[match.end() :]
        suffix._settle()
        return suffix

    def _stem(self, body: str) -> str:
        """Take quality and number off the front; give what is left."""
        quality, rest = _quality(body)
        number = _NUMBER.match(rest)
        digits = number[0].replace("/", "") if number else ""
        # A bare triangle means the seventh too; before a number it only says major.
        if quality == "triangle" and digits:
            quality = "major"
        stem = _STEMS.get((quality, digits))
        if stem is None:
            raise ValueError(f'the chord "{self.whole}" is of no known kind')
        self.kind, self.degrees = stem
        return rest[number.end() :] if number else rest

    def _change(self, match: re.Match[str]) -> None:
        groups = match.groupdict()
        if groups["separator"]:
            return
        if groups["word"]:
            self._worded(groups["word"], groups["word_sign"], int(groups["word_degree"]))
        elif groups["major_seventh"]:
            self.degrees += (_MAJOR_7TH,)
        elif groups["sus"]:
            # A bare "sus" means the fourth (common practice).
            self.suspended = groups["sus_degree"] or "4"
        elif groups["alt"]:
            self._altered()
        elif groups["degree"]:
            self._signed(int(groups["degree"]), _SIGN_SEMITONES[groups["sign"]])
        elif groups["plus"]:
            self._signed(5, 1)
        elif groups["sixth"]:
            self.degrees += (Degree(6),)
        else:
            self.degrees += (Degree(int(groups["extension"])),)

    def _worded(self, word: str, sign: str, number: int) -> None:
        if word == "add":
            self.degrees += (Degree(number, _SIGN_SEMITONES[sign]),)
        elif number in dict(KINDS[self.kind].notes):
            self.degrees += (Degree(number, 0, "subtract"),)
        else:
            raise ValueError(f'the chord "{self.whole}" has no {number} to leave out')

    def _altered(self) -> None:
        if self.kind not in ("major", "dominant"):
            raise ValueError(f'in the chord "{self.whole}", "alt" needs a dominant seventh')
        self.kind = "dominant"
        self.degrees += _ALTERED_DEGREES

    def _signed(self, number: int, semitones: int) -> None:
        own = dict(KINDS[self.kind].notes)
        if number != 7 and semitones and own.get(number) == semitones:
            return  # Cø7(b5) says the flat fifth twice
        if number == 5 and own.get(5):
            raise ValueError(f'the chord "{self.whole}" has two different fifths')
        taken = any(d.value == number and d.change == "alter" for d in self.degrees)
        if own.get(number) == 0 and not taken:
            self.degrees += (Degree(number, semitones, "alter"),)
        else:
            self.degrees += (Degree(number, semitones),)

    def _settle(self) -> None:
        """Bring equal chords to one kind."""
        if self.suspended:
            self._suspend()
        fifths = [d for d in self.degrees if d.value == 5]
        if self.kind == "dominant" and len(self.degrees) > 1:
            return  # 7(♭5,♭9), 7(♯5,♯9): print both changes alike
        # A chord with both fifths is of no kind that has one of them.
        if (
            len(fifths) == 1
            and fifths[0].change == "alter"
            and (self.kind, fifths[0].alter) in _BY_FIFTH
        ):
            self.kind = _BY_FIFTH[self.kind, fifths[0].alter]
            self.degrees = tuple(d for d in self.degrees if d is not fifths[0])
        if self.kind in _BY_MAJOR_SEVENTH and _MAJOR_7TH in self.degrees:
            self.kind = _BY_MAJOR_SEVENTH[self.kind]
            self.degrees = tuple(d for d in self.degrees if d != _MAJOR_7TH)

    def _suspend(self) -> None:
        """Put the fourth (or second) for the third, and the rest on top."""
        if dict(KINDS[self.kind].notes).get(5) != 0:
            raise ValueError(f'the chord "{self.whole}" cannot be suspended')
        kind = "suspended-fourth" if self.suspended == "4" else "suspended-second"
        on_top = tuple(
            # As an added degree the plain 7 is the minor seventh, and 1 above it the major.
            Degree(number, alter + 1 if number == 7 else alter)
            for number, alter in KINDS[self.kind].notes
            if number > 5 and not (number == 11 and self.suspended == "4")
        )
        self.kind = kind
        self.degrees = on_top + self.degrees

    def sorted_degrees(self) -> tuple[Degree, ...]:
        return tuple(sorted(set(self.degrees), key=lambda d: (d.value, d.alter, d.change)))


def _quality(body: str) -> tuple[str, str]:
    """Give the quality in front and the rest; a bracketed ``(maj7)`` is seen through."""
    match = _QUALITY.match(body)
    if match is None:
        return "", body
    quality = str(match.lastgroup)
    rest = body[match.end() :]
    if quality in ("minor", "diminished", "augmented"):
        major = re.match(r"\s*\(?\s*(?:maj|Maj|MAJ|ma|Ma|M|Δ|△|∆)\s*(\d{0,2})\s*\)?", rest)
        if major and (major[1] or "Δ" in major[0] or "△" in major[0] or "∆" in major[0]):
            return f"{quality}-major", (major[1] or "7") + rest[major.end() :]
    return quality, rest
