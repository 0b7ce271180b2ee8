"""What is a part: a sheet as one instrument reads it, and all that made it so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.instruments._moves import NotePlace, OctaveMove
from kit.instruments._octave_signs import OctaveSign
from kit.instruments._players_signs import SignsLeftOut
from kit.instruments._respelling import Respelled, RespelledChord
from kit.instruments.table import Instrument
from kit.tune.model import SpanEnd, Tune, transposed
from kit.tune.pitch import Interval

__all__ = ["Part", "Prefer"]

Prefer = Literal["sharps", "flats"]


@dataclass(frozen=True, slots=True)
class Part:
    """A sheet as one instrument reads it.

    Parameters
    ----------
    instrument : Instrument
        Who reads it.
    tune : Tune
        At written pitch.
    level : str
        The level whose comfortable range was aimed at.
    interval : Interval
        From the sheet's concert pitch to the written pitch of the first bar, octave and
        enharmonic choice included.
    octave_shift : int
        Octaves by which the whole part departs from the instrument's usual octave.
    reasons : tuple of str
        One sentence for each choice made.
    out_of_range : tuple of (bar index, position)
        Notes that the instrument does not have.
    uncomfortable : tuple of (bar index, position)
        Notes outside the level's comfortable range.
    bar_intervals : tuple of Interval
        One per bar; they differ only where a change of key needs another spelling.
    moves, respelled, respelled_chords, signs_left_out
        Departures from plain transposition.
    octave_signs : tuple of OctaveSign
        What is written under 8va, and what may be played in another octave.
    sheet_spans : tuple of tuple of SpanEnd
        The sheet's own hairpins and octave signs, bar by bar.
    prefer : "sharps" or "flats", optional
        What was asked for.
    octave_asked_for : bool
        Whether the octave is the teacher's own choice.
    """

    instrument: Instrument
    tune: Tune
    level: str
    interval: Interval
    octave_shift: int
    reasons: tuple[str, ...]
    out_of_range: tuple[NotePlace, ...]
    uncomfortable: tuple[NotePlace, ...]
    bar_intervals: tuple[Interval, ...]
    moves: tuple[OctaveMove, ...] = ()
    respelled: tuple[Respelled, ...] = ()
    respelled_chords: tuple[RespelledChord, ...] = ()
    signs_left_out: tuple[SignsLeftOut, ...] = ()
    octave_signs: tuple[OctaveSign, ...] = ()
    sheet_spans: tuple[tuple[SpanEnd, ...], ...] = ()
    prefer: Prefer | None = None
    octave_asked_for: bool = False

    @property
    def moved(self) -> tuple[NotePlace, ...]:
        """The notes that are written in another octave than the rest."""
        return tuple(
            (index, position)
            for index, bar in enumerate(self.tune.bars)
            for position, note in enumerate(bar.notes)
            if note.pitch is not None
            and any(m.first <= (index, position) <= m.last for m in self.moves)
        )

    @property
    def sounding(self) -> Tune:
        """The part as it is heard: at concert pitch, in the instrument's own octave."""
        return transposed(self.tune, self.sounding_interval)

    @property
    def sounding_interval(self) -> Interval:
        """From the printed to the sounding pitch, as a MusicXML ``transpose`` says it."""
        return -(self.instrument.written_above_concert)
