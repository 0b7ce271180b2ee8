"""A tune as a MusicXML file that any reader of music can open.

Conventions
-----------
* MusicXML 4.0, score-partwise, one part, one voice; the same tune always gives the same
  text (no date, no program-made ids).
* Measures, notes and harmonies bear ids that follow from their place (`bar_id`,
  `note_id`), so every transposition and every build has the same ones.
* Everything a lead sheet shows is written out: beams, accidentals with courtesy ones,
  tuplet brackets, ties, slurs.

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from math import lcm

from kit.tune.lines import line_starts
from kit.tune.model import Bar, Tune, bar_id
from kit.tune.musicxml._accidentals import shown_accidentals
from kit.tune.musicxml._write_notes import NoteWriter, child
from kit.tune.musicxml.write_marks import (
    Layout,
    MarkWriter,
    write_left_barline,
    write_right_barline,
)
from kit.tune.pitch import Interval

__all__ = ["CLEFS", "Layout", "write_musicxml"]

CLEFS = {
    "treble": ("G", 2, 0),
    "treble-8": ("G", 2, -1),
    "treble+8": ("G", 2, 1),
    "bass": ("F", 4, 0),
    "bass-8": ("F", 4, -1),
    "alto": ("C", 3, 0),
    "tenor": ("C", 4, 0),
}
"""Clef name to sign, line and octave change (-1: sounds an octave lower)."""

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
# Characters that no XML 1.0 document may hold (XML 1.0, 5th edition, production 2).
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_MODES = frozenset(
    {
        "major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "aeolian",
        "ionian", "locrian",
    }
)  # fmt: skip


def write_musicxml(
    tune: Tune,
    *,
    clef: str = "treble",
    transpose: Interval | None = None,
    part_name: str = "",
    layout: Layout | None = None,
) -> str:
    """Write a tune as MusicXML.

    Parameters
    ----------
    tune : Tune
        At the pitch that is to be printed.
    clef : str
        A name from `CLEFS`.
    transpose : Interval, optional
        From the printed to the sounding pitch: down a major sixth for an alto saxophone.
    part_name : str
        The instrument; without it the tune's own part name.
    layout : Layout, optional
        Lines and what is printed around the notes; the default suits other programs.

    Returns
    -------
    str
        The document, with its XML declaration.

    Raises
    ------
    ValueError
        If the clef is unknown, a note's length has no single symbol, or a key has more
        than seven accidentals.
    """
    if clef not in CLEFS:
        raise ValueError(f"no clef {clef!r}; there are {', '.join(CLEFS)}")
    root = ET.Element("score-partwise", version="4.0")
    _write_header(root, tune, part_name or tune.part_name)
    part = child(root, "part", id="P1")
    divisions = _divisions(tune.bars)
    layout = layout or Layout()
    notes = NoteWriter(
        tune.bars, divisions, shown_accidentals(tune.bars), layout.first_index
    )
    marks = MarkWriter(tune, divisions, layout)
    starts = _starts(tune.bars, layout.bars_per_line)
    for index, bar in enumerate(tune.bars):
        measure = child(
            part,
            "measure",
            id=bar_id(index + layout.first_index),
            number=str(bar.number),
        )
        if bar.pickup:
            # In MusicXML's words: a measure that the count of bars passes over.
            measure.set("implicit", "yes")
        if index in starts:
            child(measure, "print", {"new-system": "yes"})
        before = tune.bars[index - 1] if index else None
        after = tune.bars[index + 1] if index + 1 < len(tune.bars) else None
        _write_key_and_meter(measure, bar, before)
        if before is None:
            _write_opening(measure[0], divisions, clef, transpose)
        write_left_barline(measure, bar, before)
        marks.write_start(measure, index)
        for position, note in enumerate(bar.notes):
            last = position + 1 == len(bar.notes)
            marks.write_from(measure, index, note.onset, None if last else note.end)
            notes.write(measure, index, position)
        marks.write_end(measure, index)
        write_right_barline(measure, bar, after)
    ET.indent(root, " ")
    return _HEAD + _NOT_XML.sub("", ET.tostring(root, encoding="unicode")) + "\n"


def _write_header(root: ET.Element, tune: Tune, part_name: str) -> None:
    if tune.title:
        child(child(root, "work"), "work-title", text=tune.title)
    identification = child(root, "identification")
    for role in ("composer", "lyricist", "arranger"):
        if getattr(tune, role):
            child(identification, "creator", type=role, text=getattr(tune, role))
    if tune.rights:
        child(identification, "rights", text=tune.rights)
    score_part = child(child(root, "part-list"), "score-part", id="P1")
    child(score_part, "part-name", text=part_name)


def _write_key_and_meter(measure: ET.Element, bar: Bar, before: Bar | None) -> None:
    """Add the key and the meter where they are new, as they always are at the start."""
    new_key = before is None or bar.key != before.key
    new_meter = before is None or bar.meter != before.meter
    if not (new_key or new_meter):
        return
    attributes = child(measure, "attributes")
    if new_key:
        if abs(bar.key.fifths) > 7:
            raise ValueError(f"{bar.key} has more than seven accidentals")
        key = child(attributes, "key")
        child(key, "fifths", text=str(bar.key.fifths))
        if bar.key.mode in _MODES:
            child(key, "mode", text=bar.key.mode)
    if new_meter:
        time = child(attributes, "time")
        child(time, "beats", text=str(bar.meter.beats))
        child(time, "beat-type", text=str(bar.meter.beat_type))


def _write_opening(
    attributes: ET.Element, divisions: int, clef: str, transpose: Interval | None
) -> None:
    """Complete the first attributes: divisions stand before the key, clef after."""
    element = ET.Element("divisions")
    element.text = str(divisions)
    attributes.insert(0, element)
    _write_clef(attributes, clef)
    _write_transpose(attributes, transpose)


def _write_clef(attributes: ET.Element, name: str) -> None:
    sign, line, octaves = CLEFS[name]
    clef = child(attributes, "clef")
    child(clef, "sign", text=sign)
    child(clef, "line", text=str(line))
    if octaves:
        child(clef, "clef-octave-change", text=str(octaves))


def _write_transpose(attributes: ET.Element, interval: Interval | None) -> None:
    if interval is None or interval == Interval(0, 0):
        return
    sign = -1 if (interval.steps, interval.semitones) < (0, 0) else 1
    octaves, steps = divmod(sign * interval.steps, 7)
    transpose = child(attributes, "transpose")
    child(transpose, "diatonic", text=str(sign * steps))
    # MusicXML takes whole octaves out of both and says them in `octave-change`.
    child(transpose, "chromatic", text=str(interval.semitones - sign * 12 * octaves))
    if octaves:
        child(transpose, "octave-change", text=str(sign * octaves))


def _divisions(bars: Sequence[Bar]) -> int:
    """Find the smallest unit in which every length and place is a whole number."""
    moments: set[int] = {1}
    for bar in bars:
        moments.add(bar.meter.bar_length.denominator)
        for note in bar.notes:
            moments |= {note.onset.denominator, note.duration.denominator}
        moments.update(event.onset.denominator for event in bar.chords)
        moments.update(word.onset.denominator for word in bar.words)
        moments.update(span.onset.denominator for span in bar.spans)
    return lcm(*moments)


def _starts(bars: Sequence[Bar], bars_per_line: int | None) -> frozenset[int]:
    """Give the indices before which a new line is asked for; the first needs none."""
    if bars_per_line is None:
        breaks = {index for index, bar in enumerate(bars) if bar.line_break}
    else:
        breaks = set(line_starts(bars, bars_per_line))
    return frozenset(breaks - {0})
