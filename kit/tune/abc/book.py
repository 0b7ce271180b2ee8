"""Which tunes does an ABC file hold, and which lines belong to the one that is wanted?

A file may hold many tunes, each from its ``X:`` field to the next empty line, with fields
for all of them before the first. Comments and layout directives go here.

Conventions
-----------
* A tune is called by its ``X:`` number. In a file where numbers repeat or are missing, as
  where collections were joined, the tunes are counted instead: 1 is the first.

Source: ABC standard 2.1 (December 2011), sections 2 and 3.
"""

from __future__ import annotations

import html
import re
import unicodedata
from dataclasses import dataclass, field

from kit.errors import NotationError
from kit.tune.source_text import printable

__all__ = ["AbcTune", "BookTune", "book_tunes", "field_text", "select_tune", "tune_text"]

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
_TITLE_CHARACTERS = 80
_NAMED_AT_MOST = 12
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


@dataclass(frozen=True, slots=True)
class BookTune:
    """One tune of a file: the number it is asked for by, and its title."""

    number: int
    title: str


def book_tunes(text: str) -> tuple[BookTune, ...]:
    r"""List the tunes of a file in order.

    Examples
    --------
    >>> book_tunes("X:7\nT:The Mill\nK:C\nC|\n\nX:9\nT:The Weir\nK:C\nD|\n")
    (BookTune(number=7, title='The Mill'), BookTune(number=9, title='The Weir'))
    """
    lines = _lines_of(text)
    starts = _starts(lines)
    ends = [*starts[1:], len(lines)]
    return tuple(
        BookTune(number, _title(lines[start:end]))
        for number, start, end in zip(_numbers(lines, starts), starts, ends, strict=False)
    )


def tune_text(text: str, tune_number: int, *, source: str) -> str:
    """Give the text of one tune as a file of its own, with what is said for all tunes.

    Raises
    ------
    NotationError
        If there is none with that number.
    """
    lines = _lines_of(text)
    header, own = _cut(lines, _starts(lines), tune_number, source)
    return "\n".join([*header, *own]).rstrip() + "\n"


def select_tune(text: str, *, source: str, tune_number: int | None) -> AbcTune:
    """Cut a tune out of a file.

    Raises
    ------
    NotationError
        If there is no tune, or none with that number.
    """
    lines = _lines_of(text)
    starts = _starts(lines)
    if not starts:
        if len(text) <= MAX_CHARACTERS and any(line.startswith("K:") for line in lines):
            return _read_lines([], lines)
        raise NotationError(
            "it is not ABC notation: no X: or K: field is in it",
            file=source,
            remedy="save it as ABC, MusicXML or MIDI",
        )
    header, own = _cut(lines, starts, tune_number, source)
    if sum(len(line) for line in own) > MAX_CHARACTERS:
        raise NotationError(
            f"the tune has more than {MAX_CHARACTERS} characters", file=source
        )
    tune = _read_lines(header, own)
    tune.tunes_in_file = len(starts)
    return tune


def _lines_of(text: str) -> list[str]:
    return re.split(r"\r\n|\n|\r", text)


def _starts(lines: list[str]) -> list[int]:
    """Give the places of the lines with which tunes begin."""
    return [place for place, line in enumerate(lines) if line.lstrip().startswith("X:")]


def _numbers(lines: list[str], starts: list[int]) -> list[int]:
    found = [_NUMBER.match(lines[start].strip()) for start in starts]
    numbers = [int(match[1]) for match in found if match]
    if len(set(numbers)) < len(starts):
        return list(range(1, len(starts) + 1))
    return numbers


def _title(lines: list[str]) -> str:
    for line in lines:
        field = _FIELD.match(_COMMENT.sub("", line).strip())
        if field and field[1] == "T":
            return printable(field_text(field[2]), _TITLE_CHARACTERS)
        if field and field[1] == "K":
            break
    return ""


def _cut(
    lines: list[str], starts: list[int], wanted: int | None, source: str
) -> tuple[list[str], list[str]]:
    """Give the lines for all tunes of a file and those of one."""
    place = 0
    if wanted is not None:
        numbers = _numbers(lines, starts)
        if wanted not in numbers:
            raise _no_such_tune(wanted, numbers, source)
        place = numbers.index(wanted)
    stop = starts[place + 1] if place + 1 < len(starts) else len(lines)
    return lines[: starts[0]][:MAX_FILE_HEADER_LINES], lines[starts[place] : stop]


def _no_such_tune(wanted: int, numbers: list[int], source: str) -> NotationError:
    named = ", ".join(map(str, numbers[:_NAMED_AT_MOST]))
    if len(numbers) > _NAMED_AT_MOST:
        named += f" … {numbers[-1]}"
    return NotationError(
        f"there is no tune X:{wanted} in it",
        file=source,
        remedy=f"give a number that it has: {named}" if named else "leave the number out",
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
