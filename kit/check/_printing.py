"""Has a font a sign for everything the lesson wants printed? If not: which sign, and where?

Handouts and cue cards are PDF that a screen reader can read (PDF/UA), and what no font on
the machine has cannot stand in one: an emoji in a title, a script of another part of the
world in a lyric. Pages are set by the reader's browser, so that what stands only there is
not looked at.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from kit.check._leaf import Leaf
from kit.check._notebook import Cell
from kit.check.finding import Finding
from kit.engrave.printed_signs import unprintable
from kit.lesson.lesson import Lesson
from kit.lesson.prose import Block, Run, parse_prose

__all__ = ["notation_signs", "prose_signs", "settings_signs"]

_REMEDY = "write it with other signs, or install a font that has this one"
_SHOWN_CHARS = 40


@dataclass(frozen=True, slots=True)
class _Words:
    """A text that is printed: what it is, and the finding to be made if it cannot be."""

    text: str
    what: str
    told: Finding


def settings_signs(lesson: Lesson) -> Iterator[Finding]:
    """Yield an error for each text of lesson.toml that cannot be printed or written."""
    settings = lesson.settings
    told = Finding("error", "", settings.source, remedy=_REMEDY, code="sign")
    texts = [
        ("the title", settings.title),
        ("the composer's name", settings.composer),
        ("the school's name", settings.school),
        ("the statement of rights", settings.rights.statement),
        *((f'the title of level "{x.name}"', x.title) for x in settings.levels),
        *(
            ("the name of an instrument", instrument.name)
            for instrument in settings.instruments
        ),
        *(("the label of a section", label) for label, _ in settings.sections),
        *(
            ("what is said in the recording", talk.say)
            for talk in (*settings.recording.talk, *settings.recording.close)
        ),
    ]
    words = [_Words(text, what, told) for what, text in texts]
    yield from _refused(words)
    printed = {text for _, text in texts}
    for text in _all_texts(settings):
        control = next((sign for sign in text if _is_control(sign)), None)
        if control is not None and text not in printed:
            yield replace(
                told,
                text=f'{_named(control)} in "{_shown(text)}" cannot stand in a page',
                remedy="take it out",
            )


def notation_signs(leaf: Leaf, known: set[str]) -> Iterator[Finding]:
    """Yield an error for each syllable, chord symbol or word that cannot be printed.

    Parameters
    ----------
    leaf : Leaf
        Bars of one file.
    known : set of str
        Texts looked at before, which this adds to: a level has most of them from the tune.
    """
    drawn: list[_Words] = []
    for index, bar in enumerate(leaf.tune.bars):
        texts = [
            *(("a syllable", text) for note in bar.notes for text in note.lyrics),
            *(("a chord symbol", str(event.symbol)) for event in bar.chords),
            *(("a chord symbol", event.symbol.text) for event in bar.chords),
            *(("the words", word.text) for word in bar.words),
            ("the name of the section", bar.section),
        ]
        told = leaf.finding("error", "sign", "", remedy=_REMEDY, bars=[index])
        drawn += [_Words(text, what, told) for what, text in texts if text not in known]
    known.update(words.text for words in drawn)
    yield from _refused(drawn, drawn=True)
    # What is said of chords and sections in the notes is set, not drawn.
    also_set = [words for words in drawn if words.what not in ("a syllable", "the words")]
    yield from _refused(also_set)


def prose_signs(cells: Sequence[Cell]) -> Iterator[Finding]:
    """Yield an error for each cell of prose that holds what cannot be printed."""
    words: list[_Words] = []
    for cell in cells:
        if cell.kind != "markdown" or not cell.is_printed:
            continue
        told = cell.finding("error", "sign", "", _REMEDY)
        text = "\n".join(_texts_of(parse_prose(cell.source)))
        if "page-only" in cell.tags.own:
            # A browser has a font for everything, but half a sign is none.
            text = "".join(sign for sign in text if "\ud800" <= sign <= "\udfff")
        words.append(_Words(text, "the prose", told))
    yield from _refused(words)


def _refused(words: Sequence[_Words], *, drawn: bool = False) -> Iterator[Finding]:
    refused = unprintable([one.text for one in words], drawn=drawn)
    told: set[str] = set()
    for one in words:
        if one.text not in refused or one.text in told:
            continue
        told.add(one.text)
        sign = refused[one.text]
        where = f'{one.what} "{_around(one.text, sign)}"'
        text = f"no font here can print {_named(sign)} in {where}"
        yield replace(one.told, text=text)


def _named(sign: str) -> str:
    """Name a sign, so that one that cannot be seen can be found."""
    first = sign[0]
    name = unicodedata.name(first, "").lower()
    number = f"U+{ord(first):04X}"
    seen = f'the sign "{sign}"' if all(map(str.isprintable, sign)) else "the sign"
    return f"{seen} ({name}, {number})" if name else f"{seen} {number}"


def _around(text: str, sign: str) -> str:
    """Give the words a sign stands in, cut where they are long."""
    place = text.find(sign)
    start = max(0, place - _SHOWN_CHARS // 2)
    cut = text[start : place + len(sign) + _SHOWN_CHARS // 2]
    return (
        ("…" if start else "") + _shown(cut) + ("…" if text.endswith(cut) is False else "")
    )


def _shown(text: str) -> str:
    short = text if len(text) <= 2 * _SHOWN_CHARS else f"{text[: 2 * _SHOWN_CHARS]}…"
    return "".join(sign if sign.isprintable() else " " for sign in short).strip()


def _is_control(sign: str) -> bool:
    return (
        unicodedata.category(sign) == "Cc" and sign not in "\n\t\r"
    ) or sign in "\ufffe\uffff"


def _all_texts(value: Any) -> Iterator[str]:
    """Yield every text in a record, however deep."""
    if isinstance(value, str):
        yield value
    elif is_dataclass(value):
        for entry in fields(value):
            yield from _all_texts(getattr(value, entry.name))
    elif isinstance(value, tuple | list):
        for item in value:
            yield from _all_texts(item)


def _texts_of(blocks: Iterable[Block]) -> Iterator[str]:
    """Yield what is printed of prose, a text for each run of one look."""
    for block in blocks:
        match block["kind"]:
            case "heading" | "paragraph":
                yield from _texts_of_runs(block["runs"])
            case "list":
                for item in block["items"]:
                    yield from _texts_of(item)
            case "quote":
                yield from _texts_of(block["blocks"])
            case "code":
                yield block["text"]
            case "table":
                for row in (block["head"], *block["rows"]):
                    for cell in row:
                        yield from _texts_of_runs(cell)


def _texts_of_runs(runs: Iterable[Run]) -> Iterator[str]:
    for run in runs:
        if "text" in run:
            yield run["text"]
        yield from _texts_of_runs(run.get("runs", ()))
