"""What would a strict teacher strike out because of the idiom or the changes?

Also what is wrong with a level as a whole: its tempo, its route, and ornaments of the level
below that its own tempo leaves no time for.

Sources: vocabularies and dance tempi are common practice, from memory; dance manuals
differ by a few beats.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from referee_music import Chord, Finding, Level, Rule
from referee_rules import GRACE_S, NOTE_RULES, ORNAMENTS

_JAZZ_ONLY = {
    "tritone substitute", "ii before V", "side-step", "scoop", "fall", "doit", "plop",
    "ghost", "early", "late", "displace", "turnaround", "enclosure",
}  # fmt: skip
_DANCE = {*_JAZZ_ONLY, "accent", "shorten"}
_FORBIDDEN = {
    "jazz": {"mordent", "trill"},
    "blues": {"mordent", "trill", "turn"},
    "ballad": {"mordent", "displace"},
    "reel": _DANCE, "jig": _DANCE, "slip jig": _DANCE, "hornpipe": _DANCE,
    "strathspey": _DANCE, "polka": _JAZZ_ONLY, "march": _JAZZ_ONLY, "waltz": _JAZZ_ONLY,
    "minuet": _JAZZ_ONLY, "air": _JAZZ_ONLY,
    "hymn": {*_JAZZ_ONLY, "accent", "mordent", "trill", "repeat", "shorten"},
}  # fmt: skip
_FOLK = {"reel", "jig", "slip jig", "hornpipe", "strathspey", "polka", "air"}

DANCE_TEMPI = {
    # dance beats a minute; a beat is so much of a bar. Common practice, from memory.
    "reel": (Fraction(1, 2), 100, 124), "jig": (Fraction(1, 2), 106, 132),
    "slip jig": (Fraction(1, 3), 100, 136), "hornpipe": (Fraction(1, 2), 62, 96),
    "strathspey": (Fraction(1, 2), 54, 92), "polka": (Fraction(1, 2), 104, 140),
    "waltz": (Fraction(1, 3), 120, 190), "minuet": (Fraction(1, 3), 90, 150),
    "march": (Fraction(1, 2), 100, 128),
}  # fmt: skip
_SLOW = {"hymn": (48, 112), "air": (44, 132), "ballad": (48, 84)}
"""Quarter notes a minute (dotted ones in compound time) at the advanced level."""


def _half_step(pitch_class: int, chord: Chord) -> bool:
    tones = chord.symbol.pitch_classes
    return pitch_class not in tones and bool(
        {(pitch_class + 1) % 12, (pitch_class - 1) % 12} & tones
    )


def chord_rubs(level: Level) -> Iterator[Finding]:
    for chord in level.done.chords:
        edit = level.owner.get(chord)
        if edit is None or chord.symbol.root is None:
            continue
        for note in level.done.notes:
            start, end = max(note.start, chord.start), min(note.end, chord.end)
            if start >= end:
                continue
            lasts = level.seconds(end - start)
            held = end - start >= 1 or lasts >= 0.4
            struck = start == chord.start and lasts >= 0.25
            if not (held or struck) or not _half_step(note.midi % 12, chord):
                continue
            old = level.below.chord_at(start)
            if old is not None and _half_step(note.midi % 12, old):
                continue
            yield Finding(
                "new chord rubs", edit, f"{chord.symbol} under MIDI {note.midi}", 1 + lasts
            )


def note_rubs(level: Level) -> Iterator[Finding]:
    known = {(note.start, note.midi) for note in level.below.notes}
    for note, edit in level.new():
        if (note.start, note.midi) in known:
            continue
        chord = level.done.chord_at(note.start)
        if chord is None or chord.symbol.root is None:
            continue
        bar = level.done.bar_of(note)
        until = min(note.end, chord.end)
        lasts = level.seconds(until - note.start)
        if not (until - note.start >= 1 or lasts >= 0.4):
            continue
        later = level.done.chord_at(note.end - Fraction(1, 64))
        if note.end > chord.end and later and note.midi % 12 in later.symbol.pitch_classes:
            continue  # it comes early, and belongs to the chord it is held into
        pitch_class = note.midi % 12
        tones = chord.symbol.pitch_classes
        if pitch_class in tones:
            continue
        third = chord.symbol.degree(3)
        dominant = chord.symbol.kind.startswith("dominant")
        avoided = (
            {(third.pitch_class + 1) % 12}
            if dominant and third
            else {(tone + 1) % 12 for tone in tones}
        )
        foreign = pitch_class not in {name.pitch_class for name in bar.key.scale}
        if pitch_class in avoided or (foreign and (pitch_class + 1) % 12 in tones):
            yield Finding(
                "new note rubs", edit, f"MIDI {note.midi} over {chord.symbol}", 1 + lasts
            )


def first_chord(level: Level) -> Iterator[Finding]:
    if not level.below.chords:
        return
    first = level.below.chords[0]
    for chord in level.done.chords:
        edit = level.owner.get(chord)
        if edit is not None and chord.start == first.start:
            rule = "tonic of bar 1 replaced"
            yield Finding(rule, edit, f"{first.symbol} by {chord.symbol}", 2.0)
    if level.idiom == "blues":
        bar_end = level.done.starts[first.bar + 1]
        for chord in level.done.chords:
            edit = level.owner.get(chord)
            if edit is not None and first.start < chord.start < bar_end:
                home = first.symbol.root
                if (
                    home is not None
                    and chord.symbol.root is not None
                    and (chord.symbol.root.pitch_class - home.pitch_class) % 12 in (6, 1)
                ):
                    yield Finding("tonic of bar 1 replaced", edit, str(chord.symbol), 2.0)


def substitute_does_not_slide(level: Level) -> Iterator[Finding]:
    chords = level.done.chords
    for chord, goal in pairwise(chords):
        edit = level.owner.get(chord)
        if edit is None or level.edits[edit].do != "tritone substitute":
            continue
        if chord.symbol.root is None or goal.symbol.root is None:
            continue
        down = (chord.symbol.root.pitch_class - goal.symbol.root.pitch_class) % 12
        if down != 1:
            yield Finding("substitute leads nowhere", edit, f"{chord.symbol} {goal.symbol}")


def vocabulary(level: Level) -> Iterator[Finding]:
    forbidden = _FORBIDDEN[level.idiom]
    for number, edit in enumerate(level.edits):
        if edit.do in forbidden:
            rule = "not in the idiom"
            yield Finding(rule, number, f"{edit.do} in a {level.idiom}", 1.5)
        elif (
            level.idiom in _FOLK | {"hymn"}
            and edit.option("step") == "chromatic"
            and _leaves_the_key(level, number)
        ):
            rule = "not in the idiom"
            yield Finding(rule, number, f"chromatic {edit.do} in a {level.idiom}", 1.2)


def _leaves_the_key(level: Level, number: int) -> bool:
    for note, edit in level.new():
        if edit == number:
            inside = {name.pitch_class for name in level.done.bar_of(note).key.scale}
            if {midi % 12 for midi in (note.midi, *note.graces)} - inside:
                return True
    return False


RULES: tuple[Rule, ...] = (
    vocabulary, chord_rubs, note_rubs, first_chord, substitute_does_not_slide, *NOTE_RULES
)  # fmt: skip


def findings(level: Level) -> list[Finding]:
    """Ask all rules."""
    return [found for rule in RULES for found in rule(level)]


def level_faults(level: Level) -> Iterator[str]:
    """Say what is wrong with a level as a whole: its tempo and its route."""
    route = " ".join(level.route)
    if '"solo"' in route and not level.done.chords:
        yield "solo without changes"
    dance = level.idiom in DANCE_TEMPI or level.idiom in ("hymn", "air")
    if dance and '"solo"' in route:
        yield "solo chorus in a dance, air or hymn"
    if dance and "times" in route:
        yield "tag played again"
    yield from _tempo_faults(level)
    yield from _inherited(level)


def _inherited(level: Level) -> Iterator[str]:
    """Ornaments of a level below that have no time at this level's tempo."""
    own = {(note.start, note.midi): note for note in level.plain.notes}
    for note in level.done.notes:
        old = own.get((note.start, note.midi))
        lasts = level.seconds(note.length)
        if note.graces and not (old and old.graces) and lasts < GRACE_S:
            yield "grace of the level below without time"
        for mark in ORNAMENTS.keys() & {*note.marks}:
            if lasts < ORNAMENTS[mark] and not (old and mark in old.marks):
                yield "ornament of the level below without time"


def _tempo_faults(level: Level) -> Iterator[str]:
    meter = level.done.tune.meter
    if level.idiom in DANCE_TEMPI:
        share, low, high = DANCE_TEMPI[level.idiom]
        # A waltz, a minuet and a slip jig have three beats, the others two in each bar.
        beats = level.pulse_tempo / meter.pulses / float(share)
        if str(meter) == "4/4" and level.idiom in ("march", "strathspey"):
            beats = min((beats, beats * 2), key=lambda tempo: abs(tempo - (low + high) / 2))
    elif level.idiom in _SLOW:
        low, high = _SLOW[level.idiom]
        beats = level.pulse_tempo * (1 if meter.is_compound else float(meter.pulse))
        if meter.beat_type <= 2:
            beats = level.pulse_tempo  # the half note is the beat
    else:
        return
    if (
        (level.name == "advanced" and not low <= beats <= high)
        or beats > high
        or (level.name == "intermediate" and beats < low * 0.5)
    ):
        yield "tempo not the idiom's"
