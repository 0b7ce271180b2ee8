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
from kit.publish.page.exporter import PageExporter, page_html
from kit.publish.page.sound import (
    PageSound,
    SoundFile,
    fitting_sounds,
    sound_files,
    tempo_steps,
)

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
    match = re.search(r'id="lesson-facts">(.*?)</script>', html, re.S)
    assert match
    return json.loads(match[1])


@pytest.fixture(scope="module")
def members(lesson, notebook, audio) -> str:
    return page_html(lesson, notebook, audience="members", links=LINKS, audio=audio)


@pytest.fixture(scope="module")
def public(lesson, notebook, audio) -> str:
    links = [link for link in LINKS if "hard" not in link]
    return page_html(lesson, notebook, audience="public", links=links, audio=audio)


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
    # The page's own: the facts, the packs (2 levels, 3 instruments), 6 sounds, the program.
    assert len(scripts) == 1 + 2 * 3 + 6 + 1
    assert not any(tag == "b" for tag, _ in page.tags)


def test_default_instrument_and_first_level_are_there_without_script(members):
    body = members.split("<script", 1)[0]
    assert "Alto saxophone, easy, in C major" in body
    assert body.count('<svg xmlns="http://www.w3.org/2000/svg"') >= 2
    assert 'data-id="b1"' in body


def test_every_level_and_instrument_has_a_pack_in_its_key(members):
    packs = packs_of(members)
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
    for index, notes in enumerate(hard["onsets"]["100"]):
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


def test_the_public_page_holds_nothing_of_the_members(public, members, audio):
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
    for (level, _), data in audio.items():
        assert (base64.b64encode(data).decode() in public) == (level == "easy")


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


def test_sound_that_does_not_fit_is_left_out_the_first_mixes_kept():
    sounds = [
        PageSound(level, mix, "x" * 900_000)
        for level in ("easy", "hard")
        for mix in ("demo", "backing", "melody")
    ]
    kept = fitting_sounds(sounds, audience="public", packs_bytes=100_000)
    assert [sound.name for sound in kept] == ["easy/demo", "hard/demo"]
    assert fitting_sounds(sounds, audience="members", packs_bytes=100_000) == sounds


def test_the_same_lesson_gives_the_same_page(lesson, notebook, audio, members):
    again = page_html(lesson, notebook, audience="members", links=LINKS, audio=audio)
    assert again == members


def test_a_figure_of_unknown_kind_is_an_error(lesson, audio):
    data = {FIGURE_MIME: {"version": 1, "show": "hologram"}}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    strange = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    with pytest.raises(LessonError, match="hologram"):
        page_html(lesson, strange, audience="members", audio=audio)


def test_html_that_another_program_left_in_the_notebook_is_not_taken_over(lesson, audio):
    data = {"text/html": "<script>alert(9)</script>", "application/javascript": "alert(9)"}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    foreign = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    assert "alert(9)" not in page_html(lesson, foreign, audience="members", audio=audio)


def test_the_exporter_reads_the_lesson_beside_the_notebook(folder, notebook, audio):
    resources = {"metadata": {"path": str(folder), "name": "lesson"}, "kit_audio": audio}
    html, after = PageExporter(audience="public").from_notebook_node(
        nbformat.from_dict(notebook), resources
    )
    assert html.startswith("<!DOCTYPE html>")
    assert after["output_extension"] == ".html"


def test_a_notebook_run_by_nbconvert_itself_shows_its_figures(folder, notebook, audio):
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
    resources = {"metadata": {"path": str(folder), "name": "lesson"}, "kit_audio": audio}
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


def test_each_tempo_step_has_its_own_onsets_and_the_map_serves_all(lesson, notebook, audio):
    links = [*BESIDE, "audio/hard-demo-60.mp3"]
    page = page_html(lesson, notebook, audience="members", links=links, audio=audio)
    easy, hard = facts_of(page)["levels"]
    assert list(easy["onsets"]) == ["70", "100"]
    assert easy["onsets"]["70"] == easy["onsets"]["100"], "straight eighths stay straight"
    assert hard["onsets"]["60"] != hard["onsets"]["100"], "a slower swing is wider"
    assert easy["sources"]["demo"] == [
        [100, ""], [70, "audio/easy-demo-70.mp3"], [100, "audio/easy-demo.mp3"]
    ]  # fmt: skip
    assert easy["sources"]["no-bass"] == [[100, "audio/easy-no-bass.mp3"]]
    assert tempo_steps(sound_files(links, ["hard"])) == (60, 100)


def test_downloads_say_paper_print_and_tempo(lesson, notebook, audio):
    page = page_html(lesson, notebook, audience="members", links=BESIDE, audio=audio)
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


def test_what_the_kit_finds_doubtful_is_not_for_students(lesson, audio):
    data = {FIGURE_MIME: {"version": 1, "show": "problems"}}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    cell = {
        "cell_type": "code", "id": "x", "metadata": {}, "source": "", "execution_count": 1,
        "outputs": [output],
    }  # fmt: skip
    notebook = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    page = page_html(lesson, notebook, audience="members", audio=audio)
    assert "data-figure" not in page.split("<script", 1)[0]
