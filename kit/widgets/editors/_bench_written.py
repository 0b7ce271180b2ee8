"""What is typed in a player's key, as the level file wants it: at concert pitch.

A level file holds concert pitch. An instrument's staff shows written pitch, and what is
typed beside it (a pitch, a chord) is meant as it is read there.
"""

from __future__ import annotations

from dataclasses import replace

from kit.errors import LevelError
from kit.levels.edit import Edit
from kit.levels.steps import plain, plain_name
from kit.tune.chord import ChordSymbol
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Interval, Pitch

__all__ = ["concert_edit", "written_text"]

_PITCHES = ("pitch", "note")


def concert_edit(edit: Edit, written_above_concert: Interval) -> Edit:
    """Turn the text of an edit from written into concert pitch.

    Parameters
    ----------
    edit : Edit
        Its option ``to`` as typed; edits without one stay as they are.
    written_above_concert : Interval
        From concert to written pitch at this bar.

    Raises
    ------
    LevelError
        If the text is no pitch or no chord.
    """
    text = edit.option("to")
    if not isinstance(text, str) or edit.do not in (*_PITCHES, "chord"):
        return edit
    down = -written_above_concert
    try:
        said = (
            str(plain(Pitch.parse(text) + down))
            if edit.do in _PITCHES
            else str(_plain_chord(parse_chord(text), down))
        )
    except ValueError as error:
        raise LevelError(
            str(error),
            bar=edit.bar,
            remedy="write a pitch such as B♭4" if edit.do in _PITCHES
            else "write a chord such as Dm7♭5",
        ) from error  # fmt: skip
    options = tuple((k, said if k == "to" else v) for k, v in edit.options)
    return replace(edit, options=options)


def written_text(do: str, text: str, written_above_concert: Interval) -> str:
    """Give the concert pitch or chord an edit begins with as the instrument reads it."""
    if do in _PITCHES:
        return str(plain(Pitch.parse(text) + written_above_concert))
    return str(_plain_chord(parse_chord(text), written_above_concert))


def _plain_chord(symbol: ChordSymbol, down: Interval) -> ChordSymbol:
    moved = symbol + down
    if moved.root is None:
        return moved
    bass = plain_name(moved.bass) if moved.bass is not None else None
    return replace(moved, root=plain_name(moved.root), bass=bass)
