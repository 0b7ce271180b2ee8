"""Does the band's feel go with the tune, and do the changes go with the melody as played?

What is asked here is what a teacher can change: the feel, the tempo, the lengths of
sections, a chord, a note.

* *Feel and meter.* More than half of the bars of a feel are of a meter that it is not made
  for. A single bar of another meter is common practice and not told.
* *Feel and tempo.* More than a tenth beyond the tempi at which the feel is at home. Too
  slow is told only of a lesson's fastest level with that feel: below it a level is slow on
  purpose.
* *Clave.* The figure goes on to the end, but an odd number of bars brings the melody back
  on its other side.
* *A chord in the melody's way.* The chord's own third, seventh or altered note, which no
  player may leave out, is heard a half step under a note held for a beat that is of the
  chord as well: the seventh of a major seventh chord under its root. Notes foreign to the
  chord are `kit.check.melody`'s, the colours of a dominant nobody's.

Not asked is what would be the band's own fault: the direction of the clave, chords of the
wrong bar, a top note that stays, leaps of the bass and roots that it lacks, bars that are
alike. A teacher could do nothing about them; ``tests/reference/test_feels.py`` holds the
band to its definitions, and ``tests/benchmarks/groove.py`` counts what the ear asks for.

Source: common practice; the limits (half of the bars, a tenth, half a beat) are our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from kit.band.chart import ChartBar, read_chart
from kit.band.choice import feels_by_fit, fits_meter, tempi_in
from kit.band.feel import Feel, load_feel
from kit.band.groove import Comping, Rub, clave_turn, comping
from kit.check._leaf import Leaf
from kit.check.finding import Finding
from kit.form.harmony import is_dominant
from kit.form.wording import counted, listed
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.route.plan import PerformedBar
from kit.tune.chord import ChordSymbol, degree_interval
from kit.tune.model import Meter, Tune
from kit.tune.pitch import NoteName

__all__ = ["InTheWay", "WayIdentity", "chords_in_the_way", "feel_findings", "told_of"]

_BEYOND = 0.1
_LISTED = 3
"""Bars and feels that are named; of the others their number is told."""
_MAY_BE_LEFT_OUT = ((1, 0), (5, 0), (9, 0), (11, 0))
"""Notes of a chord (degree, alteration) that tell least of it."""


WayIdentity = tuple[int, NoteName, ChordSymbol]
"""What makes a chord in the way the same at two levels."""


@dataclass(frozen=True, slots=True)
class InTheWay:
    """A held note of the melody with a note of its chord a half step under it."""

    bar: int
    position: int
    number: int
    note: NoteName
    tone: NoteName
    symbol: ChordSymbol

    @property
    def identity(self) -> WayIdentity:
        """Bar, note and chord, wherever in the bar the note stands."""
        return self.number, self.note, self.symbol


def feel_findings(lesson: Lesson, levels: Sequence[Level]) -> Iterator[Finding]:
    """Yield hints on feels that do not go with meter, tempo or form.

    Parameters
    ----------
    lesson : Lesson
        Whose settings are named.
    levels : sequence of Level
        Those that can be made.
    """
    source = lesson.settings.source
    fastest: dict[tuple[str, Meter], tuple[float, Level]] = {}
    for level in levels:
        heard = _heard(level)
        for feel in {bar.feel.name: bar.feel for bar, _ in heard}.values():
            own = [played for bar, played in heard if bar.feel.name == feel.name]
            odd = [played for played in own if not fits_meter(feel, played.meter)]
            if 2 * len(odd) > len(own):
                yield _unfit(feel, odd, source, level)
            meter = level.sheet.meter
            if any(played.meter == meter for played in own):
                tempi = tempi_in(feel, meter)
                if tempi and level.settings.tempo > tempi[1] * (1 + _BEYOND):
                    yield _off_tempo("faster", feel, source, level)
                best = fastest.get((feel.name, meter))
                if best is None or level.settings.tempo > best[0]:
                    fastest[feel.name, meter] = (level.settings.tempo, level)
        turned = clave_turn([bar for bar, _ in heard], level.route)
        if turned is not None:
            played = heard[turned.bar][1]
            more = f", like {counted(turned.more, 'more bar')}" if turned.more else ""
            yield Finding(
                "hint",
                f"bar {played.number} comes again after {counted(turned.after, 'bar')}, an "
                f"odd number, and lies on the other side of the clave{more}",
                source,
                played.number,
                "give the sections, the form or the tag an even number of bars, or choose "
                "a feel without a clave",
                code="clave",
                level=level.name,
            )
    for (name, meter), (tempo, level) in fastest.items():
        tempi = tempi_in(load_feel(name), meter)
        if tempi and tempo < tempi[0] * (1 - _BEYOND):
            yield _off_tempo("slower", load_feel(name), source, level)


def _heard(level: Level) -> list[tuple[ChartBar, PerformedBar]]:
    """Give the full bars of a level, each with what the band reads there."""
    band = level.settings.band
    chart = read_chart(
        level.sheet,
        level.route,
        feel=load_feel(level.settings.feel),
        section_feels={label: load_feel(name) for label, name in band.section_feels},
    )
    bars = level.route.bars
    played = [bar for bar in bars if not bar.is_pickup] or list(bars)
    return list(zip(chart, played, strict=True))


def _unfit(feel: Feel, odd: Sequence[PerformedBar], source: str, level: Level) -> Finding:
    meter = odd[0].meter
    fitting, _ = feels_by_fit(meter)
    # A swung tune stays swung if it can.
    alike = sorted(fitting, key=lambda other: other.is_swung != feel.is_swung)
    names = listed([f'"{other.name}"' for other in alike[:_LISTED]], last="or")
    return Finding(
        "hint",
        f"bar {odd[0].number} is in {meter}, and the feel {feel.title} is made for "
        f"{listed(list(feel.tempi))}",
        source,
        odd[0].number,
        f"choose a feel for {meter}, such as {names}" if names else "choose another feel",
        code="feel-meter",
        level=level.name,
    )


def _off_tempo(how: str, feel: Feel, source: str, level: Level) -> Finding:
    meter = level.sheet.meter
    slow, fast = feel.tempi[str(meter)]
    return Finding(
        "hint",
        f"level {level.name} is {how} ({level.settings.tempo:g}) than the feel "
        f"{feel.title} is played in {meter}, {slow:g} to {fast:g} beats a minute",
        source,
        remedy="choose another tempo or another feel",
        code="feel-tempo",
        level=level.name,
    )


def told_of(ways: Sequence[InTheWay], leaf: Leaf) -> Iterator[Finding]:
    """Yield one hint on a leaf's chords that are in the melody's way, if there are some."""
    inside = [
        replace(way, bar=way.bar - leaf.first)
        for way in ways
        if 0 <= way.bar - leaf.first < len(leaf.tune.bars)
    ]
    if not inside:
        return
    first = inside[0]
    bars = list(dict.fromkeys(way.bar for way in inside))
    named, others = bars[:_LISTED], bars[_LISTED:]
    more = f", and so in {counted(len(others), 'more bar')}" if others else ""
    yield leaf.finding(
        "hint",
        "chord-in-the-way",
        f"the {first.tone} of {first.symbol} is heard a half step under the {first.note} "
        f"held above it{more}",
        remedy=_remedy(first),
        notes=[(way.bar, way.position) for way in inside if way.bar in named],
    )


def _remedy(way: InTheWay) -> str:
    if way.symbol.kind == "major-seventh" and way.note == way.symbol.root:
        return f"write {way.note}6 or {way.note} for {way.symbol} there, or change the note"
    return f"write a chord without the {way.tone} there, or change the note"


def chords_in_the_way(level: Level) -> tuple[InTheWay, ...]:
    """Find the held notes that rub against a note of their chord which cannot be left out.

    Parameters
    ----------
    level : Level
        As it is played by the band, at its own tempo.

    Returns
    -------
    tuple of InTheWay
        In the order of the sheet, each note once; `bar` is an index of the sheet.
    """
    # The band is asked only where a note and a chord could rub at all.
    if not _could_rub(level.sheet):
        return ()
    settings = level.settings
    heard = comping(
        level.sheet,
        level.route,
        feel=settings.feel,
        tempo_qpm=level.tempo_qpm,
        section_feels=settings.band.section_feels,
        chord_style=settings.band.chords,
        harmony=settings.band.harmony or "written",
    )
    found = {}
    for rub in heard.rubs():
        way = _in_the_way(level, heard, rub)
        if way is not None:
            found[way.bar, way.position] = way
    return tuple(found[place] for place in sorted(found))


def _could_rub(sheet: Tune) -> bool:
    above: list[set[int]] = []
    for index in range(len(sheet.bars)):
        symbols = [event.symbol for event in sheet.chords_in_force(index)]
        own = {pitch_class for symbol in symbols for pitch_class in symbol.pitch_classes}
        telling = [tone.pitch_class for symbol in symbols for tone in _telling(symbol)]
        above.append({(pitch_class + 1) % 12 for pitch_class in telling} & own)
    # A chord may be struck ahead of its bar.
    return any(
        note.pitch is not None and note.pitch.midi % 12 in here | there
        for bar, here, there in zip(sheet.bars, above, [*above[1:], set()], strict=True)
        for note in bar.notes
    )


def _telling(symbol: ChordSymbol) -> list[NoteName]:
    """Give the notes without which a chord would be another; none of a dominant."""
    root = symbol.root
    if root is None or is_dominant(symbol):
        return []
    return [
        root + degree_interval(*degree)
        for degree in symbol.notes
        if degree not in _MAY_BE_LEFT_OUT
    ]


def _in_the_way(level: Level, heard: Comping, rub: Rub) -> InTheWay | None:
    note, struck = heard.line[rub.melody], heard.chords[rub.chord]
    symbol = heard.symbol_of(rub.chord)
    if rub.is_above or symbol is None:
        return None
    tones = [tone for tone in _telling(symbol) if tone.pitch_class == struck.midi % 12]
    if not tones or note.pitch.midi % 12 not in symbol.pitch_classes:
        return None
    sung = (bar for bar in level.route.bars if bar.melody)
    bar = next((bar for bar in sung if bar.start <= note.start < bar.end), None)
    together = min(note.end, struck.end) - max(note.start, struck.start)
    # A chord may be struck short, and is heard against a note that is held all the same.
    if bar is None or note.duration < bar.meter.pulse or 2 * together < bar.meter.pulse:
        return None
    written = level.sheet.bars[bar.sheet_index]
    position = next((i for i, n in enumerate(written.notes) if n is note.written), None)
    if position is None:
        return None
    return InTheWay(
        bar.sheet_index, position, written.number, note.pitch.name, tones[0], symbol
    )
