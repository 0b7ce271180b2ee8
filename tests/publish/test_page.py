from __future__ import annotations

import base64
import gzip
import json
import re
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import nbformat
import pytest

from kit.errors import LessonError
from kit.publish.cells import FIGURE_MIME
from kit.publish.page.beside import (
    STRETCH_PATH,
    band_path,
    melody_path,
    pack_file,
    pack_of,
    stems_file,
    stretch_file,
)
from kit.publish.page.exporter import PageExporter, page_html
from kit.publish.page.sound import SoundFile, fitting_files, level_sound, sound_files
from kit.tracks.stems import Stem

LINKS = (
    "handouts/easy-alto-sax.pdf",
    "handouts/hard-alto-sax.pdf",
    "audio/easy-demo.mp3",
)
VOID = {
    "meta",
    "link",
    "img",
    "br",
    "hr",
    "input",
    "path",
    "rect",
    "use",
    "ellipse",
    "polygon",
}


def packs_of(html: str) -> dict[str, Any]:
    found = re.findall(r'data-pack="([^"]+)">([^<]+)<', html)
    return {
        name: json.loads(gzip.decompress(base64.b64decode(text))) for name, text in found
    }


def facts_of(html: str) -> dict[str, Any]:
    return packs_of(html)["lesson"]


@pytest.fixture(scope="module")
def stems(lesson) -> dict[str, bytes]:
    """Stand-ins that can be told apart: the exporter does not look inside."""
    return {
        path: stems_file(level, [Stem("melody", (f"sound of {path}".encode(),))])
        for level in lesson.level_names
        for path in (band_path(level), melody_path(level, "alto-sax"))
    }


@pytest.fixture(scope="module")
def members(lesson, notebook, stems) -> str:
    """The members' page that holds all, to be mailed."""
    return page_html(
        lesson, notebook, audience="members", links=LINKS, stems=stems, inside=True
    )


@pytest.fixture(scope="module")
def public(lesson, notebook, stems) -> str:
    links = [link for link in LINKS if "hard" not in link]
    return page_html(
        lesson, notebook, audience="public", links=links, stems=stems, inside=True
    )


@pytest.fixture(scope="module")
def light(lesson, notebook) -> str:
    """The members' page as a site has it."""
    links = [*LINKS, band_path("easy"), melody_path("easy", "flute")]
    return page_html(lesson, notebook, audience="members", links=links)


class Tags(HTMLParser):
    """Collects tags, attributes and the text of each element that is not a script."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.lasttag not in ("script", "style"):
            self.words.append(data)


def test_the_page_asks_for_nothing_from_elsewhere(members):
    page = Tags(members)
    for tag, attributes in page.tags:
        for name in ("src", "href", "srcset", "data", "action", "poster"):
            value = attributes.get(name)
            if value is None:
                continue
            local = value.startswith(("#", "data:", "handouts/", "audio/", "parts/"))
            assert local or (tag == "a" and value.startswith(("https:", "mailto:"))), value
    assert "@import" not in members
    assert not re.search(r"url\(\s*['\"]?(?!data:|#)", members)


def test_hostile_titles_stay_words(members):
    page = Tags(members)
    assert "alert(1)" in "".join(page.words)
    scripts = [attributes for tag, attributes in page.tags if tag == "script"]
    # The page's own: the facts, the packs (2 levels, 3 instruments), 4 files of stems and
    # the stretcher, the program and what runs before it.
    assert len(scripts) == 1 + 2 * 3 + 4 + 1 + 2
    assert not any(tag == "b" for tag, _ in page.tags)


def test_default_instrument_and_first_level_are_there_without_script(members):
    body = members.split("<body>")[1].split("<script", 1)[0]
    assert "Alto saxophone, easy, in C major" in body
    assert body.count('<svg xmlns="http://www.w3.org/2000/svg"') >= 1
    assert 'data-id="b1"' in body


def test_every_level_and_instrument_has_a_pack_in_its_key(members):
    packs = packs_of(members)
    del packs["lesson"]
    assert set(packs) == {
        f"{level}/{horn}"
        for level in ("easy", "hard")
        for horn in ("alto-sax", "trombone", "flute")
    }
    assert packs["easy/alto-sax"]["key"] == "C major"
    assert packs["hard/trombone"]["key"] == "E♭ major"
    for pack in packs.values():
        assert pack["wide"] != pack["narrow"]
        assert len(pack["words"]) == 9


def test_the_map_is_the_routes_own(members, lesson):
    for level in facts_of(members)["levels"]:
        route = lesson.level(level["name"]).route
        assert [row[2] for row in level["map"]] == [bar.sheet_index for bar in route.bars]
        starts = [row[0] for row in level["map"]]
        assert starts == sorted(starts)
        for row, start in zip(
            level["map"],
            route.bar_starts(lesson.level(level["name"]).tempo_qpm),
            strict=True,
        ):
            assert row[0] == pytest.approx(start, abs=1e-6)


def test_onsets_point_at_notes_that_are_drawn(members, lesson):
    pack = packs_of(members)["hard/flute"]
    hard = next(level for level in facts_of(members)["levels"] if level["name"] == "hard")
    for index, notes in enumerate(hard["onsets"]):
        for position, start, end in notes:
            assert 0 <= start < end <= 1.0001
            assert f'data-id="b{index}n{position}"' in pack["wide"]


def test_a_tag_and_each_section_begin_a_passage(members):
    hard = next(level for level in facts_of(members)["levels"] if level["name"] == "hard")
    begun = [(row[6], row[5]) for row in hard["map"] if row[7]]
    assert begun[:2] == [("head", "A"), ("head", "B")]
    assert [kind for kind, _ in begun].count("tag") == 2


def test_the_members_page_has_all_words_but_hidden_ones(members):
    for words in ("Easy words.", "Hard words.", "Members words.", "Screen words."):
        assert words in members
    for words in ("Paper words.", "Hidden words."):
        assert words not in members


def test_the_public_page_holds_nothing_of_the_members(public, members, stems):
    everything = public + json.dumps(packs_of(public), ensure_ascii=False)
    for words in (
        "Hard words.",
        "Members words.",
        "173 beats",
        "maj9",
        "♯11",
        "/hard",
        "hard-",
    ):
        assert words not in everything
        assert words in members + json.dumps(packs_of(members), ensure_ascii=False)
    for path, data in stems.items():
        assert data.decode() in members
        assert (data.decode() in public) == ("easy" in path)


def test_the_public_page_names_the_other_levels(public):
    words = " ".join("".join(Tags(public).words).split())
    assert "For members" in words
    assert "Hard: With colours." in words


def test_links_are_only_those_that_are_given(members, public):
    hrefs = [
        a["href"]
        for tag, a in Tags(members).tags
        if tag == "a" and "/" in (a["href"] or "")
    ]
    assert sorted(hrefs) == sorted(LINKS)
    hrefs = [
        a["href"] for tag, a in Tags(public).tags if tag == "a" and "/" in (a["href"] or "")
    ]
    assert sorted(hrefs) == sorted(link for link in LINKS if "hard" not in link)


def test_headings_step_down_one_at_a_time(members):
    levels = [int(tag[1]) for tag, _ in Tags(members).tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    for before, after in pairwise(levels):
        assert after <= before + 1


def test_sound_that_does_not_fit_is_left_out_what_is_most_wanted_kept():
    files = dict.fromkeys(("band", "melody", "other", "last"), b"x" * 900000)
    assert fitting_files(files, audience="public", room=100_000) == [
        "band", "melody", "other"
    ]  # fmt: skip
    assert fitting_files(files, audience="members", room=100_000) == list(files)


def test_the_same_lesson_gives_the_same_page(lesson, notebook, stems, members):
    again = page_html(
        lesson, notebook, audience="members", links=LINKS, stems=stems, inside=True
    )
    assert again == members


def test_a_page_on_a_site_holds_the_first_notes_alone_and_is_light(light, members):
    assert set(packs_of(light)) == {"lesson", "easy/alto-sax"}
    assert '<script type="text/plain" data-file=' not in light
    assert len(light) < 400_000
    assert packs_of(light)["easy/alto-sax"] == packs_of(members)["easy/alto-sax"]


def test_a_level_is_heard_where_its_band_and_a_melody_are(light):
    easy, hard = facts_of(light)["levels"]
    assert easy["sound"]["path"] == "audio/easy-band.js"
    assert easy["sound"]["melodies"] == {"flute": "audio/easy-melody-flute.js"}
    assert easy["files"] == {"demo": "audio/easy-demo.mp3"}
    assert hard["sound"] is None


def test_the_default_instruments_melody_comes_first(lesson):
    horns = ("alto-sax", "flute")
    paths = {band_path("easy"), *(melody_path("easy", horn) for horn in horns)}
    sound = level_sound("easy", horns, paths)
    assert list(sound["melodies"]) == ["alto-sax", "flute"]
    assert level_sound("easy", horns, {band_path("easy")}) is None


def test_a_file_of_stems_says_first_what_is_in_it():
    stems = [Stem("bass", (b"one", b"two")), Stem("drums", ()), Stem("chords", (b"three",))]
    rows = re.findall(
        r'lessonKit\.put\("([^"]+)","([^"]+)"\);\n', stems_file("easy", stems).decode()
    )
    head = json.loads(base64.b64decode(rows[0][1]))
    assert head["pieces"] == {"bass": 2, "drums": 0, "chords": 1}
    assert head["starts"] == [0, 2 * 48_000, 6 * 48_000]
    assert [(name, base64.b64decode(text)) for name, text in rows[1:]] == [
        ("easy/bass/0", b"one"), ("easy/chords/0", b"three"), ("easy/bass/1", b"two")
    ]  # fmt: skip


def test_a_pack_comes_out_of_its_file_as_it_went_in():
    assert pack_of(pack_file("easy/flute", "abcd")) == "abcd"
    with pytest.raises(ValueError, match="one pack"):
        pack_of(pack_file("easy/flute", "abcd") * 2)


@pytest.mark.parametrize("name", ["stretch.js", "inflate.js"])
def test_what_others_wrote_keeps_its_licence_in_each_page(members, name):
    """The MIT licence asks for copyright and permission notice in all copies."""
    if name == "stretch.js":
        (line,) = re.findall(r'put\("stretch","([^"]+)"', stretch_file().decode())
        text = gzip.decompress(base64.b64decode(line)).decode()
        assert stretch_file().decode() in members
        assert f'data-file="{STRETCH_PATH}"' in members
        assert "Copyright (c) 2022 Geraint Luff / Signalsmith Audio Ltd." in text
    else:
        text = members
        assert "Copyright (c) 2015-present Devon Govett" in text
    assert "shall be included in" in " ".join(text.split())
    assert "WITHOUT WARRANTY OF ANY KIND" in " ".join(text.split())


def test_a_figure_of_unknown_kind_is_an_error(lesson):
    data = {FIGURE_MIME: {"version": 1, "show": "hologram"}}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    strange = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    with pytest.raises(LessonError, match="hologram"):
        page_html(lesson, strange, audience="members")


def test_html_that_another_program_left_in_the_notebook_is_not_taken_over(lesson):
    data = {"text/html": "<script>alert(9)</script>", "application/javascript": "alert(9)"}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    foreign = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    assert "alert(9)" not in page_html(lesson, foreign, audience="members")


def test_the_exporter_reads_the_lesson_beside_the_notebook(folder, notebook, stems):
    resources = {"metadata": {"path": str(folder), "name": "lesson"}, "kit_stems": stems}
    html, after = PageExporter(audience="public").from_notebook_node(
        nbformat.from_dict(notebook), resources
    )
    assert html.startswith("<!DOCTYPE html>")
    assert after["output_extension"] == ".html"


def test_a_notebook_run_by_nbconvert_itself_shows_its_figures(folder, notebook, stems):
    """With --execute the outputs exist only after nbconvert's own preprocessors."""
    from nbconvert.preprocessors import Preprocessor

    class Run(Preprocessor):
        def preprocess(self, nb, resources):
            ran = {cell["id"]: cell for cell in notebook["cells"]}
            for cell in nb.cells:
                if cell.cell_type == "code":
                    cell.outputs = nbformat.from_dict(ran[cell.id]["outputs"])
            return nb, resources

    fresh = nbformat.from_dict(notebook)
    for cell in fresh.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    exporter = PageExporter()
    exporter.register_preprocessor(Run(), enabled=True)
    resources = {"metadata": {"path": str(folder), "name": "lesson"}, "kit_stems": stems}
    html, _ = exporter.from_notebook_node(fresh, resources)
    assert 'data-kind="form-chart"' in html


BESIDE = (
    "audio/easy-demo.mp3",
    "audio/easy-demo-70.mp3",
    "audio/easy-no-bass.mp3",
    "audio/easy-loop-a1.mp3",
    "audio/easy-demo-7000.mp3",
    "audio/easy-demo.mp3.txt",
    "handouts/easy-alto-sax.pdf",
    "handouts/easy-alto-sax-letter.pdf",
    "handouts/easy-alto-sax-letter-large.pdf",
)


def test_audio_beside_the_page_is_known_by_level_mix_and_tempo():
    assert sound_files(BESIDE, ["easy", "hard"]) == (
        SoundFile("audio/easy-demo-70.mp3", "easy", "demo", 70),
        SoundFile("audio/easy-demo.mp3", "easy", "demo"),
        SoundFile("audio/easy-no-bass.mp3", "easy", "no-bass"),
    )


def test_a_level_whose_name_begins_like_another_keeps_its_own_files():
    links = ["audio/easy-demo.mp3", "audio/easy-demo-demo.mp3"]
    found = {f.path: f.level for f in sound_files(links, ["easy", "easy-demo"])}
    assert found == {"audio/easy-demo.mp3": "easy", "audio/easy-demo-demo.mp3": "easy-demo"}


def test_downloads_say_paper_print_and_tempo(lesson, notebook):
    page = page_html(lesson, notebook, audience="members", links=BESIDE)
    texts = dict(re.findall(r'<a href="((?:audio|handouts)/[^"]+)">([^<]+)</a>', page))
    assert texts == {
        "handouts/easy-alto-sax.pdf": "Handout (PDF)",
        "handouts/easy-alto-sax-letter.pdf": "Handout, US Letter (PDF)",
        "handouts/easy-alto-sax-letter-large.pdf": "Handout, US Letter, large print (PDF)",
        "audio/easy-demo.mp3": "melody and band",
        "audio/easy-demo-70.mp3": "melody and band, 70 %",
        "audio/easy-no-bass.mp3": "no bass, you play it",
        "audio/easy-loop-a1.mp3": "loop: a1",
    }


def test_wide_figures_have_a_narrow_twin_for_the_telephone(members):
    figures = packs_of(members)["hard/alto-sax"]["figures"]
    twins = [html for html in figures.values() if '<div class="narrow">' in html]
    kinds = {re.search(r"lk-figure lk-([a-z-]+)", html)[1] for html in twins}
    assert kinds == {"form-chart", "comparison", "solo-guide"}


def test_what_the_kit_finds_doubtful_is_not_for_students(lesson):
    data = {FIGURE_MIME: {"version": 1, "show": "problems"}}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    notebook = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    page = page_html(lesson, notebook, audience="members")
    assert "data-figure" not in page.split("<body>")[1].split("<script", 1)[0]
