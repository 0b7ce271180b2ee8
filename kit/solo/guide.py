"""Which scale serves a section of the solo, and which of its notes need care?

A beginner gets one simple scale for a whole section; the next scale up and a scale for each
chord are there for later. Every choice is scored against the changes, and says why.

Conventions
-----------
* Notes are named in the key of the sheet: give a written part, and the names are the
  player's own.
* A section's score is the mean fit (`kit.solo._scales.fit`) over its chords by length, less
  the scale's effort. Only scales of the section's own mode are compared, so that the choice
  sounds like the key; over a blues (a dominant chord on the tonic) minor ones serve too.
* A chord that stands between other neighbours, so that it has another scale of its own, is
  told apart.
* A note is named as in the scale beside it; one that the scale lacks as in its chord, but
  by the name that is played (`Scale.spelled`).

Source: common practice of jazz teaching.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, pairwise

from kit.form.harmony import Change, is_dominant, is_half_diminished, semitones_up
from kit.form.sections import Form
from kit.form.wording import bars_words, listed, ordinal
from kit.solo._in_place import PlacedChord, placed_chords, section_key
from kit.solo._scales import Scale, fit, rubbing, scale_on, scales_for
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Interval, Key, NoteName

__all__ = ["ChordAdvice", "SectionScale", "scale_guide"]

_NEXT_EFFORT = 0.06
"""The next scale to learn is a plain one: a key's own, dorian or mixolydian."""
_SIMPLE = frozenset({"minor pentatonic", "blues", "major pentatonic"})
_MOST_NAMED = 3
"""A list with one chord more than these is still read; of a longer one these are named."""
# The note that makes a mode: the flat second of phrygian, the sharp fourth of lydian.
_COLOUR = {"phrygian": 2, "lydian": 4, "locrian": 5}


@dataclass(frozen=True, slots=True)
class ChordAdvice:
    """What a section's scale does over one of its chords.

    `numbers` are the printed bars in which the chord sounds; `good` are chord notes in the
    scale; `care` pairs a note with the reason to pass through it; `missing` are chord notes
    that the scale lacks; `scale` is the chord's own scale, for later, and `other` the
    second good answer where the trade has two.
    """

    symbol: ChordSymbol
    numbers: tuple[int, ...]
    good: tuple[NoteName, ...]
    care: tuple[tuple[NoteName, str], ...]
    missing: tuple[NoteName, ...]
    scale: Scale | None
    other: Scale | None = None

    @property
    def scale_words(self) -> str:
        """The chord's own scale in words: ``G mixolydian ♭9♭13, or altered``."""
        if self.scale is None:
            return ""
        if self.other is None:
            return str(self.scale)
        same = self.other.tonic == self.scale.tonic
        return f"{self.scale}, or {self.other.name if same else self.other}"

    @property
    def sentence(self) -> str:
        """The advice in words."""
        if self.good:
            text = f"Over {self.symbol}, rest on {_names(self.good, last='or')}"
        else:
            text = f"Over {self.symbol}, keep moving: the scale has none of its notes"
        if self.care:
            text += "; pass through " + listed([f"{n} ({why})" for n, why in self.care])
        return text + "."


@dataclass(frozen=True, slots=True)
class SectionScale:
    """The scale for all sections of one label, the next one to learn, and advice by chord.

    `places` are the sections in `Form.sections`, `numbers` the printed bars of them all.
    `two_fives` are sentences on one scale for a ii and its V in minor, none without such or
    where an earlier section has the same two.
    """

    label: str
    places: tuple[int, ...]
    numbers: tuple[int, ...]
    key: Key
    scale: Scale
    score: float
    reason: str
    next_scale: Scale
    next_reason: str
    chords: tuple[ChordAdvice, ...]
    two_fives: tuple[str, ...] = ()

    @property
    def later(self) -> str:
        """What to learn next, in one or more sentences."""
        return " ".join((self.next_reason, *self.two_fives))

    @property
    def sentence(self) -> str:
        """Where to play what, in one or two sentences."""
        notes = " ".join(str(note) for note in self.scale.notes)
        return (
            f"{self.label} ({bars_words(self.numbers)}): {self.scale}, that is {notes}. "
            f"{self.reason}"
        )


def scale_guide(sheet: Tune, form: Form) -> tuple[SectionScale, ...]:
    """Choose a scale for each different section.

    Parameters
    ----------
    sheet : Tune
        Unfolded, in the key the player reads.
    form : Form
        Its sections.

    Returns
    -------
    tuple of SectionScale
        One per label, in order of appearance; labels without chords are left out.
    """
    places_of: dict[str, list[int]] = {}
    for place, section in enumerate(form.sections):
        places_of.setdefault(section.label, []).append(place)
    every = placed_chords(sheet, [(one.first, one.last) for one in form.sections])
    pairs = _two_fives(sheet, [every[k] for places in places_of.values() for k in places])
    found = []
    for places in places_of.values():
        times = [every[place] for place in places]
        if times[0]:
            here = [pair for time in times for pair in pairwise(_symbols(time))]
            said = tuple(pairs.pop(pair) for pair in dict.fromkeys(here) if pair in pairs)
            found.append(_section_scale(sheet, form, places, times, said))
    return tuple(found)


def _symbols(time: Sequence[PlacedChord]) -> tuple[ChordSymbol, ...]:
    return tuple(one.symbol for one in time)


def _section_scale(
    sheet: Tune,
    form: Form,
    places: Sequence[int],
    times: Sequence[Sequence[PlacedChord]],
    two_fives: tuple[str, ...],
) -> SectionScale:
    # The first time decides; what a later one does otherwise is advised on too.
    chords = [one.change for one in times[0]]
    placed = [one for time in times for one in time]
    key = section_key(chords, sheet.key)
    ranked = _ranked(key, chords)
    score, scale = next(
        (item for item in ranked if item[1].name in _SIMPLE | _COLOUR.keys()), ranked[0]
    )
    fuller = next(
        (
            other
            for _, other in ranked
            if other.name not in _SIMPLE and other.effort <= _NEXT_EFFORT
        ),
        scale,
    )
    numbers = tuple(
        bar.number
        for place in places
        for bar in sheet.bars[form.sections[place].first : form.sections[place].last + 1]
        if not bar.pickup
    )
    return SectionScale(
        form.sections[places[0]].label,
        tuple(places),
        numbers,
        key,
        scale,
        round(score, 2),
        _reason(scale, [one.change for one in placed], key),
        fuller,
        _next_reason(scale, fuller, [one.change for one in placed]),
        _advice(sheet, scale, placed, key),
        two_fives,
    )


def _ranked(key: Key, chords: Sequence[Change]) -> list[tuple[float, Scale]]:
    """Score every scale that may serve a section in this key, best first."""
    total = sum((change.duration for change in chords), Fraction(0))
    at_home = [change.duration for change in chords if _is_bluesy(change.symbol, key)]
    bluesy = 4 * sum(at_home, Fraction(0)) >= total
    found = []
    for scale in scales_for(key, bluesy=bluesy):
        held = sum(float(c.duration) * fit(scale, c.symbol) for c in chords)
        # On a major blues its own scale is the one to begin with (common practice).
        blues_home = 0.25 if bluesy and not key.is_minor and scale.name == "blues" else 0.0
        found.append((held / float(total) - scale.effort + blues_home, scale))
    return sorted(found, key=lambda item: -item[0])


def _is_bluesy(symbol: ChordSymbol, key: Key) -> bool:
    root = symbol.root
    at_home = root is not None and root.pitch_class == key.tonic.pitch_class
    return at_home and is_dominant(symbol)


def _reason(scale: Scale, chords: Sequence[Change], key: Key) -> str:
    symbols = dict.fromkeys(change.symbol for change in chords)
    if scale.name == "blues" and any(_is_bluesy(symbol, key) for symbol in symbols):
        # What rubs in a blues scale are its blue notes: they are meant to.
        return (
            f"It sounds like a blues in {scale.tonic}. Its notes rub against the chords, "
            "as they should in a blues: lean on them and move on."
        )
    careful = [symbol for symbol in symbols if rubbing(scale, symbol)]
    if not careful:
        if len(symbols) == 1:
            return f"It sounds like {key}, and every note of it goes well with the chord."
        return (
            f"It sounds like {key}, and none of its notes rubs against any of the chords."
        )
    if len(careful) == len(symbols) > 1:
        return f"It sounds like {key}; over each chord it has a note that wants to move on."
    above_all = " above all" if len(careful) > _MOST_NAMED + 1 else ""
    return f"It sounds like {key}; take care{above_all} over {_longest(careful, chords)}."


def _longest(symbols: Sequence[ChordSymbol], chords: Sequence[Change]) -> str:
    """Name chords in order; of many, those that sound longest in all."""
    named = list(symbols)
    if len(symbols) > _MOST_NAMED + 1:
        lengths = dict.fromkeys(symbols, Fraction(0))
        for change in chords:
            if change.symbol in lengths:
                lengths[change.symbol] += change.duration
        longest = sorted(symbols, key=lambda symbol: -lengths[symbol])[:_MOST_NAMED]
        named = [symbol for symbol in symbols if symbol in longest]
    return listed([str(symbol) for symbol in named])


def _next_reason(scale: Scale, fuller: Scale, chords: Sequence[Change]) -> str:
    """Say which notes the next scale adds and to which chords they belong."""
    if fuller == scale:
        if scale.name not in _COLOUR:
            return f"{scale} is all it takes."
        number = _COLOUR[scale.name]
        colour = scale.notes[number - 1]
        return (
            f"bring out {colour}, the {ordinal(number)} note, which makes it {scale.name}."
        )
    added = [n for n in fuller.notes if n.pitch_class not in scale.pitch_classes]
    homes = list(
        dict.fromkeys(
            change.symbol
            for change in chords
            if any(note.pitch_class in change.symbol.pitch_classes for note in added)
        )
    )
    if not added:
        return f"{fuller} has the same notes in another light."
    text = f"{fuller} adds {_names(added)}"
    if not homes:
        return f"{text}."
    verb = "belongs" if len(added) == 1 else "belong"
    if len(homes) > _MOST_NAMED + 1:
        verb += " above all"
    return f"{text}, which {verb} to {_longest(homes, chords)}."


def _advice(
    sheet: Tune, scale: Scale, placed: Sequence[PlacedChord], key: Key
) -> tuple[ChordAdvice, ...]:
    bars_of: dict[tuple[ChordSymbol, tuple[Scale, ...]], list[int]] = {}
    for chord in placed:
        numbers = bars_of.setdefault((chord.symbol, chord.scales(key)), [])
        numbers.append(sheet.bars[chord.change.bar].number)
    return tuple(
        _chord_advice(scale, symbol, scales, numbers, key)
        for (symbol, scales), numbers in bars_of.items()
    )


def _chord_advice(
    scale: Scale,
    symbol: ChordSymbol,
    scales: Sequence[Scale],
    numbers: Sequence[int],
    key: Key,
) -> ChordAdvice:
    inside = scale.pitch_classes
    names = [scale.spelled(name, key) for name in symbol.note_names]
    return ChordAdvice(
        symbol,
        tuple(sorted(set(numbers))),
        tuple(name for name in names if name.pitch_class in inside),
        rubbing(scale, symbol, key),
        tuple(name for name in names if name.pitch_class not in inside),
        *scales[:2],
    )


def _two_fives(
    sheet: Tune, times: Sequence[Sequence[PlacedChord]]
) -> dict[tuple[ChordSymbol, ChordSymbol], str]:
    """Offer the harmonic minor of the goal for each ii–V in minor that it holds.

    A sentence for each two chords; it speaks for all their bars.
    """
    bars_of: dict[tuple[ChordSymbol, ChordSymbol], list[tuple[int, ...]]] = {}
    for two, five in chain.from_iterable(pairwise(time) for time in times):
        is_pair = is_half_diminished(two.symbol) and is_dominant(five.symbol)
        # The V lies a fourth above its ii.
        if is_pair and semitones_up(two.symbol, five.symbol) == 5:
            found = bars_of.setdefault((two.symbol, five.symbol), [])
            found.append(tuple(sheet.bars[one.change.bar].number for one in (two, five)))
    return {
        (two, five): f"Over {two} {five} ({_where(found)}) one scale holds both chords: "
        f"{scale}, that is {' '.join(str(note) for note in scale.notes)}."
        for (two, five), found in bars_of.items()
        for scale in [_harmonic_minor(five)]
        if two.pitch_classes | five.pitch_classes <= scale.pitch_classes
    }


def _where(times: Sequence[tuple[int, ...]]) -> str:
    first = bars_words(times[0])
    return first if len(times) == 1 else f"{first}, and each time they return"


def _harmonic_minor(five: ChordSymbol) -> Scale:
    assert five.root is not None
    # Down a fifth to the goal.
    return scale_on("harmonic minor", five.root + Interval(-4, -7), beside_chord=True)


def _names(notes: Sequence[NoteName], *, last: str = "and") -> str:
    return listed([str(note) for note in notes], last=last)
