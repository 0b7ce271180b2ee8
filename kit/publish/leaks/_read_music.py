"""What melody, and what words, does a file of notation hold?

MusicXML, MIDI and ABC, the bars in words that pages and handouts have for screen readers,
and the times of WebVTT. Of a file that is damaged only its letters are read.

Sources: MusicXML 4.0 (W3C), ABC 2.1, Standard MIDI Files 1.0 (MIDI Association), WebVTT
(W3C).
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Iterable, Iterator

from kit.errors import KitError
from kit.publish.leaks._melody import Attack, melody_of
from kit.publish.leaks._piece import Found, Piece, Plain, within

__all__ = ["abc", "cue_times", "in_words", "midi", "musicxml", "parsed_musicxml"]

_SEMITONES = dict(zip("CDEFGAB", (0, 2, 4, 5, 7, 9, 11), strict=True))
_VALUES = {
    "breve": 8.0, "whole": 4.0, "half": 2.0, "quarter": 1.0, "eighth": 0.5, "16th": 0.25,
    "32nd": 0.125, "64th": 0.0625,
}  # fmt: skip
_DOTS = {"": 1.0, "dotted ": 1.5, "double-dotted ": 1.75, "triple-dotted ": 1.875}
_SAID = re.compile(
    r"(?:\b(?P<step>[A-G])(?P<alter>(?: double)? (?:flat|sharp))? (?P<octave>-?\d)"
    r"|\b(?P<rest>rest)), (?P<dots>(?:(?:double-|triple-)?dotted )?)"
    rf"(?P<value>{'|'.join(_VALUES)})\b(?P<triplet> triplet)?"
    r"(?P<marks>(?:, [a-z][a-z -]*)*?)(?P<tie>, tied)?(?=[;.])|(?P<empty>: rest\.)"
)
_TIME = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{2})[.,](\d{3})")
_NOT_WORDS = frozenset(
    {
        "step", "octave", "alter", "duration", "voice", "type", "stem", "beam", "staff",
        "divisions", "fifths", "beats", "beat-type", "sign", "line", "root-step",
        "root-alter", "bass-step", "bass-alter", "kind", "degree-value", "degree-alter",
    }
)  # fmt: skip
_FEWEST = 11


def parsed_musicxml(text: str) -> ET.Element | None:
    """Parse MusicXML; None where it is damaged, and only its letters can be read."""
    from defusedxml import ElementTree as SafeET  # noqa: PLC0415 - seldom needed
    from defusedxml.common import DefusedXmlException  # noqa: PLC0415

    try:
        score: ET.Element = SafeET.fromstring(text)
    except (ET.ParseError, DefusedXmlException, ValueError):
        return None
    return score


def musicxml(score: ET.Element, text: str, place: str) -> Iterator[Found]:
    """Read MusicXML: its texts by element, its lyrics as words, each part's melody."""
    texts: dict[str, list[str]] = defaultdict(list)
    for element in score.iter():
        said = (element.text or "").strip()
        if said and element.tag not in _NOT_WORDS:
            texts[str(element.tag)].append(said)
        for name, value in element.attrib.items():
            if " " in value or "." in value:
                texts[f"{element.tag} {name}"].append(value)
    for comment in re.findall(r"<!--(.*?)-->", text, re.DOTALL):
        texts["comment"].append(comment)
    for name, found in texts.items():
        yield Plain(within(place, name), "\n".join(found))
    for verse, words in _lyrics(score).items():
        yield Plain(within(place, f"lyrics, verse {verse}"), words)
    for part in score.iter("part"):
        for attacks in _voices(part).values():
            if len(attacks) >= _FEWEST:
                yield Piece(within(place, "notes"), "melody", attacks)


def _lyrics(score: ET.Element) -> dict[str, str]:
    verses: dict[str, str] = defaultdict(str)
    for lyric in score.iter("lyric"):
        said = "".join(text.text or "" for text in lyric.iter("text"))
        whole = lyric.findtext("syllabic", "single") in ("single", "end")
        verses[lyric.get("number", "1")] += said + (" " if whole else "")
    return verses


def _voices(part: ET.Element) -> dict[str, list[Attack]]:
    voices: dict[str, list[Attack]] = defaultdict(list)
    divisions, now, start = 1.0, 0.0, 0.0
    for element in part.iter():
        length = float(element.findtext("duration") or 0) / divisions
        if element.tag == "divisions":
            divisions = float(element.text or 1) or 1.0
        elif element.tag == "backup":
            now -= length
        elif element.tag == "forward":
            now += length
        elif element.tag == "note" and element.find("grace") is None:
            if element.find("chord") is None:
                start, now = now, now + length
            pitch = element.find("pitch")
            stops = any(tie.get("type") == "stop" for tie in element.iter("tie"))
            if pitch is not None and not stops:
                voices[element.findtext("voice", "1")].append((_midi_number(pitch), start))
    return voices


def _midi_number(pitch: ET.Element) -> int:
    step = _SEMITONES[(pitch.findtext("step") or "C").strip().upper()]
    alter = round(float(pitch.findtext("alter") or 0))
    return 12 * (int(pitch.findtext("octave") or 4) + 1) + step + alter


def midi(data: bytes, place: str) -> Iterator[Found]:
    """Read a Standard MIDI File: its texts, and the melody of each track and channel."""
    import mido  # noqa: PLC0415 - seldom needed

    try:
        song = mido.MidiFile(file=io.BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, KeyError, IndexError):
        yield Plain(place, data.decode("latin-1"))
        return
    quarter = song.ticks_per_beat or 1
    for track in song.tracks:
        now = 0
        voices: dict[int, list[Attack]] = defaultdict(list)
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                voices[message.channel].append((message.note, now / quarter))
            elif message.is_meta:
                said = getattr(message, "text", None) or getattr(message, "name", None)
                if said:
                    yield Plain(within(place, "text event"), str(said))
        for channel, attacks in voices.items():
            if channel != 9 and len(attacks) >= _FEWEST:
                yield Piece(within(place, "notes"), "melody", _highest(attacks))


def _highest(attacks: Iterable[Attack]) -> list[Attack]:
    """Keep of what begins together the highest note."""
    at: dict[float, int] = {}
    for pitch, onset in attacks:
        at[onset] = max(pitch, at.get(onset, 0))
    return [(pitch, onset) for onset, pitch in sorted(at.items())]


def abc(text: str, place: str) -> Iterator[Found]:
    """Read a tune in ABC."""
    from kit.tune.abc.read import read_abc  # noqa: PLC0415 - seldom needed

    try:
        tune = read_abc(text, source="abc")
    except KitError:
        return
    yield Piece(
        within(place, "ABC"), "melody", [attack for attack, _ in melody_of(tune.bars)]
    )


def in_words(text: str, place: str) -> Iterator[Found]:
    """Read bars that are said in words: ``Bar 1: C 4, eighth; E flat 4, quarter.``"""
    if ", quarter" not in text and ", eighth" not in text:
        return
    attacks: list[Attack] = []
    now, tied = 0.0, False
    for said in _SAID.finditer(text):
        if said["empty"]:
            now, tied = now + 4.0, False
            continue
        length = _VALUES[said["value"]] * _DOTS[said["dots"]]
        length *= 2 / 3 if said["triplet"] else 1
        if not said["rest"]:
            alter = (said["alter"] or "").replace("flat", "b").replace("sharp", "#")
            sign = {"": 0, " b": -1, " #": 1, " double b": -2, " double #": 2}[alter]
            pitch = 12 * (int(said["octave"]) + 1) + _SEMITONES[said["step"]] + sign
            if not (tied and attacks and attacks[-1][0] == pitch):
                attacks.append((pitch, now))
        tied = bool(said["tie"])
        now += length
    if len(attacks) >= _FEWEST:
        yield Piece(within(place, "notes in words"), "melody", attacks)


def cue_times(text: str, place: str) -> Iterator[Found]:
    """Read the times of WebVTT cues, in seconds."""
    times = [
        int(hours or 0) * 3600 + int(minutes) * 60 + int(seconds) + int(parts) / 1000
        for hours, minutes, seconds, parts in _TIME.findall(text)
    ]
    if times:
        yield Piece(within(place, "times"), "numbers", times)
