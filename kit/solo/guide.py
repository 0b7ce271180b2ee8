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

Source: common practice of jazz teaching.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.form.harmony import Change, changes, is_dominant
from kit.form.key_centres import key_centre
from kit.form.sections import Form
from kit.form.wording import bars_words, listed
from kit.solo._scales import Scale, chord_scale, fit, rubbing, scales_for
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Key, NoteName

__all__ = ["ChordAdvice", "SectionScale", "scale_guide"]

_NEXT_EFFORT = 0.06
"""The next scale to learn is a plain one: a key's own, dorian or mixolydian."""
_SIMPLE = frozenset({"minor pentatonic", "blues", "major pentatonic"})


@dataclass(frozen=True, slots=True)
class ChordAdvice:
    """What a section's scale does over one of its chords.

    `numbers` are the printed bars in which the chord sounds; `good` are chord notes in the
    scale; `care` pairs a note with the reason to pass through it; `missing` are chord notes
    that the scale lacks; `scale` is the chord's own scale, for later.
    """

    symbol: ChordSymbol
    numbers: tuple[int, ...]
    good: tuple[NoteName, ...]
    care: tuple[tuple[NoteName, str], ...]
    missing: tuple[NoteName, ...]
    scale: Scale | None

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
    guide: list[SectionScale] = []
    places_of: dict[str, list[int]] = {}
    for place, section in enumerate(form.sections):
        places_of.setdefault(section.label, []).append(place)
    for places in places_of.values():
        section = form.sections[places[0]]
        every = changes(sheet, section.first, section.last)
        chords = [change for change in every if change.symbol.note_names]
        if chords:
            guide.append(_section_scale(sheet, form, places, chords))
    return tuple(guide)


def _section_scale(
    sheet: Tune, form: Form, places: Sequence[int], chords: Sequence[Change]
) -> SectionScale:
    key = key_centre(chords, sheet.key)
    ranked = _ranked(key, chords)
    score, scale = next(item for item in ranked if item[1].name in _SIMPLE)
    _, fuller = next(
        item
        for item in ranked
        if item[1].name not in _SIMPLE and item[1].effort <= _NEXT_EFFORT
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
        _reason(scale, chords, key),
        fuller,
        _next_reason(scale, fuller, chords),
        _advice(sheet, scale, chords, key),
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
    careful = [str(symbol) for symbol in symbols if rubbing(scale, symbol)]
    if careful:
        return f"It sounds like {key}; take care over {listed(careful)}."
    if len(symbols) == 1:
        return f"It sounds like {key}, and every note of it goes well with the chord."
    return f"It sounds like {key}, and none of its notes rubs against any of the chords."


def _next_reason(scale: Scale, fuller: Scale, chords: Sequence[Change]) -> str:
    """Say which notes the next scale adds and to which chords they belong."""
    added = [n for n in fuller.notes if n.pitch_class not in scale.pitch_classes]
    homes = dict.fromkeys(
        str(change.symbol)
        for change in chords
        if any(note.pitch_class in change.symbol.pitch_classes for note in added)
    )
    if not added:
        return f"{fuller} has the same notes in another light."
    text = f"{fuller} adds {_names(added)}"
    if not homes:
        return f"{text}."
    verb = "belongs" if len(added) == 1 else "belong"
    return f"{text}, which {verb} to {listed(list(homes))}."


def _advice(
    sheet: Tune, scale: Scale, chords: Sequence[Change], key: Key
) -> tuple[ChordAdvice, ...]:
    bars_of: dict[ChordSymbol, list[int]] = {}
    for change in chords:
        bars_of.setdefault(change.symbol, []).append(sheet.bars[change.bar].number)
    inside = scale.pitch_classes
    return tuple(
        ChordAdvice(
            symbol,
            tuple(sorted(set(numbers))),
            tuple(n for n in symbol.note_names if n.pitch_class in inside),
            rubbing(scale, symbol),
            tuple(n for n in symbol.note_names if n.pitch_class not in inside),
            chord_scale(symbol, key),
        )
        for symbol, numbers in bars_of.items()
    )


def _names(notes: Sequence[NoteName], *, last: str = "and") -> str:
    return listed([str(note) for note in notes], last=last)
