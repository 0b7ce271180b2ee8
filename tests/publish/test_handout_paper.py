"""Handouts as sheets of paper: QR code, papers, black and white, well filled pages."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import numpy as np
import pypdf
import pytest
import typst

from kit.errors import LessonError
from kit.lesson.handout_table import HandoutSettings
from kit.lesson.lesson import open_lesson
from kit.publish.handout._qr import qr_svg
from kit.publish.handout.pdf import handout_pdf

ADDRESS = "https://quay.example/lessons/fish?from=paper"


def changed(folder: Path, place: Path, **values: str) -> Path:
    """Copy the lesson with other values at the head of its lesson.toml."""
    copy = shutil.copytree(folder, place / folder.name)
    toml = copy / "lesson.toml"
    lines = [
        line
        for line in toml.read_text(encoding="utf-8").splitlines()
        if line.partition(" = ")[0] not in values
    ]
    head = [f"{key} = {value}" for key, value in values.items()]
    toml.write_text("\n".join([*head, *lines]), encoding="utf-8")
    return copy


def text_of(pdf: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return "\n".join(page.extract_text() for page in pages)


def png_of_svg(svg: bytes) -> np.ndarray:
    """Draw an SVG alone on a page, as grey values."""
    from PIL import Image

    page = (
        b'#set page(width: 60mm, height: 60mm, margin: 5mm)\n#image("a.svg", width: 50mm)'
    )
    png = typst.compile({"main.typ": page, "a.svg": svg}, format="png", ppi=200)
    return np.asarray(Image.open(io.BytesIO(png)).convert("L"))


def test_a_reader_of_qr_codes_finds_the_address():
    """Read back by ZXing (zxing-cpp), an independent implementation of ISO/IEC 18004."""
    import zxingcpp

    (found,) = zxingcpp.read_barcodes(png_of_svg(qr_svg(ADDRESS, source="lesson.toml")))
    assert found.text == ADDRESS
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_a_handout_has_the_code_on_its_first_page_only_if_there_is_an_address(
    folder, tmp_path, lesson
):
    pdf = handout_pdf(open_lesson(changed(folder, tmp_path, address=f"'{ADDRESS}'")),
                      "easy", "alto-sax")  # fmt: skip
    first = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    links = [note.get_object()["/A"]["/URI"] for note in first["/Annots"]]
    assert links == [ADDRESS]
    assert f"QR code with the address of this lesson: {ADDRESS}" in str(structure(pdf))
    assert "QR code" not in str(structure(handout_pdf(lesson, "easy", "alto-sax")))


def structure(pdf: bytes) -> list[str]:
    """List the alternatives in words of a PDF's figures."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    found = []
    for number in range(1, len(reader.xref[0]) + 1):
        item = reader.get_object(number)
        if isinstance(item, dict) and item.get("/S") == "/Figure":
            found.append(str(item.get("/Alt", "")))
    return found


def test_the_attached_part_has_a_name_that_every_system_can_have(folder, tmp_path):
    wild = shutil.copytree(folder, tmp_path / 'a\\b "c"?')
    pdf = handout_pdf(open_lesson(wild), "easy", "alto-sax")
    names = list(pypdf.PdfReader(io.BytesIO(pdf)).attachments)
    assert names == ["a-b -c---easy-alto-sax.musicxml"]


@pytest.mark.parametrize(
    "address", ["quay.example", "ftp://quay.example", "https://a b", f"https://{'x' * 200}"]
)
def test_an_address_no_telephone_can_use_is_a_clear_error(address):
    with pytest.raises(LessonError, match=r"fish/lesson\.toml"):
        qr_svg(address, source="fish/lesson.toml")


def test_the_first_paper_keeps_the_plain_name_and_others_say_what_they_are():
    def names(*papers: str, large: bool = False) -> list[str]:
        return [v.suffix for v in HandoutSettings(papers, large).variants]

    assert names("a4") == [""]
    assert names("letter") == [""]
    assert names("a4", "letter") == ["", "-letter"]
    assert names("letter", "a4", large=True) == ["", "-a4", "-large", "-a4-large"]


def test_papers_are_read_from_lesson_toml(folder, tmp_path):
    lesson = open_lesson(
        changed(
            folder, tmp_path, handout="{ papers = ['letter', 'a4'], large_print = true }"
        )
    )
    assert lesson.settings.handout == HandoutSettings(("letter", "a4"), True)


def test_an_unknown_paper_is_named_with_the_real_ones(folder, tmp_path):
    copy = changed(folder, tmp_path, handout="{ papers = ['foolscap'] }")
    with pytest.raises(LessonError, match="a4, letter"):
        open_lesson(copy)


def test_nothing_is_printed_in_colour(lesson, notebook):
    """Every pixel of every page is a grey: red, green and blue are the same."""
    pdf = handout_pdf(lesson, "hard", "alto-sax", notebook)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    for page in reader.pages:
        for values, operator in page.get_contents().operations:
            if operator in (b"rg", b"RG", b"sc", b"SC", b"scn", b"SCN"):
                numbers = [
                    float(v) for v in values if not isinstance(v, pypdf.generic.NameObject)
                ]
                assert len(numbers) != 3 or max(numbers) - min(numbers) < 0.02, values


def test_a_long_title_does_not_push_the_music_apart(folder, tmp_path):
    """The learning notes begin no later than with a short title, and no page is thin."""
    words = "A Tune With a Title That Goes On and On Until Nobody Remembers How It Began"
    long = open_lesson(
        changed(folder, tmp_path, title=f"'{words}'", address=f"'{ADDRESS}'")
    )
    short = open_lesson(changed(folder, tmp_path / "b", title="'Eel'"))
    pages = [
        len(pypdf.PdfReader(io.BytesIO(handout_pdf(one, "hard", "flute"))).pages)
        for one in (long, short)
    ]
    assert pages[0] <= pages[1] + 1
    assert words in " ".join(text_of(handout_pdf(long, "hard", "flute")).split())


def test_large_print_has_larger_words_and_two_bars_a_line(lesson):
    def sizes(large: bool) -> tuple[int, int]:
        found: list[int] = []
        reader = pypdf.PdfReader(
            io.BytesIO(handout_pdf(lesson, "easy", "flute", large_print=large))
        )
        for page in reader.pages:
            page.extract_text(
                visitor_text=lambda text, cm, tm, font, size: found.extend(
                    [round(abs(tm[3] * cm[3] * size))] * len(text.strip())
                )
            )
        return sorted(found)[len(found) // 2], len(reader.pages)

    plain, large = sizes(False), sizes(True)
    assert large[0] >= 1.4 * plain[0]
    assert large[1] > plain[1]
