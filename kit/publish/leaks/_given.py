"""What is given away by right, so that finding it proves nothing?

What a free level and a cell for everybody hold, and what lesson.toml announces, is known
at once. What the kit itself says of a free level (its forms, scales and practice steps,
its band) takes time to compute, and is asked for only where something has been found: a
sentence of a members' cell that the kit would say by itself is nobody's secret.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from importlib.resources import files
from importlib.resources.abc import Traversable
from itertools import product
from typing import Any

import numpy as np

from kit.cache import Cache, code_fingerprint, fingerprint
from kit.engrave.words import describe_bars
from kit.errors import KitError
from kit.figures.figure import KINDS
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.prose import plain_text
from kit.publish.handout.sections import SECTIONS
from kit.publish.leaks._kept import hashes_of, kept_through, packed_arrays
from kit.publish.leaks._melody import (
    NUMBERS_RUN,
    drawn_of,
    melody_of,
    melody_runs,
    number_runs,
    steps_drawn,
)
from kit.publish.leaks._pictures import LOOK_SIZE, look
from kit.publish.leaks._piece import Piece
from kit.publish.leaks._prints import Prints, blob_hash, prints_of_pieces
from kit.publish.leaks._read_music import midi
from kit.publish.leaks._reading import text_pieces
from kit.publish.leaks._rules import Cell, Rules
from kit.publish.leaks._secrets import (
    as_published,
    cell_pictures,
    cell_texts,
    sheet_texts,
    times_of,
)
from kit.publish.leaks._words import (
    NO_HASHES,
    Hashes,
    file_names,
    hashed,
    run_hashes,
    without_markup,
)
from kit.solo.guide_tones import guide_tone_line
from kit.sound.midi_file import to_midi
from kit.tracks.rendition import rendition
from kit.tune.model import Bar

__all__ = ["announced_texts", "computed_prints", "given_prints", "kit_words"]


def announced_texts(lesson: Lesson) -> list[str]:
    """Give what lesson.toml says to everybody, of the members' levels too."""
    settings = lesson.settings
    texts = [
        settings.title, settings.composer, settings.school, settings.summary,
        settings.address, settings.rights.statement, settings.catalogue.course,
        settings.catalogue.adds, lesson.tune.title, lesson.tune.composer,
    ]  # fmt: skip
    for row in settings.levels:
        texts += [row.title, row.summary, f"{row.title}: {row.summary}"]
    texts.append(", ".join(row.title for row in settings.levels))
    return [text for text in texts if text]


def given_prints(lesson: Lesson, cells: Iterable[Cell], rules: Rules) -> Prints:
    """Give what is known at once to be everybody's."""
    texts, names = announced_texts(lesson), list[str]()
    blobs, looks = set[int](), list[Any]()
    for cell in cells:
        if cell.standing == "free":
            texts += cell_texts(cell)
            names += cell.attachments
            for data in cell_pictures(cell):
                blobs.add(blob_hash(data))
                seen = look(data)
                looks += [] if seen is None else [seen]
    cover = lesson.settings.audio.cover
    if cover and rules.gives("audio"):
        for data in as_published(lesson.file(cover).read_bytes()):
            blobs.add(blob_hash(data))
            seen = look(data)
            looks += [] if seen is None else [seen]
    melody, drawn, numbers = [NO_HASHES], [NO_HASHES], [NO_HASHES]
    tables: list[list[float]] = []
    for name in rules.free_levels:
        level = lesson.level(name)
        texts += sheet_texts(level)
        for bars in _in_a_row(level):
            melody.append(melody_runs([attack for attack, _ in melody_of(bars)])[0])
            drawn.append(steps_drawn(drawn_of(bars))[0])
        tables += times_of(level, lesson)
    numbers += [number_runs(table) for table in tables]
    # A page holds them one behind the other: what lies across two of them is given as well.
    edge = NUMBERS_RUN - 1
    for one, other in product(tables, repeat=2):
        numbers.append(number_runs([*one[-edge:], *other[:edge]]))
    names += [name for text in texts for name in file_names(text)]
    # As members' words are looked for: as they are written, and as they are read.
    texts += [without_markup(text) for text in texts]
    return Prints(
        words=np.unique(np.concatenate([NO_HASHES, *map(run_hashes, texts)])),
        names=np.array(sorted({hashed(name.casefold()) for name in names}), np.uint64),
        melody=np.unique(np.concatenate(melody)),
        drawn=np.unique(np.concatenate(drawn)),
        numbers=np.unique(np.concatenate(numbers)),
        frames=NO_HASHES,
        blobs=np.array(sorted(blobs), np.uint64),
        pictures=NO_HASHES,
        looks=np.array(looks, np.uint16).reshape(len(looks), LOOK_SIZE),
    )


def _in_a_row(level: Level) -> Iterator[list[Bar]]:
    """Give a level's bars as they stand, once through, and as performed."""
    bars = level.sheet.bars
    yield list(bars)
    yield [bars[index] for index in level.order]
    played = [bar.sheet_index for bar in level.route.bars if bar.sheet_index >= 0]
    yield [bars[index] for index in played]


def kit_words(cache: Cache) -> Hashes:
    """Hash all that the kit itself has to say: the words in its code, templates, tables."""
    key = fingerprint("leaks, words of the kit", code_fingerprint())

    def read() -> bytes:
        texts = list(_kit_texts(files("kit")))
        hashes = np.unique(np.concatenate([run_hashes(text) for text in texts]))
        return packed_arrays(hashes=hashes)

    return kept_through(cache, key, read, hashes_of)


def _kit_texts(folder: Traversable) -> Iterator[str]:
    for path in folder.iterdir():
        if path.is_dir():
            yield from _kit_texts(path)
        elif path.name.endswith(".py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield node.value
        elif path.name.endswith((".toml", ".j2", ".typ", ".js", ".css")):
            yield path.read_text(encoding="utf-8")


def computed_prints(lesson: Lesson, rules: Rules, instruments: Iterable[str]) -> Prints:
    """Give what the kit says and plays of free levels by itself, for some instruments."""
    found: list[Piece] = []
    for name in rules.free_levels:
        level = lesson.level(name)
        for instrument in instruments:
            found += _said(lesson, level, instrument, rules)
        # As it sounds: a mordent or a grace before the beat leaves a row of notes that the
        # sheet does not have, and a members' level may.
        for row in lesson.settings.instruments:
            planned = rendition(lesson, name, instrument=row.slug)
            played = midi(to_midi(planned.perform()), "")
            found += [piece for piece in played if isinstance(piece, Piece)]
    return prints_of_pieces(found)


def _said(lesson: Lesson, level: Level, instrument: str, rules: Rules) -> Iterator[Piece]:
    part = lesson.part(level.name, instrument)
    yield from text_pieces("\n".join(describe_bars(part)))
    for around in (None, *(bar.notes[0].pitch for bar in part.tune.bars[:8] if bar.notes)):
        line = guide_tone_line(part.tune, around=around)
        yield Piece("", "melody", [attack for attack, _ in melody_of(line.bars)])
        yield Piece("", "drawn", drawn_of(line.bars))
    texts: list[str] = []
    for make in SECTIONS:
        section = make(lesson, level, instrument)
        if section is not None:
            _strings([section.heading, section.blocks, section.steps], texts)
            texts += [figure.caption for figure in section.figures]
            for figure in section.figures:
                yield Piece("", "drawn", drawn_of(figure.part.tune.bars))
                bars = figure.part.tune.bars
                yield Piece("", "melody", [attack for attack, _ in melody_of(bars)])
    yield from text_pieces("\n".join(texts))
    yield from _drawn_figures(lesson, level, instrument, rules)


def _drawn_figures(
    lesson: Lesson, level: Level, instrument: str, rules: Rules
) -> Iterator[Piece]:
    from kit.publish.cells import FigureCall  # noqa: PLC0415 - one record of it
    from kit.publish.page.figures import draw_figure  # noqa: PLC0415 - seldom needed

    for show in KINDS:
        # Without a level of its own an excerpt is the whole sheet, whose notes are known
        # already, and nothing on a page.
        call = FigureCall(show, {"upper": level.name})
        try:
            html = draw_figure(
                lesson,
                call,
                level=level.name,
                instrument=instrument,
                among=rules.free_levels,
            )
        except KitError:
            # Not to be drawn for this level: then it is not on the page either.
            continue
        yield from text_pieces(html or "")


def _strings(data: Any, found: list[str]) -> None:
    if isinstance(data, str):
        found.append(data)
    elif isinstance(data, Mapping):
        if data.get("runs"):
            found.append(plain_text(data["runs"]))
        for one in data.values():
            _strings(one, found)
    elif isinstance(data, list | tuple):
        for one in data:
            _strings(one, found)


def merged(one: Prints, other: Prints) -> Prints:
    """Put two together."""
    return replace(
        one,
        words=np.union1d(one.words, other.words),
        melody=np.union1d(one.melody, other.melody),
        drawn=np.union1d(one.drawn, other.drawn),
    )
