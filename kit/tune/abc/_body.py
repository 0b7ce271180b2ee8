"""What music do the lines of an ABC tune write down?

`AbcBody` goes through the signs from left to right and fills bars (`abc_bars`). Lengths
become quarter notes here, and accidentals become pitches.

Conventions
-----------
* Of a chord of notes the highest is the melody; a notice says so.

Source: ABC standard 2.1, section 4.
"""

from __future__ import annotations

from fractions import Fraction

from kit.tune._bar_draft import BarDraft, NoteDraft, SpanDraft
from kit.tune._notices import Notices
from kit.tune._score_words import DYNAMICS, TEMPO_CHANGES, jump_in_words, word_kind
from kit.tune._validate import MAX_BARS
from kit.tune.abc._bars import AbcBars
from kit.tune.abc._fields import AbcKey, parse_key, parse_meter, parse_tempo, parse_unit
from kit.tune.abc._lyrics import set_lyrics
from kit.tune.abc._pitches import AbcPitches
from kit.tune.abc._signs import JUMPS, MARKS, SHORT_FORMS, SPANS
from kit.tune.abc._tokens import NOTE, Token, length_factor, tokens
from kit.tune.chord_text import looks_like_chord
from kit.tune.model import Grace, Meter
from kit.tune.pitch import Pitch
from kit.tune.source_text import printable

__all__ = ["AbcBody"]

# ABC 2.1, section 4.13; five, seven and nine go by the meter.
_DUPLET_TIME = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
_PLACED = "^_<>@"
MAX_NOTES_IN_BAR = 500


class AbcBody:
    """Reads lines of music into bar drafts.

    Parameters
    ----------
    meter : Meter or None
        None is free meter.
    unit : Fraction
        The note length without a number, as part of a whole note.
    key : AbcKey
    propagation : "pitch", "octave" or "not"
        How far an accidental reaches within its bar.
    symbols : dict of str to str
        Meanings of the one-letter decorations.
    """

    def __init__(
        self,
        *,
        meter: Meter | None,
        unit: Fraction,
        key: AbcKey,
        propagation: str,
        notices: Notices,
        symbols: dict[str, str] | None = None,
    ) -> None:
        self.unit = unit
        self.key = key
        self.notices = notices
        self.tempo_qpm: float | None = None
        self._bars = AbcBars(meter, key.key, notices)
        self._pitches = AbcPitches(key, propagation)
        self._symbols = {**SHORT_FORMS, **(symbols or {})}
        self._last: NoteDraft | None = None
        self._next_factor = Fraction(1)
        self._tuplet: tuple[int, int, int] | None = None
        self._marks: list[str] = []
        self._slurs = 0
        self._open_slurs: list[NoteDraft] = []
        self._graces: tuple[Grace, ...] = ()
        self._sung: list[tuple[BarDraft, NoteDraft]] = []
        self._verse = 0
        self._skipping = False

    @property
    def bars(self) -> list[BarDraft]:
        """The bars that are closed."""
        return self._bars.closed

    # Lines

    def read_line(self, line: str, *, starts_line: bool) -> None:
        """Read a line of music."""
        if self._verse:
            self._sung, self._verse = [], 0
        if starts_line and self._bars.start_line():
            self._pitches.end_bar()
        for token in tokens(line):
            if token.kind == "overlay":
                self.notices.left_out("a second voice within a bar (&)")
                self._skipping = True
            elif token.kind == "bar":
                self._skipping = False
            if not self._skipping:
                getattr(self, f"_read_{token.kind}")(token)

    def read_lyrics(self, text: str) -> None:
        """Put a line of syllables below the music line before it."""
        if not set_lyrics(text, self._sung, verse=self._verse):
            self.notices.say("A line of lyrics has more syllables than notes above it.")
        self._verse += 1

    def read_field(self, letter: str, value: str) -> None:
        """Act on a field in the body or inside a line.

        Raises
        ------
        ValueError
            If its value cannot be read.
        """
        try:
            self._apply_field(letter, value)
        except ValueError as error:
            raise ValueError(f"the field {letter}: cannot be read: {error}") from error

    def _apply_field(self, letter: str, value: str) -> None:
        if letter == "K":
            self.key = self._pitches.key = parse_key(value, self.key)
            self._bars.change_key(self.key.key)
        elif letter == "M":
            self._bars.change_meter(parse_meter(value))
        elif letter == "L":
            self.unit = parse_unit(value)
        elif letter == "Q":
            self._read_tempo(value)
        elif letter == "P":
            self._bars.part()
            self._bars.open.section = printable(value, 40)
        elif letter == "U":
            self.define_symbol(value)
        elif letter not in "NrRTCZSOABDFGHIwWX":
            self.notices.left_out(f"the field {letter}:")

    def define_symbol(self, value: str) -> None:
        """Give a one-letter decoration another meaning (``U: T = !trill!``)."""
        letter, _, meaning = value.partition("=")
        if len(letter.strip()) == 1:
            self._symbols[letter.strip()] = meaning.strip().strip("!+")

    def _read_tempo(self, value: str) -> None:
        tempo = parse_tempo(value, self.unit)
        words = printable(tempo.words)
        if tempo.tempo_qpm is not None and self.tempo_qpm is not None:
            self._bars.add_word(words, "tempo", tempo.tempo_qpm)
            self.notices.say(TEMPO_CHANGES)
            return
        if tempo.tempo_qpm is not None:
            self.tempo_qpm = tempo.tempo_qpm
        if words:
            self._bars.add_word(words, word_kind(words))

    def finish(self) -> list[BarDraft]:
        """Give all bars, the last one closed."""
        if self._graces:
            self.notices.left_out("grace notes without a note behind them")
        return self._bars.finish()

    # Notes and rests

    def _read_note(self, token: Token) -> None:
        match = NOTE.fullmatch(token.text)
        assert match is not None
        pitch = self._pitches.of(match, self._last)
        self._append(length_factor(match["length"]), pitch)

    def _read_chord(self, token: Token) -> None:
        found = list(NOTE.finditer(token.part("chord_notes")))
        if not found:
            self.notices.left_out(f"the sign {printable(token.text, 20)}")
            return
        pitches = [self._pitches.of(m, self._last) for m in found]
        top = max(range(len(found)), key=lambda i: pitches[i])
        if len(found) > 1:
            self.notices.say("Of notes that sound together, the highest is the melody.")
        length = length_factor(found[0]["length"]) * length_factor(
            token.part("chord_length")
        )
        self._append(length, pitches[top])
        if "-" in token.part("chord_notes") and self._last is not None:
            self._last.tied = True

    def _read_rest(self, token: Token) -> None:
        if token.part("rest_letter") in "zx":
            self._append(length_factor(token.part("rest_length")), None)
            return
        if self._bars.open.notes or self._bars.meter is None:
            raise ValueError("a rest of whole bars (Z) stands within a bar")
        bars = length_factor(token.part("rest_length"))
        if bars.denominator != 1 or bars > MAX_BARS:
            raise ValueError(f"a rest of {bars} bars cannot be read")
        for count in range(int(bars)):
            if count:
                self._bars.close()
            self._append(self._bars.meter.bar_length / (4 * self.unit), None)

    def _append(self, factor: Fraction, pitch: Pitch | None) -> None:
        """Add a note or rest of so many unit lengths."""
        bars = self._bars
        if bars.place >= MAX_NOTES_IN_BAR:
            raise ValueError(f"it has more than {MAX_NOTES_IN_BAR} notes in one bar")
        note = NoteDraft(4 * self.unit * factor * self._next_factor, pitch)
        self._next_factor = Fraction(1)
        if self._tuplet is not None:
            played, time, left = self._tuplet
            note.duration = note.duration * time / played
            note.tuplet = (played, time) if played != time else None
            self._tuplet = (played, time, left - 1) if left > 1 else None
        if not bars.open.notes:
            bars.open.meter, bars.open.key = bars.meter, bars.key
        if pitch is None:
            if self._graces:
                self.notices.left_out("grace notes before a rest")
            note.marks = [mark for mark in self._marks if mark == "fermata"]
        else:
            note.graces, note.marks = self._graces, self._marks
            self._sung.append((bars.open, note))
        note.slurs_started = self._slurs
        self._open_slurs += [note] * self._slurs
        self._graces, self._marks, self._slurs = (), [], 0
        bars.open.notes.append(note)
        self._last = note

    def _read_grace(self, token: Token) -> None:
        slash = bool(token.part("grace_slash"))
        found = NOTE.finditer(token.part("grace_notes"))
        self._graces += tuple(Grace(self._pitches.of(m, self._last), slash) for m in found)

    # What joins notes

    def _read_tuplet(self, token: Token) -> None:
        played = int(token.part("tuplet_p"))
        compound = self._bars.meter is not None and self._bars.meter.is_compound
        time = int(token.part("tuplet_q") or 0) or _DUPLET_TIME.get(
            played, 3 if compound else 2
        )
        count = int(token.part("tuplet_r") or played)
        if played < 2:
            raise ValueError(f'"{token.text}" is not a tuplet')
        self._tuplet = (played, time, count) if count else None

    def _read_slur(self, _: Token) -> None:
        self._slurs += 1

    def _read_slur_end(self, _: Token) -> None:
        if self._slurs:
            self._slurs -= 1  # a slur around nothing, or around grace notes
            return
        start = self._open_slurs.pop() if self._open_slurs else None
        if start is not None and start is self._last:
            start.slurs_started -= 1  # from a grace note to its note, as it always is
        elif self._last is not None:
            self._last.slurs_ended += 1

    def _read_tie(self, _: Token) -> None:
        if self._graces:
            return  # a grace note is bound to its main note as it is
        if self._last is not None and self._last.pitch is not None:
            self._last.tied = True
        else:
            self.notices.left_out("a tie without a note")

    def _read_broken(self, token: Token) -> None:
        # > halves the second note and >> quarters it; the pair keeps its length.
        short = Fraction(1, 2 ** len(token.text))
        first, second = (2 - short, short) if token.text[0] == ">" else (short, 2 - short)
        if not self._bars.open.notes:
            self.notices.left_out("a broken rhythm without a note before it")
            return
        self._bars.open.notes[-1].duration *= first
        self._next_factor = second

    # Bar lines

    def _read_bar(self, token: Token) -> None:
        self._bars.read_bar_line(token.part("bar_sign"))
        self._pitches.end_bar()
        if token.part("bar_ending"):
            self._bars.start_ending(token.part("bar_ending"))

    def _read_dotted_bar(self, _: Token) -> None:
        self.notices.left_out("a dotted bar line within a bar")

    def _read_ending(self, token: Token) -> None:
        self._bars.start_ending(token.part("ending_list").strip('"'))

    # Texts and decorations

    def _read_text(self, token: Token) -> None:
        raw = token.part("text_value").strip()
        placed = raw[:1] in tuple(_PLACED)
        text = (
            raw.lstrip("@0123456789.,- ") if raw[:1] == "@" else raw[1:] if placed else raw
        )
        text = printable(text)
        jump = jump_in_words(text)
        if jump is not None:
            self._bars.add_jump(jump)
        elif not placed and looks_like_chord(text):
            self._bars.open.chords.append((self._bars.place, text))
        elif text:
            self._bars.add_word(text, word_kind(text))

    def _read_decoration(self, token: Token) -> None:
        self._decorate(token.part("decoration_name") or token.part("old_decoration"))

    def _read_short(self, token: Token) -> None:
        self._decorate(self._symbols.get(token.text, token.text))

    def _decorate(self, name: str) -> None:
        plain = name.strip()
        jump = JUMPS.get(plain.lower().replace(" ", "")) or jump_in_words(plain)
        if plain in MARKS:
            self._marks.append(MARKS[plain])
            if plain == "roll":
                self.notices.say("Irish rolls (~) are kept as turns.")
        elif jump is not None:
            self._bars.add_jump(jump)
        elif plain in DYNAMICS:
            self._bars.add_word(plain, "dynamics")
        elif plain in SPANS:
            kind, opens = SPANS[plain]
            # Both ends of a line are written before a note; it closes behind its last.
            place = self._bars.place + (0 if opens else 1)
            self._bars.open.spans.append(SpanDraft(place, kind, opens))
        elif plain not in ("", "nil", "none"):
            self.notices.left_out(f"the decoration !{printable(plain, 30)}!")

    # What means nothing to a lead sheet

    def _read_field(self, token: Token) -> None:
        self.read_field(token.part("field_letter"), token.part("field_value").strip())

    def _read_spacer(self, _: Token) -> None:
        """Room between notes; nothing sounds."""

    def _read_overlay(self, _: Token) -> None:
        """Told where the line is read."""

    def _read_unknown(self, token: Token) -> None:
        if token.text not in "!\\$*;?@#:":
            self.notices.left_out(f'the sign "{printable(token.text, 5)}"')
