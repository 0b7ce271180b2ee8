from __future__ import annotations

import io
import time

import pikepdf
import pypdf
import pytest

from kit.errors import LessonError
from kit.publish.handout.exporter import HandoutExporter
from kit.publish.handout.pdf import handout_pdf
from kit.publish.parts import part_musicxml

TITLE = 'Fish & <b>Chips</b> #"\\$[x]" Ünïcode'


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return "\n".join(page.extract_text() for page in pages)


@pytest.fixture(scope="module")
def easy(lesson, notebook) -> bytes:
    return handout_pdf(lesson, "easy", "alto-sax", notebook)


@pytest.fixture(scope="module")
def hard(lesson, notebook) -> bytes:
    return handout_pdf(lesson, "hard", "trombone", notebook)


def test_the_first_page_says_what_a_stranger_needs(easy):
    first = " ".join(pypdf.PdfReader(io.BytesIO(easy)).pages[0].extract_text().split())
    for words in (
        TITLE,
        "Alto saxophone",
        "C major",
        "Easy",
        "112 beats a minute",
        "C",
        "G7",
    ):
        assert words in first
    assert "Count-in 1 bar; head A B." in first
    assert "Page 1 of" in first


def test_text_from_a_lesson_is_never_read_as_markup(easy):
    text = " ".join(text_of(easy).split())
    assert "#let x = 1 *not bold*" in text
    assert "Anna </script><script>alert(1)</script>" in text


def test_changes_are_printed_in_the_written_key_with_real_signs(hard, lesson):
    text = text_of(hard)
    assert "E♭maj9" in text
    assert "Bb" not in text
    alto = text_of(handout_pdf(lesson, "hard", "alto-sax"))
    assert "Cmaj9" in alto


def test_a_handout_has_its_own_levels_words_only(easy, hard):
    assert "Easy words." in text_of(easy)
    assert "Hard words." not in text_of(easy)
    assert "Hard words." in text_of(hard)
    for pdf in (easy, hard):
        text = text_of(pdf)
        assert "Paper words." in text
        assert "Screen words." not in text
        assert "Hidden words." not in text


def test_a_free_handout_has_no_members_words(easy, hard):
    assert "Members words." not in text_of(easy)
    assert "Members words." in text_of(hard)


def test_cautions_stand_there_once(easy):
    text = " ".join(text_of(easy).split())
    assert text.count("stop if anything hurts") == 1
    assert text.count("not legal advice") == 1


def test_the_pdf_is_tagged_and_claims_pdf_ua_1(hard):
    with pikepdf.open(io.BytesIO(hard)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang) == "en"
        with pdf.open_metadata() as meta:
            assert meta["pdfuaid:part"] == "1"
            assert meta["dc:title"] == f"{TITLE}: Hard, Trombone"
        assert pdf.Root.ViewerPreferences.DisplayDocTitle


def test_every_figure_has_an_alternative_in_words(hard):
    with pikepdf.open(io.BytesIO(hard)) as pdf:
        figures = [
            item
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary) and item.get("/S") == "/Figure"
        ]
        assert figures
        assert all("Bar" in str(item.Alt) or "Pick-up" in str(item.Alt) for item in figures)


def test_headings_become_bookmarks_in_order(hard):
    outline = pypdf.PdfReader(io.BytesIO(hard)).outline
    titles = [entry.title for entry in outline[1]]
    assert outline[0].title == TITLE
    assert titles[0] == "The melody"
    assert {"How it goes", "Practice steps"} <= set(titles)


def test_all_fonts_are_embedded(hard):
    with pikepdf.open(io.BytesIO(hard)) as pdf:
        descriptors = [
            item
            for item in pdf.objects
            if isinstance(item, pikepdf.Dictionary)
            and item.get("/Type") == "/FontDescriptor"
        ]
        assert descriptors
        for item in descriptors:
            assert "/FontFile3" in item or "/FontFile2" in item


def test_the_part_is_attached_as_musicxml(hard, lesson):
    with pikepdf.open(io.BytesIO(hard)) as pdf:
        ((name, spec),) = pdf.attachments.items()
        assert name == "fish-hard-trombone.musicxml"
        attached = spec.get_file().read_bytes()
    assert attached == part_musicxml(lesson, "hard", "trombone").encode()


def test_the_same_lesson_gives_the_same_bytes(lesson, notebook, easy):
    time.sleep(1.1)  # a date in the file would count seconds
    assert handout_pdf(lesson, "easy", "alto-sax", notebook) == easy
    assert b"/CreationDate" not in easy


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_paper_is_as_asked(lesson, paper, size):
    pdf = handout_pdf(lesson, "easy", "flute", paper=paper)
    box = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == size


def test_large_print_has_larger_letters(lesson):
    def sizes(pdf: bytes) -> set[int]:
        found: set[int] = set()
        for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
            page.extract_text(
                visitor_text=lambda text, cm, tm, font, size: found.add(
                    round(abs(tm[3] or size) * abs(cm[3]))
                )
            )
        return found

    plain = handout_pdf(lesson, "easy", "flute")
    large = handout_pdf(lesson, "easy", "flute", large_print=True)
    assert max(sizes(large)) >= max(sizes(plain))
    assert large != plain


def test_no_last_page_holds_only_a_few_lines(lesson, notebook):
    """Whatever the length of the prose, the last page is filled to a fifth or more."""

    def pages_with(sentences: int) -> tuple[int, int]:
        words = " ".join(["Play it slowly, and then a little faster."] * sentences)
        cell = {"cell_type": "markdown", "metadata": {}, "source": words}
        pdf = handout_pdf(lesson, "easy", "flute", {**notebook, "cells": [cell]})
        pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
        return len(pages), len(pages[-1].extract_text().splitlines())

    found = [pages_with(sentences) for sentences in range(10, 90, 8)]
    assert {pages for pages, _ in found} >= {2}
    assert all(pages == 1 or lines > 8 for pages, lines in found), found


def test_unknown_paper_is_a_programmers_mistake(lesson):
    with pytest.raises(ValueError, match="a4"):
        handout_pdf(lesson, "easy", "flute", paper="a3")


def test_an_unknown_instrument_is_named_with_the_nearest(lesson):
    with pytest.raises(LessonError, match="alto-sax"):
        handout_pdf(lesson, "easy", "alto-sx")


def test_a_sign_no_font_has_is_one_clear_sentence(lesson, notebook):
    cell = {"cell_type": "markdown", "metadata": {}, "source": "A \U000f1234 sign."}
    strange = {**notebook, "cells": [cell]}
    with pytest.raises(LessonError, match="no font on this machine"):
        handout_pdf(lesson, "easy", "flute", strange)


def test_the_exporter_reads_the_lesson_beside_the_notebook(folder, notebook):
    import nbformat

    exporter = HandoutExporter(level="hard", instrument="trombone")
    resources = {"metadata": {"path": str(folder), "name": "lesson"}}
    pdf, after = exporter.from_notebook_node(nbformat.from_dict(notebook), resources)
    assert pdf.startswith(b"%PDF-")
    assert after["output_extension"] == ".pdf"
    assert "Trombone" in text_of(pdf)


def test_the_exporter_takes_the_first_level_and_default_instrument(folder, notebook):
    import nbformat

    resources = {"metadata": {"path": str(folder), "name": "lesson"}}
    pdf, _ = HandoutExporter().from_notebook_node(nbformat.from_dict(notebook), resources)
    assert "Alto saxophone" in text_of(pdf)
    assert "Easy" in text_of(pdf)
