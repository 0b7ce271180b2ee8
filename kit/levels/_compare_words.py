"""What are added and changed notes called?

Each function gives the kind, which is the word a level file would use, and a clause.
Source: the words are those of the trade.
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.form.wording import counted, listed, number_word
from kit.levels.rewrite import Sound
from kit.tune.marks import mark_named

__all__ = [
    "grace_changes",
    "leading_words",
    "mark_changes",
    "names",
    "neighbour_words",
    "pitch_change",
]


def names(sounds: list[Sound]) -> str:
    """Name new notes in a row."""
    return " ".join(str(sound.pitch.name) for sound in sounds)


def neighbour_words(before: Sound | None, sounds: list[Sound]) -> tuple[str, str] | None:
    """Say that a note moves to its neighbour and back, if it does."""
    if before is None or not _is_neighbour(before, sounds):
        return None
    side = "lower" if sounds[0].pitch < before.pitch else "upper"
    beside = f"its {side} neighbour {sounds[0].pitch.name}"
    return "neighbour note", f"{before.pitch.name} moves to {beside} and back"


def leading_words(
    before: Sound | None, sounds: list[Sound], target: Sound, where: str
) -> tuple[str, str] | None:
    """Say how new notes lead to the next one, if they do."""
    called = names(sounds)
    if len(sounds) > 1:
        if _is_enclosure(sounds, target):
            return "enclosure", f"{called} close in on {where} from both sides"
        return "fill", f"{number_word(len(sounds))} new notes ({called}) lead to {where}"
    if target.start != sounds[0].end:
        return None
    if before is not None and _passes(before, sounds[0], target):
        return "passing note", f"{called} passes to {where}"
    if _near(sounds[0], target):
        side = "below" if sounds[0].pitch < target.pitch else "above"
        step = _interval_words(sounds[0].pitch.midi - target.pitch.midi)
        return "approach", f"{called} leads to {where} from a {step} {side}"
    return None


def pitch_change(one: Sound, other: Sound) -> tuple[str, str]:
    """Say that a note has another pitch, or the same in another octave."""
    interval = other.pitch.midi - one.pitch.midi
    if interval % 12 == 0:
        way = "higher" if interval > 0 else "lower"
        size = (
            "an octave"
            if abs(interval) == 12
            else f"{number_word(abs(interval) // 12)} octaves"
        )
        return f"octave {'up' if interval > 0 else 'down'}", f"is {size} {way}"
    return "pitch", f"is {other.pitch.name} instead of {one.pitch.name}"


def mark_changes(one: Sound, other: Sound) -> Iterator[tuple[str, str]]:
    """Say which marks a note gains and loses."""
    for name in other.marks:
        if name not in one.marks:
            mark = mark_named(name)
            yield mark.kind, "is ghosted" if name == "ghost" else f"gets {mark.one}"
    gone = [mark_named(name).spoken for name in one.marks if name not in other.marks]
    if gone:
        yield "plain", f"loses its {listed(gone)}"


def grace_changes(one: Sound, other: Sound) -> Iterator[tuple[str, str]]:
    """Say which grace notes a note gains or loses."""
    more = len(other.graces) - len(one.graces)
    if more == 1 and len(other.graces) == 1:
        grace = other.graces[0].pitch
        side = "below" if grace < other.pitch else "above"
        step = _interval_words(grace.midi - other.pitch.midi)
        yield "grace", f"gets a grace note from a {step} {side}"
    elif more > 0:
        yield "grace", f"gets {counted(len(other.graces), 'grace note')}"
    elif more < 0:
        yield "plain", "loses its grace notes" if more < -1 else "loses its grace note"


def _interval_words(semitones: int) -> str:
    return {1: "half step", 2: "whole step"}.get(abs(semitones), "leap")


def _near(one: Sound, other: Sound) -> bool:
    return 0 < abs(one.pitch.midi - other.pitch.midi) <= 2


def _is_neighbour(before: Sound, sounds: list[Sound]) -> bool:
    return (
        len(sounds) == 2
        and _near(before, sounds[0])
        and sounds[1].pitch.midi == before.pitch.midi
        and before.end == sounds[0].start
    )


def _is_enclosure(sounds: list[Sound], target: Sound) -> bool:
    if len(sounds) != 2 or sounds[-1].end != target.start:
        return False
    sides = {(sound.pitch.midi > target.pitch.midi) for sound in sounds}
    return len(sides) == 2 and all(_near(sound, target) for sound in sounds)


def _passes(before: Sound, middle: Sound, target: Sound) -> bool:
    low, high = sorted((before.pitch.midi, target.pitch.midi))
    return (
        low < middle.pitch.midi < high
        and before.end == middle.start
        and (_near(before, middle) or _near(middle, target))
        and high - low <= 5
    )
