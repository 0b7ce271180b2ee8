"""Which parts does a MusicXML score have, and which of them is the melody?

The rule, in order: a part asked for by name or id; else, of the parts with pitched notes,
those that are a single line before those that are not, then the one with most chord
symbols, then the first.

Source: MusicXML 4.0, ``score-partwise`` and ``score-timewise``; the rule is our own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kit.errors import NotationError
from kit.tune._notices import Notices
from kit.tune._validate import MAX_BARS, too_many_bars
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["MAX_PARTS", "ScorePart", "choose_part", "score_parts", "strip_namespaces"]

_NEARLY_ALL = 0.95
MAX_PARTS = 400


@dataclass(frozen=True, slots=True)
class ScorePart:
    """A part with its measures, and what decides whether it is the melody."""

    id: str
    name: str
    measures: tuple[Element, ...]
    notes: int
    extra_notes: int
    harmonies: int

    @property
    def is_single_line(self) -> bool:
        """Whether hardly any of its notes sound together."""
        return self.notes >= _NEARLY_ALL * (self.notes + self.extra_notes)


def strip_namespaces(root: Element) -> None:
    """Take namespaces off the tags, which MusicXML files have only by mistake."""
    for element in root.iter():
        if isinstance(element.tag, str) and "}" in element.tag:
            element.tag = element.tag.rpartition("}")[2]


def score_parts(root: Element, *, source: str) -> tuple[ScorePart, ...]:
    """Give the parts of a score, part by part, whichever way the file is ordered.

    Raises
    ------
    NotationError
        If the file is not a MusicXML score, has no parts or is absurdly long.
    """
    if root.tag == "score-partwise":
        measures = {
            part.get("id", str(place)): part.findall("measure")
            for place, part in enumerate(root.findall("part"))
        }
    elif root.tag == "score-timewise":
        measures = _turned(root)
    elif root.tag == "opus":
        raise NotationError(
            "it is a collection of scores (opus), not a score",
            file=source,
            remedy="export the one score that holds the tune",
        )
    else:
        raise NotationError(
            f"it is XML but not MusicXML: its root is <{printable(str(root.tag), 40)}>",
            file=source,
            remedy="export it as MusicXML",
        )
    if len(measures) > MAX_PARTS:
        raise NotationError(f"the score has more than {MAX_PARTS} parts", file=source)
    if any(len(found) > MAX_BARS for found in measures.values()):
        raise too_many_bars(source)
    names = {
        part.get("id", ""): printable(part.findtext("part-name"), 80)
        for part in root.iterfind("part-list/score-part")
    }
    return tuple(_part(id_, names.get(id_, ""), found) for id_, found in measures.items())


def _turned(root: Element) -> dict[str, list[Element]]:
    """Turn a score ordered by bars into one ordered by parts."""
    measures: dict[str, list[Element]] = {}
    for measure in root.findall("measure"):
        for place, part in enumerate(measure.findall("part")):
            turned = measure.makeelement("measure", dict(measure.attrib))
            turned.extend(part)
            measures.setdefault(part.get("id", str(place)), []).append(turned)
    return measures


def _part(id_: str, name: str, measures: list[Element]) -> ScorePart:
    notes = extra = harmonies = 0
    for measure in measures:
        harmonies += len(measure.findall("harmony"))
        voices: dict[tuple[str, str], int] = {}
        for note in measure.iterfind("note"):
            if note.find("pitch") is None or note.find("grace") is not None:
                continue
            if note.find("chord") is not None or note.find("cue") is not None:
                extra += 1
                continue
            voice = (note.findtext("staff") or "1", note.findtext("voice") or "1")
            voices[voice] = voices.get(voice, 0) + 1
        most = max(voices.values(), default=0)
        notes += most
        extra += sum(voices.values()) - most
    return ScorePart(id_, name, tuple(measures), notes, extra, harmonies)


def choose_part(
    parts: tuple[ScorePart, ...], wanted: str | None, *, source: str, notices: Notices
) -> ScorePart:
    """Choose the melody part and say which it is.

    Raises
    ------
    NotationError
        If no part has notes, or none has the wanted name.
    """
    if wanted is not None:
        return _named(parts, wanted, source)
    playable = [part for part in parts if part.notes]
    if not playable:
        raise NotationError(
            "there are no notes in it",
            file=source,
            remedy="check that it is the right file",
        )
    chosen = max(playable, key=lambda part: (part.is_single_line, part.harmonies))
    others = [part.name or part.id for part in playable if part is not chosen]
    if others:
        listed = ", ".join(others[:8]) + (" and more" if len(others) > 8 else "")
        notices.say(
            f"The melody is the part {chosen.name or chosen.id}; left out: {listed}."
        )
    return chosen


def _named(parts: tuple[ScorePart, ...], wanted: str, source: str) -> ScorePart:
    for part in parts:
        if wanted.strip().casefold() in (part.name.casefold(), part.id.casefold()):
            return part
    names = ", ".join(part.name or part.id for part in parts[:12])
    raise NotationError(
        f'there is no part "{printable(wanted, 60)}"',
        file=source,
        remedy=f"name one of its parts: {names}",
    )
