"""What tune does a Standard MIDI File hold?

MIDI knows keys pressed and time in ticks; bars, note values, spelling and often the key
have to be found. What was decided is told in the notices.

Conventions
-----------
* Empty bars before the first note are left out; a first bar whose notes begin in its
  second half is a pick-up.
* Without a key signature the key is estimated (`kit.tune.key_find`); notes are spelled by
  what they do in it (`kit.tune._spell`).
* Texts, markers or lyrics are the changes if nearly all of their kind read as chords;
  markers of single letters are section labels.

Source: Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1996).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.errors import NotationError
from kit.tune._bar_draft import BarDraft, NoteDraft
from kit.tune._notices import Notices
from kit.tune._numbering import numbered
from kit.tune._spell import Unnamed, spelled_line
from kit.tune._validate import MAX_BARS, too_many_bars, validate_tune
from kit.tune.chord import ChordSymbol
from kit.tune.chord_text import parse_chord
from kit.tune.key_find import find_key
from kit.tune.midi._grid import GridNote, quantised
from kit.tune.midi.events import MidiScore, choose_line, read_events
from kit.tune.model import Bar, ChordEvent, Meter, Tune
from kit.tune.pitch import Key, Pitch

__all__ = ["read_midi"]

_CHORD_SHARE = 0.8
_MAX_BEATS = 64
_BEAT = Fraction(1)
_REST_THAT_PARTS = Fraction(1)


def read_midi(data: bytes, *, source: str, part: str | None = None) -> Tune:
    """Read a tune from a Standard MIDI File.

    Parameters
    ----------
    data : bytes
        The file.
    source : str
        What messages call the file.
    part : str, optional
        Name of the melody's track.

    Raises
    ------
    NotationError
        If it is damaged, holds no notes, or is absurdly long.
    """
    score = read_events(data, source=source)
    notices = Notices()
    line = choose_line(score, part, source=source, notices=notices)
    per_quarter = score.ticks_per_quarter
    ordered = sorted(line.notes, key=lambda note: (note.start, -note.key))
    if line.together > 0.05:
        notices.say("Of notes that sound together, the highest is the melody.")
    notes, swung = quantised(
        [
            (Fraction(n.start, per_quarter), Fraction(n.end, per_quarter), n.key)
            for n in ordered
        ]
    )
    key = _key_of(score, notes, notices)
    spans = _first_to_last(list(_bar_spans(score, notes[-1].end, source)), notes, notices)
    chords, labels = _texts(score, notices)
    try:
        bars = _bars(spans, notes, key, chords, labels)
    except NotationError as error:
        raise error.within(file=source) from None
    if swung:
        notices.say("The notes are played in swing; they are written as plain eighths.")
    if any(abs(t - score.tempos_qpm[0][1]) > 1 for _, t in score.tempos_qpm[1:]):
        notices.left_out("changes of tempo")
    tune = Tune(
        title=score.title,
        bars=numbered(bars),
        rights=score.rights,
        feel="Swing" if swung else "",
        tempo_qpm=round(score.tempos_qpm[0][1], 2) if score.tempos_qpm else None,
        part_name=line.name,
        source=source,
        notices=notices.sentences(),
    )
    validate_tune(tune)
    return tune


def _key_of(score: MidiScore, notes: Sequence[GridNote], notices: Notices) -> Key:
    if score.keys:
        if len({name for _, name in score.keys}) > 1:
            notices.left_out("changes of key")
        name = score.keys[0][1]
        minor = name.endswith("m")
        return Key.parse(f"{name.rstrip('m')} {'minor' if minor else 'major'}")
    weights = [0.0] * 12
    for note in notes:
        weights[note.key % 12] += float(note.end - note.start)
    if max(weights) <= min(weights):
        return Key(0)
    guess = find_key(weights, last=notes[-1].key % 12).key
    notices.say(f"The file names no key; by its notes it is taken for {guess}.")
    return guess


@dataclass(frozen=True, slots=True)
class _Span:
    """A bar's place in quarter notes from the start of the file."""

    start: Fraction
    meter: Meter

    @property
    def end(self) -> Fraction:
        return self.start + self.meter.bar_length


def _bar_spans(score: MidiScore, end: Fraction, source: str) -> Iterator[_Span]:
    """Yield the bars until the music ends; a meter acts from the next bar line."""
    meters = [
        (Fraction(tick, score.ticks_per_quarter), pair) for tick, pair in score.meters
    ]
    # A file that names no meter is in 4/4 (Standard MIDI Files 1.0).
    meter, now = Meter(), Fraction(0)
    for count in range(MAX_BARS + 1):
        while meters and meters[0][0] <= now:
            meter = _meter(meters.pop(0)[1], source)
        if now >= end:
            return
        if count == MAX_BARS:
            raise too_many_bars(source)
        yield _Span(now, meter)
        now += meter.bar_length


def _meter(pair: tuple[int, int], source: str) -> Meter:
    beats, beat_type = pair
    if not 0 < beats <= _MAX_BEATS or beat_type not in (1, 2, 4, 8, 16, 32):
        raise NotationError(f"the meter {beats}/{beat_type} cannot be read", file=source)
    return Meter(beats, beat_type)


def _first_to_last(
    spans: list[_Span], notes: Sequence[GridNote], notices: Notices
) -> list[_Span]:
    empty = sum(span.end <= notes[0].start for span in spans)
    if empty:
        notices.say(f"Empty bars before the first note are left out ({empty}).")
    return spans[empty:]


def _bars(
    spans: Sequence[_Span],
    notes: Sequence[GridNote],
    key: Key,
    chords: Sequence[tuple[Fraction, ChordSymbol]],
    labels: Sequence[tuple[Fraction, str]],
) -> list[Bar]:
    bars: list[Bar] = []
    pitches = _named(notes, chords, key)
    chord_moments = [at for at, _ in chords]
    label_moments = [at for at, _ in labels]
    place = 0
    for span in spans:
        while place < len(notes) and notes[place].end <= span.start:
            place += 1
        draft = BarDraft(span.meter, key)
        now = span.start
        here = place
        while here < len(notes) and notes[here].start < span.end:
            note = notes[here]
            _add(draft, now, note.start, None)
            start = max(note.start, span.start)
            end = min(note.end, span.end)
            _add(draft, start, end, pitches[here], goes_on=note.end > span.end)
            now = end
            here += 1
        _add(draft, now, span.end, None)
        lead = Fraction(0)
        if not bars and len(spans) > 1:
            lead = _leading_rest(draft)
        if lead:
            draft.notes = [
                n for i, n in enumerate(draft.notes) if draft.onset_of(i) >= lead
            ]
        begin = span.start + lead
        label = bisect_left(label_moments, begin)
        if label < len(labels) and labels[label][0] < span.end:
            draft.section = labels[label][1]
        first, last = (bisect_left(chord_moments, at) for at in (begin, span.end))
        events = {at - begin: chord for at, chord in chords[first:last]}
        try:
            bar = draft.finished()
        except ValueError as error:
            raise NotationError(str(error), bar=len(bars) + 1) from error
        changes = tuple(ChordEvent(at, events[at]) for at in sorted(events))
        bars.append(replace(bar, chords=changes))
    return bars


def _leading_rest(draft: BarDraft) -> Fraction:
    """Give the rest before a pick-up, zero if the first bar is a full one."""
    first = next((i for i, note in enumerate(draft.notes) if note.pitch is not None), 0)
    rest = draft.onset_of(first)
    assert draft.meter is not None
    return rest if 2 * rest >= draft.meter.bar_length else Fraction(0)


def _add(
    draft: BarDraft,
    start: Fraction,
    end: Fraction,
    pitch: Pitch | None,
    *,
    goes_on: bool = False,
) -> None:
    """Add a note or rest, parted at beats where triplets begin or end."""
    if end <= start:
        return
    cuts = [start, *_beats_needed(start, end), end]
    for place in range(len(cuts) - 1):
        last = place == len(cuts) - 2
        draft.notes.append(
            NoteDraft(
                cuts[place + 1] - cuts[place],
                pitch,
                tied=pitch is not None and (goes_on or not last),
            )
        )


def _beats_needed(start: Fraction, end: Fraction) -> list[Fraction]:
    cuts = []
    after, before = -(-start // _BEAT) * _BEAT, end // _BEAT * _BEAT
    if start.denominator == 3 and start < after < end:
        cuts.append(after)
    if end.denominator == 3 and start < before < end and before not in cuts:
        cuts.append(before)
    return cuts


def _named(
    notes: Sequence[GridNote], chords: Sequence[tuple[Fraction, ChordSymbol]], key: Key
) -> tuple[Pitch, ...]:
    """Name the notes by what they do in the key and over the changes."""
    sounds = []
    end = notes[0].start
    moments = [at for at, _ in chords]
    for note in notes:
        before = bisect_right(moments, note.start)
        chord = chords[before - 1][1] if before else None
        sounds.append(Unnamed(note.key, note.start - end < _REST_THAT_PARTS, chord))
        end = note.end
    return spelled_line(sounds, key)


def _texts(
    score: MidiScore, notices: Notices
) -> tuple[list[tuple[Fraction, ChordSymbol]], list[tuple[Fraction, str]]]:
    """Find the changes and the section labels among the texts."""
    chords: list[tuple[Fraction, ChordSymbol]] = []
    labels: list[tuple[Fraction, str]] = []
    for kind, texts in score.texts.items():
        placed = [
            (Fraction(round(4 * Fraction(t, score.ticks_per_quarter)), 4), s)
            for t, s in texts
        ]
        if kind == "marker" and all(len(text) == 1 for _, text in placed):
            labels = placed
            continue
        read = [(at, chord) for at, text in placed if (chord := _chord(text)) is not None]
        if read and not chords and len(read) >= _CHORD_SHARE * len(placed):
            chords = read
        elif texts:
            notices.left_out(f"{len(texts)} texts of the kind {kind.replace('_', ' ')}")
    if not chords:
        notices.say("The file holds no chord symbols.")
    return chords, labels


def _chord(text: str) -> ChordSymbol | None:
    try:
        return parse_chord(text)
    except ValueError:
        return None
