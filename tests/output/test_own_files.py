"""The catalogue among files of the teacher's: ours are replaced, theirs never."""

import hashlib
import json
import os
import time
import zipfile

import pytest

from kit.errors import LessonError
from kit.output.own_files import kept_aside_sentences
from kit.output.seal import ownership, sealed
from kit.publish.bundles import zip_bytes
from kit.publish.catalogue.site import write_catalogue
from kit.publish.manifest import manifest

OURS = ("index.html", "public/index.html", "feed.xml", "free-site.zip")


def add_lesson(out, lesson, slug="eel", **changes):
    folder = out / slug
    folder.mkdir(parents=True, exist_ok=True)
    base = manifest(lesson, [], built_from="x", kit_version="1")
    base |= {"lesson": slug, "catalogue": {"published": "2026-01-01"}, **changes}
    (folder / "manifest.json").write_text(json.dumps(base), encoding="utf-8")


@pytest.fixture
def out(tmp_path, lesson):
    out = tmp_path / "out"
    add_lesson(out, lesson)
    return out


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_what_the_kit_wrote_is_its_own_and_is_replaced(out, lesson):
    write_catalogue(out)
    assert [ownership(out / name) for name in OURS] == ["own"] * 4
    before = tree(out)
    add_lesson(out, lesson, "crab", title="Crab")
    write_catalogue(out)
    after = tree(out)
    assert all(before[name] != after[name] for name in OURS)
    assert not list(out.rglob(".*"))


@pytest.mark.parametrize("name", OURS)
@pytest.mark.parametrize("content", [b"", b"my own page", b"\xff\xfe\0" * 100])
def test_a_file_of_the_teachers_is_refused_by_name_and_nothing_is_touched(
    out, name, content
):
    (out / name).parent.mkdir(exist_ok=True)
    (out / name).write_bytes(content)
    before = tree(out)
    with pytest.raises(LessonError, match="the kit did not write this") as caught:
        write_catalogue(out)
    assert caught.value.file == str(out / name)
    assert caught.value.remedy
    assert tree(out) == before


@pytest.mark.parametrize("name", OURS[:3])
@pytest.mark.parametrize(
    "edit",
    [
        lambda text: text.replace("Fish", "My Fish", 1),
        lambda text: text + "<!-- mine -->\n",
        lambda text: text.rstrip("\n").rpartition("\n")[0] + "\n",  # the seal taken off
        lambda text: "\ufeff" + text,
        lambda text: text[:-200],
    ],
    ids=["a word", "appended", "without seal", "byte order mark", "cut off"],
)
def test_an_edited_file_of_ours_is_the_teachers(out, name, edit):
    write_catalogue(out)
    text = (out / name).read_text(encoding="utf-8")
    assert edit(text) != text
    (out / name).write_text(edit(text), encoding="utf-8")
    before = tree(out)
    with pytest.raises(LessonError, match="somebody has changed it") as caught:
        write_catalogue(out)
    assert caught.value.file == str(out / name)
    assert tree(out) == before


def test_an_archive_somebody_added_to_is_the_teachers(out):
    write_catalogue(out)
    with zipfile.ZipFile(out / "free-site.zip", "a") as archive:
        archive.writestr("photo.jpg", b"mine")
    before = tree(out)
    with pytest.raises(LessonError, match=r"free-site\.zip: the kit did not write this"):
        write_catalogue(out)
    assert tree(out) == before


def test_all_that_stand_in_the_way_are_named_at_once(out):
    (out / "index.html").write_text("mine")
    (out / "feed.xml").write_text("mine")
    with pytest.raises(LessonError) as caught:
        write_catalogue(out)
    sentences = [str(caught.value), *caught.value.more]
    assert len(sentences) == 2
    assert all(len(sentence) <= 500 for sentence in sentences)


def test_other_files_in_public_stay(out):
    (out / "public").mkdir()
    (out / "public/logo.png").write_bytes(b"mine")
    write_catalogue(out)
    write_catalogue(out)
    assert (out / "public/logo.png").read_bytes() == b"mine"
    assert ownership(out / "public/index.html") == "own"


def test_a_feed_of_the_teachers_stays_where_the_kit_has_none_to_write(out, lesson):
    add_lesson(out, lesson, catalogue={})
    (out / "feed.xml").write_text("mine")
    write_catalogue(out)
    assert (out / "feed.xml").read_text() == "mine"
    assert "feed.xml" not in (out / "index.html").read_text(encoding="utf-8")


def test_line_ends_that_another_program_changed_are_no_edit(out, lesson):
    write_catalogue(out)
    for name in OURS[:3]:
        data = (out / name).read_bytes().replace(b"\n", b"\r\n")
        (out / name).write_bytes(data)
    add_lesson(out, lesson, "crab", title="Crab\r\nLobster")
    write_catalogue(out)
    assert [ownership(out / name) for name in OURS] == ["own"] * 4


def test_a_folder_where_a_file_goes_is_refused(out):
    (out / "index.html").mkdir()
    with pytest.raises(LessonError, match=r"index\.html: the kit did not write this"):
        write_catalogue(out)
    assert not (out / "feed.xml").exists()


def test_a_file_where_the_public_folder_goes_is_refused(out):
    (out / "public").write_text("mine")
    with pytest.raises(LessonError, match="public: this is a file"):
        write_catalogue(out)
    assert (out / "public").read_text() == "mine"
    assert not (out / "index.html").exists()


# ---- links ----


def test_a_link_stays_a_link_and_what_it_leads_to_is_replaced(out, tmp_path, lesson):
    site = tmp_path / "site"
    site.mkdir()
    (out / "index.html").symlink_to(site / "members.html")
    (out / "public").symlink_to(site, target_is_directory=True)
    write_catalogue(out)
    add_lesson(out, lesson, "crab", title="Crab")
    write_catalogue(out)
    assert (out / "index.html").is_symlink()
    assert (out / "public").is_symlink()
    assert "Crab" in (site / "members.html").read_text(encoding="utf-8")
    assert "Crab" in (site / "index.html").read_text(encoding="utf-8")


def test_a_link_to_a_file_of_the_teachers_is_refused(out, tmp_path):
    (tmp_path / "mine.html").write_text("mine")
    (out / "index.html").symlink_to(tmp_path / "mine.html")
    with pytest.raises(LessonError, match=r"index\.html: the kit did not write this"):
        write_catalogue(out)
    assert (tmp_path / "mine.html").read_text() == "mine"


@pytest.mark.parametrize("name", ["index.html", "public"])
def test_a_link_to_a_drive_that_is_missing_is_refused(out, tmp_path, name):
    (out / name).symlink_to(tmp_path / "drive/site")
    with pytest.raises(LessonError, match="which cannot be reached; mount"):
        write_catalogue(out)
    assert not (tmp_path / "drive").exists()


def test_links_that_go_round_are_refused(out):
    (out / "index.html").symlink_to(out / "feed.xml")
    (out / "feed.xml").symlink_to(out / "index.html")
    with pytest.raises(LessonError, match="cannot be reached"):
        write_catalogue(out)


def test_the_members_page_never_lands_in_public_by_a_link(out):
    (out / "public").symlink_to(out, target_is_directory=True)
    with pytest.raises(LessonError, match="lead to one and the same file"):
        write_catalogue(out)
    assert not (out / "index.html").exists()


# ---- what earlier kits wrote ----


def unsealed(text):
    """Give a page or feed as a kit without seals wrote it."""
    lines = [
        line
        for line in text.splitlines()
        if not line.startswith(("<!-- tune-lesson-kit", '<meta name="generator"'))
        and "<generator>" not in line
    ]
    return "\n".join(lines)


@pytest.fixture
def earlier(out):
    """An output folder as an earlier kit left it."""
    write_catalogue(out)
    for name in OURS[:3]:
        text = unsealed((out / name).read_text(encoding="utf-8"))
        (out / name).write_text(text + "\n" * (name == "feed.xml"), encoding="utf-8")
    with zipfile.ZipFile(out / "free-site.zip") as archive:
        texts = {name: archive.read(name).decode() for name in archive.namelist()}
    old = {name: unsealed(text).encode() for name, text in texts.items()}
    (out / "free-site.zip").write_bytes(zip_bytes(old))
    return out


def test_what_an_earlier_kit_wrote_is_replaced_and_kept_aside_once(earlier):
    assert [ownership(earlier / name) for name in OURS] == ["earlier"] * 4
    before = tree(earlier)
    (told,) = kept_aside_sentences(earlier, OURS)
    assert "feed.xml" in told
    write_catalogue(earlier)
    assert [ownership(earlier / name) for name in OURS] == ["own"] * 4
    kept = tree(earlier / ".recipes/replaced")
    assert sorted(kept.values()) == sorted(before[name] for name in OURS)
    assert kept_aside_sentences(earlier, OURS) == []
    write_catalogue(earlier)
    assert tree(earlier / ".recipes/replaced") == kept


@pytest.mark.parametrize(
    "page",
    [
        '<!DOCTYPE html>\n<html lang="en"><body>mine</body>\n</html>',
        '<feed xmlns="http://www.w3.org/2005/Atom"><id>urn:uuid:1</id><title>New lessons'
        "</title></feed>",
        '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "b">]><feed >&a;</feed>',
    ],
)
def test_other_pages_and_feeds_are_not_taken_for_an_earlier_kits(out, page):
    (out / "feed.xml").write_text(page)
    assert ownership(out / "feed.xml") == "foreign"


@pytest.mark.parametrize(
    "files",
    [{}, {"index.html": b"mine"}, {"feed.xml": sealed("x")}, {"../index.html": b""}],
)
def test_other_archives_are_the_teachers(out, files):
    (out / "free-site.zip").write_bytes(zip_bytes(files))
    assert ownership(out / "free-site.zip") == "foreign"


# ---- whole or not at all ----


def test_a_full_disk_leaves_every_file_as_it_was(out, lesson, monkeypatch):
    write_catalogue(out)
    before = tree(out)
    add_lesson(out, lesson, "crab", title="Crab")
    before["crab/manifest.json"] = (out / "crab/manifest.json").read_bytes()
    write_bytes = type(out).write_bytes

    def fill(path, data):
        if path.name.startswith(".free-site.zip"):
            raise OSError(28, "No space left on device")
        return write_bytes(path, data)

    monkeypatch.setattr(type(out), "write_bytes", fill)
    with pytest.raises(OSError, match="No space left") as caught:
        write_catalogue(out)
    assert "free-site.zip" in str(caught.value.filename)
    assert tree(out) == before


def test_what_a_killed_build_left_is_cleared_after_half_an_hour(out):
    stale, fresh = out / ".index.html.0a1b2c3d.new", out / ".feed.xml.0a1b2c3d.new"
    mine = out / ".index.html.notes"
    for path in (stale, fresh, mine):
        path.write_text("half")
    os.utime(stale, (time.time() - 4000,) * 2)
    os.utime(mine, (time.time() - 4000,) * 2)
    write_catalogue(out)
    assert not stale.exists()
    assert fresh.exists()
    assert mine.exists()


def test_a_lesson_put_in_place_meanwhile_is_not_missing(out, lesson, monkeypatch):
    """Another build ends between reading the manifests and writing the catalogue."""
    replace = type(out).replace
    late = []

    def interrupted(path, target):
        if not late:
            late.append(add_lesson(out, lesson, "crab", title="Crab"))
        return replace(path, target)

    monkeypatch.setattr(type(out), "replace", interrupted)
    write_catalogue(out)
    assert "Crab" in (out / "index.html").read_text(encoding="utf-8")


def test_a_seal_is_of_the_lines_above_it():
    data = sealed("one\r\ntwo\n\n")
    above, _, last = data.rstrip(b"\n").rpartition(b"\n")
    assert above == b"one\ntwo"
    assert hashlib.sha256(above + b"\n").hexdigest().encode() in last
