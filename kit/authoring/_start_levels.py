"""Which levels does a new lesson begin with: tempo, route, drafted edits?"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import sqrt
from typing import Literal

from kit.band.choice import tempi_in
from kit.band.feel import load_feel
from kit.form.sections import Form
from kit.instruments.table import instrument
from kit.lesson.settings import DEFAULT_INSTRUMENTS
from kit.levels.draft import draft_edits
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits
from kit.levels.idioms import Idiom, idiom_of
from kit.levels.wishes import Terms
from kit.tune.model import Tune

__all__ = ["StartLevel", "start_levels"]

_TAG_FROM_BARS = 8
"""A shorter tune is over before a tag could be heard as one."""
_TAG_BARS = 2
_HEAD = '{ play = "head" }'
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
    idiom : Idiom
        What kind of tune it is.
    """

    name: LevelName
    title: str
    tempo: int
    route: tuple[str, ...]
    head: Tune
    idiom: Idiom
    below: str = ""
    edits: tuple[Edit, ...] = ()

    @property
    def goal(self) -> str:
        """What its tempo is, as a clause behind the figure; empty below the last level."""
        clause = self.idiom.goal if self.name == "advanced" else ""
        return f", {clause}" if clause else ""

    @property
    def takes_solo(self) -> bool:
        """Whether a chorus is improvised: the idiom knows it, and there are changes."""
        return self.idiom.solo and any(bar.chords for bar in self.head.bars)

    @property
    def file(self) -> str:
        """Where its edit list is, empty if it has none."""
        return f"levels/{self.name}.toml" if self.below else ""

    @property
    def solo_file(self) -> str:
        """Where a sample solo is drafted, empty where there is nothing to solo over."""
        if not self.below or not self.takes_solo:
            return ""
        return f"levels/{self.name}-solo-draft.musicxml"


def start_levels(
    tune: Tune, form: Form, *, say: Callable[[str], None], feel: str = ""
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
    feel : str
        How the band plays it; where the file gives no tempo the levels go by its tempi.
    """
    return tuple(_levels(tune, form, say, feel))


def _tempi(tune: Tune, idiom: Idiom, feel: str) -> tuple[int, int, int]:
    """Give the levels' tempi: those of the kind of tune, as far as they suit the feel."""
    ladder = idiom.ladder(tune)
    usual = tempi_in(load_feel(feel), tune.meter) if feel else None
    factor = 1.0
    if usual and tune.tempo_qpm is None and not usual[0] <= ladder[-1] <= usual[1]:
        # As far from its slowest tempo as from its fastest, in proportion.
        factor = sqrt(usual[0] * usual[1]) / ladder[-1]
    slow, middle, fast = (round(max(20.0, tempo * factor)) for tempo in ladder)
    return slow, middle, fast


def _levels(
    tune: Tune, form: Form, say: Callable[[str], None], feel: str
) -> Iterator[StartLevel]:
    idiom = idiom_of(tune)
    slow, middle, fast = _tempi(tune, idiom, feel)
    players = [instrument(slug) for slug in DEFAULT_INSTRUMENTS]
    first = StartLevel("beginner", "Beginner", slow, (_HEAD,), tune, idiom)
    route = _route(first, form)
    yield first
    head = tune
    pulse = float(tune.meter.pulse)
    tempi = ((slow, middle), (middle, fast))
    for (below, name), (slower, tempo) in zip(_DRAFTED, tempi, strict=True):
        say(f"Drafting the {name} level")
        edits = draft_edits(
            head,
            form,
            level=name,
            instruments=players,
            terms=Terms(
                idiom,
                fast * pulse,
                below=head,
                played_qpm=(slower * pulse, tempo * pulse),
            ),
        )
        head = apply_edits(head, edits)
        title = name.capitalize()
        yield StartLevel(name, title, tempo, route, head, idiom, below, edits)


def _route(plain: StartLevel, form: Form) -> tuple[str, ...]:
    """Lay out what is played: the tune, a solo where one is taken, and the tune again."""
    out = _HEAD
    if plain.idiom.tag > 1 and form.bar_count >= _TAG_FROM_BARS:
        times = plain.idiom.tag
        out = f'{{ play = "head", tag = {{ bars = {_TAG_BARS}, times = {times} }} }}'
    return (_HEAD, '{ play = "solo" }', out) if plain.takes_solo else (_HEAD, out)
