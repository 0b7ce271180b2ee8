"""What does a notation file hold, before a lesson is made of it?

The teacher confirms it: title, melody part, key, form, changes. Whatever the kit had to
guess or could not find is a *doubt*, a sentence each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from kit.accompany.proposal import PROPOSED, propose_changes
from kit.band.choice import feel_for
from kit.band.feel import feel_names, load_feel
from kit.errors import LessonError, NotationError
from kit.form.find import Proposal, form_proposals
from kit.form.harmony import mostly_sevenths
from kit.form.sections import Form
from kit.form.wording import counted
from kit.levels.idioms import idiom_of
from kit.tune.model import Tune
from kit.tune.read import read_tune
from kit.tune.source_text import printable
from kit.tune.tune_book import tunes_in
from kit.tune.unfold import unfolded

__all__ = [
    "PLAIN_CHOICE",
    "FirstLook",
    "TuneChoice",
    "can_keep_uneven",
    "first_look",
]

MAX_TITLE_CHARS = 200
_LISTED_AT_MOST = 20

# The blues is shuffled where somebody says so; its changes alone do not say it.
_SAY_NOTHING = frozenset({"jazz", "blues"})


@dataclass(frozen=True, slots=True)
class TuneChoice:
    """What a teacher has chosen of a file, where the file leaves a choice.

    `part` is the melody part of a score, `number` that of a tune in a book; without them
    the reader decides. With `keep_uneven` a bar that does not add up is given the meter
    that it fills. With `propose_changes` a melody without chord symbols is given some,
    with `file_letters` the form is what the file's letters say, even where they only count.
    `feel` is one of `kit.band.feel.feel_names`, or empty for the one that fits the file.
    """

    part: str | None = None
    number: int | None = None
    keep_uneven: bool = False
    propose_changes: bool = False
    file_letters: bool = False
    feel: str = ""


PLAIN_CHOICE = TuneChoice()
"""What the file says, as strictly as it can be read."""


@dataclass(frozen=True, slots=True)
class FirstLook:
    """A tune as read, and what is doubtful about it.

    `played` is the tune with its repeats written out, `proposals` the forms that it may
    have, `form` the one that was taken, `feel` one of `kit.band.feel.feel_names`.
    """

    choice: TuneChoice
    title: str
    tune: Tune
    played: Tune
    form: Form
    proposals: tuple[Proposal, ...]
    feel: str
    doubts: tuple[str, ...]

    @property
    def chord_count(self) -> int:
        """Number of chord symbols as written."""
        return sum(len(bar.chords) for bar in self.tune.bars)

    @property
    def has_own_changes(self) -> bool:
        """Whether the file itself has chord symbols."""
        return bool(self.chord_count) and not self.choice.propose_changes

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
            ("Changes", self._changes_words),
            ("Kind of tune", idiom_of(self.tune).name),
            ("Feel", load_feel(self.feel).title),
        )

    @property
    def _changes_words(self) -> str:
        if not self.chord_count:
            return "none"
        proposed = ", proposed" if self.choice.propose_changes else ""
        return counted(self.chord_count, "chord symbol") + proposed


def first_look(
    file: Path, *, title: str = "", choice: TuneChoice = PLAIN_CHOICE
) -> FirstLook:
    """Read a notation file and say what it holds.

    Parameters
    ----------
    file : Path
        Of any notation that `kit.tune.read` reads.
    title : str
        The lesson's title; the file's own, or else the file's name, if empty.
    choice : TuneChoice
        The part, the tune of a book, whether uneven bars are kept, whether changes are
        proposed, and the feel.

    Raises
    ------
    NotationError
        If the file cannot be read, or is a book and no tune of it is chosen, or changes
        shall be proposed and it has its own; an `UnevenBarError` if a bar does not add up.
    LessonError
        If a feel is chosen that there is not.
    """
    if choice.feel and choice.feel not in feel_names():
        raise LessonError(
            f'there is no feel "{choice.feel}"',
            remedy=f"choose from {', '.join(feel_names())}",
        )
    _require_one_tune(file, choice.number)
    tune = _read(file, choice)
    # Of the melody alone: what is proposed follows from it and is no evidence of its own.
    proposals = form_proposals(unfolded(tune))
    form = proposals[-1 if choice.file_letters else 0].form
    if choice.propose_changes:
        tune = _with_proposed_changes(tune, file)
    played = unfolded(tune)
    # A title that was typed, and a file's name, may hold what no text can.
    own = printable(title or tune.title, MAX_TITLE_CHARS)
    stem = file.stem.replace("-", " ").replace("_", " ")
    named = own or printable(stem, MAX_TITLE_CHARS).title() or "Untitled"
    tune = replace(tune, title=named)
    doubts = _doubts(tune, proposals, titled=bool(own), proposed=choice.propose_changes)
    feel = choice.feel or _proposed_feel(tune)
    return FirstLook(choice, tune.title, tune, played, form, proposals, feel, doubts)


def can_keep_uneven(file: Path, choice: TuneChoice) -> bool:
    """Say whether a tune refused for an uneven bar can be read with such bars kept.

    Not every sum of notes fills a meter, and something else may be wrong as well.
    """
    try:
        _read(file, replace(choice, keep_uneven=True))
    except NotationError:
        return False
    return True


def _read(file: Path, choice: TuneChoice) -> Tune:
    return read_tune(
        file,
        name=file.name,
        part=choice.part,
        tune_number=choice.number,
        keep_uneven=choice.keep_uneven,
    )


def _with_proposed_changes(tune: Tune, file: Path) -> Tune:
    if any(bar.chords for bar in tune.bars):
        raise NotationError(
            "the tune has changes of its own, so none are proposed",
            file=file.name,
            remedy="start the lesson without proposed changes",
        )
    return propose_changes(tune).with_changes()


def _require_one_tune(file: Path, tune_number: int | None) -> None:
    """Refuse a book of which no tune is chosen, and a number where there is no book."""
    tunes = tunes_in(file)
    if tune_number is not None and not tunes:
        raise NotationError(
            "tunes have numbers (X:) in ABC files only, and this one has none",
            file=file.name,
            remedy="leave the number out",
        )
    if tune_number is not None or len(tunes) < 2:
        return
    named = [f'tune {one.number} is "{one.title}"' for one in tunes[:_LISTED_AT_MOST]]
    if len(tunes) > _LISTED_AT_MOST:
        named.append(f"it has {len(tunes) - _LISTED_AT_MOST} more")
    listed = [str(NotationError(one, file=file.name)) for one in named]
    raise NotationError(
        f"it is a book of {len(tunes)} tunes",
        file=file.name,
        remedy=f"say which one by its number, such as --tune {tunes[0].number}",
    ).with_more(tuple(listed))


def _doubts(
    tune: Tune, proposals: tuple[Proposal, ...], *, titled: bool, proposed: bool
) -> tuple[str, ...]:
    chords = any(bar.chords for bar in tune.bars)
    doubts = [
        "The file has no title; it is called after the file." if not titled else "",
        _form_doubt(proposals),
        ""
        if chords
        else "The file has no chord symbols; without changes there are no backing chords "
        "and no advice for the solo. They can be proposed.",
        PROPOSED if proposed else "",
        ""
        if tune.tempo_qpm
        else "The file gives no tempo; the levels get what is usual for its kind of tune.",
        *tune.notices,
    ]
    return tuple(doubt for doubt in doubts if doubt)


def _form_doubt(proposals: tuple[Proposal, ...]) -> str:
    if len(proposals) > 1:
        return proposals[0].reason
    if proposals[0].form.source == "marks":
        return ""
    return "The file marks no sections; the form was found from the music."


def _proposed_feel(tune: Tune) -> str:
    """Propose a feel by words on the page, then by the kind of tune, then by the meter."""
    words = " ".join(word.text for bar in tune.bars[:2] for word in bar.words)
    kind = idiom_of(tune).name
    return feel_for(
        [tune.feel, words, "" if kind in _SAY_NOTHING else kind],
        tune.meter,
        tempo_qpm=tune.tempo_qpm,
        sevenths=mostly_sevenths(tune),
    )
