"""Which changes are proposed, what else was weighed, and are they the teacher's by now?

One select box for a bar or half a bar, at concert pitch: the chord that stands there, and
all others with what speaks against each. While the lesson says that its changes are
proposed, choosing another one writes it into the tune, and a button takes the mark away.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kit.accompany.proposal import PROPOSED
from kit.authoring.proposed import SlotNow, accept_changes, slots_now, take_chord
from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.widgets._panel import panel_template
from kit.widgets.desk._lesson_panel import LessonPanel

__all__ = ["ProposedChangesView", "proposed_changes"]

_BARS_PER_LINE = 4
_STATED = "Handouts and pages say so."
_OWN = "The lesson's changes are its own; this is only what the kit would propose."


def proposed_changes(lesson: Lesson) -> ProposedChangesView:
    """Show the changes proposed for a tune, with all that was weighed against them.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    """
    return ProposedChangesView(lesson)


class ProposedChangesView(LessonPanel):
    """The changes proposed for one lesson.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    """

    def __init__(self, lesson: Lesson) -> None:
        super().__init__(lesson, "Proposed changes", "changes")

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:  # noqa: ARG002
        """Take another chord, or accept them all.

        Raises
        ------
        KitError
            If the chord cannot be written or the mark not be taken out, or a level does not
            fit the new chord.
        """
        if name == "chord":
            place = values.get("place", "")
            if not place.isdecimal():
                raise LessonError("no bar is chosen", remedy="choose a chord in a bar")
            try:
                take_chord(self.lesson, int(place), values.get(f"slot-{place}", ""))
            finally:
                self.fill(changes=self.shown_html())
            self.tell("The chord is written.")
            for level in self.lesson.level_names:
                # Edits of the changes may need the chord that was there: told at once.
                self.lesson.level(level)
        elif name == "accept":
            accept_changes(self.lesson)
            self.tell("The changes are yours now.")

    def static_html(self) -> str:
        """Show the chords as a table, without what was rejected."""
        return panel_template("proposed_static", **self._facts())

    def static_words(self) -> str:
        """Say the chords bar by bar."""
        said = (f"{slot['words']}: {slot['now']}." for slot in self._slots())
        return "\n".join([f"Proposed changes: {self.lesson.title}.", *said])

    def shown_html(self) -> str:
        """Show what the lesson says now."""
        return panel_template("proposed_changes", **self._facts())

    def _facts(self) -> dict[str, Any]:
        slots = self._slots()
        bars: dict[int, list[dict[str, Any]]] = {}
        for slot in slots:
            bars.setdefault(slot["bar"], []).append(slot)
        cells = list(bars.values())
        proposed = self.lesson.settings.changes_proposed
        return {
            "title": self.lesson.title,
            "key": str(self.lesson.tune.key),
            "proposed": proposed,
            "note": f"{PROPOSED} {_STATED}" if proposed else _OWN,
            "lines": [
                cells[i : i + _BARS_PER_LINE] for i in range(0, len(cells), _BARS_PER_LINE)
            ],
        }

    def _slots(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        for place, slot in enumerate(slots_now(self.lesson)):
            proposed = slot.proposed
            second = proposed.onset > 0
            where = f"bar {proposed.number}" + (", second half" if second else "")
            found.append(
                {
                    "place": place,
                    "bar": proposed.bar,
                    "number": proposed.number,
                    "words": where[:1].upper() + where[1:],
                    "now": str(slot.symbol) if slot.symbol else "no chord",
                    "known": _is_known(slot),
                    "choices": [
                        {
                            "numeral": chord.numeral,
                            "text": f"{chord.symbol} ({chord.numeral})",
                            "reason": chord.reason,
                            "chosen": chord.symbol == slot.symbol,
                        }
                        for chord in slot.choices
                    ],
                    "why": proposed.chosen.reason,
                }
            )
        return found


def _is_known(slot: SlotNow) -> bool:
    return any(chord.symbol == slot.symbol for chord in slot.choices)
