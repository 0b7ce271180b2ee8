"""Edits that add notes or change their pitch.

passing note, neighbour note, approach, enclosure, fill, octave up, octave down, register,
pitch and note. Notes that lead to another take their time from what stands before it.
Source: common practice of melodic decoration.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial

from kit.form.wording import counted
from kit.levels.edit import Operation, Option, Site
from kit.levels.ornaments import STEP_OPTIONS
from kit.levels.rewrite import Sound
from kit.levels.steps import plain_name, step_from
from kit.levels.values import value_words
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Interval, Pitch

__all__ = ["OPERATIONS"]

_OCTAVE = Interval(7, 12)
_WIDEST_RUN = 9
"""A fill turns round once it is this many semitones from where it leads."""
_LOWEST, _HIGHEST = 21, 108
"""The piano's compass in MIDI numbers: no wind part lies outside it."""


def _passing(site: Site) -> Tune:
    sound, after, by = site.sound, site.after, site.length()
    if after is None or after.start != sound.end:
        raise site.refuse("no note follows directly to pass to")
    direction = 1 if after.pitch > sound.pitch else -1
    chromatic = site.text("step") == "chromatic"
    if chromatic:
        # A chromatic note leads: it lies a half step before its goal.
        passing = step_from(after.pitch, -direction, site.bar.key, chromatic=True)
    else:
        passing = step_from(sound.pitch, direction, site.bar.key, chromatic=False)
    low, high = sorted((sound.pitch.midi, after.pitch.midi))
    if not low < passing.midi < high:
        raise site.refuse(
            f"nothing lies between {sound.pitch} and {after.pitch} to pass through",
            'try step = "chromatic" over a whole step' if not chromatic else None,
        )
    return _with_tail(site, [passing], by)


def _with_tail(site: Site, pitches: Sequence[Pitch], by: Fraction) -> Tune:
    """Give the last part of the sound here to other pitches, `by` each."""
    place = site.place
    sounds = list(site.sounds)
    sound = sounds[place]
    kept = sound.duration - by * len(pitches)
    if kept <= 0:
        raise site.refuse(
            f"the note is only {value_words(sound.duration)} long: no room for "
            f"{len(pitches)} more of {value_words(by)}",
            "use a smaller value",
        )
    # A slur or tie out of the note goes on from the last of its parts.
    first = replace(sound, duration=kept, slurs_ended=0, held_on=False)
    added = [
        Sound(sound.start + kept + k * by, by, pitch) for k, pitch in enumerate(pitches)
    ]
    added[-1] = replace(added[-1], slurs_ended=sound.slurs_ended)
    return site.rewritten([*sounds[:place], first, *added, *sounds[place + 1 :]])


def _neighbour(site: Site) -> Tune:
    sound, by = site.sound, site.length()
    neighbour = step_from(
        sound.pitch,
        -1 if site.text("from") == "below" else 1,
        site.bar.key,
        chromatic=site.text("step") == "chromatic",
    )
    return _with_tail(site, [neighbour, sound.pitch], by)


def _approach(site: Site) -> Tune:
    direction = -1 if site.text("from") == "below" else 1
    chromatic = site.text("step") == "chromatic"
    pitch = step_from(site.sound.pitch, direction, site.bar.key, chromatic=chromatic)
    return _led_to(site, [pitch], site.length())


def _enclosure(site: Site) -> Tune:
    target, key = site.sound.pitch, site.bar.key
    # A scale step from above, a half step from below (common practice).
    above = step_from(target, 1, key, chromatic=False)
    below = step_from(target, -1, key, chromatic=True)
    order = [above, below] if site.text("from") == "above" else [below, above]
    return _led_to(site, order, site.length())


def _led_to(site: Site, pitches: Sequence[Pitch], by: Fraction) -> Tune:
    """Put pitches of length `by` right before the sound here."""
    sounds = list(site.sounds)
    place = site.place
    start = site.at - by * len(pitches)
    site.require_way_back(start)
    if place > 0:
        before = sounds[place - 1]
        if before.start >= start:
            raise site.refuse(
                f"the note before is only {value_words(before.duration)} long: no room for "
                f"{len(pitches)} of {value_words(by)}",
                "use a smaller value or leave that note out first",
            )
        if before.end > start:
            sounds[place - 1] = replace(before, duration=start - before.start)
    added = [Sound(start + k * by, by, pitch) for k, pitch in enumerate(pitches)]
    return site.rewritten([*sounds, *added])


def _fill(site: Site) -> Tune:
    by, count = site.length(), site.count("notes")
    after = site.after
    if after is None:
        raise site.refuse("no note follows to lead to")
    start = after.start - by * count
    here = next((s for s in site.sounds if s.start <= site.at < s.end), None)
    earliest = site.at + (by if here is not None else 0)
    if start < earliest:
        raise site.refuse(
            f"there is no room for {count} notes of {value_words(by)} before the next note",
            "use fewer notes or a smaller value",
        )
    origin = here.pitch if here is not None else None
    if origin is None:
        origin = site.before.pitch if site.before is not None else after.pitch
    pitches = _path(site, origin, after.pitch, start, by, count)
    sounds = [
        replace(s, duration=start - s.start) if s is here and s.end > start else s
        for s in site.sounds
    ]
    added = [Sound(start + k * by, by, pitch) for k, pitch in enumerate(pitches)]
    return site.rewritten([*sounds, *added])


def _path(
    site: Site, origin: Pitch, target: Pitch, start: Fraction, by: Fraction, count: int
) -> list[Pitch]:
    """Walk over chord or scale notes so as to arrive a step from the target."""
    pitches: list[Pitch] = []
    now = target
    # Come from the side on which the line is: from above if the target lies lower.
    side = 1 if origin > target else -1
    # Backwards from the target: the last note lies beside it, however many there are.
    for k in reversed(range(count)):
        pool = _pool(site, start + k * by)
        if abs(now.midi - target.midi) >= _WIDEST_RUN:
            side = -side
        onward = [p for p in pool if (p.midi - now.midi) * side > 0]
        now = min(onward, key=partial(_distance, now))
        pitches.append(now)
    return pitches[::-1]


def _distance(pitch: Pitch, other: Pitch) -> tuple[int, int]:
    return abs(other.midi - pitch.midi), other.diatonic


def _pool(site: Site, moment: Fraction) -> list[Pitch]:
    """List the notes a fill may use at a moment, in all octaves."""
    names = site.bar.key.scale
    chord = _chord_at(site, moment)
    if site.text("with") == "chord" and chord is not None and chord.note_names:
        names = tuple(plain_name(name, site.bar.key) for name in chord.note_names)
    every = [Pitch(name.step, name.alter, octave) for name in names for octave in range(10)]
    return [pitch for pitch in every if _LOWEST - 12 <= pitch.midi <= _HIGHEST + 12]


def _chord_at(site: Site, moment: Fraction) -> ChordSymbol | None:
    starts = site.music.starts
    index = max(i for i in range(len(site.tune.bars)) if starts[i] <= moment)
    symbol = None
    for event in site.tune.chords_in_force(index):
        if starts[index] + event.onset <= moment:
            symbol = event.symbol
    return symbol


def _octave(site: Site, interval: Interval) -> Tune:
    place, count = site.place, site.count("notes")
    if place + count > len(site.sounds):
        raise site.refuse(f"there are only {len(site.sounds) - place} notes from here on")
    return _moved(site, interval, place, count)


def _moved(site: Site, interval: Interval, place: int, count: int) -> Tune:
    sounds = list(site.sounds)
    for k in range(place, place + count):
        sound = sounds[k]
        pitch = sound.pitch + interval
        if not _LOWEST <= pitch.midi <= _HIGHEST:
            raise site.refuse(f"{sound.pitch} would leave the range of any wind instrument")
        graces = tuple(replace(g, pitch=g.pitch + interval) for g in sound.graces)
        sounds[k] = replace(sound, pitch=pitch, graces=graces)
    return site.rewritten(sounds)


def _octave_up(site: Site) -> Tune:
    return _octave(site, _OCTAVE)


def _octave_down(site: Site) -> Tune:
    return _octave(site, -_OCTAVE)


def _register(site: Site) -> Tune:
    """Move every note from here to the end of the passage by an octave."""
    count = site.count("bars")
    left = len(site.tune.bars) - site.index
    if count > left:
        verb = "is" if left == 1 else "are"
        raise site.refuse(
            f"there {verb} only {counted(left, 'bar')} from here on", "name fewer bars"
        )
    end = site.music.starts[site.index + count]
    notes = sum(site.at <= sound.start < end for sound in site.sounds)
    higher = site.text("to") == "higher"
    return _moved(site, _OCTAVE if higher else -_OCTAVE, site.place, notes)


def _read_pitch(site: Site) -> Pitch:
    text = site.text("to")
    try:
        pitch = Pitch.parse(text)
    except ValueError as error:
        raise site.refuse(str(error), 'write it like to = "Bb4"') from error
    if not _LOWEST <= pitch.midi <= _HIGHEST:
        raise site.refuse(f"{pitch} lies outside the range of any wind instrument")
    return pitch


def _pitch(site: Site) -> Tune:
    sounds = list(site.sounds)
    sounds[site.place] = replace(sounds[site.place], pitch=_read_pitch(site))
    return site.rewritten(sounds)


def _note(site: Site) -> Tune:
    by = site.length()
    end = site.at + by
    if end > site.end or any(s.start < end and s.end > site.at for s in site.sounds):
        raise site.refuse(
            f"there is no rest of {value_words(by)} here to put a note in",
            "shorten or leave out what is there first",
        )
    return site.rewritten([*site.sounds, Sound(site.at, by, _read_pitch(site))])


_BY = {"by": Option("value", "eighth")}
_SCALE_FIRST = Option("choice", "scale", ("scale", "chromatic"))
_COUNT = {"notes": Option("count", 1)}

OPERATIONS = (
    Operation(
        "passing note",
        "a note in passing to the next one",
        _passing,
        {**_BY, "step": _SCALE_FIRST},
    ),
    Operation(
        "neighbour note",
        "the note beside, and back",
        _neighbour,
        {**_BY, **STEP_OPTIONS, "step": _SCALE_FIRST},
    ),
    Operation(
        "approach", "a note that leads to this one", _approach, {**_BY, **STEP_OPTIONS}
    ),
    Operation(
        "enclosure",
        "the notes on both sides lead to this one",
        _enclosure,
        {**_BY, "from": Option("choice", "above", ("above", "below"))},
    ),
    Operation(
        "fill",
        "chord or scale notes in a long note or rest lead to the next note",
        _fill,
        {
            **_BY,
            "notes": Option("count", 3, bounds=(1, 16)),
            "with": Option("choice", "chord", ("chord", "scale")),
        },
        needs_note=False,
    ),
    Operation("octave up", "an octave higher", _octave_up, _COUNT),
    Operation("octave down", "an octave lower", _octave_down, _COUNT),
    Operation(
        "register",
        "everything from here on, for some bars, an octave away",
        _register,
        {
            "to": Option("choice", "higher", ("higher", "lower")),
            "bars": Option("count", 2),
        },
    ),
    Operation("pitch", "another pitch", _pitch, {"to": Option("text")}),
    Operation(
        "note",
        "a new note in a rest",
        _note,
        {**_BY, "to": Option("text")},
        needs_note=False,
    ),
)
