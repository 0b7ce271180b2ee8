"""What do MusicXML's directions tell the player?

A ``direction`` holds what is printed, its ``sound`` what is meant. Where the two speak of
the same jump, the printed words say where it ends and the sound settles doubts.

Source: MusicXML 4.0, ``direction``, ``metronome``, ``sound``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from kit.tune._bar_draft import WordKind
from kit.tune._notices import Notices
from kit.tune._score_words import DYNAMICS, jump_in_words, word_kind
from kit.tune.model import Jump, SpanKind
from kit.tune.musicxml._read_values import number
from kit.tune.musicxml._spans import OPTIONAL_OCTAVES, SPAN_ELEMENTS
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["Told", "read_direction", "read_sound"]

_BEATS = {
    "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1),
    "eighth": Fraction(1, 2), "16th": Fraction(1, 4),
}  # fmt: skip
_SOUND_JUMPS: tuple[tuple[str, Jump], ...] = (
    ("tocoda", "to coda"), ("coda", "coda"), ("segno", "segno"), ("fine", "fine"),
    ("dacapo", "D.C."), ("dalsegno", "D.S."),
)  # fmt: skip
_NAMES = {
    "pedal": "a pedal mark", "bracket": "a bracket",
    "scordatura": "a scordatura", "image": "an image", "percussion": "a percussion sign",
    "accordion-registration": "an accordion registration", "harp-pedals": "harp pedals",
    "principal-voice": "a principal-voice bracket", "eyeglasses": "an eyeglasses sign",
    "damp": "a damp sign", "damp-all": "a damp sign", "string-mute": "a mute sign",
    "staff-divide": "a staff-divide sign", "symbol": "a sign above the staff",
}  # fmt: skip


_ROUNDING = 0.16  # a tenth of a dotted half, halved


@dataclass(slots=True)
class Told:
    """What one direction says."""

    section: str = ""
    words: list[tuple[str, WordKind]] = field(default_factory=list)
    jumps: list[Jump] = field(default_factory=list)
    tempo_qpm: float | None = None
    is_printed_tempo: bool = False
    swings: bool = False
    text: str = ""
    lines: list[Element] = field(default_factory=list)
    spans: list[tuple[SpanKind, bool]] = field(default_factory=list)


def read_direction(direction: Element, notices: Notices) -> Told:
    """Read a ``direction`` element.

    Raises
    ------
    ValueError
        If a number in it cannot be read.
    """
    told = Told()
    # A text is often cut into runs of different type; it is one text all the same.
    text = ""
    for kind in direction.iterfind("direction-type"):
        for element in kind:
            if element.tag == "words":
                text += (
                    f" {element.text or ''}"
                    if text and element.text
                    else element.text or ""
                )
            else:
                _read_type(element, told, notices)
    told.text = printable(text)
    if not (told.text in OPTIONAL_OCTAVES and told.lines):
        _read_words(told.text, told)
    sound = direction.find("sound")
    if sound is not None:
        _merge_sound(sound, told)
    return told


def read_sound(sound: Element) -> Told:
    """Read a ``sound`` element that stands in a measure by itself.

    Raises
    ------
    ValueError
        If its tempo cannot be read.
    """
    told = Told()
    _merge_sound(sound, told)
    return told


def _read_type(element: Element, told: Told, notices: Notices) -> None:
    tag = str(element.tag)
    if tag == "rehearsal":
        told.section = told.section or printable(element.text, 40)
    elif tag in ("segno", "coda"):
        told.jumps.append("segno" if tag == "segno" else "coda")
    elif tag == "dynamics":
        for mark in element:
            name = (
                printable(mark.text, 20) if mark.tag == "other-dynamics" else str(mark.tag)
            )
            told.words.append((name, "dynamics" if name in DYNAMICS else "words"))
    elif tag == "metronome":
        _read_metronome(element, told, notices)
    elif tag in SPAN_ELEMENTS:
        told.lines.append(element)
    else:
        notices.left_out(_NAMES.get(tag, "a sign above the staff"))


def _read_words(text: str, told: Told) -> None:
    if not text:
        return
    jump = jump_in_words(text)
    if jump is None:
        told.words.append((text, word_kind(text)))
    elif jump == "coda" and "coda" in told.jumps:
        pass  # the word beside its own sign
    else:
        if jump == "to coda":
            told.jumps = [sign for sign in told.jumps if sign != "coda"]
        told.jumps.append(jump)


def _read_metronome(element: Element, told: Told, notices: Notices) -> None:
    units = element.findall("beat-unit")
    per_minute = element.findtext("per-minute")
    if len(units) == 1 and per_minute is not None:
        beat = _BEATS.get((units[0].text or "").strip(), Fraction(0))
        dots = len(element.findall("beat-unit-dot"))
        digits = "".join(char for char in per_minute if char in "0123456789.")
        if not beat or not digits.strip("."):
            notices.left_out(f'the tempo "{printable(per_minute, 30)}"')
            return
        beat *= 2 - Fraction(1, 2 ** min(dots, 3))
        told.tempo_qpm = _playable(float(number(digits, "tempo") * beat))
        told.is_printed_tempo = True
    elif element.find("metronome-note") is not None:
        # Two rows of notes with an equals sign: the usual mark for swung eighths.
        told.swings = element.find(".//metronome-tuplet") is not None
        if not told.swings:
            notices.left_out("a mark that equates note values")
    else:
        notices.left_out("a change of beat")


def _merge_sound(sound: Element, told: Told) -> None:
    if sound.get("tempo"):
        tempo = number(sound.get("tempo"), "tempo")
        if tempo and (told.tempo_qpm is None or _rounded(told.tempo_qpm, float(tempo))):
            told.tempo_qpm = _playable(float(tempo))
    swing = sound.find("swing")
    if swing is not None and swing.find("straight") is None:
        told.swings = swing.findtext("first") != swing.findtext("second")
    for attribute, jump in _SOUND_JUMPS:
        if sound.get(attribute) in (None, "no") or any(_same(jump, j) for j in told.jumps):
            continue
        if jump == "to coda" and "coda" in told.jumps:
            told.jumps.remove("coda")
        told.jumps.append(jump)


def _rounded(printed_qpm: float, tempo_qpm: float) -> bool:
    """Say whether a printed tempo is the same as a played one, but for its rounding."""
    return abs(printed_qpm - tempo_qpm) < _ROUNDING


def _same(jump: Jump, other: Jump) -> bool:
    """Say whether the other is the same jump, perhaps with its goal."""
    return other == jump or (jump.startswith("D.") and other.startswith(jump))


def _playable(tempo_qpm: float) -> float:
    if not 5 <= tempo_qpm <= 1000:
        raise ValueError(
            f"the tempo, {tempo_qpm:g} quarter notes a minute, cannot be played"
        )
    return tempo_qpm
