"""What one instrument reads, and why it is written so.

Conventions
-----------
* A sheet comes at concert pitch and leaves as a `Part` at written pitch: notes, grace
  notes, chord symbols and keys, all moved together.
* The written key is the enharmonic choice with the fewest accidentals, unless sharps or
  flats are preferred. A key in mid-tune that would have seven takes its other name, with
  five.
* Every departure from plain transposition is kept in the part (`moves`, `respelled`,
  `respelled_chords`, `signs_left_out`, `sheet_spans`), so that `to_concert` gives the
  sheet back exactly.

Source: common practice; see `_octaves` and `_spelling` for theirs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.errors import LessonError
from kit.instruments._moves import OctaveMove, move_phrases, octave, outside
from kit.instruments._octave_signs import (
    OctaveSign,
    high_passages,
    optional_passages,
    with_octave_signs,
    without_octave_signs,
)
from kit.instruments._octaves import Fit, best_octave, fits, shared_octaves
from kit.instruments._players_signs import (
    with_own_signs,
    with_signs_as_before,
)
from kit.instruments._reasons import give_reasons
from kit.instruments._respelling import (
    with_chords_as_before,
    with_notes_as_before,
    with_plain_chords,
    with_plain_notes,
)
from kit.instruments._spelling import plain_key
from kit.instruments.part import Part, Prefer
from kit.instruments.table import Instrument
from kit.tune.model import Bar, Note, Tune, transposed
from kit.tune.pitch import Interval, Key, Pitch

__all__ = ["key_for", "octaves_of_levels", "to_concert", "write_part"]

# A key signature has no more: one for each letter.
_MOST_ACCIDENTALS = 7
# With seven of them there is a name with five of the other kind.
_MOST_READ = 6


def key_for(instrument: Instrument, concert_key: Key) -> Key:
    """Give the key in which an instrument reads a concert key.

    Examples
    --------
    >>> from kit.instruments.table import instrument
    >>> key_for(instrument("alto-sax"), Key.parse("C minor")).name
    'A minor'
    """
    return plain_key(concert_key + instrument.written_above_concert)


def write_part(
    sheet: Tune,
    instrument: Instrument,
    *,
    level: str = "intermediate",
    concert_key: Key | None = None,
    octave_shift: int | None = None,
    octave_asked_for: bool = False,
    prefer: Prefer | None = None,
) -> Part:
    """Write a sheet out for an instrument.

    Parameters
    ----------
    sheet : Tune
        At concert pitch.
    instrument : Instrument
        From the table or a lesson's own row.
    level : str
        Whose comfortable range to aim at.
    concert_key : Key, optional
        Another key to play in; the sheet's own without it. Its mode is the sheet's.
    octave_shift : int, optional
        Octaves from the instrument's usual one, as `octaves_of_levels` gives them; chosen
        for this sheet alone without it.
    octave_asked_for : bool
        Whether `octave_shift` is a teacher's own choice, for the reasons.
    prefer : "sharps" or "flats", optional
        Which of two names of the written key to take, where both have at most seven
        accidentals; the one with fewer without it.

    Raises
    ------
    ValueError
        If `prefer` is another word.
    LessonError
        If `concert_key` is major and the tune minor, or the other way round.
    """
    if prefer not in (None, "sharps", "flats"):
        raise ValueError(f"prefer is sharps or flats, not {prefer!r}")
    move = _move_between(sheet, concert_key)
    nominal = move + instrument.written_above_concert
    intervals = _choose_spelling(sheet, nominal, prefer)
    bars = _transposed_bars(sheet.bars, intervals)
    shift = octave_shift
    if shift is None:
        shift = best_octave(fits(bars, instrument, level))
    if shift:
        intervals = tuple(interval + octave(shift) for interval in intervals)
        bars = _transposed_bars(sheet.bars, intervals)
    # The whole tune has its octave first; only what then leaves the range moves alone.
    moves = move_phrases(bars, instrument.range_written)
    bars = _with_moves(bars, moves)
    # After the moves: a note that no longer leads by step has no claim to an odd name.
    bars, respelled = with_plain_notes(bars)
    bars, respelled_chords = with_plain_chords(bars)
    bars, signs_left_out = with_own_signs(bars, instrument.family)
    signs = _octave_signs(bars, instrument, level)
    # Octave signs belong to a place on the staff: in a moved part the sheet's are wrong.
    if any(interval != Interval(0, 0) for interval in intervals):
        bars = without_octave_signs(bars)
    # The sheet has its own signs for the eye: no second layer of them.
    elif without_octave_signs(bars) != bars:
        signs = tuple(sign for sign in signs if sign.kind != "8va")
    bars = with_octave_signs(bars, signs)
    tune = replace(sheet, bars=bars, part_name=instrument.name)
    part = Part(
        instrument=instrument,
        tune=tune,
        level=level,
        interval=intervals[0],
        octave_shift=shift,
        reasons=(),
        out_of_range=outside(bars, instrument.range_written),
        uncomfortable=outside(bars, instrument.comfortable_range(level)),
        bar_intervals=intervals,
        moves=moves,
        respelled=respelled,
        respelled_chords=respelled_chords,
        signs_left_out=signs_left_out,
        octave_signs=signs,
        sheet_spans=tuple(bar.spans for bar in sheet.bars),
        prefer=prefer,
        octave_asked_for=octave_asked_for,
    )
    return replace(part, reasons=give_reasons(part, nominal, concert_key))


def octaves_of_levels(
    sheets: Sequence[tuple[Tune, str]],
    instrument: Instrument,
    *,
    concert_key: Key | None = None,
) -> tuple[int, ...]:
    """Choose the octaves of several sheets of the same tune, one for all if that serves.

    Parameters
    ----------
    sheets : sequence of (Tune, str)
        At concert pitch, each with the level whose comfortable range it is meant for.
    instrument : Instrument
        Who reads them all.
    concert_key : Key, optional
        Another key to play in, as `write_part` takes it.

    Returns
    -------
    tuple of int, one per sheet
        Octaves from the instrument's usual one.

    Raises
    ------
    LessonError
        As `write_part`.
    """
    found: list[dict[int, Fit]] = []
    for sheet, level in sheets:
        nominal = _move_between(sheet, concert_key) + instrument.written_above_concert
        bars = _transposed_bars(sheet.bars, _choose_spelling(sheet, nominal))
        found.append(fits(bars, instrument, level))
    return shared_octaves(found)


def to_concert(part: Part) -> Tune:
    """Take a part back to the concert pitch that its sheet came at."""
    # The steps of `write_part`, taken back from the last to the first.
    bars = with_signs_as_before(part.tune.bars, part.signs_left_out)
    bars = with_chords_as_before(bars, part.respelled_chords)
    bars = with_notes_as_before(bars, part.respelled)
    back = tuple(replace(move, octaves=-move.octaves) for move in part.moves)
    restored = _with_moves(bars, back)
    intervals = tuple(-interval for interval in part.bar_intervals)
    concert = tuple(
        replace(bar, spans=spans)
        for bar, spans in zip(
            _transposed_bars(restored, intervals), part.sheet_spans, strict=True
        )
    )
    return replace(part.tune, bars=concert, part_name="")


def _octave_signs(
    bars: Sequence[Bar], instrument: Instrument, level: str
) -> tuple[OctaveSign, ...]:
    """Give the signs for the eye, and those for the player where there is none yet."""
    high = high_passages(bars, instrument.clef)
    optional = [
        sign
        for sign in optional_passages(bars, instrument, level)
        if not any(sign.first <= h.last and h.first <= sign.last for h in high)
    ]
    return tuple(sorted((*high, *optional), key=lambda sign: sign.first))


def _move_between(sheet: Tune, concert_key: Key | None) -> Interval:
    """Give the shorter way from the sheet's key to another."""
    if concert_key is None:
        return Interval(0, 0)
    if concert_key.is_minor != sheet.key.is_minor:
        raise LessonError(
            f"the tune is in {sheet.key} and cannot be played in {concert_key}",
            file=sheet.source or None,
            remedy=f"name a {sheet.key.mode} key",
        )
    low = Pitch(sheet.key.tonic.step, sheet.key.tonic.alter, 4)
    tonic = concert_key.tonic
    # The nearer way; a tritone is equally far both ways and goes down.
    ways = [Pitch(tonic.step, tonic.alter, number) - low for number in (3, 4, 5)]
    return min(ways, key=lambda way: (abs(way.semitones), way.semitones))


def _choose_spelling(
    sheet: Tune, nominal: Interval, prefer: Prefer | None = None
) -> tuple[Interval, ...]:
    """Give each bar its interval: one for all, save where a key would get too far."""
    # A step without a semitone, a diminished second, is the enharmonic change.
    choices = [nominal + Interval(turn, 0) for turn in (0, 1, -1)]

    def burden(interval: Interval) -> tuple[int, bool, int]:
        fifths = [(bar.key + interval).fifths for bar in sheet.bars]
        too_far = sum(abs(place) > _MOST_ACCIDENTALS for place in fifths)
        unwanted = (prefer == "sharps" and fifths[0] < 0) or (
            prefer == "flats" and fifths[0] > 0
        )
        # A key that no signature can show weighs most, then the wish, then the accidentals.
        return too_far, unwanted, sum(map(abs, fifths))

    best = min(choices, key=burden)
    return tuple(
        best if _reads_well(bar.key + best, prefer) else _lightest(choices, bar.key)
        for bar in sheet.bars
    )


def _reads_well(key: Key, prefer: Prefer | None) -> bool:
    # Who asks for sharps takes all seven of them.
    asked_for = prefer is not None and (key.fifths > 0) == (prefer == "sharps")
    return abs(key.fifths) <= (_MOST_ACCIDENTALS if asked_for else _MOST_READ)


def _lightest(choices: Sequence[Interval], key: Key) -> Interval:
    return min(choices, key=lambda interval: abs((key + interval).fifths))


def _transposed_bars(bars: Sequence[Bar], intervals: Sequence[Interval]) -> tuple[Bar, ...]:
    return tuple(
        transposed(Tune("", (bar,)), interval).bars[0]
        for bar, interval in zip(bars, intervals, strict=True)
    )


def _with_moves(bars: Sequence[Bar], moves: Sequence[OctaveMove]) -> tuple[Bar, ...]:
    moved = list(bars)
    for move in moves:
        interval = octave(move.octaves)
        for index in range(move.first[0], move.last[0] + 1):
            notes = tuple(
                _moved(note, interval)
                if move.first <= (index, position) <= move.last
                else note
                for position, note in enumerate(moved[index].notes)
            )
            moved[index] = replace(moved[index], notes=notes)
    return tuple(moved)


def _moved(note: Note, interval: Interval) -> Note:
    if note.pitch is None:
        return note
    graces = tuple(replace(grace, pitch=grace.pitch + interval) for grace in note.graces)
    return replace(note, pitch=note.pitch + interval, graces=graces)
