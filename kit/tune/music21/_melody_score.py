"""Which part of a music21 stream is the melody, and how is that part written as MusicXML?

music21 holds far more than a lead sheet, and writes what it holds as MusicXML. Here its
parts are counted, the melody is chosen by the rule of `kit.tune.musicxml.read_parts`, and
that part alone is written, with the one that has the changes if the melody has none: a
score of many parts would take music21 minutes.

Source: music21's `stream`, `spanner` and `musicxml.m21ToXml`, by their documentation.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from kit.errors import NotationError
from kit.tune._notices import Notices
from kit.tune._validate import MAX_BARS, too_many_bars
from kit.tune.musicxml.read_parts import MAX_PARTS, ScorePart, choose_part
from kit.tune.source_text import printable

__all__ = ["MelodyScore", "melody_score"]

_NAME_CHARS = 80


@dataclass(frozen=True, slots=True)
class MelodyScore:
    """The melody as MusicXML, first of at most two parts, and what else was found."""

    musicxml: bytes
    part_names: tuple[str, ...]
    notices: tuple[str, ...]


def melody_score(stream: Any, part: str | None, *, source: str) -> MelodyScore:
    """Write the melody of a stream, which is used up by it.

    Parameters
    ----------
    stream : music21.stream.Stream
        Any stream of notes: a score, a part, a measure, a flat stream.
    part : str, optional
        Name of the melody part, or ``P2`` for the second.
    source : str
        What messages call it.

    Raises
    ------
    NotationError
        If it is a collection, has no notes or no such part, or is absurdly long.
    """
    stream = _one_piece(stream, source)
    notices = Notices()
    parts = _parts(stream)
    if len(parts) > MAX_PARTS:
        raise NotationError(f"the score has more than {MAX_PARTS} parts", file=source)
    for one in parts:
        _leave_out_analysis(one, notices)
        if len(one.getElementsByClass("Measure")) > MAX_BARS:
            raise too_many_bars(source)
    counted = _counted(stream, parts)
    chosen = choose_part(counted, part, source=source, notices=notices)
    written = [chosen]
    lenders = [one for one in counted if one is not chosen and one.harmonies]
    if not chosen.harmonies and lenders:
        written.append(max(lenders, key=lambda one: one.harmonies))
    score = _score_of(stream, [parts[counted.index(one)] for one in written])
    names = tuple(dict.fromkeys(one.name or one.id for one in counted if one.notes))
    return MelodyScore(
        _musicxml(score, [chosen.name, *(one.name or one.id for one in written[1:])]),
        names if len(names) > 1 else tuple(name for name in names if name != "P1"),
        notices.sentences(),
    )


def _one_piece(stream: Any, source: str) -> Any:
    if "Opus" not in stream.classes:
        return stream
    scores = list(stream.scores)
    if len(scores) == 1:
        return scores[0]
    raise NotationError(
        f"it is a collection of {len(scores)} pieces",
        file=source,
        remedy="take the one that holds the tune",
    )


def _parts(stream: Any) -> list[Any]:
    """Give the parts; what has none is one part itself."""
    from music21.stream import Part  # noqa: PLC0415 - loaded for who hands over a stream

    found = list(stream.getElementsByClass("Part"))
    if found:
        return found
    part = Part()
    for element in [stream] if "Measure" in stream.classes else list(stream):
        part.insert(element.offset, element)
    return [part]


def _leave_out_analysis(part: Any, notices: Notices) -> None:
    """Take out numerals, which are chords for music21 and would be written as notes."""
    for numeral in list(part.recurse().getElementsByClass("RomanNumeral")):
        notices.left_out("a numeral of an analysis")
        part.remove(numeral, recurse=True)


# Which part is the melody


def _counted(stream: Any, parts: list[Any]) -> tuple[ScorePart, ...]:
    below = _lower_staves(stream)
    found = []
    for place, part in enumerate(parts, start=1):
        notes, extra = _notes_of(part)
        extra += sum(sum(_notes_of(staff)) for staff in below.get(id(part), ()))
        harmonies = len(part.recurse().getElementsByClass("ChordSymbol"))
        name = printable(getattr(part, "partName", None), _NAME_CHARS)
        found.append(ScorePart(f"P{place}", name, (), notes, extra, harmonies))
    return tuple(found)


def _lower_staves(stream: Any) -> dict[int, list[Any]]:
    """Give the staves below the upper one of each instrument with several."""
    below: dict[int, list[Any]] = {}
    for group in stream.getElementsByClass("StaffGroup"):
        staves = list(group.getSpannedElements())
        if staves and all("PartStaff" in staff.classes for staff in staves):
            below[id(staves[0])] = staves[1:]
    return below


def _notes_of(part: Any) -> tuple[int, int]:
    """Count the notes of the fullest voice of each bar, and all others."""
    notes = extra = 0
    measures = list(part.getElementsByClass("Measure")) or [part]
    for measure in measures:
        voices: Counter[int] = Counter()
        for voice in list(measure.voices) or [measure]:
            for note in voice.notes:
                if note.duration.isGrace or "Harmony" in note.classes:
                    continue
                voices[id(voice)] += bool(note.pitches)
                extra += max(0, len(note.pitches) - 1)
        most = max(voices.values(), default=0)
        notes += most
        extra += voices.total() - most
    return notes, extra


# What is written


def _score_of(stream: Any, parts: list[Any]) -> Any:
    """Make a score of some parts, each whole: measures, single symbols, its own lines."""
    from music21.metadata import Metadata  # noqa: PLC0415 - as above
    from music21.stream import Score  # noqa: PLC0415

    score = Score()
    lines = [
        line
        for line in stream.getElementsByClass("Spanner")
        if "StaffGroup" not in line.classes
    ]
    for part in parts:
        if part is not stream:
            _bring_lines(part, lines)
        score.insert(0, _with_measures(part))
    score.metadata = stream.metadata or Metadata()
    return score


def _bring_lines(part: Any, lines: Iterable[Any]) -> None:
    """Put the score's slurs and brackets that lie within a part into it."""
    inside = {id(element) for element in part.recurse()}
    for line in lines:
        spanned = line.getSpannedElements()
        if spanned and all(id(element) in inside for element in spanned):
            part.insert(0, line)


def _with_measures(part: Any) -> Any:
    """Give the part in measures, every length in symbols that can be written."""
    if not part.getElementsByClass("Measure"):
        part = part.makeNotation()
    _drop_empty_measures(part)
    return part.splitAtDurations(recurse=True)[0]


def _drop_empty_measures(part: Any) -> None:
    """Take out measures without anything to play at either end.

    Some formats close with a bar line that opens one more.
    """
    measures = list(part.getElementsByClass("Measure"))
    full = [place for place, one in enumerate(measures) if one.recurse().notesAndRests]
    if not full:
        return
    first, last = measures[full[0]], measures[full[-1]]
    for measure in measures[: full[0]]:
        for element in list(measure):
            if {"KeySignature", "TimeSignature"} & set(element.classes):
                first.insert(0, element)
    late = measures[full[-1] + 1 :]
    if late and last.rightBarline is None:
        last.rightBarline = late[-1].rightBarline
    for measure in [*measures[: full[0]], *late]:
        part.remove(measure)


def _musicxml(score: Any, names: list[str]) -> bytes:
    """Write a score; what music21 would invent for it (names, title) is left out."""
    from music21 import defaults  # noqa: PLC0415 - as above
    from music21.musicxml.m21ToXml import ScoreExporter  # noqa: PLC0415

    exporter = ScoreExporter(score, makeNotation=False)
    root: ET.Element = exporter.parse()
    for place, (listed, part) in enumerate(
        zip(root.iterfind("part-list/score-part"), root.iterfind("part"), strict=True)
    ):
        listed.set("id", f"P{place + 1}")
        part.set("id", f"P{place + 1}")
        shown = listed.find("part-name")
        if shown is not None:
            shown.text = names[place]
    invented = {"movement-title": defaults.title, "creator": defaults.author}
    for parent in (root, *root.findall("identification")):
        for element in list(parent):
            if element.tag in invented and element.text == invented[element.tag]:
                parent.remove(element)
    written: bytes = ET.tostring(root, encoding="utf-8")
    return written
