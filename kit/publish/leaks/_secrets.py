"""What is the members' alone, and how is it recognised? From the sources, piece by piece.

The sources are the lesson's settings, its notation and its notebook as it was run. Each
`Secret` is one thing of theirs, with a name to tell the teacher and the hashes by which it
is found.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.errors import KitError
from kit.figures.figure import FIGURE_MIME
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.pictures.clean import clean_picture
from kit.publish.leaks._melody import (
    drawn_of,
    melody_of,
    melody_runs,
    number_runs,
    steps_drawn,
)
from kit.publish.leaks._pictures import Look, look
from kit.publish.leaks._prints import SMALLEST_BLOB, blob_hash
from kit.publish.leaks._rules import Cell, Rules, joined
from kit.publish.leaks._words import Hashes, file_names, hashed, telling_hashes
from kit.publish.page.timing import click_rows, note_spans, route_rows
from kit.route.timing import timing_map

__all__ = [
    "Secret",
    "as_published",
    "cell_pictures",
    "cell_texts",
    "recording_pictures",
    "secrets_of",
    "sheet_texts",
    "times_of",
]

_LARGEST_SOURCE = 50_000_000
_PLAIN_STEMS = frozenset({"image", "picture", "photo", "screenshot", "untitled", "unnamed"})
"""Names that programs give to pictures: everybody's."""
_COMMENT = re.compile(r"(?m)^\s*#[ \t]?(.*)$|(?<=[\s\]}\",\d])#[ \t](.*)$")


@dataclass(frozen=True, slots=True)
class Secret:
    """Something of the members'.

    Parameters
    ----------
    name : str
        What to call it.
    kind : str
        A field of `kit.publish.leaks._prints.Prints`.
    hashes : array of uint64
        What it is found by.
    bars : array of int
        For music: the printed number of the bar where each run begins.
    seen : Look or None
        For a picture: what it looks like.
    """

    name: str
    kind: str
    hashes: Hashes
    bars: NDArray[np.int64] | None = None
    seen: Look | None = field(default=None, compare=False)


def secrets_of(
    lesson: Lesson,
    cells: Iterable[Cell],
    rules: Rules,
    entries: Iterable[Mapping[str, Any]],
) -> Iterator[Secret]:
    """List everything that is the members', but for sound."""
    for cell in cells:
        if cell.standing == "members":
            yield from _cell(cell)
    yield from _settings(lesson)
    for name in rules.paid_levels:
        yield from _level(lesson.level(name), lesson)
    yield from _files(entries, rules)
    yield from _sources(lesson)


def _texts(name: str, texts: Iterable[str]) -> Iterator[Secret]:
    found = [telling_hashes(text) for text in texts]
    if found:
        yield Secret(name, "words", np.unique(np.concatenate(found)))


def _numbers(name: str, numbers: Iterable[int], kind: str) -> Secret:
    return Secret(name, kind, np.array(sorted(numbers), np.uint64))


def _cell(cell: Cell) -> Iterator[Secret]:
    yield from _texts(cell.name, cell_texts(cell))
    names = [name for name in cell.attachments if _is_own(name)]
    if names:
        found = {hashed(name.casefold()) for name in names}
        yield _numbers(f"the name of a picture of {cell.name}", found, "names")
    for data in cell_pictures(cell):
        yield from _picture(f"a picture of {cell.name}", data)


def _is_own(name: str) -> bool:
    stem = name.rpartition(".")[0].casefold().rstrip("0123456789-_ ()")
    return len(stem) >= 4 and stem not in _PLAIN_STEMS and bool(file_names(name))


def _picture(name: str, data: bytes) -> Iterator[Secret]:
    if len(data) >= SMALLEST_BLOB:
        yield _numbers(name, [blob_hash(data)], "blobs")
    seen = look(data)
    if seen is not None:
        yield Secret(name, "looks", np.zeros(0, np.uint64), seen=seen)


def cell_texts(cell: Cell) -> list[str]:
    """Give what is written in a cell, and what it shows in words."""
    texts = [cell.source]
    for output in cell.outputs:
        texts.append(joined(output.get("text", "")))
        about = output.get("metadata", {}).values()
        texts += [
            str(one["alt"]) for one in about if isinstance(one, Mapping) and "alt" in one
        ]
        data = output.get("data", {})
        if FIGURE_MIME not in data:
            # The words of a figure are the kit's own, and computed for free levels too.
            texts += [joined(data[kind]) for kind in data if kind.startswith("text/")]
    return [text for text in texts if text.strip()]


def cell_pictures(cell: Cell) -> Iterator[bytes]:
    """Give the pictures that a cell shows or holds."""
    held = [
        *(output.get("data", {}) for output in cell.outputs),
        *cell.attachments.values(),
    ]
    for bundle in held:
        for mime, data in bundle.items():
            if mime.startswith("image/"):
                text = "".join(joined(data).split())
                try:
                    yield from as_published(base64.b64decode(text, validate=True))
                except (ValueError, binascii.Error):
                    # Drawn in letters (SVG).
                    yield joined(data).encode()


def as_published(data: bytes) -> Iterator[bytes]:
    """Give a picture as it is, and as it is shown: upright, in plain colours."""
    yield data
    try:
        yield clean_picture(data, "picture").data
    except KitError:
        # It cannot be shown, so that nobody can see it.
        return


def _settings(lesson: Lesson) -> Iterator[Secret]:
    recording = lesson.settings.recording
    said = [talk.say for talk in (*recording.talk, *recording.close)]
    yield from _texts("what is said on the recording ([recording] in lesson.toml)", said)


def _level(level: Level, lesson: Lesson) -> Iterator[Secret]:
    name = f'level "{level.name}"'
    bars = level.sheet.bars
    printed = np.array([bar.number for bar in bars])
    melody = melody_of(bars)
    hashes, places = melody_runs([attack for attack, _ in melody])
    where = np.array([bar for _, bar in melody], np.int64)
    yield Secret(f"notes of {name}", "melody", hashes, printed[where[places]])
    marks = drawn_of(bars)
    hashes, places = steps_drawn(marks)
    where = np.array([bar for *_, bar in marks], np.int64)
    yield Secret(f"notes of {name}", "drawn", hashes, printed[where[places]])
    times = [number_runs(numbers) for numbers in times_of(level, lesson)]
    yield Secret(f"the timing of {name}", "numbers", np.unique(np.concatenate(times)))
    yield from _texts(f"words in the notation of {name}", sheet_texts(level))


def sheet_texts(level: Level) -> list[str]:
    """Give what stands in words above and below the notes, each verse by itself."""
    texts = [word.text for bar in level.sheet.bars for word in bar.words if word.text]
    verses: dict[int, str] = {}
    for bar in level.sheet.bars:
        for note in bar.notes:
            for verse, syllable in enumerate(note.lyrics):
                said = f"{syllable[:-1]}" if syllable.endswith("-") else f"{syllable} "
                verses[verse] = verses.get(verse, "") + said
    return [*texts, *verses.values()]


def times_of(level: Level, lesson: Lesson) -> Iterator[list[float]]:
    """Give the tables of times of a level, as pages and timing files hold them."""
    for percent in sorted({100, *lesson.settings.audio.tempos}):
        spans = note_spans(level, tempo_percent=percent)
        yield [number for bar in spans for span in bar for number in span]
    rows = route_rows(level)
    yield [n for row in rows for n in row if isinstance(n, int | float)]
    yield [n for row in click_rows(lesson, level.name) for n in row]
    bars = timing_map(level.route, level.tempo_qpm)["bars"]
    yield [row[key] for row in bars for key in ("number", "pass", "start", "end")]
    yield [row[key] for row in bars for key in ("start", "end")]


def _files(entries: Iterable[Mapping[str, Any]], rules: Rules) -> Iterator[Secret]:
    entries = list(entries)
    given = {entry["sha256"] for entry in entries if rules.gives_file(entry)}
    names = {entry["path"].rpartition("/")[2].casefold() for entry in entries
             if rules.gives_file(entry)}  # fmt: skip
    for entry in entries:
        path = entry["path"]
        if rules.gives_file(entry) or entry["kind"] == "bundle":
            continue
        # The part of a free level is attached to its free handouts.
        attached = entry["kind"] == "part" and rules.gives("handout")
        # Of sound it depends on what is played (`kit.publish.leaks._sounds`).
        is_sound = entry["kind"] in ("audio", "loop", "stems")
        attached = attached and entry.get("level") in rules.free_levels
        is_known = is_sound or attached or entry["sha256"] in given
        if entry["bytes"] >= SMALLEST_BLOB and not is_known:
            number = int.from_bytes(bytes.fromhex(entry["sha256"])[:8], "little")
            yield _numbers(f"the file {path}", [number], "blobs")
        name = path.rpartition("/")[2].casefold()
        # What it is attached as ends like its own name, which a lesson's name in any script
        # may leave alone.
        if attached:
            continue
        if entry.get("level") and name not in names and file_names(name):
            yield _numbers(f"the name of the file {path}", [hashed(name)], "names")


def _sources(lesson: Lesson) -> Iterator[Secret]:
    cover = lesson.settings.audio.cover
    for path in sorted(lesson.folder.rglob("*")):
        name = path.relative_to(lesson.folder).as_posix()
        hidden = any(part.startswith(".") for part in name.split("/"))
        if hidden or name == cover or not path.is_file():
            continue
        if SMALLEST_BLOB <= path.stat().st_size <= _LARGEST_SOURCE:
            data = path.read_bytes()
            yield _numbers(
                f"the file {name} of the lesson folder", [blob_hash(data)], "blobs"
            )
            if path.suffix == ".toml":
                yield from _texts(f"a comment in {name}", _comments(data))


def _comments(data: bytes) -> Sequence[str]:
    found = _COMMENT.findall(data.decode("utf-8", "replace"))
    return [whole or behind for whole, behind in found]


def recording_pictures(
    stage: Path, entries: Iterable[Mapping[str, Any]]
) -> Iterator[Secret]:
    """Look at the pictures that are made for the teacher's recording."""
    for entry in entries:
        if entry["kind"] == "still":
            yield from _picture(
                f"the picture {entry['path']}", (stage / entry["path"]).read_bytes()
            )
