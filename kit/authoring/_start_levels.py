"""Which levels does a new lesson begin with: tempo, route, drafted edits?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from kit.form.sections import Form
from kit.levels.draft import draft_edits
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits
from kit.tune.model import Tune

__all__ = ["StartLevel", "start_levels"]

_DEFAULT_TEMPO = 100.0
_TEMPO_RISE = {"beginner": 1.0, "intermediate": 1.1, "advanced": 1.4}
_BEATS = (20.0, 400.0)
_QUARTERS = (10.0, 999.0)
"""What lesson.toml allows in felt beats a minute, and the band in quarter notes."""
_TAG_FROM_BARS = 8
"""A shorter tune is over before a tag could be heard as one."""
LevelName = Literal["beginner", "intermediate", "advanced"]
_DRAFTED: tuple[tuple[LevelName, Literal["intermediate", "advanced"]], ...] = (
    ("beginner", "intermediate"),
    ("intermediate", "advanced"),
)


@dataclass(frozen=True, slots=True)
class StartLevel:
    """A level to begin with.

    Parameters
    ----------
    name, title : str
        As in lesson.toml.
    tempo : int
        Felt beats a minute.
    route : tuple of str
        Rows of the route, as TOML.
    head : Tune
        Its melody with the drafted edits in.
    below : str
        The level that its edits start from and it is compared with, empty for the first.
    edits : tuple of Edit
        The draft.
    """

    name: LevelName
    title: str
    tempo: int
    route: tuple[str, ...]
    head: Tune
    below: str = ""
    edits: tuple[Edit, ...] = ()

    @property
    def file(self) -> str:
        """Where its edit list is, empty if it has none."""
        return f"levels/{self.name}.toml" if self.below else ""

    @property
    def solo_file(self) -> str:
        """Where a sample solo is drafted, empty where there is nothing to solo over."""
        if not self.below or not any(bar.chords for bar in self.head.bars):
            return ""
        return f"levels/{self.name}-solo-draft.musicxml"


def start_levels(
    tune: Tune, form: Form, *, say: Callable[[str], None]
) -> tuple[StartLevel, ...]:
    """Draft three levels of a tune.

    Parameters
    ----------
    tune : Tune
        As written, at concert pitch.
    form : Form
        Its sections.
    say : callable
        Told what is being done, in words.
    """
    return tuple(_levels(tune, form, say))


def _levels(tune: Tune, form: Form, say: Callable[[str], None]) -> Iterator[StartLevel]:
    whole = ('{ play = "head" }',)
    out = '{ play = "head" }'
    if form.bar_count >= _TAG_FROM_BARS:
        out = '{ play = "head", tag = { bars = 2, times = 3 } }'
    solo = (*whole, '{ play = "solo" }', out)
    yield StartLevel("beginner", "Beginner", _tempo(tune, "beginner"), whole, tune)
    head = tune
    for below, name in _DRAFTED:
        say(f"Drafting the {name} level")
        edits = tuple(draft_edits(head, form, level=name))
        head = apply_edits(head, edits)
        tempo = _tempo(tune, name)
        yield StartLevel(name, name.capitalize(), tempo, solo, head, below, edits)


def _tempo(tune: Tune, level: str) -> int:
    """Give a tempo in felt beats a minute, within what the kit can play."""
    pulse = float(tune.meter.pulse)
    beats = (tune.tempo_qpm / pulse if tune.tempo_qpm else _DEFAULT_TEMPO) * _TEMPO_RISE[
        level
    ]
    slowest = max(_BEATS[0], _QUARTERS[0] / pulse)
    fastest = min(_BEATS[1], _QUARTERS[1] / pulse)
    return round(min(max(beats, slowest), fastest))
