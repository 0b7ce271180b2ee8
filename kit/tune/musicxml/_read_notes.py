"""What does one MusicXML note say beyond its length?

Source: MusicXML 4.0, ``note``, ``notations``, ``lyric``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kit.tune._bar_draft import NoteDraft
from kit.tune._notices import Notices
from kit.tune.marks import marks
from kit.tune.model import Grace
from kit.tune.musicxml._read_values import is_microtonal, pitch_of, tuplet_ratio
from kit.tune.musicxml._read_voice import VoiceNote
from kit.tune.pitch import Pitch
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from fractions import Fraction
    from xml.etree.ElementTree import Element

__all__ = ["NoteReader"]

_SILENT = frozenset({"accidental-mark", "wavy-line"})
MAX_VERSES = 12


class NoteReader:
    """Turns the notes of a voice into drafts; remembers open slurs and grace notes."""

    def __init__(self, notices: Notices) -> None:
        self._notices = notices
        self._open_slurs: dict[str, NoteDraft | None] = {}
        self._graces: list[Grace] = []
        self._last: NoteDraft | None = None

    def _pitch(self, element: Element) -> Pitch:
        if is_microtonal(element):
            self._notices.left_out("a part of a semitone, read without it")
        return pitch_of(element)

    def grace(self, note: VoiceNote) -> None:
        """Keep a grace note for the note behind it.

        Raises
        ------
        ValueError
            If its pitch cannot be read.
        """
        pitch = note.top.find("pitch")
        if pitch is None:
            return
        slash = note.element.find("grace")
        assert slash is not None
        self._graces.append(Grace(self._pitch(pitch), slash.get("slash") == "yes"))
        self._read_slurs(note.element, None)

    def draft(self, note: VoiceNote, length: Fraction) -> NoteDraft:
        """Read a note or rest.

        Raises
        ------
        ValueError
            If its pitch or tuplet cannot be read.
        """
        element, top = note.element, note.top
        pitch_element = top.find("pitch")
        if pitch_element is None and element.find("unpitched") is not None:
            self._notices.left_out("an unpitched note, kept as a rest")
        draft = NoteDraft(
            length,
            self._pitch(pitch_element) if pitch_element is not None else None,
            tuplet=tuplet_ratio(element),
        )
        if draft.pitch is not None:
            draft.tied = _is_tied(top)
            draft.graces = tuple(self._graces)
            self._read_lyrics(element, draft)
        elif self._graces:
            self._notices.left_out("grace notes before a rest")
        self._graces = []
        self._read_marks(element, draft)
        head = top.find("notehead")
        if head is not None and head.get("parentheses") == "yes":
            draft.marks.append("ghost")
        elif head is not None and (head.text or "").strip() not in ("normal", ""):
            self._notices.left_out(f"the note head {printable(head.text, 20)}")
        self._read_slurs(element, draft)
        self._last = draft
        return draft

    def finish(self) -> None:
        """Say what is left over at the end."""
        if self._graces:
            self._notices.left_out("grace notes without a note behind them")

    def _read_marks(self, element: Element, draft: NoteDraft) -> None:
        for notations in element.iterfind("notations"):
            for group in notations:
                if group.tag == "fermata":
                    draft.marks.append("fermata")
                elif group.tag in ("articulations", "ornaments", "technical"):
                    self._read_group(group, draft)
                elif group.tag in ("glissando", "slide", "arpeggiate", "non-arpeggiate"):
                    self._notices.left_out(f"a sign of the kind {group.tag}")

    def _read_group(self, group: Element, draft: NoteDraft) -> None:
        for sign in group:
            tag = str(sign.tag)
            mark = marks().get(tag)
            if mark and mark.group != "apart" and draft.pitch is not None:
                draft.marks.append(tag)
            elif tag not in _SILENT:
                self._notices.left_out(f"a sign of the kind {printable(tag, 30)}")

    def _read_slurs(self, element: Element, draft: NoteDraft | None) -> None:
        slurs = element.findall("notations/slur")
        # Ends first: where one slur ends and another begins, both may have one number.
        for slur in sorted(slurs, key=lambda slur: slur.get("type") != "stop"):
            name = slur.get("number", "1")[:8]
            if slur.get("type") == "start":
                # A slur that begins on a grace note goes without saying.
                self._open_slurs[name] = draft
                if draft is not None:
                    draft.slurs_started += 1
            elif slur.get("type") == "stop":
                start = self._open_slurs.pop(name, None)
                target = draft or self._last
                if start is not None and target is start:
                    start.slurs_started -= 1
                elif start is not None and target is not None:
                    target.slurs_ended += 1

    def _read_lyrics(self, element: Element, draft: NoteDraft) -> None:
        verses = 0
        for lyric in element.iterfind("lyric"):
            text = "".join(
                part.text or "" for part in lyric if part.tag in ("text", "elision")
            )
            label = lyric.get("number", "")
            verse = int(label) if label.isdecimal() and len(label) < 3 else verses + 1
            verses += 1
            if not text.strip():
                continue
            if not 0 < verse <= MAX_VERSES:
                self._notices.left_out(f"verses beyond the {MAX_VERSES}th")
                continue
            goes_on = lyric.findtext("syllabic") in ("begin", "middle")
            draft.add_lyric(verse - 1, printable(text, 80) + ("-" if goes_on else ""))


def _is_tied(element: Element) -> bool:
    # `tie` is the sound and `tied` the sign: some programs write only one of them.
    ties = [*element.iterfind("tie"), *element.iterfind("notations/tied")]
    return any(tie.get("type") in ("start", "let-ring") for tie in ties)
