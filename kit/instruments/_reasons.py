"""Why a part is written as it is, in words."""

from __future__ import annotations

from kit.instruments._moves import NotePlace, OctaveMove
from kit.instruments._octave_signs import OctaveSign
from kit.instruments.part import Part
from kit.tune.pitch import Interval, Key

__all__ = ["give_reasons", "interval_in_words", "octave_reasons"]

_SIZES = (
    "unison", "second", "third", "fourth", "fifth", "sixth", "seventh", "octave", "ninth",
    "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth", "double octave",
)  # fmt: skip
_QUALITIES = {"M": "major", "m": "minor", "P": "", "A": "augmented", "d": "diminished"}


def interval_in_words(interval: Interval) -> str:
    """Say how far something is written from concert pitch.

    Examples
    --------
    >>> interval_in_words(Interval.parse("M9"))
    'a major ninth above concert pitch'
    """
    if interval == Interval(0, 0):
        return "at concert pitch"
    name = interval.name
    side = "below" if name.startswith("-") else "above"
    quality = _QUALITIES.get(name.lstrip("-")[0], "")
    number = int(name.lstrip("-AMPmd"))
    size = _SIZES[number - 1] if number <= len(_SIZES) else f"{number}th"
    words = f"{quality} {size}".strip()
    article = "an" if words[0] in "aeiou" else "a"
    return f"{article} {words} {side} concert pitch"


def give_reasons(part: Part, nominal: Interval, concert_key: Key | None) -> tuple[str, ...]:
    """Give one sentence for each choice that made a part.

    Parameters
    ----------
    part : Part
        Complete but for its reasons.
    nominal : Interval
        From the sheet to the part, before octave and enharmonic choice.
    concert_key : Key, optional
        The key asked for, if another than the sheet's.
    """
    instrument = part.instrument
    usual = interval_in_words(instrument.written_above_concert)
    reasons = [f"{instrument.name}: written {usual}."]
    if concert_key is not None:
        reasons.append(f"Sounds in {concert_key} instead of the sheet's own key.")
    written = part.tune.key
    plain_fifths = written.fifths + nominal.fifths - part.interval.fifths
    if plain_fifths != written.fifths:
        reasons.append(
            f"Written in {written} instead of {Key(plain_fifths, written.mode)}: "
            f"{_accidentals(written.fifths)} instead of {_accidentals(plain_fifths)}."
        )
    if part.prefer is not None:
        reasons.append(_preference(part.prefer, written))
    reasons.extend(octave_reasons(part))
    reasons.extend(_sign_reason(part, sign) for sign in part.octave_signs)
    if part.respelled or part.respelled_chords:
        bars = {note.bar for note in part.respelled}
        places = sorted(bars | {chord.bar for chord in part.respelled_chords})
        numbers = ", ".join(str(part.tune.bars[index].number) for index in places)
        reasons.append(
            f"Respelled to avoid double accidentals and names such as C♭ and E♯ in "
            f"bar{'' if len(places) == 1 else 's'} {numbers}."
        )
    if part.signs_left_out:
        reasons.append("Signs for players of other instruments, such as bowings, left out.")
    return tuple(reasons)


def octave_reasons(part: Part) -> tuple[str, ...]:
    """Say why a whole part, or some of its notes, lies in another octave than usual."""
    reasons = []
    if part.octave_asked_for:
        shift = part.octave_shift
        where = f"{_octaves(shift)} than usual" if shift else "In the usual octave"
        reasons.append(f"{where}, as asked for.")
    elif part.octave_shift:
        comfortable = part.instrument.comfortable_range(part.level)
        reasons.append(
            f"{_octaves(part.octave_shift)} than usual, because that lies better in the "
            f"{part.level} range, {comfortable}."
        )
    return (*reasons, *(_move_reason(part, move) for move in part.moves))


def _move_reason(part: Part, move: OctaveMove) -> str:
    place = _bars(part, move.first, move.last)
    what, rest = "this phrase", "the rest"
    if not move.is_phrase:
        rest = "the rest of the phrase"
        what = "this note" if move.first == move.last else "these notes"
    they = "they" if what == "these notes" else "it"
    return (
        f"{place}: {what} {_octaves(move.octaves).lower()} than {rest}, because {they} "
        f"would leave the range of the instrument, {part.instrument.range_written}."
    )


def _sign_reason(part: Part, sign: OctaveSign) -> str:
    place = _bars(part, sign.first, sign.last)
    if sign.kind == "8va":
        return (
            f"{place}: written under 8va, an octave lower than it sounds, because it needs "
            "five ledger lines or more."
        )
    way = "lower" if sign.kind == "optional 8vb" else "higher"
    return (
        f"{place}: may be played an octave {way}, as the sign says, because it leaves the "
        f"{part.level} range, {part.instrument.comfortable_range(part.level)}."
    )


def _bars(part: Part, start: NotePlace, end: NotePlace) -> str:
    first, last = (part.tune.bars[place[0]].number for place in (start, end))
    if first == last:
        return f"Bar {first}" if first else "Pick-up"
    return f"Bars {first} to {last}" if first else f"Pick-up to bar {last}"


def _preference(prefer: str, written: Key) -> str:
    has = "flats" if written.fifths < 0 else "sharps"
    if written.fifths == 0:
        return f"Asked for in {prefer}; {written} needs no accidentals."
    if has == prefer:
        return f"Written in {prefer}, as asked for: {written}."
    return (
        f"Asked for in {prefer}, but {written} has no other name with at most seven "
        "accidentals."
    )


def _octaves(count: int) -> str:
    size = "An octave" if abs(count) == 1 else f"{abs(count)} octaves"
    return f"{size} {'lower' if count < 0 else 'higher'}"


def _accidentals(fifths: int) -> str:
    kind = "flat" if fifths < 0 else "sharp"
    return f"{abs(fifths)} {kind}{'' if abs(fifths) == 1 else 's'}" if fifths else "none"
