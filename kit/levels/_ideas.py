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

from kit.levels.edit import Edit
from kit.levels.rewrite import Sound
from kit.levels.spots import Spot
from kit.tune.marks import marks

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
    spot: Spot, *, bold: bool, jazz: bool, run: Running = EIGHTHS
) -> Iterator[Idea]:
    """Yield what may be done at a note.

    Parameters
    ----------
    spot : Spot
        The note and what is around it.
    bold : bool
        Whether it is for an advanced level.
    jazz : bool
        Whether most chords carry a seventh: off-beat phrasing suits it better than trills.
    run : Running
        The value in which the tune runs; edits move notes by it.
    """
    yield from _timing(spot, run, bold=bold, jazz=jazz)
    yield from _striking(spot, run, bold=bold)
    yield from _ornaments(spot, run, bold=bold, jazz=jazz)
    yield from _marks(spot, run, bold=bold, jazz=jazz)
    yield from _lines_out(spot, run, bold=bold)
    yield from _lines_in(spot, run, bold=bold)


def _timing(spot: Spot, run: Running, *, bold: bool, jazz: bool) -> Iterator[Idea]:
    swing = 0.6 if jazz else -0.4
    length = spot.sound.duration
    long = length >= 2 * spot.bar.meter.pulse
    ahead = spot.edit("early", by=run.word)
    if spot.strong and spot.before and length >= run.double:
        if spot.room > run.length:
            yield Idea(
                ahead,
                2.4 + swing + (0.8 if long else 0) + (0.3 if spot.onset else 0),
                f"a long note on a strong beat swings when it comes {_a(run.word)} early",
            )
    elif bold and spot.on_beat and spot.room > run.length and length >= run.double:
        yield Idea(
            ahead,
            2.0 + swing,
            f"a note on a weak beat pushes ahead when it comes {_a(run.word)} early",
        )
    if spot.starts_phrase and length >= run.double and spot.on_beat and spot.before:
        yield Idea(
            spot.edit("late", by=run.word),
            (2.0 if bold else 1.6) + swing,
            f"the start of a phrase can wait {_a(run.word)}",
        )
    if bold and spot.starts_phrase and spot.on_beat and length < 2 and spot.joined:
        yield Idea(
            spot.edit("displace", by=run.word, notes=3),
            1.9 + swing,
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
    length = spot.sound.duration
    if length >= 2 * spot.bar.meter.pulse and not spot.starts_phrase:
        yield Idea(spot.edit("repeat", times=2), 1.9, "a long note can be struck again")
    if bold and length == run.double and spot.on_beat and run.half_word:
        yield Idea(
            spot.edit("repeat", times=2),
            1.4,
            "struck twice, the note joins the running notes",
        )
    if bold and length == 1 and spot.on_beat and not spot.bar.meter.is_compound:
        yield Idea(
            spot.edit("repeat", times=3), 0.9, "a quarter note can be struck as a triplet"
        )
    if bold and length == run.length and spot.on_beat and run.half_word:
        yield Idea(
            spot.edit("repeat", times=2), 1.0, "a running note can be doubled for a moment"
        )


def _ornaments(spot: Spot, run: Running, *, bold: bool, jazz: bool) -> Iterator[Idea]:
    length = spot.sound.duration
    folk = -0.5 if jazz else 0.5
    if spot.sound.graces or _ORNAMENTS & set(spot.sound.marks):
        return
    if spot.rise > 0 and (length >= run.double or (spot.on_beat and (bold or not jazz))):
        yield Idea(
            spot.edit("grace", from_="below", step="chromatic"),
            2.3 + (0.5 if length >= 2 else 0),
            "a note reached from below takes a grace note well",
        )
    if spot.rise <= 0 and spot.before and spot.on_beat and not jazz:
        yield Idea(
            spot.edit("grace", from_="above", step="scale"),
            2.2,
            "a grace note from the scale step above sets the beat off",
        )
    if (length >= run.double or (bold and spot.on_beat)) and spot.joined:
        if abs(spot.leap_on) <= 4:
            yield Idea(
                spot.edit("turn"), 1.7 + folk, "a turn fills the note before it moves on"
            )
        yield Idea(
            spot.edit("mordent", to="above"),
            1.6 + folk,
            "a quick move to the upper neighbour brightens the note",
        )
    if bold and length >= 2 * run.double and not jazz:
        yield Idea(spot.edit("trill"), 1.5 + folk, "a long note can be trilled")


def _marks(spot: Spot, run: Running, *, bold: bool, jazz: bool) -> Iterator[Idea]:
    length = spot.sound.duration
    if spot.sound.marks:
        return
    if not spot.on_beat and length > run.length:
        yield Idea(spot.edit("accent"), 1.6, "an accent brings the off-beat note out")
    elif bold and not spot.on_beat and spot.rise > 0 > spot.leap_on:
        yield Idea(spot.edit("accent"), 1.5, "the top of a running line can be brought out")
    quick = not spot.on_beat and length == run.length
    if bold and jazz and quick and spot.joined and spot.rise:
        yield Idea(spot.edit("ghost"), 1.3, "a passing off-beat note can be hardly sounded")
    if jazz and spot.strong and length >= 2 and spot.rise >= 0:
        yield Idea(spot.edit("scoop"), 1.7, "a long high note can be scooped up to")
    if length >= 3 and not spot.joined:
        yield Idea(
            spot.edit("fall" if jazz else "tenuto"),
            1.2,
            "a last long note can fall off" if jazz else "a last long note has its time",
        )


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


def _lines_in(spot: Spot, run: Running, *, bold: bool) -> Iterator[Idea]:
    """Lead to this note."""
    if bold and spot.strong and spot.room >= 3 * run.length:
        yield Idea(
            spot.edit("enclosure", by=run.word, from_="above"),
            2.6,
            "there is room before this note to close in on it from both sides",
        )
    if bold and spot.strong and spot.room >= run.double and not spot.starts_phrase:
        yield Idea(
            spot.edit("approach", by=run.word, from_="below", step="chromatic"),
            2.2,
            "a half step from below leads to a strong beat",
        )
