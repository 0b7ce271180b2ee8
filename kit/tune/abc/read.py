"""What tune does an ABC text hold?

The text is cut into tunes (`book`), its fields are read (`_fields`), its music becomes bar
drafts (`_body`); here they come together, are numbered and checked.

Conventions
-----------
* Of several tunes the first is read unless a number is given; of several voices, the
  first that has notes. Notices say so.
* Without M: or with ``M:none`` each bar has the meter that it fills.

Source: ABC standard 2.1 (December 2011).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from kit.errors import NotationError
from kit.tune._bar_draft import BarDraft
from kit.tune._coda_signs import settled_codas
from kit.tune._loose_ends import without_loose_ends
from kit.tune._notices import Notices
from kit.tune._numbering import numbered
from kit.tune._score_words import is_feel, take_feel
from kit.tune._uneven_bars import with_filled_meters
from kit.tune._validate import validate_tune
from kit.tune.abc._body import AbcBody
from kit.tune.abc._fields import default_unit, parse_key, parse_meter, parse_unit
from kit.tune.abc.book import AbcTune, field_text, select_tune
from kit.tune.chord_text import parse_chord
from kit.tune.model import Bar, ChordEvent, Tune
from kit.tune.source_text import printable

__all__ = ["read_abc"]

_FIELD = re.compile(r"([A-Za-z]):(.*)")
_VOICE = re.compile(r"\[V:\s*([^\]\s]+)[^\]]*\]")
_VOICE_NAME = re.compile(r"(?:name|nm)=\"?([^\"]*)\"?")
_NOTE_LETTER = re.compile(r"[A-Ga-g]")
_QUOTED = re.compile(r'"[^"]*"|![^!]*!|\[[A-Za-z]:[^\]]*\]')
_Value = TypeVar("_Value")
MAX_VOICES = 100
_TUNE_FIELDS = "PQ"


def read_abc(
    text: str, *, source: str, tune_number: int | None = None, keep_uneven: bool = False
) -> Tune:
    """Read a tune in ABC notation.

    Parameters
    ----------
    text : str
        The whole file.
    source : str
        What messages call the file.
    tune_number : int, optional
        The number of the tune, as `kit.tune.abc.book.book_tunes` gives it; the first one
        without it.
    keep_uneven : bool
        Whether a bar that does not add up is given the meter it fills, not refused.

    Raises
    ------
    NotationError
        If there is no such tune, a field or chord cannot be read, or a bar does not add up.
    """
    book = select_tune(text, source=source, tune_number=tune_number)
    try:
        reader = _Reader(book, source, keep_uneven=keep_uneven)
        if tune_number is None and book.tunes_in_file > 1:
            reader.notices.say(
                f"The file holds {book.tunes_in_file} tunes; this is X:{book.number}."
            )
        tune = reader.tune()
    except NotationError as error:
        raise error.within(file=source) from None
    validate_tune(tune)
    return tune


class _Reader:
    """Reads one tune."""

    def __init__(self, book: AbcTune, source: str, *, keep_uneven: bool) -> None:
        self.book = book
        self.source = source
        self.keep_uneven = keep_uneven
        self.notices = Notices()
        self.part_name = ""

    def tune(self) -> Tune:
        book = self.book
        body = self._start()
        self._read_body(body)
        drafts = body.finish()
        bars = settled_codas(
            self._with_chords(drafts), [draft.late_signs for draft in drafts]
        )
        bars = without_loose_ends(bars, self.notices)
        bars, feel = take_feel(bars, self._header_feel())
        return Tune(
            title=printable(field_text(book.first("T"))),
            bars=bars,
            composer=printable(field_text(book.first("C"))),
            lyricist=printable(field_text(book.first("A"))),
            rights=printable(self._rights()),
            feel=feel,
            tempo_qpm=body.tempo_qpm,
            part_name=self.part_name,
            source=self.source,
            notices=self.notices.sentences(),
        )

    def _rights(self) -> str:
        """Give a copyright line, which ABC keeps in any of its free fields."""
        for letter in "ZNSB":
            for value in self.book.all(letter):
                if re.search(r"copyright|©|\(c\)|public domain|licen[cs]e", value, re.I):
                    return field_text(value)
        return ""

    def _header_feel(self) -> str:
        rhythm = printable(field_text(self.book.first("R")), 60)
        # A slide is a dance in this field; above a note it is an ornament.
        dance = is_feel(rhythm) or rhythm.casefold() in ("slide", "slides")
        return rhythm if dance else ""

    def _start(self) -> AbcBody:
        book = self.book
        meter = self._parsed("M", parse_meter) if book.first("M") else None
        if meter is None:
            self.notices.say("The meter is free: each bar has the meter that it fills.")
        unit = self._parsed("L", parse_unit) if book.first("L") else default_unit(meter)
        key = self._parsed("K", parse_key)
        if key.remark:
            self.notices.say(key.remark)
        body = AbcBody(
            meter=meter,
            unit=unit,
            key=key,
            propagation=book.propagation,
            notices=self.notices,
        )
        for value in book.all("U"):
            body.define_symbol(value)
        if book.first("P"):
            self.notices.say(
                f'The order of parts, "{printable(book.first("P"), 60)}", is not followed: '
                "the tune is read as written."
            )
        if book.first("Q"):
            self._act(body, "Q", book.first("Q"))
        return body

    def _parsed(self, letter: str, parse: Callable[[str], _Value]) -> _Value:
        try:
            return parse(self.book.first(letter))
        except ValueError as error:
            raise NotationError(
                f"the field {letter}: cannot be read: {error}", remedy="correct the field"
            ) from error

    def _read_body(self, body: AbcBody) -> None:
        continued = False
        lines = self._voice_lines()
        for line in lines:
            field = _FIELD.match(line)
            if field and field[1] == "w":
                body.read_lyrics(field_text(field[2]))
            elif field and field[1] == "W":
                self.notices.left_out("words printed below the tune (W:)")
            elif field and field[1] == "s":
                self.notices.left_out("a line of symbols (s:)")
            elif field:
                self._act(body, field[1], field[2].strip())
            else:
                try:
                    body.read_line(line.rstrip("\\"), starts_line=not continued)
                except ValueError as error:
                    raise NotationError(str(error), bar=_bar_at(body)) from error
                continued = line.endswith("\\")

    def _act(self, body: AbcBody, letter: str, value: str) -> None:
        try:
            body.read_field(letter, value)
        except ValueError as error:
            raise NotationError(
                str(error), bar=_bar_at(body), remedy="correct the field"
            ) from error

    def _voice_lines(self) -> list[str]:
        """Give the lines of the first voice that has notes."""
        voices: dict[str, list[str]] = {}
        settings: dict[str, str] = {}
        current = ""
        for value in self.book.all("V"):
            name = value.split(maxsplit=1)[0] if value.split() else ""
            settings[name] = value
        for line in self.book.body:
            field = _FIELD.match(line)
            if field and field[1] == "V":
                current = field[2].split(maxsplit=1)[0] if field[2].split() else ""
                voices.setdefault(current, [])
                settings[current] = f"{settings.get(current, '')} {field[2]}"
            elif field and field[1] in _TUNE_FIELDS and voices:
                for lines in voices.values():
                    lines.append(line)
            else:
                current = _add_pieces(voices, current, line)
            if len(voices) > MAX_VOICES:
                raise NotationError(f"it has more than {MAX_VOICES} voices")
        return self._chosen(voices, settings)

    def _chosen(self, voices: dict[str, list[str]], settings: dict[str, str]) -> list[str]:
        # Lines before the first voice that hold no notes are for all voices.
        shared = [] if _sings(voices.get("", [])) else voices.pop("", [])
        name = next((name for name, lines in voices.items() if _sings(lines)), None)
        if name is None:
            return shared
        others = [other for other in voices if other != name and _sings(voices[other])]
        if others:
            self.notices.say(
                f"The melody is voice {printable(name, 30) or 'one'}; left out: voices "
                f"{', '.join(printable(other, 30) for other in others[:8])}."
            )
        setting = settings.get(name, "")
        match = _VOICE_NAME.search(setting)
        self.part_name = printable(match[1], 60) if match else ""
        moves = re.findall(r"(?:transpose|octave)=\S+", setting)
        return [*shared, *(f"K:{move}" for move in moves), *voices[name]]

    def _with_chords(self, drafts: list[BarDraft]) -> tuple[Bar, ...]:
        """Make the bars, number them and read their chord symbols."""
        plain: list[Bar] = []
        for draft in drafts:
            try:
                plain.append(draft.finished())
            except ValueError as error:
                raise NotationError(str(error), bar=len(plain) + 1) from error
        bars = numbered(plain)
        if self.keep_uneven:
            bars = with_filled_meters(bars, self.notices)
        return tuple(
            replace(bar, chords=self._chords(draft, bar))
            for draft, bar in zip(drafts, bars, strict=True)
        )

    def _chords(self, draft: BarDraft, bar: Bar) -> tuple[ChordEvent, ...]:
        events: dict[Fraction, ChordEvent] = {}
        for position, text in draft.chords:
            onset = draft.onset_of(position)
            try:
                event = ChordEvent(onset, parse_chord(text))
            except ValueError as error:
                raise NotationError(
                    str(error), bar=bar.number, remedy='write it like "Cm7" or "F7b9"'
                ) from error
            if onset in events:
                self.notices.left_out(f'the second chord "{text}" above one note')
            events.setdefault(onset, event)
        return tuple(events.values())


def _add_pieces(voices: dict[str, list[str]], current: str, line: str) -> str:
    """Hand a line of music to its voice, or its pieces to theirs; give the last voice."""
    start = 0
    for match in _VOICE.finditer(line):
        piece = line[start : match.start()].strip()
        if piece:
            voices.setdefault(current, []).append(piece)
        current = match[1]
        voices.setdefault(current, [])
        start = match.end()
    rest = line[start:].strip()
    if rest:
        voices.setdefault(current, []).append(rest)
    return current


def _sings(lines: list[str]) -> bool:
    return any(
        not _FIELD.match(line) and _NOTE_LETTER.search(_QUOTED.sub("", line))
        for line in lines
    )


def _bar_at(body: AbcBody) -> int:
    """Say which bar is being read."""
    try:
        done = numbered([draft.finished() for draft in body.bars])
    except ValueError:
        return len(body.bars) + 1
    return done[-1].number + 1 if done else 1
