"""What tune does a MusicXML file hold?

The file's parts are found and the melody part chosen (`musicxml_parts`), its measures are
read (`musicxml_bars`); here the bars are brought to concert pitch, numbered and checked.

Conventions
-----------
* Lengths are exact; bars are numbered by our own rule (`kit.tune._numbering`), while
  errors in reading name the measure as the file does.
* A transposing part is brought to concert pitch; a key of more than seven accidentals is
  respelled.
* Chord symbols are those of the melody part, or of the part that has most if it has none.

Sources: MusicXML 3.1 and 4.0 (W3C Community Group Final Reports).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

from kit.errors import NotationError
from kit.tune._coda_signs import settled_codas
from kit.tune._loose_ends import without_loose_ends
from kit.tune._notices import Notices
from kit.tune._numbering import numbered
from kit.tune._score_words import TEMPO_CHANGES, take_feel
from kit.tune._uneven_bars import with_filled_meters
from kit.tune._validate import validate_tune
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, SpanEnd, Tune, Word, transposed
from kit.tune.musicxml._read_bars import BarReader, ReadBar
from kit.tune.musicxml._read_directions import Told
from kit.tune.musicxml.read_parts import (
    ScorePart,
    choose_part,
    score_parts,
    strip_namespaces,
)
from kit.tune.musicxml.xml_tree import parse_xml
from kit.tune.pitch import Interval
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["read_musicxml"]

_SECOND = Interval(1, 0)
"""A diminished second: another name for the same sound, twelve fifths away."""
_OPENING_BARS = 2
"""A pick-up and the first full bar: a tempo printed here is the tune's own."""


def read_musicxml(
    data: bytes, *, source: str, part: str | None = None, keep_uneven: bool = False
) -> Tune:
    """Read a tune from uncompressed MusicXML.

    Parameters
    ----------
    data : bytes
        The file.
    source : str
        What messages call the file.
    part : str, optional
        Name or id of the melody part; without it, see `kit.tune.musicxml.read_parts`.
    keep_uneven : bool
        Whether a bar that does not add up is given the meter it fills, not refused.

    Raises
    ------
    NotationError
        If it is not MusicXML, is dangerous or damaged, or a bar does not add up.
    """
    root = parse_xml(data, source=source)
    strip_namespaces(root)
    notices = Notices()
    parts = score_parts(root, source=source)
    chosen = choose_part(parts, part, source=source, notices=notices)
    try:
        tune = _tune(root, chosen, parts, notices, keep_uneven=keep_uneven)
    except NotationError as error:
        raise error.within(file=source) from None
    tune = replace(tune, source=source)
    validate_tune(tune)
    return tune


def _tune(
    root: Element,
    chosen: ScorePart,
    parts: tuple[ScorePart, ...],
    notices: Notices,
    *,
    keep_uneven: bool,
) -> Tune:
    read = BarReader(notices).read(chosen.measures)
    if not any(bar.chords for bar in read):
        _borrow_chords(read, chosen, parts, notices)
    tempo = _Tempo()
    plain = [_finished(bar, tempo, notices, at) for at, bar in enumerate(read)]
    bars = numbered(plain)
    if keep_uneven:
        bars = with_filled_meters(bars, notices)
    bars = settled_codas(bars, [bar.draft.late_signs for bar in read])
    bars = _at_concert_pitch(bars, [bar.transposition for bar in read], notices)
    bars = without_loose_ends(bars, notices)
    bars, feel = take_feel(bars, "")
    _compare_numbers(bars, read, notices)
    return Tune(
        title=_title(root),
        bars=bars,
        composer=_creator(root, "composer"),
        lyricist=_creator(root, "lyricist") or _creator(root, "poet"),
        arranger=_creator(root, "arranger"),
        rights=printable(
            " ".join(r.text or "" for r in root.iterfind("identification/rights"))
        ),
        feel=feel or ("Swing" if tempo.swings else ""),
        tempo_qpm=tempo.tempo_qpm,
        part_name=chosen.name,
        notices=notices.sentences(),
    )


def _borrow_chords(
    read: list[ReadBar], chosen: ScorePart, parts: tuple[ScorePart, ...], notices: Notices
) -> None:
    """Take the changes from another part if the melody has none."""
    others = [part for part in parts if part is not chosen and part.harmonies]
    if not others:
        return
    lender = max(others, key=lambda part: part.harmonies)
    notices.say(f"The chord symbols are those of the part {lender.name or lender.id}.")
    lent = BarReader(Notices()).read(lender.measures)
    for bar, other in zip(read, lent, strict=False):
        # Both parts may be written for transposing instruments, each in its own way.
        back = other.transposition + -bar.transposition
        bar.chords = [(onset, chord + back) for onset, chord in other.chords]
        bar.chords = [item for item in bar.chords if item[0] < bar.draft.length]


@dataclass(slots=True)
class _Tempo:
    """The first tempo of the piece, a printed one before one that is only played."""

    tempo_qpm: float | None = None
    is_printed: bool = False
    swings: bool = False


def _finished(bar: ReadBar, tempo: _Tempo, notices: Notices, at: int) -> Bar:
    draft = bar.draft
    words: list[Word] = []
    spans: list[SpanEnd] = []
    for onset, told in bar.told:
        changed = _changed_tempo(tempo, told, notices, at)
        tempo.swings = tempo.swings or told.swings
        if told.section:
            if draft.section and draft.section != told.section:
                notices.left_out(f"the rehearsal mark {told.section}, second of its bar")
            draft.section = draft.section or told.section
        said = [Word(onset, text, kind) for text, kind in told.words]
        if changed is not None:
            said = _with_tempo(said, onset, changed)
        words.extend(said)
        spans.extend(SpanEnd(onset, kind, opens) for kind, opens in told.spans)
        at_end = onset >= draft.length > 0
        draft.jumps.extend((len(draft.notes) if at_end else 0, jump) for jump in told.jumps)
    try:
        plain = draft.finished()
    except ValueError as error:
        raise NotationError(str(error), bar=bar.number) from error
    return replace(
        plain,
        words=tuple(sorted(words, key=lambda word: word.onset)),
        spans=tuple(sorted(spans, key=lambda end: (end.onset, end.opens))),
        chords=_events(bar.chords),
    )


def _events(chords: list[tuple[Fraction, ChordSymbol]]) -> tuple[ChordEvent, ...]:
    return tuple(ChordEvent(onset, chord) for onset, chord in chords)


def _changed_tempo(tempo: _Tempo, told: Told, notices: Notices, at: int) -> float | None:
    """Take the tune's tempo, or give the new one if it is printed later on."""
    found = told.tempo_qpm
    if found is None:
        return None
    takes_over = told.is_printed_tempo and not tempo.is_printed and at < _OPENING_BARS
    if tempo.tempo_qpm is None or takes_over:
        tempo.tempo_qpm, tempo.is_printed = found, told.is_printed_tempo
        return None
    if told.is_printed_tempo:
        notices.say(TEMPO_CHANGES)
        return found
    if abs(tempo.tempo_qpm - found) > 1:
        notices.left_out("a change of tempo that is played and not printed")
    return None


def _with_tempo(said: list[Word], onset: Fraction, tempo_qpm: float) -> list[Word]:
    """Join a printed tempo with the words before it: ``Slower`` ♩ = 90."""
    for place, word in enumerate(said):
        if word.kind != "dynamics":
            said[place] = replace(word, kind="tempo", tempo_qpm=tempo_qpm)
            return said
    return [Word(onset, "", "tempo", tempo_qpm), *said]


def _at_concert_pitch(
    bars: tuple[Bar, ...], shifts: list[Interval], notices: Notices
) -> tuple[Bar, ...]:
    if not any(shift.semitones or shift.steps for shift in shifts):
        return tuple(_respelled(bar, Interval(0, 0)) for bar in bars)
    notices.say(
        "The part is written for a transposing instrument; it is read as it sounds."
    )
    return tuple(_respelled(bar, shift) for bar, shift in zip(bars, shifts, strict=True))


def _respelled(bar: Bar, shift: Interval) -> Bar:
    fifths = bar.key.fifths + shift.fifths
    if fifths < -7:
        shift += -_SECOND
    elif fifths > 7:
        shift += _SECOND
    return transposed(Tune("", (bar,)), shift).bars[0]


def _compare_numbers(bars: tuple[Bar, ...], read: list[ReadBar], notices: Notices) -> None:
    """Say so where our bar numbers are not those of the file."""
    for bar, other in zip(bars, read, strict=True):
        if other.number.isdecimal() and int(other.number) != bar.number and not bar.pickup:
            notices.say(
                f"The bars are numbered anew: bar {other.number} of the file is bar "
                f"{bar.number}."
            )
            return


def _title(root: Element) -> str:
    for path in ("work/work-title", "movement-title"):
        title = printable(root.findtext(path))
        if title:
            return title
    for credit in root.iterfind("credit"):
        kinds = [kind.text for kind in credit.iterfind("credit-type")]
        if "title" in kinds:
            return printable(credit.findtext("credit-words"))
    return ""


def _creator(root: Element, kind: str) -> str:
    names = [
        printable(creator.text)
        for creator in root.iterfind("identification/creator")
        if creator.get("type", "composer") == kind
    ]
    return ", ".join(name for name in names if name)
