"""Why was a chord chosen, and why not another? The largest part of the difference says it.

A chord is worth what the melody, its place in the phrase and its neighbours say for it
(`kit.accompany._grammar`). Between the chord chosen and another one, one of the three makes
most of the difference, and that is told: short, for a teacher, at concert pitch.
"""

from __future__ import annotations

from kit.accompany._chords import Candidate
from kit.accompany._search import Weighed
from kit.tune.pitch import Key, NoteName

__all__ = ["why_chosen", "why_not"]

_FUNCTION_WORDS = {"T": "tonic", "S": "subdominant", "D": "dominant"}


def why_chosen(slot: Weighed) -> str:
    """Say what speaks for the chord chosen."""
    chord, held = slot.chosen, _held(slot, slot.chosen)
    if slot.music.closes_phrase and (chord.is_home or chord.function == "D"):
        return _how_it_ends(slot)
    if chord.leads_to:
        return f"it leads to {chord.leads_to}"
    if held:
        return f"{_listed(held)} in the melody"
    return f"as {_FUNCTION_WORDS[chord.function]} it follows from its neighbours"


def _how_it_ends(slot: Weighed) -> str:
    if slot.music.closes:
        return "the tune ends at home"
    what = "strain" if slot.music.closes_strain else "phrase"
    if slot.chosen.is_home:
        return f"the {what} comes to rest"
    return f"the {what} waits on the dominant"


def why_not(
    slot: Weighed, index: int, *, before: Weighed | None, after: Weighed | None
) -> str:
    """Say what speaks most against a chord that was weighed and not chosen."""
    melody = slot.melody[slot.best] - slot.melody[index]
    place = slot.place[slot.best] - slot.place[index]
    moves = slot.cost[index] - melody - place
    chord = slot.chords[index]
    most = max(melody, place, moves)
    if most == melody:
        return _against_melody(slot, chord)
    if most == place:
        return _against_place(slot)
    return _against_moves(slot, chord, before, after)


def _against_melody(slot: Weighed, chord: Candidate) -> str:
    outside: dict[int, float] = {}
    for pc, weight in slot.music.notes:
        if pc not in chord.tones and pc in slot.chosen.tones:
            outside[pc] = outside.get(pc, 0.0) + weight
    if outside:
        worst = max(outside, key=lambda pc: outside[pc])
        return f"the melody's {_named(worst, slot.chosen, slot.music.key)} is not in it"
    if chord.leads_to:
        return f"its {_named(chord.tones[1], chord, slot.music.key)} is not in the melody"
    return "less of the melody is in it"


def _against_place(slot: Weighed) -> str:
    music = slot.music
    if music.closes:
        return "the tune would not end at home"
    if music.closes_strain:
        return "the strain would not come to rest"
    if music.closes_phrase:
        return (
            "the phrase would not come to rest"
            if slot.chosen.is_home
            else ("the phrase waits on the dominant here")
        )
    if music.opens:
        return "a strain mostly begins at home"
    return "the dominant leads to the end"


def _against_moves(
    slot: Weighed, chord: Candidate, before: Weighed | None, after: Weighed | None
) -> str:
    if chord.leads_to and (after is None or after.chosen.numeral != chord.leads_to):
        return f"it does not go on to {chord.leads_to}, where it leads"
    if chord.share < slot.chosen.share:
        return "it is less usual in this mode"
    same = [n for n in (before, after) if n is not None and n.chosen is slot.chosen]
    if same:
        return "the harmony stays where it is"
    names = [n.chosen.numeral for n in (before, after) if n is not None]
    return f"{slot.chosen.numeral} goes better with {' and '.join(names)} beside it"


def _held(slot: Weighed, chord: Candidate) -> tuple[str, ...]:
    """Name the chord's notes that the melody has, root first."""
    there = {pc for pc, _ in slot.music.notes}
    return tuple(_named(pc, chord, slot.music.key) for pc in chord.tones if pc in there)


def _listed(names: tuple[str, ...]) -> str:
    if len(names) == 1:
        return f"its {names[0]} is"
    return f"its {', '.join(names[:-1])} and {names[-1]} are"


def _named(pc: int, chord: Candidate, key: Key) -> str:
    """Spell a chord's note, given in semitones over the tonic."""
    names: tuple[NoteName, ...] = chord.symbol(key).note_names
    return str(names[chord.tones.index(pc)])
