"""To which idiom does a tune belong, and what belongs to that idiom?

An idiom has a vocabulary of edits, a tempo for each level and a route of its own; they are
rows of `idioms.toml`.

Conventions
-----------
* What is said in words counts first: the rhythm or style field, words above the first bar,
  then the title. A word whose idiom is not written in the tune's meter is passed over.
* Without words the music decides: changes (sevenths, the stations of a blues), meter,
  running values, dotted pairs, tempo. What fits nothing is a `song`, whose vocabulary is
  careful.
* Tempi of the table are in the dance's own beats; `ladder` gives felt beats of the meter,
  as level files and lesson.toml have them: a reel's beat is half a bar, so that a reel in
  cut time counts as many half notes as one in 4/4 counts pairs of quarters.

Source: common practice; see the table.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from importlib.resources import files
from itertools import pairwise

from kit.form.harmony import is_dominant, mostly_sevenths
from kit.levels._music import Music
from kit.levels.rewrite import Sound
from kit.tune.chord import ChordSymbol
from kit.tune.model import Meter, Tune

__all__ = ["Idiom", "dotted_pairs", "idiom_named", "idiom_of", "idioms"]

_BALLAD_QPM = 84.0
"""No faster than this, a tune with sevenths is a ballad."""
_WALTZ_QPM = 120.0
_RUNNING_JIG = 0.68
_BRISK = 96
"""Felt beats a minute from which a sparse tune in 6/8 is walked, not sung."""
_FELT = (20.0, 400.0)
_QUARTERS = (10.0, 999.0)
"""What lesson.toml allows in felt beats a minute, and the band in quarter notes."""
_BLUES_BARS = 12
_NEVER_IN_TITLES = frozenset({"jazz", "song", "ballad"})
"""Their words are everyday words: a title that holds one says nothing of the music."""


@dataclass(frozen=True, slots=True)
class Idiom:
    """A row of the table; its fields are explained there."""

    name: str
    words: tuple[str, ...]
    tempo: float
    range: tuple[float, float]
    steps: tuple[float, float, float]
    tag: int
    edits: Mapping[str, float]
    goal: str = ""
    beats: int | None = None
    meters: tuple[str, ...] = ()
    solo: bool = False
    chromatic: bool = False
    lilt: bool = False
    _pattern: re.Pattern[str] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Prepare the search for its words."""
        one_of = "|".join(re.escape(word) for word in self.words)
        pattern = re.compile(rf"(?<!\w)(?:{one_of})s?(?!\w)", re.IGNORECASE)
        object.__setattr__(self, "_pattern", pattern)

    def named_in(self, text: str, meter: Meter) -> int:
        """Give the length of the longest of its words in a text, 0 if there is none."""
        if self.meters and str(meter) not in self.meters:
            return 0
        return max((len(found) for found in self._pattern.findall(text)), default=0)

    def ladder(self, tune: Tune) -> tuple[float, float, float]:
        """Give the tempi of the three levels, in felt beats of the tune's meter a minute.

        The file's own tempo is the advanced level's, as far as the idiom is played at it.
        """
        meter = tune.meter
        quarters = float(self.beat(meter))
        low, high = self.range
        own = self.tempo if not tune.tempo_qpm else tune.tempo_qpm / quarters
        goal = min(max(own, low), high)
        felt = quarters / float(meter.pulse)
        slowest = max(_FELT[0], _QUARTERS[0] / float(meter.pulse))
        fastest = min(_FELT[1], _QUARTERS[1] / float(meter.pulse))
        first, second, third = (
            min(max(goal * step * felt, slowest), fastest) for step in self.steps
        )
        return first, second, third

    def tempo_qpm(self, tune: Tune) -> float:
        """Give the tempo of its fastest level in quarter notes a minute."""
        return self.ladder(tune)[-1] * float(tune.meter.pulse)

    def beat(self, meter: Meter) -> Fraction:
        """Give the length of the beat in which its tempo is counted, in quarter notes."""
        if self.beats:
            return meter.bar_length / self.beats
        # Where single eighths are beaten (3/8, 5/8), two of them make a song's quarter.
        return max(meter.pulse, Fraction(1))


@cache
def idioms() -> Mapping[str, Idiom]:
    """Read the table, in its order."""
    text = files("kit.levels").joinpath("idioms.toml").read_text(encoding="utf-8")
    return {name: _idiom(name, row) for name, row in tomllib.loads(text).items()}


def _idiom(name: str, row: Mapping[str, object]) -> Idiom:
    lists = {key: tuple(value) for key, value in row.items() if isinstance(value, list)}
    return Idiom(name=name, **{**row, **lists})  # type: ignore[arg-type]


def idiom_named(name: str) -> Idiom:
    """Give the idiom of a name.

    Raises
    ------
    KeyError
        If there is none.
    """
    return idioms()[name]


def idiom_of(tune: Tune) -> Idiom:
    """Decide to which idiom a tune belongs.

    Parameters
    ----------
    tune : Tune
        As written, before any edit.
    """
    return _said(tune) or idiom_named(_by_the_music(tune))


def _said(tune: Tune) -> Idiom | None:
    """Find the idiom that words name, style before title."""
    words = " ".join(word.text for bar in tune.bars[:2] for word in bar.words)
    sevenths = mostly_sevenths(tune)
    for text, titled in ((f"{tune.feel} {words}", False), (tune.title, True)):
        every = [
            idiom
            for idiom in idioms().values()
            if not titled or idiom.name not in _NEVER_IN_TITLES
        ]
        found = max(every, key=lambda idiom: idiom.named_in(text, tune.meter))
        if not found.named_in(text, tune.meter):
            continue
        if sevenths and found.name in ("waltz", "song", "march", "polka"):
            # A jazz waltz is jazz: its changes say so.
            return idiom_named("jazz")
        if titled and found.name == "blues" and not sevenths:
            continue
        return found
    return None


def _by_the_music(tune: Tune) -> str:
    if mostly_sevenths(tune):
        if _is_blues(tune):
            return "blues"
        slow = tune.tempo_qpm is not None and tune.tempo_qpm <= _BALLAD_QPM
        return "ballad" if slow else "jazz"
    music = Music.of(tune)
    sounds = music.sounds
    meter = tune.meter
    if meter.is_compound:
        return _compound(tune, _density(tune, sounds))
    if meter.pulses == 3:
        return _in_three(tune, sounds)
    return _in_two_or_four(music)


def _density(tune: Tune, sounds: Sequence[Sound]) -> float:
    """Give the notes in a full bar, on average over the bars' length."""
    length = sum((bar.length for bar in tune.bars), Fraction(0))
    return len(sounds) * float(tune.meter.bar_length / length) if length else 0.0


def _compound(tune: Tune, density: float) -> str:
    meter = tune.meter
    # A jig runs in eighths: five or six of them in most bars, of six; a song has fewer.
    if density / meter.beats >= _RUNNING_JIG and meter.beats in (6, 9):
        return "jig" if meter.beats == 6 else "slip jig"
    brisk = tune.tempo_qpm is not None and tune.tempo_qpm >= _BRISK * meter.pulse
    return "march" if brisk and meter.beats == 6 else "air"


def _in_three(tune: Tune, sounds: Sequence[Sound]) -> str:
    if tune.tempo_qpm is not None:
        return "waltz" if tune.tempo_qpm >= _WALTZ_QPM else "air"
    chords = sum(len(bar.chords) for bar in tune.bars)
    if chords > 1.5 * len(tune.bars):
        return "hymn"
    if chords and _density(tune, sounds) <= 3.5 * float(tune.meter.bar_length) / 3:
        return "waltz"
    return "air"


def _in_two_or_four(music: Music) -> str:
    tune, sounds = music.tune, music.sounds
    if not sounds:
        return "song"
    if tune.meter.beat_type <= 2 and tune.meter.beats > 2:
        return "hymn"  # 4/2 and 3/2 are a hymn book's
    density = _density(tune, sounds)
    dotted = sum(1 for _ in dotted_pairs(music)) * 2 / len(sounds)
    # Eight running notes fill a bar of a reel, eighths in 4/4, sixteenths in 2/4.
    if density >= 6.5:
        return "hornpipe" if dotted >= 0.3 else "reel"
    if dotted >= 0.25 and density >= 2.7:
        return "march"
    chords = sum(len(bar.chords) for bar in tune.bars)
    slow = tune.tempo_qpm is None or tune.tempo_qpm <= 100
    if slow and chords > 1.4 * len(tune.bars) and density <= 4.5:
        return "hymn"
    return "song" if chords else "air"


def dotted_pairs(music: Music) -> Iterator[tuple[Sound, Sound]]:
    """Yield neighbours of which one is three times or twice as long, within a quarter.

    Both orders count: the strathspey's snap is short before long.
    """
    index = 0
    for one, other in pairwise(music.sounds):
        while one.start >= music.starts[index + 1]:
            index += 1
        bar = music.tune.bars[index]
        lead = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
        whole = one.duration + other.duration
        onset = one.start - music.starts[index] + lead
        if one.end != other.start or whole > 1 or onset % whole:
            continue
        longer, shorter = (
            max(one.duration, other.duration),
            min(one.duration, other.duration),
        )
        if longer in (3 * shorter, 2 * shorter):
            yield one, other


def _is_blues(tune: Tune) -> bool:
    """Whether the tonic holds the first bar and the fourth step the fifth, of twelve."""
    bars = [bar for bar in tune.bars if not bar.pickup]
    if len(bars) % _BLUES_BARS:
        return False
    chords = [
        events[0].symbol if events else None
        for bar, events in zip(tune.bars, tune.all_chords_in_force(), strict=True)
        if not bar.pickup
    ]
    home = tune.key.tonic.pitch_class
    first, fifth = chords[0], chords[4]
    return _stands_on(first, home) and _stands_on(fifth, home + 5) and _has_seventh(first)


def _stands_on(symbol: ChordSymbol | None, pitch_class: int) -> bool:
    return (
        symbol is not None
        and symbol.root is not None
        and symbol.root.pitch_class == pitch_class % 12
    )


def _has_seventh(symbol: ChordSymbol | None) -> bool:
    return symbol is not None and (is_dominant(symbol) or symbol.kind == "minor-seventh")
