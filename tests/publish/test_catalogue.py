"""The catalogue: what it shows, what visitors may know, what it leaves alone."""

import io
import json
import re
import zipfile
from dataclasses import replace
from datetime import date

import feedparser
import pytest

from kit.publish.catalogue._entries import courses, public_view, read_entries
from kit.publish.catalogue._feed import atom_feed
from kit.publish.catalogue.site import catalogue_html, write_catalogue
from kit.publish.manifest import manifest

SECRET = "TOP-SECRET"


@pytest.fixture
def out(tmp_path, lesson):
    """An output folder with three lessons; the hard level's summary is a secret."""
    base = manifest(lesson, [], built_from="x", kit_version="1")
    base["levels"][1] |= {"summary": SECRET, "feel": "secret-feel", "tempo": 399.0}
    first = {"course": "Path <1>", "order": 1, "published": "2026-01-01"}
    second = {"course": "Path <1>", "order": 2, "published": "2026-02-01"}
    for slug, changes in {
        "fish": {"catalogue": second},
        "eel": {"title": "Eel", "catalogue": first, "concert_key": "F major"},
        "crab": {"title": "Crab\u000b", "meter": "6/8"},
    }.items():
        (tmp_path / slug).mkdir()
        text = json.dumps(base | changes)
        (tmp_path / slug / "manifest.json").write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def entries(out):
    found, left_out = read_entries(out)
    assert left_out == ()
    return found


def test_lessons_come_by_title_with_real_accidentals(entries):
    assert [entry.slug for entry in entries] == ["crab", "eel", "fish"]
    assert [entry.key for entry in entries] == ["E♭ major", "F major", "E♭ major"]


def test_a_path_goes_by_its_order_and_says_what_each_lesson_adds(entries):
    (path,) = courses(entries)
    assert [entry.slug for entry, _ in path.steps] == ["eel", "fish"]
    assert [adds for _, adds in path.steps] == [
        "The start of the path.",
        "New here: the key of E♭ major (concert).",
    ]


def test_the_teachers_own_words_for_what_is_added_come_first(entries):
    (path,) = courses([replace(entries[2], adds="Swing.")])
    assert path.steps[0][1] == "Swing."


def test_a_lesson_brings_what_none_before_it_on_the_path_had(entries):
    fish = entries[2]
    faster = replace(fish.levels[0], tempo=fish.levels[1].tempo + 1)
    rows = [
        replace(fish, slug="a"),
        replace(fish, slug="b", meter="6/8", form="AABA", order=3),
        replace(fish, slug="c", order=4),  # as the first
        replace(fish, slug="d", levels=(faster,), order=5),
    ]
    (path,) = courses(rows)
    assert [adds for _, adds in path.steps] == [
        "The start of the path.",
        "New here: the form AABA and 6/8 time.",
        "More of what you know.",
        f"New here: a tempo up to {faster.tempo:g}.",
    ]


def test_a_lesson_keeps_its_number_on_the_path(entries):
    html = catalogue_html(entries, link="{}", has_feed=False)
    assert re.findall(r'<li class="entry"( data-step="\d")?', html) == [
        ' data-step="1"', ' data-step="2"', "",
    ]  # fmt: skip


def test_a_long_page_lists_its_paths_a_short_one_does_not(entries):
    assert 'class="ways"' not in catalogue_html(entries, link="{}", has_feed=False)
    many = [replace(entry, slug=f"{entry.slug}{n}") for n in range(9) for entry in entries]
    html = catalogue_html(many, link="{}", has_feed=False)
    ways = html.partition('class="ways"')[2].partition("</nav>")[0]
    assert re.findall(r'href="#(.*?)">(.*?)</a> (\d+)', ways) == [
        ("path-1", "Path &lt;1&gt;", "18"), ("others", "More lessons", "9"),
    ]  # fmt: skip
    assert all(f'id="{name}"' in html for name in ("path-1", "others"))
    alone = [replace(entry, course="") for entry in many]
    assert 'class="ways"' not in catalogue_html(alone, link="{}", has_feed=False)


def test_visitors_learn_nothing_of_the_members_levels_but_their_titles(out, entries):
    public = public_view(entries)
    assert all([level.name for level in entry.levels] == ["easy"] for entry in public)
    write_catalogue(out)
    members = (out / "index.html").read_text(encoding="utf-8")
    assert SECRET.lower() in members.lower()
    archive = zipfile.ZipFile(out / "free-site.zip")
    texts = [archive.read(name).decode() for name in archive.namelist()]
    texts.append((out / "public/index.html").read_text(encoding="utf-8"))
    assert len(texts) == 3
    for text in texts:
        assert SECRET.lower() not in text.lower()
        assert "secret" not in text
        assert "399" not in text
    assert "For members: Hard" in texts[-1]


def test_links_fit_the_place_of_each_page(out):
    write_catalogue(out)
    site = zipfile.ZipFile(out / "free-site.zip").read("index.html").decode()
    public = (out / "public/index.html").read_text(encoding="utf-8")
    assert 'href="eel/index.html"' in site
    assert 'href="../eel/public/index.html"' in public
    assert 'href="feed.xml"' in site
    assert 'href="feed.xml"' not in public


def test_hostile_words_stay_words(out):
    write_catalogue(out)
    html = (out / "index.html").read_text(encoding="utf-8")
    assert "<b>Chips" not in html
    assert html.count("<script") == 1
    assert "Path &lt;1&gt;" in html
    assert not re.search(r"(src|href)=[\"']?https?:", html)


def test_a_second_writing_touches_nothing(out):
    write_catalogue(out)
    before = {p: p.stat().st_mtime_ns for p in out.rglob("*") if p.is_file()}
    write_catalogue(out)
    assert {p: p.stat().st_mtime_ns for p in out.rglob("*") if p.is_file()} == before
    assert not list(out.glob(".*"))


def test_a_damaged_or_foreign_manifest_is_named_and_left_out(out):
    (out / "eel/manifest.json").write_text("{", encoding="utf-8")
    (out / "crab/manifest.json").write_text('{"lesson": "crab"}', encoding="utf-8")
    assert write_catalogue(out) == ("crab", "eel")
    assert "Eel" not in (out / "index.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "changes",
    [
        {"title": 5}, {"title": "\ud800"}, {"catalogue": []}, {"catalogue": {"order": "x"}},
        {"levels": 3}, {"levels": [[]]}, {"instruments": [{"slug": "x"}]},
        {"catalogue": {"published": "soon"}}, {"concert_key": None},
    ],
)  # fmt: skip
def test_a_manifest_of_the_wrong_types_is_left_out(out, changes):
    data = json.loads((out / "eel/manifest.json").read_text(encoding="utf-8"))
    (out / "eel/manifest.json").write_text(json.dumps(data | changes), encoding="utf-8")
    assert write_catalogue(out) == ("eel",)


@pytest.mark.parametrize(
    "value", ['"fast"', "true", "NaN", "1e999", "1" + "0" * 4000, "1" + "0" * 5000]
)
def test_a_tempo_that_is_no_number_leaves_a_lesson_out(out, value):
    path = out / "eel/manifest.json"
    text = re.sub(
        r'"tempo": [\d.]+', lambda _: f'"tempo": {value}', path.read_text("utf-8")
    )
    path.write_text(text, encoding="utf-8")
    assert write_catalogue(out) == ("eel",)


@pytest.mark.parametrize("text", ["[" * 100_000, "[]", "null", "\x00", '{"a": 1' * 50_000])
def test_what_is_no_manifest_at_all_is_left_out(out, text):
    (out / "eel/manifest.json").write_text(text, encoding="utf-8")
    assert write_catalogue(out) == ("eel",)


def test_an_empty_folder_gets_no_catalogue(tmp_path):
    assert write_catalogue(tmp_path / "nothing") == ()
    assert not (tmp_path / "nothing").exists()


def test_a_lesson_alone_has_a_page_that_says_so(entries):
    html = catalogue_html(entries[:1], link="{}", has_feed=False)
    assert "1 lesson</p>" in html
    assert "All lessons" in html


def test_the_feed_is_valid_and_the_newest_lesson_is_first(entries):
    feed = atom_feed(entries, school="Quay Street & Sons", audience="members")
    parsed = feedparser.parse(feed)
    assert not parsed.bozo, parsed.get("bozo_exception")
    assert parsed.version == "atom10"
    assert parsed.feed.title == "Quay Street & Sons: new lessons"
    assert parsed.feed.updated == "2026-02-01T00:00:00Z"
    assert [entry.link for entry in parsed.entries] == ["fish/index.html", "eel/index.html"]
    assert all(entry.id.startswith("urn:uuid:") for entry in parsed.entries)
    assert len({entry.id for entry in parsed.entries} | {parsed.feed.id}) == 3


def test_a_title_with_characters_xml_forbids_still_gives_a_valid_feed(entries):
    crab = replace(entries[0], published=date(2026, 3, 1))
    assert "\x0b" in crab.title
    parsed = feedparser.parse(atom_feed([crab], school="", audience="public"))
    assert not parsed.bozo
    assert parsed.entries[0].title.strip() == "Crab"


def test_without_dates_there_is_no_feed(out, entries):
    undated = [replace(entry, published=None) for entry in entries]
    assert atom_feed(undated, school="", audience="public") is None
    write_catalogue(out)
    assert (out / "feed.xml").is_file()
    for path in out.glob("*/manifest.json"):
        data = json.loads(path.read_text(encoding="utf-8"))
        data["catalogue"].pop("published", None)
        path.write_text(json.dumps(data), encoding="utf-8")
    write_catalogue(out)
    assert not (out / "feed.xml").exists()
    names = zipfile.ZipFile(io.BytesIO((out / "free-site.zip").read_bytes())).namelist()
    assert names == ["index.html"]
