"""Which bars does an ABC tune have, and what stands in which of them?

`AbcBars` fills one bar draft after the other: it closes a bar where a bar line, an ending
or a label parts the music, and moves what stands at its edge to the bar it belongs to.

Source: ABC standard 2.1, sections 4.8 to 4.10.
"""

from __future__ import annotations

from kit.tune._bar_draft import BarDraft, WordDraft, WordKind
from kit.tune._notices import Notices
from kit.tune._validate import MAX_BARS, too_many_bars
from kit.tune.model import Jump, Meter
from kit.tune.pitch import Key
from kit.tune.source_text import printable

__all__ = ["AbcBars"]


class AbcBars:
    """Bars closed so far (`closed`), and the one being filled (`open`).

    Parameters
    ----------
    meter : Meter or None
        Of new bars; None is free meter.
    key : Key
        Of new bars.
    notices : Notices
        Where what cannot be kept is said.
    """

    def __init__(self, meter: Meter | None, key: Key, notices: Notices) -> None:
        self.meter = meter
        self.key = key
        self.closed: list[BarDraft] = []
        self.open = BarDraft(meter, key)
        self._notices = notices
        self._endings: tuple[int, ...] = ()
        self._passage_times = 2

    @property
    def place(self) -> int:
        """Where the next thing stands: behind so many notes and rests of the open bar."""
        return len(self.open.notes)

    def change_meter(self, meter: Meter | None) -> None:
        """Count in another meter, from the next bar on if this one has begun."""
        self.meter = meter
        if not self.open.notes:
            self.open.meter = meter

    def change_key(self, key: Key) -> None:
        """Write in another key, from the next bar on if this one has begun."""
        self.key = key
        if not self.open.notes:
            self.open.key = key

    def add_word(self, text: str, kind: WordKind, tempo_qpm: float | None = None) -> None:
        """Put words where the next note stands."""
        self.open.words.append(WordDraft(self.place, text, kind, tempo_qpm))

    def add_jump(self, jump: Jump) -> None:
        """Put a sign or an instruction of the route where the next note stands."""
        self.open.jumps.append((self.place, jump))

    def close(self) -> None:
        """End the open bar and begin the next.

        Raises
        ------
        NotationError
            If there are too many bars.
        """
        if len(self.closed) >= MAX_BARS:
            raise too_many_bars()
        closed, following = self.open, BarDraft(self.meter, self.key)
        count = len(closed.notes)
        # What stands behind the last note belongs above the next bar's first.
        following.chords = [(0, text) for at, text in closed.chords if at >= count]
        following.words = [word.at(0) for word in closed.words if word.position >= count]
        closed.chords = [item for item in closed.chords if item[0] < count]
        closed.words = [word for word in closed.words if word.position < count]
        following.endings = self._endings
        self.closed.append(closed)
        self.open = following

    def part(self) -> None:
        """End the open bar if anything has sounded in it."""
        if self.open.notes:
            self.close()

    def start_line(self) -> bool:
        """Begin a line of text; say whether the bar line before it was missing."""
        bar = self.open
        is_full = bar.meter is not None and bar.length == bar.meter.bar_length
        was_missing = bool(bar.notes) and is_full
        if was_missing:
            # Some collections leave out the bar line where the line of text ends.
            self._notices.say("Bar lines that are missing at the ends of lines were added.")
            self.close()
        if not self.open.notes and self.closed:
            self.open.line_break = True
        return was_missing

    def read_bar_line(self, sign: str) -> None:
        """End a bar with a bar line and what it says about repeats."""
        closing, opening = _closing_and_opening(sign)
        style = sign.strip(":")
        if self.open.notes:
            self.close()
        else:
            self._hand_back_instructions()
        if self.closed:
            last = self.closed[-1]
            if closing:
                last.repeat_times = max(closing + 1, self._passage_times)
                self._passage_times = 2
            elif style != "|" and not (opening or last.repeat_times):
                # In ABC |] is thin and thick, || thin and thin.
                last.barline = "final" if "]" in style else "double"
        # A plain bar line does not end an ending; repeats and double bars do.
        if closing or opening or style != "|":
            self._endings = self.open.endings = ()
        if opening:
            self.open.repeat_start = True
            self._passage_times = opening + 1

    def start_ending(self, text: str) -> None:
        """Begin an ending, such as ``1`` or ``1,3``."""
        passes = _passes_of(text)
        if not passes:
            self._notices.left_out(f'the ending "{printable(text, 20)}"')
            return
        self.part()  # an ending may begin within a bar
        self._endings = self.open.endings = passes

    def finish(self) -> list[BarDraft]:
        """Give all bars, the last one closed."""
        self.part()
        self._hand_back_instructions()
        return self.closed

    def _hand_back_instructions(self) -> None:
        """Give what stands alone between two bar lines to the bar that it ends."""
        if self.closed:
            signs = [item for item in self.open.jumps if item[1] in ("segno", "coda")]
            orders = [item for item in self.open.jumps if item not in signs]
            self.closed[-1].jumps += [(0, jump) for _, jump in orders]
            self.open.jumps = signs


def _closing_and_opening(sign: str) -> tuple[int, int]:
    """Count the colons before and behind the bar line: closing and opening repeats."""
    if set(sign) == {":"}:
        return (len(sign) + 1) // 2, (len(sign) + 1) // 2
    return len(sign) - len(sign.lstrip(":")), len(sign) - len(sign.rstrip(":"))


def _passes_of(text: str) -> tuple[int, ...]:
    """Read ``1``, ``1,3`` or ``1-3``; nothing if it is a text."""
    passes: list[int] = []
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        ends = (first, last) if dash else (first,)
        if not all(end.isdecimal() and len(end) < 3 for end in ends):
            return ()
        passes.extend(range(int(first), int(last or first) + 1))
    return tuple(dict.fromkeys(p for p in passes if p))
