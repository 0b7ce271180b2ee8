"""What would a strict teacher strike out of the notes of a drafted level?

Each rule reads the finished music of a level and names the edits to strike out, with what
is wrong and how badly. None of them calls the kit's own rules for drafts.

Sources: the limits are those of wind teachers' common practice (how fast a note can be
tongued, how long a turn needs), from memory.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from fractions import Fraction

from referee_music import Finding, Heard, Level, Rule

ORNAMENTS = {
    "turn": 0.25, "inverted-turn": 0.25, "mordent": 0.15, "inverted-mordent": 0.15,
    "trill-mark": 0.35,
}  # fmt: skip
"""Seconds that a note must last to carry one."""
GRACE_S = 0.15
"""Of the single grace notes in the corpus's jigs, 298 stand on an eighth, 20 on a
quarter: at 110 to 127 an eighth lasts 0.16 to 0.18 s."""
SHORTEST_S = {"intermediate": 0.125, "advanced": 0.1}
STRUCK_AGAIN_S = 0.125
"""Single tonguing: about eight notes a second."""
BREATH_S = {"intermediate": 10.0, "advanced": 12.0}
CROWD = {"intermediate": 2, "advanced": 3}
OCTAVE = 12
_LILTING = {"march", "hornpipe", "strathspey"}
BEYOND = 4
"""Half steps that a level may go beyond the tune's own compass."""


def _before(level: Level) -> dict[Fraction, Heard]:
    return {note.start: note for note in level.below.notes}


def ornament_without_time(level: Level) -> Iterator[Finding]:
    before = _before(level)
    for note, edit in level.new():
        old = before.get(note.start)
        for mark, least in ORNAMENTS.items():
            if mark in note.marks and not (old and mark in old.marks):
                lasts = level.seconds(note.length)
                if lasts < least:
                    yield Finding(
                        "ornament without time",
                        edit,
                        f"{mark} in {lasts:.2f} s",
                        least / lasts,
                    )


def grace(level: Level) -> Iterator[Finding]:
    before = _before(level)
    notes = level.done.notes
    for place, note in enumerate(notes):
        old = before.get(note.start)
        if (
            note not in level.owner
            or not note.graces
            or (old and old.graces == note.graces)
        ):
            continue
        edit = level.owner[note]
        last = notes[place - 1] if place else None
        if (
            last
            and level.seconds(note.start - last.end) < 0.1
            and last.midi == note.graces[0]
        ):
            yield Finding("grace repeats the note before", edit, "", 1.0)
        if note.graces[-1] == note.midi:
            yield Finding("grace repeats the note before", edit, "its own note", 2.0)
        lasts = level.seconds(note.length)
        if lasts < GRACE_S:
            yield Finding("grace without time", edit, f"{lasts:.2f} s", GRACE_S / lasts)


def too_fast(level: Level) -> Iterator[Finding]:
    known = {(note.start, note.length) for note in level.below.notes}
    struck = {(note.start, note.midi) for note in level.below.notes}
    least = SHORTEST_S[level.name]
    last: Heard | None = None
    for note in level.done.notes:
        edit = level.owner.get(note)
        if edit is not None and (note.start, note.length) not in known:
            lasts = level.seconds(note.length)
            if lasts < least:
                yield Finding("too fast", edit, f"{lasts:.3f} s", least / lasts)
            if (
                last is not None
                and last.midi == note.midi
                and last.end == note.start
                and (note.start, note.midi) not in struck
                and level.seconds(note.start - last.start) < STRUCK_AGAIN_S
            ):
                yield Finding("struck again too fast", edit, f"{lasts:.3f} s", 1.5)
        last = note


def off_the_grid(level: Level) -> Iterator[Finding]:
    known = {(note.start, note.length) for note in level.below.notes}
    for note, edit in level.new():
        if (note.start, note.length) in known:
            continue
        meter = level.done.bar_of(note).meter
        onset = note.onset
        if meter.is_compound:
            place = onset % meter.pulse
            duplet = place * 2 == meter.pulse and note.length * 2 >= meter.pulse
            wrong = duplet or (place * 4).denominator > 1
        else:
            sixteenths = (onset * 4).denominator == 1
            triplet = (onset * 3).denominator == 1 and (note.length * 3).denominator == 1
            # A note between two eighths that sounds over the next beat hides the beat.
            hides = (onset * 2).denominator > 1 and onset + note.length > -(-onset // 1)
            wrong = not triplet and (not sixteenths or hides)
        if wrong:
            yield Finding(
                "off the beat's grid", edit, f"onset {onset}, length {note.length}"
            )


def lilt_lost(level: Level) -> Iterator[Finding]:
    if level.idiom not in _LILTING or level.done.tune.meter.is_compound:
        return
    after = {(note.start, note.length) for note in level.done.notes}
    for one, other in level.below.pairs():
        whole = one.length + other.length
        if one.end != other.start or whole > 1 or one.onset % whole:
            continue
        if one.length not in (3 * other.length, 2 * other.length) and (
            other.length != 3 * one.length
        ):
            continue
        kept = {(one.start, one.length), (other.start, other.length)}
        if kept <= after:
            continue
        for note, edit in level.new():
            if note.start < other.end and note.end > one.start:
                yield Finding("lilt lost", edit, f"bar {one.bar}", 1.0)


def chromatic_note_left(level: Level) -> Iterator[Finding]:
    known = {(note.start, note.midi) for note in level.below.notes}
    notes = level.done.notes
    for place, note in enumerate(notes):
        edit = level.owner.get(note)
        if edit is None or (note.start, note.midi) in known:
            continue
        inside = {name.pitch_class for name in level.done.bar_of(note).key.scale}
        chord = level.done.chord_at(note.start)
        tones = chord.symbol.pitch_classes if chord else frozenset()
        moved = level.edits[edit].do in ("early", "late", "displace", "repeat", "shorten")
        if moved or note.midi % 12 in inside | tones:
            continue
        goal = notes[place + 1] if place + 1 < len(notes) else None
        if goal is None or goal.start != note.end or abs(goal.midi - note.midi) != 1:
            yield Finding("chromatic note not led on", edit, f"MIDI {note.midi}")


def leap(level: Level) -> Iterator[Finding]:
    known = {(one.midi, other.midi, other.start) for one, other in level.below.pairs()}
    for one, other in level.done.pairs():
        wide = abs(one.midi - other.midi)
        edit = level.owner.get(other, level.owner.get(one))
        old = (one.midi, other.midi, other.start) in known
        if wide > OCTAVE and edit is not None and not old:
            yield Finding("leap over an octave", edit, f"{wide} half steps", wide / 12)


def said_twice(level: Level) -> Iterator[Finding]:
    """An added note that only repeats its neighbour."""
    known = {(note.start, note.midi) for note in level.below.notes}
    for one, other in level.done.pairs():
        if one.midi != other.midi or one.end != other.start:
            continue
        for note in (one, other):
            edit = level.owner.get(note)
            if edit is None or (note.start, note.midi) in known:
                continue
            if level.edits[edit].do in (
                "approach", "enclosure", "fill", "passing note", "neighbour note"
            ):  # fmt: skip
                if level.edits[edit].do == "neighbour note" and note is one:
                    continue  # its way back, and the tune's own next note
                yield Finding("added note says a note twice", edit, f"MIDI {note.midi}")


def overloaded(level: Level) -> Iterator[Finding]:
    """Too much on one note, or an ornament on one that is to be short."""
    before = _before(level)
    for note, edit in level.new():
        signs = {*note.marks} & {*ORNAMENTS, "scoop", "falloff", "doit", "plop", "ghost"}
        old = before.get(note.start)
        count = len(signs) + bool(note.graces)
        was = 0 if old is None else bool(old.graces) + len({*old.marks} & {*signs})
        if count > 1 and count > was:
            yield Finding("two ornaments on a note", edit, ", ".join(sorted(signs)))
        clipped = {"staccato", "staccatissimo"} & {*note.marks}
        if clipped and (ORNAMENTS.keys() & {*note.marks}) and count > was:
            yield Finding("ornament on a staccato note", edit, ", ".join(sorted(signs)))
        if "ghost" in note.marks and {"accent", "strong-accent"} & {*note.marks}:
            yield Finding("two ornaments on a note", edit, "ghost with accent")


def fall_without_air(level: Level) -> Iterator[Finding]:
    before = _before(level)
    for one, other in level.done.pairs():
        edit = level.owner.get(one)
        old = before.get(one.start)
        if edit is None or other.start != one.end:
            continue
        for mark in ("falloff", "doit"):
            if mark in one.marks and not (old and mark in old.marks):
                yield Finding("fall without air", edit, mark)


def breath(level: Level) -> Iterator[Finding]:
    limit = BREATH_S[level.name]
    longest = max((end - start for start, end in _stretches(level.below.notes)), default=0)
    for start, end in _stretches(level.done.notes):
        lasts = level.seconds(end - start)
        if lasts <= limit or end - start <= longest:
            continue
        for note, edit in level.new():
            fills = not any(
                old.start < note.end and old.end > note.start for old in level.below.notes
            )
            if fills and start <= note.start < end:
                yield Finding("no breath left", edit, f"{lasts:.0f} s", lasts / limit)


def _stretches(notes: tuple[Heard, ...]) -> Iterator[tuple[Fraction, Fraction]]:
    start = None
    for place, note in enumerate(notes):
        start = note.start if start is None else start
        if place + 1 == len(notes) or notes[place + 1].start > note.end:
            yield start, note.end
            start = None


def crowded(level: Level) -> Iterator[Finding]:
    seen: Counter[int] = Counter()
    for number, edit in enumerate(level.edits):
        seen[edit.bar] += 1
        if seen[edit.bar] > CROWD[level.name]:
            yield Finding("bar too full", number, f"{seen[edit.bar]} edits", seen[edit.bar])


def compass(level: Level) -> Iterator[Finding]:
    heights = [note.midi for note in level.below.notes]
    for note, edit in level.new():
        beyond = max(note.midi - max(heights), min(heights) - note.midi)
        if beyond > BEYOND:
            yield Finding("beyond the tune's compass", edit, f"{beyond} half steps", beyond)


def same_again(level: Level) -> Iterator[Finding]:
    """The same device in more than three bars running, where it is one that is noticed."""
    plain = {
        "grace", "passing note", "neighbour note", "accent", "tenuto", "staccato", "pitch"
    }  # fmt: skip
    where: dict[str, set[int]] = defaultdict(set)
    for edit in level.edits:
        where[edit.do].add(edit.bar)
    for number, edit in enumerate(level.edits):
        if edit.do in plain:
            continue
        bars = where[edit.do]
        if all(edit.bar - back in bars for back in (1, 2, 3)):
            yield Finding("the same four bars running", number, edit.do)


def start_missed(level: Level) -> Iterator[Finding]:
    first = next((n for n in level.below.notes if not level.below.bar_of(n).pickup), None)
    if first is None or first.onset != 0:
        return
    if any(note.start <= first.start < note.end for note in level.done.notes):
        return
    there = (level.done.tune.bars[first.bar].number, 1)
    for number, edit in enumerate(level.edits):
        late = edit.do in ("late", "displace", "leave out")
        if late and (edit.bar, edit.beat) == there:
            yield Finding("the first beat is missing", number, edit.do)


def ghost_on_weight(level: Level) -> Iterator[Finding]:
    before = _before(level)
    for note, edit in level.new():
        old = before.get(note.start)
        if "ghost" in note.marks and not (old and "ghost" in old.marks):
            meter = level.done.bar_of(note).meter
            if note.onset % meter.pulse == 0 or note.length > 1:
                yield Finding("ghost on a note with weight", edit, f"onset {note.onset}")


NOTE_RULES: tuple[Rule, ...] = (
    ornament_without_time, grace, too_fast, off_the_grid, chromatic_note_left, leap,
    said_twice, overloaded, fall_without_air, breath, crowded, compass, same_again,
    start_missed, ghost_on_weight, lilt_lost,
)  # fmt: skip
