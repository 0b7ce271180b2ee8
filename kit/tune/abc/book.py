"""Which lines of an ABC file belong to the tune that is wanted?

A file may hold many tunes, each from its ``X:`` field to the next empty line, with fields
for all of them before the first. Comments and layout directives go here.

Source: ABC standard 2.1 (December 2011), sections 2 and 3.
"""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass, field

from kit.errors import NotationError

__all__ = ["AbcTune", "field_text", "select_tune", "tune_numbers"]

_FIELD = re.compile(r"([A-Za-z+]):(.*)")
_NUMBER = re.compile(r"X:\s*(\d{1,9})")
_COMMENT = re.compile(r"(?<!\\)%.*")
_PROPAGATE = re.compile(r"(?:%%|I:)\s*propagate-accidentals\s+(not|octave|pitch)")
_TEXT_CODE = re.compile(
    r"\\u([0-9A-Fa-f]{4})|\\(ss|ae|AE|oe|OE|aa|AA|/o|/O)|\\(.)([A-Za-z])"
)
MAX_CHARACTERS = 200_000
"""In one tune; 5000 bars of busy music have about 150 000."""
MAX_FILE_HEADER_LINES = 1000
_LETTERS = {
    "ss": "ß", "ae": "æ", "AE": "Æ", "oe": "œ", "OE": "Œ", "aa": "å", "AA": "Å",
    "/o": "ø", "/O": "Ø",
}  # fmt: skip
_ACCENTS = {
    "`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308",
    "c": "\u0327", "v": "\u030c", "u": "\u0306", "H": "\u030b", ".": "\u0307",
    "=": "\u0304",
}  # fmt: skip


@dataclass(slots=True)
class AbcTune:
    """One tune's fields in order and its lines of music; comments are gone."""

    header: list[tuple[str, str]] = field(default_factory=list)
    body: list[str] = field(default_factory=list)
    number: str = ""
    tunes_in_file: int = 1
    propagation: str = "pitch"

    def first(self, letter: str) -> str:
        """Give the first value of a header field, or nothing."""
        return next((value for name, value in self.header if name == letter), "")

    def all(self, letter: str) -> list[str]:
        """Give all values of a header field."""
        return [value for name, value in self.header if name == letter]


def tune_numbers(text: str) -> tuple[int, ...]:
    """Give the numbers (``X:``) of the tunes in a file, in order."""
    return tuple(
        int(match[1])
        for line in text.splitlines()
        if (match := _NUMBER.match(line.strip()))
    )


def select_tune(text: str, *, source: str, tune_number: int | None) -> AbcTune:
    """Cut a tune out of a file.

    Raises
    ------
    NotationError
        If there is no tune, or none with that number.
    """
    lines = [line.rstrip("\r") for line in re.split(r"\r\n|\n|\r", text)]
    starts = [i for i, line in enumerate(lines) if line.lstrip().startswith("X:")]
    numbers = tune_numbers(text)
    if not starts:
        if len(text) <= MAX_CHARACTERS and any(line.startswith("K:") for line in lines):
            return _read_lines([], lines)
        raise NotationError(
            "it is not ABC notation: no X: or K: field is in it",
            file=source,
            remedy="save it as ABC, MusicXML or MIDI",
        )
    place = _place_of(tune_number, lines, starts, source)
    stop = starts[place + 1] if place + 1 < len(starts) else len(lines)
    own = lines[starts[place] : stop]
    if sum(len(line) for line in own) > MAX_CHARACTERS:
        raise NotationError(
            f"the tune has more than {MAX_CHARACTERS} characters", file=source
        )
    tune = _read_lines(lines[: starts[0]][:MAX_FILE_HEADER_LINES], own)
    tune.tunes_in_file = max(len(starts), len(numbers))
    return tune


def _place_of(wanted: int | None, lines: list[str], starts: list[int], source: str) -> int:
    if wanted is None:
        return 0
    for place, start in enumerate(starts):
        match = _NUMBER.match(lines[start].strip())
        if match and int(match[1]) == wanted:
            return place
    raise NotationError(
        f"there is no tune X:{wanted} among its {len(starts)} tunes",
        file=source,
        remedy="give the number of one of them",
    )


def _read_lines(file_header: list[str], lines: list[str]) -> AbcTune:
    tune = AbcTune()
    for line in file_header:
        _note_directive(tune, line)
        match = _FIELD.match(_COMMENT.sub("", line).strip())
        if match and match[1] not in "X+":
            tune.header.append((match[1], match[2].strip()))
    in_body = False
    for raw in lines:
        _note_directive(tune, raw)
        if raw.lstrip().startswith("%"):
            continue
        line = _COMMENT.sub("", raw).strip()
        if in_body:
            if not line and not raw.strip() and any(_has_music(b) for b in tune.body):
                break
            if line:
                _append_body(tune, line)
            continue
        match = _FIELD.match(line)
        if match is None:
            continue
        in_body = _append_header(tune, match[1], match[2].strip())
    return tune


def _append_header(tune: AbcTune, letter: str, value: str) -> bool:
    if letter == "+" and tune.header:
        name, before = tune.header[-1]
        tune.header[-1] = (name, f"{before} {value}")
        return False
    if letter == "X":
        tune.number = value
    # The tune's own fields come before those of the file.
    own = sum(1 for name, _ in tune.header if name == letter and letter in "MLQR")
    if own and letter in "MLQR":
        tune.header = [pair for pair in tune.header if pair[0] != letter]
    tune.header.append((letter, value))
    return letter == "K"


def _append_body(tune: AbcTune, line: str) -> None:
    if line.startswith("+:") and tune.body:
        tune.body[-1] = f"{tune.body[-1]} {line[2:].strip()}"
    else:
        tune.body.append(line)


def _has_music(line: str) -> bool:
    return not _FIELD.match(line)


def _note_directive(tune: AbcTune, line: str) -> None:
    match = _PROPAGATE.match(line.strip())
    if match:
        tune.propagation = match[1]


def field_text(value: str) -> str:
    r"""Turn the text codes of a field into the letters they mean.

    Examples
    --------
    >>> field_text(r"Caf\'e M&uuml;ller")
    'Café Müller'
    """

    def letter(match: re.Match[str]) -> str:
        if match[1]:
            return chr(int(match[1], 16))
        if match[2]:
            return _LETTERS[match[2]]
        accent = _ACCENTS.get(match[3])
        return match[4] + accent if accent else match[0]

    plain = _TEXT_CODE.sub(letter, value[:4000]).replace("\\%", "%").replace("\\&", "&")
    return unicodedata.normalize("NFC", html.unescape(plain)).strip()
