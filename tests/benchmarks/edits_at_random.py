"""What does a teacher change in a lesson, from one day to the next? Anything, at random.

A `Draft` holds a tiny lesson as plain data and writes it into a folder; `edit` changes one
thing in it and says what. All chance comes from the generator given, so that the same seed
makes the same lessons.

Drafts are made so that everything a build's pieces depend on can change by itself: a level
that edits the level below or has its own notation, figures in another key, levels that are
free though the one before is not, names in many scripts.
"""

from __future__ import annotations

import json
import shutil
import struct
import zlib
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

__all__ = ["EDITS", "Draft", "edit", "first_draft"]

WORDS = (
    "Small Tune", "Ωδή στη βροχή", "Вечерняя песня", "שיר ערב", "夕べの歌", "🎷 Evening 🎶",
    "Cafe\u0301 a\u0300 l'e\u0301te\u0301", "Café à l'été",
    'Fish & "<b>Chips</b>" $x$ #set',
    "", "a" * 90, "Zürich – Łódź", "x\u200dy",
)  # fmt: skip
FILE_NAMES = ("level", "Ωμέγα", "уровень 1", "רמה", "段階", "🎷", "e\u0301tage", "a'b [c]")
INSTRUMENTS = ("alto-sax", "tenor-sax", "clarinet", "trombone", "flute", "baritone-sax")
KEYS = {"C": "CDEFGAB", "F": "FGABCDE", "G": "GABCDEF", "Am": "ABCDEFG", "Dm": "DEFGABC"}
FEELS = ("straight-eighths", "medium-swing", "fast-swing", "bossa-nova")
NAMES = ("easy", "middle", "hard", "top")
FIGURES = (
    "form_chart(lesson)", 'form_chart(lesson, instrument="{horn}")', "excerpt(lesson)",
    'excerpt(lesson, key="{key}")', 'excerpt(lesson, level="{level}", key="{key}")',
    'excerpt(lesson, level="{level}", section="A")', 'player(lesson, level="{level}")',
    "comparison(lesson)", 'comparison(lesson, upper="{level}")', "solo_guide(lesson)",
    'solo_guide(lesson, level="{level}")', "practice_plan(lesson)",
)  # fmt: skip
TAGS = ((), (), ("members",), ("hide",), ("page-only",), ("handout-only",), ("level:easy",))


def _png(shade: int) -> bytes:
    """Make a picture of one grey dot."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        mark = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + mark

    head = struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0)
    dot = zlib.compress(bytes([0, shade]))
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", dot)
        + chunk(b"IEND", b"")
    )  # fmt: skip


@dataclass
class Draft:
    """A lesson as plain data; `write` puts it into a folder as it is, and nothing else."""

    slug: str
    key: str
    bars: list[list[str]]
    levels: list[dict[str, Any]]
    cells: list[dict[str, Any]]
    top: dict[str, Any] = field(default_factory=dict)
    rights: dict[str, Any] = field(default_factory=lambda: {"basis": "own work"})
    audio: dict[str, Any] = field(default_factory=lambda: {"mixes": ["melody"]})
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)
    cover: int = 0
    comments: int = 0

    def write(self, folder: Path) -> None:
        """Write what differs from what is there, and take away what is too much."""
        wanted = self.files()
        for path in sorted(folder.rglob("*"), reverse=True):
            if path.is_file() and path.relative_to(folder).as_posix() not in wanted:
                path.unlink()
        for name, data in wanted.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            if not path.is_file() or path.read_bytes() != data:
                path.write_bytes(data)

    def files(self) -> dict[str, bytes]:
        """Give the lesson's files by name."""
        texts = {
            "tune.abc": _abc(self.key, self.bars),
            "lesson.toml": self._toml(),
            "lesson.ipynb": self._notebook(),
        }
        for level in self.levels:
            if "notation" in level:
                texts[level["notation"]] = _abc(level["key"], level["bars"])
            if "edits" in level:
                rows = [f"  {row}," for row in level["rows"]]
                over = f'over = "{level["over"]}"\n' if level.get("over") else ""
                texts[level["edits"]] = over + "\n".join(["edits = [", *rows, "]", ""])
        files = {name: text.encode() for name, text in texts.items()}
        if "cover" in self.audio:
            files["pictures/cover.png"] = _png(self.cover)
        return files

    def _toml(self) -> str:
        lines = ["# note"] * self.comments
        lines += [f"{key} = {_value(value)}" for key, value in self.top.items()]
        half = len(self.bars) // 2
        lines.append(
            f'sections = [{{ label = "A", bars = "1-{half}" }}, '
            f'{{ label = "B", bars = "{half + 1}-{len(self.bars)}" }}]'
        )
        tables = {"rights": self.rights, "audio": self.audio, **self.tables}
        for name, table in tables.items():
            lines.append(f"[{name}]")
            lines += [f"{key} = {_value(value)}" for key, value in table.items()]
        for level in self.levels:
            lines.append("[[levels]]")
            kept = {k: v for k, v in level.items() if k not in _NOT_IN_TOML}
            lines += [f"{key} = {_value(value)}" for key, value in kept.items()]
        return "\n".join(lines) + "\n"

    def _notebook(self) -> str:
        first = {"code": "import kit\nlesson = kit.open_lesson()", "tags": []}
        cells = [_cell(place, cell) for place, cell in enumerate([first, *self.cells])]
        return json.dumps(
            {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
        )


_NOT_IN_TOML = {"bars", "key", "rows", "over"}


def _cell(place: int, cell: dict[str, Any]) -> dict[str, Any]:
    code = "code" in cell
    common = {
        "id": f"c{place}", "metadata": {"tags": list(cell["tags"])},
        "cell_type": "code" if code else "markdown",
        "source": cell["code"] if code else cell["prose"],
    }  # fmt: skip
    return {**common, "outputs": [], "execution_count": None} if code else common


def _abc(key: str, bars: list[list[str]]) -> str:
    music = " | ".join(f'"{chord}"{" ".join(notes)}' for chord, *notes in bars)
    return f"X:1\nT:Tune\nM:4/4\nL:1/4\nK:{key}\n{music} |]\n"


def _value(value: Any) -> str:
    # JSON's texts, numbers, lists and truth are TOML's too; emoji must not be cut in two.
    return json.dumps(value, ensure_ascii=False)


def _title(chance: Random) -> str:
    return chance.choice(WORDS) or "Title"


def _note(chance: Random, key: str) -> str:
    letter = chance.choice(KEYS[key])
    return chance.choice((letter, letter, letter.lower()))


def _bar(chance: Random, key: str) -> list[str]:
    chord = chance.choice(("", "m", "7", "maj7"))
    return [f"{chance.choice(KEYS[key])}{chord}", *(_note(chance, key) for _ in range(4))]


def first_draft(chance: Random, slug: str) -> Draft:
    """Make a lesson of a few bars, levels, figures and instruments."""
    key = chance.choice(list(KEYS))
    draft = Draft(slug, key, [_bar(chance, key) for _ in range(4)], [], [])
    draft.top = {"title": "Small Tune", "instruments": ["tenor-sax"]}
    for _ in range(chance.randint(1, 3)):
        add_level(chance, draft)
    for _ in range(5):
        add_cell(chance, draft)
    return draft


def change_note(chance: Random, draft: Draft) -> None:
    """Change a note of the tune."""
    chance.choice(draft.bars)[chance.randint(1, 4)] = _note(chance, draft.key)


def change_chord(chance: Random, draft: Draft) -> None:
    """Change a chord of the tune."""
    chance.choice(draft.bars)[0] = _bar(chance, draft.key)[0]


def change_key(chance: Random, draft: Draft) -> None:
    """Call the tune's key another one; levels with their own notation keep theirs."""
    draft.key = chance.choice(list(KEYS))


def change_level_notes(chance: Random, draft: Draft) -> None:
    """Change a note, a chord or an edit of one level."""
    level = chance.choice(draft.levels)
    if "bars" in level:
        place = chance.randint(0, 4)
        bar = chance.choice(level["bars"])
        bar[place] = _bar(chance, level["key"])[place]
    elif "rows" in level:
        level["rows"] = _rows(chance)
    else:
        change_note(chance, draft)


def change_level_settings(chance: Random, draft: Draft) -> None:
    """Change tempo, feel, title, summary, route or count-in of a level."""
    level = chance.choice(draft.levels)
    name, value = chance.choice(
        (
            ("tempo", chance.randint(180, 400)),
            ("feel", chance.choice(FEELS)),
            ("title", _title(chance)),
            ("summary", chance.choice(WORDS)),
            ("count_in_bars", chance.randint(0, 2)),
            ("chords", chance.choice(("comping", "sustained", "guide tones"))),
        )
    )
    if name != "chords":
        level[name] = value


def add_level(chance: Random, draft: Draft) -> None:
    """Add a level on top: its own notation, edits of the tune or of another, or nothing."""
    taken = {level["name"] for level in draft.levels}
    free = [name for name in NAMES if name not in taken]
    if not free:
        return
    level: dict[str, Any] = {
        "name": free[0], "tempo": chance.randint(200, 400), "feel": FEELS[0],
        "count_in_bars": 0,
    }  # fmt: skip
    file = f"levels/{chance.choice(FILE_NAMES)} {free[0]}"
    kind = chance.choice(("notation", "edits", "edits over", "tune"))
    if kind == "notation":
        level |= {"notation": f"{file}.abc", "key": draft.key, "bars": deepcopy(draft.bars)}
        level["bars"][0] = _bar(chance, draft.key)
    elif kind != "tune":
        level |= {"edits": f"{file}.toml", "rows": _rows(chance)}
        if kind == "edits over" and taken:
            level["over"] = chance.choice(sorted(taken))
    draft.levels.append(level)
    _tidy(draft)


def take_level(chance: Random, draft: Draft) -> None:
    """Take a level away, with all that names it."""
    if len(draft.levels) > 1:
        gone = draft.levels.pop(chance.randrange(len(draft.levels)))["name"]
        for level in draft.levels:
            if level.get("over") == gone:
                del level["over"]
        _tidy(draft)


def swap_levels(chance: Random, draft: Draft) -> None:
    """Change the order of the levels."""
    chance.shuffle(draft.levels)


def change_instruments(chance: Random, draft: Draft) -> None:
    """Add or remove an instrument, or change their order."""
    horns = list(draft.top["instruments"])
    other = chance.choice(INSTRUMENTS)
    if other in horns and len(horns) > 1:
        horns.remove(other)
    elif other not in horns and len(horns) < 3:
        horns.append(other)
    chance.shuffle(horns)
    draft.top["instruments"] = horns
    _tidy(draft)


def change_default(chance: Random, draft: Draft) -> None:
    """Choose another default instrument."""
    draft.top["default_instrument"] = chance.choice(draft.top["instruments"])


def change_spelling(chance: Random, draft: Draft) -> None:
    """Prefer sharps or flats for an instrument, or neither."""
    horn = chance.choice(draft.top["instruments"])
    table = draft.tables.setdefault("spelling", {})
    table[horn] = chance.choice(("sharps", "flats"))
    if chance.random() < 0.3:
        del draft.tables["spelling"]


def change_title(chance: Random, draft: Draft) -> None:
    """Give the lesson another title, in any script."""
    draft.top["title"] = _title(chance)


def change_words(chance: Random, draft: Draft) -> None:
    """Change composer, school, summary or address."""
    name = chance.choice(("composer", "school", "summary"))
    draft.top[name] = chance.choice(WORDS)
    if chance.random() < 0.3:
        draft.top["address"] = f"https://example.org/{chance.randint(1, 9)}"


def change_rights(chance: Random, draft: Draft) -> None:
    """Change the credit line."""
    draft.rights["statement"] = f"© {chance.randint(1990, 2026)} {chance.choice(WORDS[:6])}"


def change_tiers(chance: Random, draft: Draft) -> None:
    """Give other levels and kinds away."""
    names = [level["name"] for level in draft.levels]
    kinds = ("handout", "part", "audio", "midi", "timing", "captions")
    draft.tables["tiers"] = {
        "free_levels": [name for name in names if chance.random() < 0.5],
        "free_kinds": [kind for kind in kinds if chance.random() < 0.5],
    }


def change_audio(chance: Random, draft: Draft) -> None:
    """Change mixes, tuning, loops or the cover."""
    kind = chance.randrange(4)
    if kind == 0:
        draft.audio["mixes"] = chance.choice((["melody"], ["click"], ["melody", "click"]))
    elif kind == 1:
        draft.audio["a4"] = chance.choice((440.0, 442.0))
    elif kind == 2:
        draft.audio["loops"] = chance.random() < 0.3
    else:
        draft.audio["cover"] = chance.choice(("pictures/cover.png", "./pictures/cover.png"))
        draft.cover = chance.randrange(256)


def change_handout(chance: Random, draft: Draft) -> None:
    """Print on other paper, or large."""
    papers = chance.choice((["a4"], ["letter"], ["a4", "letter"]))
    draft.tables["handout"] = {"papers": papers, "large_print": chance.random() < 0.2}


def add_cell(chance: Random, draft: Draft) -> None:
    """Add prose or a figure to the notebook."""
    tags = list(chance.choice(TAGS))
    cell: dict[str, Any] = {"tags": tags, "prose": f"## {_title(chance)}\n\nWords."}
    if chance.random() < 0.6:
        keys = ("C", "F", "G", "B-flat") if draft.key in "CFG" else ("A", "D", "E", "G")
        call = chance.choice(FIGURES).format(
            level=chance.choice(draft.levels)["name"],
            horn=chance.choice(draft.top["instruments"]),
            key=chance.choice([key for key in keys if "-" not in key]),
        )
        cell = {"tags": tags, "code": f"kit.{call}"}
    draft.cells.insert(chance.randint(0, len(draft.cells)), cell)
    del draft.cells[9:]
    _tidy(draft)


def take_cell(chance: Random, draft: Draft) -> None:
    """Take a cell out of the notebook."""
    if draft.cells:
        del draft.cells[chance.randrange(len(draft.cells))]


def move_cells(chance: Random, draft: Draft) -> None:
    """Change the order of the notebook's cells."""
    chance.shuffle(draft.cells)


def change_comment(chance: Random, draft: Draft) -> None:
    """Add a comment to lesson.toml, or take all away."""
    draft.comments = chance.randint(0, 5)


def _rows(chance: Random) -> list[str]:
    places = chance.sample([(bar, beat) for bar in range(2, 5) for beat in (1, 2, 3)], 2)
    kinds = ('do = "accent"', 'do = "early", by = "eighth"')
    return [
        f"{{ bar = {bar}, beat = {beat}, {chance.choice(kinds)} }}" for bar, beat in places
    ]


def _tidy(draft: Draft) -> None:
    """Take out what names a level or an instrument that is not there any more."""
    names = {level["name"] for level in draft.levels}
    horns = set(draft.top["instruments"])
    if draft.top.get("default_instrument", "tenor-sax") not in horns:
        draft.top.pop("default_instrument", None)
    if "tiers" in draft.tables:
        tiers = draft.tables["tiers"]
        tiers["free_levels"] = [name for name in tiers["free_levels"] if name in names]
    if "spelling" in draft.tables:
        kept = {k: v for k, v in draft.tables["spelling"].items() if k in horns}
        draft.tables["spelling"] = kept

    def is_there(cell: dict[str, Any]) -> bool:
        named = [part for part in cell.get("code", "").split('"') if part in NAMES]
        played = [part for part in cell.get("code", "").split('"') if part in INSTRUMENTS]
        return set(named) <= names and set(played) <= horns

    draft.cells = [cell for cell in draft.cells if is_there(cell)]


EDITS: tuple[Callable[[Random, Draft], None], ...] = (
    change_note, change_note, change_chord, change_key, change_level_notes,
    change_level_notes, change_level_settings, change_level_settings, add_level, take_level,
    swap_levels, change_instruments, change_default, change_spelling, change_title,
    change_words, change_rights, change_tiers, change_audio, change_handout, add_cell,
    add_cell, take_cell, move_cells, change_comment,
)  # fmt: skip


def edit(chance: Random, draft: Draft) -> str:
    """Change one thing, and give its name."""
    change = chance.choice(EDITS)
    change(chance, draft)
    return change.__name__


def clear(folder: Path) -> None:
    """Remove a folder, if it is there."""
    shutil.rmtree(folder, ignore_errors=True)
