"""One note with all that hangs on it, as MusicXML.

Ties and slurs are matched over the whole tune first: one without its other end (an excerpt
may cut it) is left out, so that no reader meets an open one.

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021), order of elements in
``note`` and ``notations``.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping, Sequence

from kit.tune._loose_ends import leads_elsewhere
from kit.tune.marks import mark_named
from kit.tune.model import Bar, Grace, Note, note_id
from kit.tune.musicxml._accidentals import Shown
from kit.tune.notation import beams_of, note_value, tuplet_groups
from kit.tune.pitch import Pitch

__all__ = ["NoteWriter", "child"]

_ACCIDENTALS = {
    -2: "flat-flat",
    -1: "flat",
    0: "natural",
    1: "sharp",
    2: "double-sharp",
}
_MAX_SLURS = 16  # MusicXML 4.0, number-level


def child(
    parent: ET.Element,
    tag: str,
    attributes: Mapping[str, str] | None = None,
    *,
    text: str | None = None,
    **more: str,
) -> ET.Element:
    """Add an element with its text."""
    element = ET.SubElement(parent, tag, {**(attributes or {}), **more})
    element.text = text
    return element


class NoteWriter:
    """Writes the notes of one tune, one at a time.

    Parameters
    ----------
    bars : sequence of Bar
        All that is written, in order.
    divisions : int
        Units in a quarter note.
    accidentals : mapping
        As `kit.tune.musicxml._accidentals.shown_accidentals` gives them.
    first_index : int
        The index, on its sheet, of the first bar: ids count from there.
    """

    def __init__(
        self,
        bars: Sequence[Bar],
        divisions: int,
        accidentals: Mapping[tuple[int, int, int | None], Shown],
        first_index: int = 0,
    ) -> None:
        self._first = first_index
        self._bars = bars
        self._divisions = divisions
        self._accidentals = accidentals
        self._ties = _match_ties(bars)
        self._slurs = _match_slurs(bars)
        self._open_words: set[int] = set()
        self._bar = -1
        self._beams: dict[int, tuple[str, ...]] = {}
        self._tuplets: tuple[tuple[int, int], ...] = ()

    def write(self, measure: ET.Element, index: int, position: int) -> None:
        """Add a note or rest, its grace notes before it.

        Raises
        ------
        ValueError
            If its length has no single symbol.
        """
        bar = self._bars[index]
        if index != self._bar:
            self._bar = index
            self._beams = beams_of(bar)
            self._tuplets = tuplet_groups(bar.notes)
        note = bar.notes[position]
        for place, grace in enumerate(note.graces):
            self._write_grace(measure, (index, position, place), grace, len(note.graces))
        element = child(measure, "note", id=note_id(index + self._first, position))
        whole_bar = note.is_rest and len(bar.notes) == 1 and not bar.pickup
        if note.pitch is None:
            child(element, "rest", {"measure": "yes"} if whole_bar else None)
        else:
            _write_pitch(element, note.pitch)
        child(element, "duration", text=str(int(note.duration * self._divisions)))
        ties = self._ties.get((index, position), ())
        for kind in ties:
            if kind != "let-ring":  # which nothing answers, so nothing sounds on
                child(element, "tie", type=kind)
        child(element, "voice", text="1")
        # A rest of a whole bar has no value of its own, whatever the meter.
        if not whole_bar:
            self._write_value(element, (index, position), note)
        if "ghost" in note.marks and not note.is_rest:
            child(element, "notehead", parentheses="yes", text="normal")
        for number, beam in enumerate(self._beams.get(position, ()), start=1):
            child(element, "beam", number=str(number), text=beam)
        self._write_notations(element, (index, position), note, ties)
        self._write_lyrics(element, note)

    def _write_grace(
        self, measure: ET.Element, place: tuple[int, int, int], grace: Grace, count: int
    ) -> None:
        element = child(measure, "note", id=note_id(place[0] + self._first, *place[1:]))
        child(element, "grace", slash="yes" if grace.slash else "no")
        _write_pitch(element, grace.pitch)
        child(element, "voice", text="1")
        # A single grace note is an eighth, several are sixteenths (common practice).
        child(element, "type", text="eighth" if count == 1 else "16th")
        self._write_accidental(element, place, grace.pitch)
        # Grace notes stand stem up, above the melody's own stems (common practice).
        child(element, "stem", text="up")
        if count > 1:
            beam = {0: "begin", count - 1: "end"}.get(place[2], "continue")
            for number in ("1", "2"):
                child(element, "beam", number=number, text=beam)

    def _write_value(self, element: ET.Element, place: tuple[int, int], note: Note) -> None:
        value = note_value(note.duration, note.tuplet)
        child(element, "type", text=value.type)
        for _ in range(value.dots):
            child(element, "dot")
        if note.pitch is not None:
            self._write_accidental(element, (*place, None), note.pitch)
        if note.tuplet:
            ratio = child(element, "time-modification")
            child(ratio, "actual-notes", text=str(note.tuplet[0]))
            child(ratio, "normal-notes", text=str(note.tuplet[1]))

    def _write_accidental(
        self, element: ET.Element, place: tuple[int, int, int | None], pitch: Pitch
    ) -> None:
        shown = self._accidentals.get(place)
        if shown is None or pitch.alter not in _ACCIDENTALS:
            return
        courtesy = {"cautionary": "yes", "parentheses": "yes"}
        child(
            element,
            "accidental",
            courtesy if shown == "courtesy" else None,
            text=_ACCIDENTALS[pitch.alter],
        )

    def _write_notations(
        self,
        element: ET.Element,
        place: tuple[int, int],
        note: Note,
        ties: Sequence[str],
    ) -> None:
        notations = ET.Element("notations")
        for kind in ties:
            child(notations, "tied", type=kind)
        for kind, number in self._slurs.get(place, ()):
            child(notations, "slur", type=kind, number=str(number))
        for first, last in self._tuplets:
            if place[1] == first and first != last:
                bracket = "no" if self._share_beam(first, last) else "yes"
                child(notations, "tuplet", type="start", number="1", bracket=bracket)
            elif place[1] == last and first != last:
                child(notations, "tuplet", type="stop", number="1")
        _write_marks(notations, note.marks)
        if len(notations):
            element.append(notations)

    def _share_beam(self, first: int, last: int) -> bool:
        """Say whether a tuplet has one beam of its own, so that it needs no bracket."""
        outer = [self._beams.get(i, ("",))[0] for i in range(first, last + 1)]
        return (
            outer[0] == "begin"
            and outer[-1] == "end"
            and all(beam == "continue" for beam in outer[1:-1])
        )

    def _write_lyrics(self, element: ET.Element, note: Note) -> None:
        for verse, syllable in enumerate(note.lyrics):
            if not syllable:
                continue
            goes_on = syllable.endswith("-") and len(syllable) > 1
            went_on = verse in self._open_words
            syllabic = {
                (False, False): "single",
                (False, True): "begin",
                (True, True): "middle",
                (True, False): "end",
            }[went_on, goes_on]
            (self._open_words.add if goes_on else self._open_words.discard)(verse)
            lyric = child(element, "lyric", number=str(verse + 1))
            child(lyric, "syllabic", text=syllabic)
            child(lyric, "text", text=syllable[:-1] if goes_on else syllable)


def _write_pitch(element: ET.Element, pitch: Pitch) -> None:
    written = child(element, "pitch")
    child(written, "step", text=pitch.step)
    if pitch.alter:
        child(written, "alter", text=str(pitch.alter))
    child(written, "octave", text=str(pitch.octave))


def _write_marks(notations: ET.Element, marks: Sequence[str]) -> None:
    groups: dict[str, list[str]] = {"ornaments": [], "technical": [], "articulations": []}
    for mark in marks:
        group = mark_named(mark).group
        if group != "apart":
            groups[group].append(mark)
    for name, members in groups.items():
        if members:
            group_element = child(notations, name)
            for mark in members:
                child(group_element, mark)
    if "fermata" in marks:
        child(notations, "fermata")


def _walk(bars: Sequence[Bar]) -> Iterator[tuple[tuple[int, int], Note]]:
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            yield (index, position), note


def _match_ties(bars: Sequence[Bar]) -> dict[tuple[int, int], tuple[str, ...]]:
    """Give each tied note its ``stop`` and ``start``, where both ends are there."""
    ties: dict[tuple[int, int], tuple[str, ...]] = {}
    before: tuple[tuple[int, int], Note] | None = None
    for place, note in _walk(bars):
        if before is not None and before[1].tied and before[1].pitch == note.pitch:
            ties[before[0]] = (*ties.get(before[0], ()), "start")
            ties[place] = ("stop",)
        elif before is not None and before[1].tied and _is_left(bars, before[0], place):
            ties[before[0]] = (*ties.get(before[0], ()), "let-ring")
        before = (place, note) if note.pitch is not None else None
    if before is not None and before[1].tied and leads_elsewhere(bars[before[0][0]], None):
        ties[before[0]] = (*ties.get(before[0], ()), "let-ring")
    return ties


def _is_left(
    bars: Sequence[Bar], place: tuple[int, int], following: tuple[int, int]
) -> bool:
    """Say whether the tie at a place may go on elsewhere than in the next note written."""
    if following[0] == place[0]:
        return False
    return leads_elsewhere(bars[place[0]], bars[place[0] + 1])


def _match_slurs(bars: Sequence[Bar]) -> dict[tuple[int, int], list[tuple[str, int]]]:
    """Pair the ends of the slurs and number them; an end without its other is left out."""
    slurs: dict[tuple[int, int], list[tuple[str, int]]] = {}
    waiting: list[tuple[tuple[int, int], int]] = []
    for place, note in _walk(bars):
        in_use = {number for _, number in waiting}
        for _ in range(note.slurs_ended):
            if waiting:
                # Slurs nest: the one begun last ends first.
                start, number = waiting.pop()
                slurs.setdefault(start, []).append(("start", number))
                slurs.setdefault(place, []).insert(0, ("stop", number))
        for _ in range(note.slurs_started):
            free = [n for n in range(1, _MAX_SLURS + 1) if n not in in_use]
            if free:
                waiting.append((place, free[0]))
                in_use.add(free[0])
    return slurs
