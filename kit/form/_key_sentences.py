"""What may be said to a student about the keys of a tune?

A key is told as a fact only where cadences, a declared mode or a blues bear it out; where
another key is nearly as good the sentence says so; where nothing bears it out, none is
said. Of a tune without chords the signature is believed if the melody agrees with it.

Source: that a melody ends on its tonic is common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from kit.form.harmony import is_dominant
from kit.form.key_centres import KeyCentre
from kit.form.sections import Form
from kit.form.wording import listed, ordinal
from kit.tune.key_find import find_key
from kit.tune.model import Tune
from kit.tune.pitch import Key
from kit.tune.sounding import sounding

__all__ = ["key_sentences", "key_words"]

_PLAIN_MODES = ("major", "minor")
_LEAST_LEAD = 0.03
"""By how much the key of the notes must fit better than the next best, as a correlation."""


@dataclass(frozen=True, slots=True)
class _Said:
    """A clause without its subject: the verb for one section and for several, the rest."""

    one: str
    several: str
    rest: str


def key_words(centres: Sequence[KeyCentre], played: Tune, home: Key) -> str:
    """Name the key of a section in a few words, empty where it is in doubt.

    Parameters
    ----------
    centres : sequence of KeyCentre
        Of the section, as `kit.form.key_centres.key_centres` gives them.
    played : Tune
        The unfolded tune; its melody is asked if there is no chord in it.
    home : Key
        The key of the section's signature.
    """
    if not centres:
        return str(home) if not _has_harmony(played) and _melody_agrees(played) else ""
    if not all(centre.certain for centre in centres):
        return ""
    if len(centres) == 1 and centres[0].dominants:
        return "chain of dominants"
    keys = _in_order(centres)
    return str(keys[0]) if len(keys) == 1 else _way(keys)


def key_sentences(
    centres: Sequence[Sequence[KeyCentre]], played: Tune, form: Form
) -> Iterator[str]:
    """Say in which keys the sections are, as far as that is known.

    Parameters
    ----------
    centres : sequence of sequence of KeyCentre
        Of each section, in the order of the form.
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.
    """
    if not any(centres):
        yield from _of_the_melody(played)
        return
    told: dict[_Said, list[int]] = {}
    for place, found in enumerate(centres):
        said = _said_of(found, played.bars[form.sections[place].first].key)
        if said is not None:
            told.setdefault(said, []).append(place)
    if len(told) == 1 and len(next(iter(told.values()))) == len(form.sections):
        yield _of_the_tune(next(iter(told)))
        return
    # Each clause has its own subject and verb: "A and C in C major" can be misread.
    clauses = []
    for said, where in told.items():
        subject, several = _sections(form, where)
        clauses.append(f"{subject} {said.several if several else said.one} {said.rest}")
    if clauses:
        text = "; ".join(clauses)
        yield f"{text[:1].upper()}{text[1:]}."


def _of_the_tune(said: _Said) -> str:
    if said.one == "is" and said.rest.startswith("in "):
        return f"The tune stays {said.rest} throughout."
    return f"The tune {said.one} {said.rest}."


def _said_of(centres: Sequence[KeyCentre], home: Key) -> _Said | None:
    if not centres or not all(centre.borne_out for centre in centres):
        return None
    if len(centres) == 1 and centres[0].dominants:
        return _Said("is", "are each", _chain(centres[0], home))
    keys = _in_order(centres)
    certain = all(centre.certain for centre in centres)
    if len(keys) == 1:
        where = f"in {keys[0]}"
        return (
            _Said("is", "are", where)
            if certain
            else _Said("seems", "seem", f"to be {where}")
        )
    if certain:
        return _Said("moves", "move", _way(keys))
    return _Said("seems", "seem", f"to move {_way(keys)}")


def _chain(centre: KeyCentre, home: Key) -> str:
    dominants = [change.symbol for change in centre.chords if is_dominant(change.symbol)]
    # A dominant said again with other colours is one link.
    links = [
        str(next(run)) for _, run in groupby(dominants, key=lambda symbol: symbol.root)
    ]
    text = f"a chain of dominants ({' '.join(links)}): each leads to the next"
    last = dominants[-1].root
    if last is not None and (last.pitch_class - home.tonic.pitch_class) % 12 in (1, 7):
        return f"{text}, the last one home to {home.tonic}"
    return text


def _in_order(centres: Sequence[KeyCentre]) -> list[Key]:
    return [key for key, _ in groupby(centre.key for centre in centres)]


def _way(keys: Sequence[Key]) -> str:
    """Say how keys follow one another: ``from F major to C major``."""
    names = [str(key) for key in keys]
    once = list(dict.fromkeys(names))
    if len(names) == 2:
        return f"from {names[0]} to {names[1]}"
    if len(names) == len(once):
        return f"through {listed(names)}"
    if len(names) == 3 and names[0] == names[-1]:
        return f"from {names[0]} to {names[1]} and back"
    if names[0] == names[-1] and len(once) == len(names) - 1:
        return f"through {listed(once)} and back to {names[0]}"
    if len(once) == 2:
        return f"back and forth between {listed(once)}"
    return f"through {listed(once)}, not only once"


def _sections(form: Form, places: Sequence[int]) -> tuple[str, bool]:
    """Name sections by label, and turn if not all of a label are meant; say if several."""
    every = [section.label for section in form.sections]
    names: dict[str, None] = {}
    for place in places:
        label = every[place]
        whole = all(k in places for k, other in enumerate(every) if other == label)
        turn = "" if whole else f" ({ordinal(form.occurrence(place))} time)"
        names[f"{label}{turn}"] = None
    several = len(names) > 1
    return f"section{'s' if several else ''} {listed(list(names))}", several


def _has_harmony(played: Tune) -> bool:
    return any(event.symbol.notes for bar in played.bars for event in bar.chords)


def _of_the_melody(played: Tune) -> Iterator[str]:
    if not _melody_agrees(played):
        return
    runs = [
        (key, next(iter(bars)).number)
        for key, bars in groupby(played.bars, key=lambda bar: bar.key)
    ]
    first, *others = runs
    if not others:
        yield f"The tune is in {first[0]}."
        return
    moves = [f"{key} in bar {number}" for key, number in others]
    yield f"The tune begins in {first[0]} and changes to {listed(moves)}."


def _melody_agrees(played: Tune) -> bool:
    """Whether the melody ends on the tonic of its signature, or its notes make that key.

    A declared church mode is believed: nobody writes one by default.
    """
    notes = list(sounding(played.bars))
    if not notes:
        return False
    key = played.bars[-1].key
    if key.mode not in _PLAIN_MODES:
        return True
    last = notes[-1].pitch.midi % 12
    weights = [0.0] * 12
    for note in notes:
        weights[note.pitch.midi % 12] += float(note.duration)
    # The third says which mode it is, the last note which tonic.
    if last == key.tonic.pitch_class and weights[key.scale[2].pitch_class]:
        return True
    if max(weights) <= min(weights):
        return False
    guess = find_key(weights, last=last)
    same = (guess.key.fifths - key.fifths) % 12 == 0 and guess.key.is_minor == key.is_minor
    return same and guess.lead >= _LEAST_LEAD
