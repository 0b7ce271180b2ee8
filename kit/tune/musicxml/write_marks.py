"""What stands above and between the notes, as MusicXML.

Chord symbols, section letters, words, dynamics, feel and tempo, repeat signs, endings and
jumps. A jump is written twice over: as what is printed and as the ``sound`` that playing
programs follow.

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021).
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from fractions import Fraction

from kit.tune.chord import KINDS, ChordSymbol
from kit.tune.model import Bar, Jump, Tune, Word, bar_id
from kit.tune.musicxml._spans import write_span_end
from kit.tune.musicxml._write_notes import child
from kit.tune.spans import with_paired_spans

__all__ = ["Layout", "MarkWriter", "chord_id", "write_left_barline", "write_right_barline"]

_DYNAMICS = frozenset(
    {
        "p", "pp", "ppp", "f", "ff", "fff", "mp", "mf", "sf", "sfp", "sfpp", "fp", "rf",
        "rfz", "sfz", "sffz", "fz", "n", "pf", "sfzp",
    }
)  # fmt: skip
_BEAT_UNITS = {
    Fraction(1, 2): ("eighth", 0),
    Fraction(1): ("quarter", 0),
    Fraction(3, 2): ("quarter", 1),
    Fraction(2): ("half", 0),
    Fraction(3): ("half", 1),
}
_JUMP_SOUND: dict[Jump, dict[str, str]] = {
    "segno": {"segno": "segno"},
    "coda": {"coda": "coda"},
    "to coda": {"tocoda": "coda"},
    "fine": {"fine": "yes"},
    "D.C.": {"dacapo": "yes"},
    "D.C. al fine": {"dacapo": "yes"},
    "D.C. al coda": {"dacapo": "yes"},
    "D.S.": {"dalsegno": "segno"},
    "D.S. al fine": {"dalsegno": "segno"},
    "D.S. al coda": {"dalsegno": "segno"},
}
_JUMP_WORDS: dict[Jump, str] = {
    "to coda": "To Coda",
    "fine": "Fine",
    "D.C. al fine": "D.C. al Fine",
    "D.C. al coda": "D.C. al Coda",
    "D.S. al fine": "D.S. al Fine",
    "D.S. al coda": "D.S. al Coda",
}


@dataclass(frozen=True, slots=True)
class Layout:
    """What is printed around the notes.

    Parameters
    ----------
    bars_per_line : int or None
        Where to ask for new lines; None keeps the line breaks of the source.
    sections, tempo : bool
        Whether section letters, and feel with tempo, are printed.
    chord_degrees : bool
        Whether a chord's added and altered notes are written as ``degree`` elements too,
        not to be printed. Some engravers print them twice, so `kit.engrave` says False.
    first_index : int
        The index, on its sheet, of the first bar written: ids count from there.
    tempo_blanks : (int, int)
        Blanks behind the first and behind later tempo marks: room for what an engraver of
        ours draws there.
    """

    bars_per_line: int | None = 4
    sections: bool = True
    tempo: bool = True
    chord_degrees: bool = True
    first_index: int = 0
    tempo_blanks: tuple[int, int] = (0, 0)


class MarkWriter:
    """Writes the harmonies and directions of one tune, in order."""

    def __init__(self, tune: Tune, divisions: int, layout: Layout) -> None:
        self._tune = tune
        self._divisions = divisions
        self._layout = layout
        self._spans = [bar.spans for bar in with_paired_spans(tune.bars)]

    def write_start(self, measure: ET.Element, index: int) -> None:
        """Add what stands at a bar's start: tempo, section letter, segno, coda."""
        bar = self._tune.bars[index]
        if index == 0 and self._layout.tempo:
            self._write_tempo(measure, bar)
        if bar.section and self._layout.sections:
            direction = child(measure, "direction", placement="above")
            mark = child(direction, "direction-type")
            child(mark, "rehearsal", enclosure="square", text=bar.section)
        for sign in ("segno", "coda"):
            if sign in bar.jumps:
                direction = child(measure, "direction", placement="above")
                child(child(direction, "direction-type"), sign)
                child(direction, "sound", {sign: sign})

    def write_from(
        self, measure: ET.Element, index: int, start: Fraction, end: Fraction | None
    ) -> None:
        """Add the words and chords from `start` (where we are) until before `end`."""
        bar = self._tune.bars[index]
        for word in bar.words:
            if _within(word.onset, start, end) and not self._is_feel(index, word):
                self._write_word(measure, bar, word, start)
        for span in self._spans[index]:
            if _within(span.onset, start, end) and span.onset < bar.length:
                self._write_offset(write_span_end(measure, span), span.onset - start)
        for place, event in enumerate(bar.chords):
            if _within(event.onset, start, end):
                name = chord_id(index + self._layout.first_index, place)
                self._write_harmony(measure, event.symbol, event.onset - start, name)

    def write_end(self, measure: ET.Element, index: int) -> None:
        """Add the lines that close at a bar's end, and the jumps that act there."""
        bar = self._tune.bars[index]
        for span in self._spans[index]:
            if span.onset >= bar.length:
                write_span_end(measure, span)
        for jump in bar.jumps:
            if jump in ("segno", "coda"):
                continue
            direction = child(measure, "direction", placement="above")
            words = _JUMP_WORDS.get(jump, jump)
            mark = child(direction, "direction-type")
            # The words end at the bar line: no staff may be drawn on behind it for them.
            right = {"justify": "right", "halign": "right", "font-style": "italic"}
            child(mark, "words", right, text=words)
            child(direction, "sound", _JUMP_SOUND[jump])

    def _is_feel(self, index: int, word: Word) -> bool:
        """Say whether a word repeats what the tempo line says already."""
        feel = self._tune.feel.casefold().strip()
        if index or not self._layout.tempo or word.tempo_qpm is not None:
            return False
        return word.text.casefold().strip() == feel

    def _write_tempo(self, measure: ET.Element, bar: Bar) -> None:
        feel, tempo = self._tune.feel, self._tune.tempo_qpm
        if not feel and tempo is None:
            return
        direction = child(measure, "direction", placement="above")
        if feel:
            mark = child(direction, "direction-type")
            child(mark, "words", {"font-weight": "bold"}, text=feel)
        if tempo is not None:
            _write_metronome(direction, bar, tempo)
        _write_blanks(direction, self._layout.tempo_blanks[0])
        sound = child(direction, "sound")
        if tempo is not None:
            sound.set("tempo", f"{tempo:.10g}")
        if "swing" in feel.casefold():
            swing = child(sound, "swing")
            child(swing, "first", text="2")
            child(swing, "second", text="1")
            child(swing, "swing-type", text="eighth")

    def _write_word(self, measure: ET.Element, bar: Bar, word: Word, now: Fraction) -> None:
        dynamics = word.kind == "dynamics"
        direction = child(measure, "direction", placement="below" if dynamics else "above")
        if word.text or word.tempo_qpm is None:
            mark = child(direction, "direction-type")
        if dynamics:
            group = child(mark, "dynamics")
            if word.text in _DYNAMICS:
                child(group, word.text)
            else:
                child(group, "other-dynamics", text=word.text)
        elif word.text:
            bold = {"font-weight": "bold"} if word.kind == "tempo" else None
            child(mark, "words", bold, text=word.text)
        if word.tempo_qpm is not None:
            _write_metronome(direction, bar, word.tempo_qpm)
            _write_blanks(direction, self._layout.tempo_blanks[1])
        self._write_offset(direction, word.onset - now)
        if word.tempo_qpm is not None:
            child(direction, "sound", tempo=f"{word.tempo_qpm:.10g}")

    def _write_harmony(
        self, measure: ET.Element, symbol: ChordSymbol, offset: Fraction, name: str
    ) -> None:
        harmony = child(measure, "harmony", id=name)
        if symbol.root is not None:
            root = child(harmony, "root")
            child(root, "root-step", text=symbol.root.step)
            if symbol.root.alter:
                child(root, "root-alter", text=str(symbol.root.alter))
        elif self._layout.chord_degrees:
            # The schema wants a root even where there is no chord; it prints nothing.
            child(child(harmony, "root"), "root-step", {"text": ""}, text="C")
        text = KINDS["none"].suffix if symbol.root is None else symbol.suffix
        child(harmony, "kind", {"text": text}, text=symbol.kind)
        if symbol.bass is not None:
            bass = child(harmony, "bass")
            child(bass, "bass-step", text=symbol.bass.step)
            if symbol.bass.alter:
                child(bass, "bass-alter", text=str(symbol.bass.alter))
        for degree in symbol.degrees if self._layout.chord_degrees else ():
            element = child(harmony, "degree", {"print-object": "no"})
            child(element, "degree-value", text=str(degree.value))
            child(element, "degree-alter", text=str(degree.alter))
            child(element, "degree-type", text=degree.change)
        self._write_offset(harmony, offset)

    def _write_offset(self, element: ET.Element, offset: Fraction) -> None:
        if offset:
            child(element, "offset", text=str(int(offset * self._divisions)))


def _write_metronome(direction: ET.Element, bar: Bar, tempo_qpm: float) -> None:
    """Print a tempo as the felt beat and its figure, a tenth at the finest."""
    unit = bar.meter.pulse if bar.meter.pulse in _BEAT_UNITS else Fraction(1)
    name, dots = _BEAT_UNITS[unit]
    mark = child(child(direction, "direction-type"), "metronome", parentheses="no")
    child(mark, "beat-unit", text=name)
    for _ in range(dots):
        child(mark, "beat-unit-dot")
    child(mark, "per-minute", text=f"{round(tempo_qpm / float(unit), 1):.6g}")


def _write_blanks(direction: ET.Element, count: int) -> None:
    if count:
        child(child(direction, "direction-type"), "words", text="\u00a0" * count)


def chord_id(bar: int, place: int) -> str:
    """Give the id of a chord symbol: bar index and place in the bar."""
    return f"{bar_id(bar)}c{place}"


def write_left_barline(measure: ET.Element, bar: Bar, before: Bar | None) -> None:
    """Add the sign at a bar's left: an opening repeat, the start of an ending.

    Parameters
    ----------
    measure : Element
        What is written so far of the bar, still without notes.
    bar : Bar
        Of the tune.
    before : Bar or None
        The bar before it; None for the first one.
    """
    starts_ending = bool(bar.endings) and (
        before is None or before.endings != bar.endings or before.repeat_times > 0
    )
    if not (bar.repeat_start or starts_ending):
        return
    barline = child(measure, "barline", location="left")
    if bar.repeat_start:
        child(barline, "bar-style", text="heavy-light")
    if starts_ending:
        numbers = ", ".join(map(str, bar.endings))
        child(barline, "ending", number=numbers, type="start", text=_ending_text(bar))
    if bar.repeat_start:
        child(barline, "repeat", direction="forward")


def write_right_barline(measure: ET.Element, bar: Bar, after: Bar | None) -> None:
    """Add the sign at a bar's right: double or final, closing repeat, end of an ending.

    Parameters
    ----------
    measure : Element
        The bar with all its notes.
    bar : Bar
        Of the tune.
    after : Bar or None
        The bar behind it; None for the last one.
    """
    stops_ending = bool(bar.endings) and (
        after is None or after.endings != bar.endings or bar.repeat_times > 0
    )
    style = {"single": "", "double": "light-light", "final": "light-heavy"}[bar.barline]
    if bar.repeat_times:
        style = "light-heavy"
    if not (style or stops_ending):
        return
    barline = child(measure, "barline", location="right")
    if style:
        child(barline, "bar-style", text=style)
    if stops_ending:
        # The bracket of a last ending stays open where the music goes on (common practice).
        closed = bar.repeat_times or bar.barline == "final"
        numbers = ", ".join(map(str, bar.endings))
        child(barline, "ending", number=numbers, type="stop" if closed else "discontinue")
    if bar.repeat_times:
        repeat = child(barline, "repeat", direction="backward")
        # Twice is what a repeat sign says by itself.
        if bar.repeat_times > 2:
            repeat.set("times", str(bar.repeat_times))


def _ending_text(bar: Bar) -> str:
    return ", ".join(f"{number}." for number in bar.endings)


def _within(onset: Fraction, start: Fraction, end: Fraction | None) -> bool:
    return start <= onset and (end is None or onset < end)
