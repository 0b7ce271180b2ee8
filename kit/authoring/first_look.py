"""What does a notation file hold, before a lesson is made of it?

The teacher confirms it: title, melody part, key, form, changes. Whatever the kit had to
guess or could not find is a *doubt*, a sentence each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from kit.form.find import find_form
from kit.form.harmony import mostly_sevenths
from kit.form.sections import Form
from kit.form.wording import counted
from kit.tune.model import Tune
from kit.tune.read import read_tune
from kit.tune.source_text import printable
from kit.tune.unfold import unfolded

__all__ = ["FirstLook", "first_look"]

MAX_TITLE_CHARS = 200

# Words on the page that say how the tune is played, and the feel that does it.
_FEEL_WORDS = (
    ("bossa", "bossa-nova"),
    ("shuffle", "shuffle-blues"),
    ("ballad", "ballad"),
    ("swing", "medium-swing"),
)


@dataclass(frozen=True, slots=True)
class FirstLook:
    """A tune as read, and what is doubtful about it.

    `played` is the tune with its repeats written out, `feel` one of `kit.band.feel_names`.
    """

    title: str
    tune: Tune
    played: Tune
    form: Form
    feel: str
    doubts: tuple[str, ...]

    @property
    def chord_count(self) -> int:
        """Number of chord symbols as written."""
        return sum(len(bar.chords) for bar in self.tune.bars)

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """What there is to confirm, as name and words."""
        bars = sum(not bar.pickup for bar in self.tune.bars)
        pickup = ", with a pick-up" if self.tune.has_pickup else ""
        shown = " ".join(
            f"{s.label} ({counted(s.bar_count, 'bar')})," for s in self.form.sections
        )
        marked = self.form.source == "marks"
        known = "as marked in the file" if marked else "found from the music"
        return (
            ("Melody", self.tune.part_name or "the only part"),
            ("Concert key", str(self.tune.key)),
            ("Meter", f"{self.tune.meter}, {counted(bars, 'bar')}{pickup}"),
            ("Form", f"{self.form.pattern}: {shown.rstrip(',')}; {known}"),
            (
                "Changes",
                counted(self.chord_count, "chord symbol") if self.chord_count else "none",
            ),
            ("Feel", self.feel.replace("-", " ")),
        )


def first_look(file: Path, *, title: str = "", part: str | None = None) -> FirstLook:
    """Read a notation file and say what it holds.

    Parameters
    ----------
    file : Path
        MusicXML, ABC or MIDI.
    title : str
        The lesson's title; the file's own, or else the file's name, if empty.
    part : str, optional
        The melody part, if not the one that is chosen by itself.

    Raises
    ------
    NotationError
        If the file cannot be read.
    """
    tune = read_tune(file, name=file.name, part=part)
    played = unfolded(tune)
    form = find_form(played)
    # A title that was typed, and a file's name, may hold what no text can.
    own = printable(title or tune.title, MAX_TITLE_CHARS)
    stem = file.stem.replace("-", " ").replace("_", " ")
    named = own or printable(stem, MAX_TITLE_CHARS).title() or "Untitled"
    tune = replace(tune, title=named)
    doubts = _doubts(tune, form, titled=bool(own))
    return FirstLook(tune.title, tune, played, form, _feel(tune), doubts)


def _doubts(tune: Tune, form: Form, *, titled: bool) -> tuple[str, ...]:
    chords = any(bar.chords for bar in tune.bars)
    doubts = [
        "The file has no title; it is called after the file." if not titled else "",
        ""
        if form.source == "marks"
        else "The file marks no sections; the form was found from the music.",
        ""
        if chords
        else "The file has no chord symbols; without changes there are no backing chords "
        "and no advice for the solo.",
        "" if tune.tempo_qpm else "The file gives no tempo; 100 beats a minute is assumed.",
        *tune.notices,
    ]
    return tuple(doubt for doubt in doubts if doubt)


def _feel(tune: Tune) -> str:
    words = tune.feel.lower()
    for word, feel in _FEEL_WORDS:
        if word in words:
            return feel
    if tune.meter.is_compound:
        return "six-eight"
    if mostly_sevenths(tune):
        return "jazz-waltz" if tune.meter.beats == 3 else "medium-swing"
    return "straight-eighths"
