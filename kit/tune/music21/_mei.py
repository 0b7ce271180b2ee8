"""How does music21 read an MEI file without losing what it has no reader for?

music21 takes keys and meters from attributes alone, passes over endings with all that is
in them, and knows no chord symbols or rehearsal marks. So the tree is written the way it
reads, and what it has no reader for is put into the stream afterwards, bar by bar. What is
left out even so is told.

Source: MEI 4 and 5 guidelines (Music Encoding Initiative), ``keySig``, ``meterSig``,
``ending``, ``harm``, ``reh``; music21 10.5's ``music21.mei.base``, which lists
what it does not read.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction
from typing import Any

from kit.errors import NotationError
from kit.tune._notices import Notices
from kit.tune.chord_text import parse_chord
from kit.tune.musicxml.xml_tree import parse_xml
from kit.tune.pitch import NoteName
from kit.tune.source_text import printable

__all__ = ["read_mei"]

_MEI = "{http://www.music-encoding.org/ns/mei}"
_ATTRIBUTES = {
    "keySig": {"sig": "key.sig", "mode": "key.mode", "pname": "key.pname",
               "accid": "key.accid"},
    "meterSig": {"count": "meter.count", "unit": "meter.unit"},
}  # fmt: skip
_LEFT_OUT = frozenset({
    "breath", "bTrem", "caesura", "dir", "dynam", "fermata", "gliss", "hairpin", "mordent",
    "octave", "ornam", "pedal", "tempo", "trill", "turn",
})  # fmt: skip


def read_mei(data: bytes, notices: Notices, *, source: str) -> Any:
    """Let music21 read MEI.

    Parameters
    ----------
    data : bytes
        The file.
    notices : Notices
        Told what is left out.
    source : str
        What messages call the file.

    Returns
    -------
    music21.stream.Score

    Raises
    ------
    NotationError
        If it is broken or dangerous XML, or has several pieces.
    """
    from music21.converter import parseData  # noqa: PLC0415 - in a process of its own

    root = parse_xml(data, source=source)
    pieces = root.findall(f".//{_MEI}score")
    if len(pieces) != 1:
        raise NotationError(
            f"it holds {len(pieces)} scores",
            file=source,
            remedy="take the one that holds the tune",
        )
    _signatures_as_attributes(root)
    for syllable in root.iter(f"{_MEI}syl"):
        if syllable.get("wordpos") not in ("i", "m", "t"):  # MEI 5 has "s", a word of one
            syllable.attrib.pop("wordpos", None)
    endings = _endings_as_sections(pieces[0])
    measures = list(pieces[0].iter(f"{_MEI}measure"))
    for element in pieces[0].iter():
        tag = str(element.tag).removeprefix(_MEI)
        if tag in _LEFT_OUT:
            notices.left_out(f"a sign of the kind {tag}")
    score = parseData(ET.tostring(root, encoding="unicode"), format="mei")
    _name(score, root)
    _complete(score, measures, endings, notices)
    return score


def _name(score: Any, root: ET.Element) -> None:
    """Take title and composer from the file's description if the work has none."""
    from music21.metadata import Metadata  # noqa: PLC0415 - as above

    if score.metadata is None:
        score.metadata = Metadata()
    described = f".//{_MEI}fileDesc/{_MEI}titleStmt/"
    title = root.find(f"{described}{_MEI}title")
    composer = root.find(f"{described}{_MEI}composer")
    if title is not None and not score.metadata.title:
        score.metadata.title = _text(title)
    if composer is not None and not score.metadata.composer:
        score.metadata.composer = _text(composer)


def _signatures_as_attributes(root: ET.Element) -> None:
    for holder in root.iter():
        for tag, names in _ATTRIBUTES.items():
            sign = holder.find(f"{_MEI}{tag}")
            if sign is None or holder.tag not in (f"{_MEI}scoreDef", f"{_MEI}staffDef"):
                continue
            holder.remove(sign)
            for name, attribute in names.items():
                if sign.get(name) is not None:
                    holder.set(attribute, sign.get(name, ""))


def _endings_as_sections(score: ET.Element) -> dict[int, str]:
    """Make sections of endings; give the number of the ending of each bar in one."""
    passes = {}
    for ending in score.iter(f"{_MEI}ending"):
        passes.update(
            {id(measure): ending.get("n", "") for measure in ending.iter(f"{_MEI}measure")}
        )
        ending.tag = f"{_MEI}section"
    found = {}
    for place, measure in enumerate(score.iter(f"{_MEI}measure")):
        if id(measure) in passes:
            found[place] = passes[id(measure)]
    return found


def _complete(
    score: Any, measures: list[ET.Element], endings: dict[int, str], notices: Notices
) -> None:
    """Put endings, changes and rehearsal marks into the upper part."""
    part = next(iter(score.parts), None)
    bars = list(part.getElementsByClass("Measure")) if part is not None else []
    if len(bars) != len(measures):
        raise ValueError(f"{len(measures)} measures became {len(bars)}")
    for bar, measure in zip(bars, measures, strict=True):
        for mark in measure.iter(f"{_MEI}reh"):
            _add_rehearsal_mark(bar, _text(mark))
        for harm in measure.iter(f"{_MEI}harm"):
            _add_chord(bar, harm, notices)
    _bracket_endings(part, bars, endings)


def _text(element: ET.Element) -> str:
    return printable("".join(element.itertext()), 40)


def _add_rehearsal_mark(bar: Any, text: str) -> None:
    from music21.expressions import RehearsalMark  # noqa: PLC0415 - as above

    if text:
        bar.insert(0, RehearsalMark(text))


def _add_chord(bar: Any, harm: ET.Element, notices: Notices) -> None:
    from music21.harmony import (  # noqa: PLC0415
        ChordStepModification,
        ChordSymbol,
        NoChord,
    )

    text = _text(harm)
    try:
        read = parse_chord(text)
        beat = Fraction(harm.get("tstamp", ""))
    except ValueError:
        notices.left_out(f"the chord symbol {text}, which has no beat or cannot be read")
        return
    meter = bar.getContextByClass("TimeSignature")
    onset = (beat - 1) * Fraction(4, meter.denominator if meter is not None else 4)
    if read.root is None:
        bar.insert(onset, NoChord())
        return
    chord = ChordSymbol(
        root=_music21_name(read.root),
        bass=_music21_name(read.bass) if read.bass else None,
        kind=read.kind,
    )
    for degree in read.degrees:
        chord.addChordStepModification(
            ChordStepModification(degree.change, degree.value, degree.alter),
            updatePitches=False,
        )
    bar.insert(onset, chord)


def _music21_name(name: NoteName) -> str:
    return name.step + ("-" * -name.alter if name.alter < 0 else "#" * name.alter)


def _bracket_endings(part: Any, bars: list[Any], endings: dict[int, str]) -> None:
    from music21.spanner import RepeatBracket  # noqa: PLC0415 - as above

    run: list[Any] = []
    for place, bar in enumerate(bars):
        if place not in endings:
            continue
        run.append(bar)
        if endings.get(place + 1) != endings[place]:
            part.insert(0, RepeatBracket(run, number=endings[place]))
            run = []
