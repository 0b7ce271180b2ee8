"""Which edits suit a note, and why?

Each function looks at one spot and yields ideas: an edit, a rank (higher is better; 2 is an
ordinary one) and a reason that a teacher can say to a student. Whether the edit applies,
rubs or can be played is judged elsewhere (`kit.levels.suggest`).

Source: common practice of jazz phrasing and of ornament in folk and march tunes; the ranks
are our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import NamedTuple

from kit.levels._printings import printed_before, printing_bonus
from kit.levels.edit import Edit
from kit.levels.idioms import Idiom
from kit.levels.rewrite import Sound
from kit.levels.spots import Spot
from kit.levels.steps import step_from
from kit.tune.marks import marks
from kit.tune.pitch import Pitch

__all__ = ["EIGHTHS", "SIXTEENTHS", "Idea", "Running", "ideas_for_note", "running_value"]

_ORNAMENTS = frozenset(mark.name for mark in marks().values() if mark.group == "ornaments")


class Running(NamedTuple):
    """The value in which a tune runs (eighths in most), and a tempo at which it is easy."""

    length: Fraction
    word: str
    half_word: str | None
    tempo_qpm: float

    @property
    def double(self) -> Fraction:
        """Twice its length: a quarter where the tune runs in eighths."""
        return 2 * self.length


_FOURTH = 5
EIGHTHS = Running(Fraction(1, 2), "eighth", "sixteenth", 120.0)
SIXTEENTHS = Running(Fraction(1, 4), "sixteenth", None, 60.0)


def running_value(sounds: Sequence[Sound]) -> Running:
    """Find out in which value a melody runs: sixteenths if half its notes are so short."""
    short = sum(sound.duration <= SIXTEENTHS.length for sound in sounds)
    return SIXTEENTHS if 2 * short > len(sounds) else EIGHTHS


class Idea(NamedTuple):
    """An edit with its rank and its reason."""

    edit: Edit
    rank: float
    reason: str


def ideas_for_note(
    spot: Spot, *, bold: bool, idiom: Idiom, run: Running = EIGHTHS
) -> Iterator[Idea]:
    """Yield what may be done at a note in an idiom.

    Parameters
    ----------
    spot : Spot
        The note and what is around it.
    bold : bool
        Whether it is for an advanced level.
    idiom : Idiom
        Whose vocabulary is used; it adds to the ranks.
    run : Running
        The value in which the tune runs; edits move notes by it.
    """
    for idea in (
        *_timing(spot, run, bold=bold),
        *_striking(spot, run, bold=bold),
        *_ornaments(spot, run, bold=bold, chromatic=idiom.chromatic),
        *_marks(spot, run, bold=bold),
        *_lines_out(spot, run, bold=bold),
        *_lines_in(spot, run, bold=bold, chromatic=idiom.chromatic),
        *_another_way(spot, run),
    ):
        do = idea.edit.do
        if do not in idiom.edits:
            continue
        if not idiom.chromatic and idea.edit.option("step") == "chromatic":
            continue
        on_beat = spot.onset % idiom.beat(spot.bar.meter) == 0
        rank = idea.rank + idiom.edits[do] + printing_bonus(idiom.name, do, on_beat=on_beat)
        reason = idea.reason
        if printed_before(idiom.name, do, on_beat=on_beat):
            reason += ", as in another printing of this kind of tune"
        yield Idea(idea.edit, rank, reason)


def _timing(spot: Spot, run: Running, *, bold: bool) -> Iterator[Idea]:
    length = spot.sound.duration
    long = length >= 2 * spot.bar.meter.pulse
    ahead = spot.edit("early", by=run.word)
    if spot.strong and spot.before and length >= run.double:
        if spot.room > run.length:
            yield Idea(
                ahead,
                2.4 + (0.8 if long else 0) + (0.3 if spot.onset else 0),
                f"a long note on a strong beat swings when it comes {_a(run.word)} early",
            )
    elif bold and spot.on_beat and spot.room > run.length and length >= run.double:
        yield Idea(
            ahead,
            2.0,
            f"a note on a weak beat pushes ahead when it comes {_a(run.word)} early",
        )
    if spot.starts_phrase and length >= run.double and spot.on_beat and spot.before:
        yield Idea(
            spot.edit("late", by=run.word),
            2.0 if bold else 1.6,
            f"the start of a phrase can wait {_a(run.word)}",
        )
    # The tune's first note stays: the ear must find the beat first.
    leans = spot.starts_phrase and spot.before is not None and spot.joined
    if bold and leans and spot.on_beat and length < 2:
        yield Idea(
            spot.edit("displace", by=run.word, notes=3),
            1.9,
            f"the whole figure can lean over the beat by starting {_a(run.word)} late",
        )
    if bold and not spot.joined and length > run.double and spot.after is not None:
        yield Idea(
            spot.edit("shorten", by=run.word),
            1.2,
            "cut short, the note leaves air before the next",
        )


def _a(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _striking(spot: Spot, run: Running, *, bold: bool) -> Iterator[Idea]:
    length, meter = spot.sound.duration, spot.bar.meter
    if length >= 2 * meter.pulse and not spot.starts_phrase:
        yield Idea(spot.edit("repeat", times=2), 1.9, "a long note can be struck again")
    # A dotted quarter of 6/8 falls into its three eighths.
    if meter.is_compound and length == meter.pulse and spot.on_beat:
        yield Idea(
            spot.edit("repeat", times=3),
            1.7,
            "struck three times, the long note joins the running notes",
        )
    if bold and length == run.double and spot.on_beat and run.half_word:
        yield Idea(
            spot.edit("repeat", times=2),
            1.4,
            "struck twice, the note joins the running notes",
        )
    if bold and length == 1 and spot.on_beat and not meter.is_compound:
        yield Idea(
            spot.edit("repeat", times=3), 0.9, "a quarter note can be struck as a triplet"
        )
    if bold and length == run.length and spot.on_beat and run.half_word:
        yield Idea(
            spot.edit("repeat", times=2), 1.0, "a running note can be doubled for a moment"
        )


def _ornaments(spot: Spot, run: Running, *, bold: bool, chromatic: bool) -> Iterator[Idea]:
    length = spot.sound.duration
    if spot.sound.graces or _ORNAMENTS & set(spot.sound.marks):
        return
    if spot.rise > 0 and (length >= run.double or spot.on_beat):
        yield Idea(
            spot.edit("grace", from_="below", step="chromatic" if chromatic else "scale"),
            2.3 + (0.5 if length >= 2 else 0),
            "a note reached from below takes a grace note well",
        )
    if spot.rise <= 0 and spot.before and spot.on_beat and not chromatic:
        yield Idea(
            spot.edit("grace", from_="above", step="scale"),
            2.2,
            "a grace note from the scale step above sets the beat off",
        )
    if spot.rise < 0 and spot.on_beat and not chromatic:
        yield Idea(
            spot.edit("grace", from_="below", step="scale"),
            1.6,
            "a grace note from the scale step below lets the note speak",
        )
    if (length >= run.double or (bold and spot.on_beat)) and spot.joined:
        if abs(spot.leap_on) <= 4:
            yield Idea(spot.edit("turn"), 1.7, "a turn fills the note before it moves on")
        yield Idea(
            spot.edit("mordent", to="above"),
            1.6,
            "a quick move to the upper neighbour brightens the note",
        )
    if bold and length >= run.double:
        yield Idea(spot.edit("trill"), 1.5, "a long note can be trilled")


def _marks(spot: Spot, run: Running, *, bold: bool) -> Iterator[Idea]:
    length = spot.sound.duration
    if spot.sound.marks:
        return
    if not spot.on_beat and length > run.length:
        yield Idea(spot.edit("accent"), 1.6, "an accent brings the off-beat note out")
    elif bold and not spot.on_beat and spot.rise > 0 > spot.leap_on:
        yield Idea(spot.edit("accent"), 1.5, "the top of a running line can be brought out")
    quick = not spot.on_beat and length == run.length
    if bold and quick and spot.joined and spot.rise:
        yield Idea(spot.edit("ghost"), 1.3, "a passing off-beat note can be hardly sounded")
    if spot.strong and length >= 2 and spot.rise >= 0:
        yield Idea(spot.edit("scoop"), 1.7, "a long high note can be scooped up to")
    if length >= 3 and not spot.joined:
        yield Idea(spot.edit("fall"), 1.2, "a last long note can fall off")
        yield Idea(spot.edit("tenuto"), 1.2, "a last long note has its time")


def _lines_out(spot: Spot, run: Running, *, bold: bool) -> Iterator[Idea]:
    """Lead from this note to the next."""
    length, leap = spot.sound.duration, abs(spot.leap_on)
    if spot.joined and length > run.length and leap in (3, 4):
        yield Idea(
            spot.edit("passing note", by=run.word, step="scale"),
            2.3,
            "a third can be filled with the note between",
        )
    if bold and spot.joined and length > run.length and leap == 2:
        yield Idea(
            spot.edit("passing note", by=run.word, step="chromatic"),
            2.1,
            "a whole step can be filled with the half step between",
        )
    if bold and spot.joined and length == run.length and leap in (3, 4) and run.half_word:
        yield Idea(
            spot.edit("passing note", by=run.half_word, step="scale"),
            1.6,
            "a third between running notes can be filled with a quick one",
        )
    if length >= 2 * run.double and spot.joined:
        yield Idea(
            spot.edit("neighbour note", by=run.word, from_="below", step="scale"),
            1.8,
            "a long note can touch its lower neighbour and come back",
        )
        if bold:
            yield Idea(
                spot.edit("fill", by=run.word, notes=3, with_="scale"),
                2.0,
                "a long note can run on to the next one",
            )
    if not spot.joined and spot.after is not None:
        gap = spot.after.start - spot.sound.end
        if gap >= (run.double if bold else 2 * run.double):
            many = bold and gap >= 2 * run.double
            yield Idea(
                spot.edit("fill", by=run.word, notes=3 if many else 2),
                2.0 if bold else 1.3,
                "a rest can hold a short fill that leads to the next note",
            )


def _lines_in(spot: Spot, run: Running, *, bold: bool, chromatic: bool) -> Iterator[Idea]:
    """Lead to this note."""
    if bold and spot.strong and spot.room >= 3 * run.length:
        yield Idea(
            spot.edit("enclosure", by=run.word, from_="above"),
            2.6,
            "there is room before this note to close in on it from both sides",
        )
    if bold and spot.strong and spot.room >= run.double and not spot.starts_phrase:
        yield Idea(
            spot.edit(
                "approach",
                by=run.word,
                from_="below",
                step="chromatic" if chromatic else "scale",
            ),
            2.2,
            "a step from below leads to a strong beat",
        )
        yield Idea(
            spot.edit("approach", by=run.word, from_="above", step="scale"),
            1.8,
            "a step from above leads to a strong beat",
        )


def _another_way(spot: Spot, run: Running) -> Iterator[Idea]:
    """Go another way between two notes that stay: what settings differ in most of all."""
    before, after = spot.before, spot.after
    quick = not spot.on_beat and spot.sound.duration <= run.length
    if not quick or before is None or after is None or not spot.joined:
        return
    if before.end != spot.sound.start:
        return
    for pitch, reason in _ways(spot, before.pitch, after.pitch):
        old = (spot.sound.pitch.midi, before.pitch.midi, after.pitch.midi)
        # A fourth is the widest leap that a passing note of a dance makes by itself.
        if pitch.midi not in old and abs(pitch.midi - before.pitch.midi) <= _FOURTH:
            yield Idea(spot.edit("pitch", to=_ascii(pitch)), 1.4, reason)


def _ways(spot: Spot, before: Pitch, after: Pitch) -> Iterator[tuple[Pitch, str]]:
    key, here = spot.bar.key, spot.sound.pitch
    wide = after.midi - before.midi
    if wide == 0:
        side = 1 if here > before else -1
        if abs(here.midi - before.midi) > 2:
            yield (
                step_from(before, side, key, chromatic=False),
                "the note beside can stand for a leap away and back",
            )
        else:
            yield (
                step_from(before, -side, key, chromatic=False),
                "the neighbour on the other side leads back as well",
            )
    elif abs(wide) in (3, 4):
        yield (
            step_from(before, 1 if wide > 0 else -1, key, chromatic=False),
            "the third can be filled by the step between",
        )
    elif abs(wide) >= 5 and abs(after.midi - here.midi) > 2:
        yield (
            step_from(after, -1 if wide > 0 else 1, key, chromatic=False),
            "the line can come to the next note by step",
        )


def _ascii(pitch: Pitch) -> str:
    """Write a pitch as level files have it: ``Bb4``."""
    return f"{pitch.step}{'b' * -pitch.alter}{'#' * pitch.alter}{pitch.octave}"
