"""Handouts of the demo lessons, looked at by other programs.

* Words: poppler's pdftotext (text as a search or a screen reader finds it).
* Attached part: music21's reader.
* PDF/UA-1 (ISO 14289-1:2014): the package pdfua for the rules it knows, and the structure
  tree read here with pikepdf for clauses 7.1, 7.2, 7.3 and 7.4.2. Typst itself checks more.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pikepdf
import pytest

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.handout.pdf import handout_pdf

LESSONS = Path(__file__).resolve().parents[2] / "lessons"
WANTED = [
    ("lamplighters-detour", "beginner", "alto-sax"),
    ("lamplighters-detour", "intermediate", "trombone"),
    ("lamplighters-detour", "advanced", "tenor-sax"),
    ("the-girl-i-left-behind-me", "beginner", "baritone-sax"),
    ("the-girl-i-left-behind-me", "intermediate", "clarinet"),
]
PAGES = {"beginner": 3, "intermediate": 4, "advanced": 4}
"""More than this no student carries to a lesson."""


@pytest.fixture(scope="module", params=WANTED, ids=" ".join)
def handout(request) -> tuple[Lesson, str, str, bytes]:
    slug, level, horn = request.param
    lesson = open_lesson(LESSONS / slug)
    notebook = json.loads((LESSONS / slug / "lesson.ipynb").read_text(encoding="utf-8"))
    for cell in notebook["cells"]:
        cell.setdefault("outputs", [])
    return lesson, level, horn, handout_pdf(lesson, level, horn, notebook)


@pytest.fixture
def pages(handout) -> list[str]:
    """Give each page's words, as poppler reads them."""
    command = shutil.which("pdftotext")
    if not command:
        said = "poppler's pdftotext is not here (apt install poppler-utils)"
        (pytest.fail if os.environ.get("CI") else pytest.skip)(said)
    pdf = handout[-1]
    done = subprocess.run([command, "-", "-"], input=pdf, capture_output=True, check=True)
    return [" ".join(page.split()) for page in done.stdout.decode().split("\f")[:-1]]


def elements(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    """Walk the structure tree in reading order."""

    def walk(item: pikepdf.Object) -> Iterator[pikepdf.Object]:
        if isinstance(item, pikepdf.Array):
            for child in item:
                yield from walk(child)
        elif isinstance(item, pikepdf.Dictionary) and "/S" in item:
            yield item
            yield from walk(item.get("/K", pikepdf.Array()))

    yield from walk(pdf.Root.StructTreeRoot.K)


def test_poppler_reads_title_level_player_and_chords_of_the_written_key(handout, pages):
    lesson, level, horn, _ = handout
    part = lesson.part(level, horn)
    for words in (
        lesson.title,
        lesson.level(level).settings.title,
        part.instrument.name,
        str(part.tune.key),
        lesson.settings.rights.statement,
    ):
        assert words in pages[0]
    symbols = {str(change.symbol) for bar in part.tune.bars for change in bar.chords}
    everything = " ".join(pages)
    assert symbols
    assert {symbol for symbol in symbols if symbol not in everything} == set()
    assert not re.search(r"\b[A-G](b|#)(m|maj|7|dim|\b)", everything), "an ASCII accidental"


def test_no_page_is_nearly_empty_and_none_are_too_many(handout, pages):
    level = handout[1]
    assert len(pages) <= PAGES[level]
    assert all(len(words) > 400 for words in pages[1:])
    for number, words in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in words


def test_nothing_is_said_twice(handout, pages):
    # But for the rights, which stand at the foot of every page.
    foot = handout[0].settings.rights.statement
    body = " ".join(page.replace(foot, "") for page in pages)
    sentences = re.split(r"(?<=[.]) ", body)
    long = Counter(said for said in sentences if len(said) > 40)
    assert long
    assert {said: times for said, times in long.items() if times > 1} == {}


def test_music21_reads_the_attached_part_back_as_it_is(handout):
    import music21

    lesson, level, horn, pdf = handout
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        (spec,) = opened.attachments.values()
        score = music21.converter.parseData(
            spec.get_file().read_bytes().decode(), format="musicxml"
        )
    read = [
        (note.pitch.midi, float(note.quarterLength))
        for note in score.parts[0].recurse().getElementsByClass(music21.note.Note)
        if not note.duration.isGrace
    ]
    sheet = lesson.part(level, horn).tune
    written = [
        (note.pitch.midi, float(note.duration))
        for bar in sheet.bars
        for note in bar.notes
        if note.pitch is not None
    ]
    assert read == written


def test_the_structure_tree_says_what_a_reader_needs(handout):
    *_, pdf = handout
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert opened.Root.MarkInfo.Marked
        assert str(opened.Root.Lang) == "en"
        assert opened.Root.ViewerPreferences.DisplayDocTitle
        with opened.open_metadata() as facts:
            assert facts["pdfuaid:part"] == "1"
            assert facts["dc:title"]
            assert facts["dc:creator"]
            assert facts["pdf:Keywords"]
        tags = [str(item.S) for item in elements(opened)]
        figures = [item for item in elements(opened) if item.S == "/Figure"]
        headings = [int(tag[2]) for tag in tags if re.fullmatch(r"/H[1-6]", tag)]
        assert headings[0] == 1
        assert all(after <= before + 1 for before, after in pairwise(headings))
        assert len(figures) >= 4
        assert all(len(str(item.get("/Alt", ""))) > 20 for item in figures)
        assert {"/P", "/L", "/LI"} <= set(tags)
        assert len(opened.Root.Outlines.First) > 0


def test_a_checker_of_pdf_ua_finds_nothing(handout, tmp_path):
    from pdfua import validate

    *_, pdf = handout
    path = tmp_path / "handout.pdf"
    path.write_bytes(pdf)
    assert list(validate(str(path)).findings) == []
