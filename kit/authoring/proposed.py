"""Proposed changes in a teacher's hands: another chord is taken, or all are accepted.

A lesson that was started with proposed changes holds them in its tune, and ``changes =
"proposed"`` in lesson.toml. Another chord is written into the tune only while the file is
still the one that the kit wrote, sign for sign: what a notation program has saved since may
hold more than we would write. What was there before stays in the history.
"""

from __future__ import annotations

from dataclasses import dataclass

from kit.accompany.proposal import Proposal, ProposedChord, ProposedSlot, propose_changes
from kit.authoring._toml_edit import take_out
from kit.authoring.store import read_stored, write_stored
from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.read import read_tune

__all__ = ["SlotNow", "accept_changes", "slots_now", "take_chord"]

_SETTINGS = "lesson.toml"


@dataclass(frozen=True, slots=True)
class SlotNow:
    """A slot with the chord that the tune has there now, None before its first one."""

    proposed: ProposedSlot
    symbol: ChordSymbol | None

    @property
    def choices(self) -> tuple[ProposedChord, ...]:
        """What is proposed and all that was rejected, the nearest first."""
        return (self.proposed.chosen, *self.proposed.rejected)


def slots_now(lesson: Lesson) -> tuple[SlotNow, ...]:
    """Give for every slot of a lesson's tune what is proposed and what stands there."""
    return _slots_now(propose_changes(lesson.tune), lesson.tune)


def _slots_now(proposal: Proposal, tune: Tune) -> tuple[SlotNow, ...]:
    in_force = tune.all_chords_in_force()
    found = []
    for slot in proposal.slots:
        events = [e for e in in_force[slot.bar] if e.onset <= slot.onset]
        found.append(SlotNow(slot, events[-1].symbol if events else None))
    return tuple(found)


def take_chord(lesson: Lesson, place: int, numeral: str) -> None:
    """Write another of the chords weighed into the lesson's tune.

    Parameters
    ----------
    lesson : Lesson
        With proposed changes; it is read anew.
    place : int
        Which slot, counted from 0.
    numeral : str
        The chord's degree, as in its choices.

    Raises
    ------
    LessonError
        If the lesson's changes are not proposed, there is no such choice, or the tune is no
        longer as the kit wrote it.
    ConflictError
        If the tune is being changed at the same moment.
    """
    settings = lesson.settings
    if not settings.changes_proposed:
        raise LessonError(
            "the changes of this lesson are not proposed ones",
            file=settings.source,
            remedy="change them with kit.changes_editor(lesson) or in the notation",
        )
    stored = read_stored(lesson.folder, settings.tune)
    tune = read_tune(lesson.file(settings.tune), name=stored.label)
    if stored.data != _written(tune):
        raise LessonError(
            "the tune was saved by another program since its changes were proposed",
            file=stored.label,
            remedy="change the chord there, or with kit.changes_editor(lesson)",
        )
    proposal = propose_changes(tune)
    now = _slots_now(proposal, tune)
    wanted = [slot.symbol or slot.proposed.chosen.symbol for slot in now]
    wanted[place] = _chosen(now, place, numeral, settings.source)
    write_stored(stored, _written(proposal.with_changes(wanted)))
    lesson.reread()


def _chosen(now: tuple[SlotNow, ...], place: int, numeral: str, source: str) -> ChordSymbol:
    if 0 <= place < len(now):
        for chord in now[place].choices:
            if chord.numeral == numeral:
                return chord.symbol
    raise LessonError(f"there is no chord {numeral} to choose there", file=source)


def accept_changes(lesson: Lesson) -> None:
    """Take the mark out of lesson.toml: from now on the changes are the teacher's.

    Raises
    ------
    LessonError
        If the file cannot be changed in this place alone.
    """
    stored = read_stored(lesson.folder, _SETTINGS)
    write_stored(stored, take_out(stored.text, "changes", source=stored.label))
    lesson.reread()


def _written(tune: Tune) -> bytes:
    """Write a tune as a lesson is started with it."""
    return write_musicxml(tune, layout=Layout(bars_per_line=None)).encode()
