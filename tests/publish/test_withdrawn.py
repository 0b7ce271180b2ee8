"""Withdrawn lessons: when one is, when nobody can tell, and what leaves the catalogue."""

import json
import os
import shutil
import zipfile

import pytest

from kit.output import origins
from kit.output.origins import note_origin, origin_of, standings
from kit.publish.catalogue.site import write_catalogue
from kit.publish.catalogue.withdrawn import (
    output_names,
    withdrawn_lessons,
    withdrawn_sentences,
)
from kit.publish.manifest import manifest


class School:
    """Lessons and outputs in a folder, made without building anything."""

    def __init__(self, root, lesson):
        self.root, self.out = root, root / "build"
        self._manifest = manifest(lesson, [], built_from="x", kit_version="1")

    def add(self, slug, where="lessons", *, noted=True):
        folder = self.root / where / slug
        folder.mkdir(parents=True)
        (folder / "lesson.toml").touch()
        (self.out / slug).mkdir(parents=True, exist_ok=True)
        data = self._manifest | {
            "lesson": slug, "title": f"Tune {slug}",
            "catalogue": {"published": "2026-01-01"},
        }  # fmt: skip
        (self.out / slug / "manifest.json").write_text(json.dumps(data), encoding="utf-8")
        if noted:
            note_origin(self.out, slug, folder)
        return folder

    def kinds(self):
        return {s.slug: s.kind for s in standings(self.out, output_names(self.out))}

    def told(self, **options):
        return list(withdrawn_sentences(self.out, **options))


@pytest.fixture
def school(tmp_path, lesson):
    school = School(tmp_path / "school", lesson)
    for slug in ("crab", "eel", "fish"):
        school.add(slug)
    return school


def everywhere(out):
    """Give all that the catalogue says, in one text."""
    with zipfile.ZipFile(out / "free-site.zip") as archive:
        packed = [archive.read(name) for name in archive.namelist()]
    names = ("index.html", "public/index.html", "feed.xml")
    return b"".join([*((out / name).read_bytes() for name in names), *packed]).decode()


@pytest.mark.parametrize("how", ["removed", "renamed", "only hidden files left"])
def test_a_lesson_without_its_folder_leaves_catalogue_feeds_and_site(school, how):
    write_catalogue(school.out)
    assert everywhere(school.out).count("Tune eel") >= 5
    folder = school.root / "lessons/eel"
    if how == "renamed":
        folder.rename(folder.with_name("conger"))
        school.add("hake")
    else:
        shutil.rmtree(folder)
    if how == "only hidden files left":
        (folder / ".ipynb_checkpoints").mkdir(parents=True)
    assert withdrawn_lessons(school.out) == {"eel"}
    write_catalogue(school.out)
    text = everywhere(school.out)
    assert "Tune eel" not in text
    assert "eel/" not in text
    assert "Tune crab" in text
    assert (school.out / "eel/manifest.json").is_file()
    (sentence,) = school.told()
    assert "eel has no lesson any more" in sentence
    assert f"kit prune --out {school.out} removes it" in sentence


def test_a_lesson_that_comes_back_is_in_the_catalogue_again(school):
    folder = school.root / "lessons/eel"
    folder.rename(school.root / "eel")
    assert withdrawn_lessons(school.out) == {"eel"}
    (school.root / "eel").rename(folder)
    assert withdrawn_lessons(school.out) == frozenset()


def test_a_drive_that_is_gone_withdraws_nothing_and_is_told(school):
    shutil.rmtree(school.root / "lessons")
    assert set(school.kinds().values()) == {"out-of-reach"}
    write_catalogue(school.out)
    assert "Tune eel" in everywhere(school.out)
    (sentence,) = school.told()
    assert "crab, eel and fish stay in the catalogue" in sentence
    assert "is gone or cannot be read" in sentence


def test_an_empty_folder_in_a_drives_place_withdraws_nothing(school):
    (school.root / "lessons").rename(school.root / "drive")
    (school.root / "lessons").mkdir()
    assert set(school.kinds().values()) == {"emptied"}
    (sentence,) = school.told()
    assert "holds no lesson any more, as where a drive is missing" in sentence
    assert "--lessons" in sentence


def test_lessons_that_all_go_are_withdrawn_when_the_folder_is_said_to_be_whole(school):
    for folder in (school.root / "lessons").iterdir():
        shutil.rmtree(folder)
    assert set(school.kinds().values()) == {"emptied"}
    whole = school.root / "lessons"
    found = standings(school.out, output_names(school.out), whole=whole)
    assert {standing.kind for standing in found} == {"withdrawn"}


def test_a_school_whose_only_lesson_goes_has_an_empty_catalogue(tmp_path, lesson):
    school = School(tmp_path, lesson)
    folder = school.add("eel")
    write_catalogue(school.out)
    shutil.rmtree(folder)
    write_catalogue(school.out)
    text = (school.out / "index.html").read_text(encoding="utf-8")
    assert "0 lessons" in text
    assert "Tune" not in text
    assert not (school.out / "feed.xml").exists()


def test_where_there_was_no_catalogue_none_is_made_of_nothing(tmp_path, lesson):
    school = School(tmp_path, lesson)
    shutil.rmtree(school.add("eel"))
    write_catalogue(school.out)
    assert sorted(path.name for path in school.out.iterdir()) == [".recipes", "eel"]


def test_a_linked_lesson_whose_drive_is_missing_is_not_withdrawn(school):
    folder = school.root / "lessons/eel"
    shutil.rmtree(folder)
    folder.symlink_to(school.root / "drive/eel")
    assert school.kinds()["eel"] == "out-of-reach"


def test_a_folder_that_lost_its_lesson_toml_alone_is_not_withdrawn(school):
    (school.root / "lessons/eel/tune.abc").touch()
    (school.root / "lessons/eel/lesson.toml").unlink()
    assert school.kinds()["eel"] == "unfinished"
    (sentence,) = school.told()
    assert "still has files, but no lesson.toml" in sentence


def test_lessons_of_several_places_are_looked_for_where_each_was(school):
    school.add("hake", "courses/jazz")
    school.add("ide", "courses/jazz")
    school.add("gar", "courses/folk")
    assert withdrawn_lessons(school.out) == frozenset()
    shutil.rmtree(school.root / "courses/jazz/ide")
    assert withdrawn_lessons(school.out) == {"ide"}
    shutil.rmtree(school.root / "courses/folk")
    assert school.kinds()["gar"] == "out-of-reach"


def test_an_output_nobody_noted_the_origin_of_stays(school):
    school.add("hake", "elsewhere", noted=False)
    shutil.rmtree(school.root / "elsewhere")
    assert school.kinds()["hake"] == "unknown"
    assert school.told() == []
    (sentence,) = school.told(built=["crab", "eel", "fish"])
    assert "does not know from which folder hake was built" in sentence
    assert school.told(built=["hake"]) == []


@pytest.fixture
def elsewhere(monkeypatch):
    """Go to another computer."""

    def go(name):
        origins.this_machine.cache_clear()
        monkeypatch.setattr("uuid.getnode", lambda: hash(name) & 0xFFFFFFFFFFFF)

    yield go
    monkeypatch.undo()
    origins.this_machine.cache_clear()


def test_two_computers_that_share_outputs_do_not_withdraw_each_others(
    school, elsewhere, tmp_path
):
    """Each has a school of the same layout, and a program copies build/ between them."""
    elsewhere("other")
    home = tmp_path / "home"
    (home / "lessons/hake").mkdir(parents=True)
    (home / "lessons/hake/lesson.toml").touch()
    shutil.copytree(school.out, home / "build")
    found = standings(home / "build", output_names(home / "build"))
    assert {s.kind for s in found} == {"unknown"}
    assert school.kinds() == dict.fromkeys(("crab", "eel", "fish"), "there")


def test_two_computers_on_one_shared_disk_withdraw_alike(school, elsewhere):
    shutil.rmtree(school.root / "lessons/eel")
    elsewhere("other")
    assert withdrawn_lessons(school.out) == {"eel"}


def test_two_computers_that_have_one_lesson_alike_keep_each_others(
    school, elsewhere, tmp_path
):
    elsewhere("other")
    shutil.copytree(school.root / "lessons/crab", tmp_path / "home/lessons/crab")
    out = shutil.copytree(school.out, tmp_path / "home/build")
    kinds = {s.slug: s.kind for s in standings(out, output_names(out))}
    assert kinds == {"crab": "there", "eel": "unknown", "fish": "unknown"}


def test_a_school_that_was_moved_knows_its_lessons(school, tmp_path):
    moved = school.root.rename(tmp_path / "moved")
    shutil.rmtree(moved / "lessons/eel")
    assert withdrawn_lessons(moved / "build") == {"eel"}


def test_a_copy_of_a_school_knows_its_lessons(school, tmp_path):
    copy = shutil.copytree(school.root, tmp_path / "copy")
    shutil.rmtree(copy / "lessons/eel")
    assert withdrawn_lessons(copy / "build") == {"eel"}
    assert withdrawn_lessons(school.out) == frozenset()


def test_the_record_is_relative_hidden_and_written_once(school, tmp_path):
    path = school.out / ".recipes/eel.origin"
    text = path.read_text(encoding="utf-8")
    assert json.loads(text)["folder"] == "../lessons/eel"
    assert str(tmp_path) not in text
    before = path.stat().st_mtime_ns
    note_origin(school.out, "eel", school.root / "lessons/eel")
    assert path.stat().st_mtime_ns == before
    write_catalogue(school.out)
    assert "lessons/eel" not in everywhere(school.out)


@pytest.mark.parametrize(
    "record",
    ["", "[]", "{}", '{"folder": 1, "machine": ""}', "[" * 100_000,
     '{"folder": "a\\u0000", "machine": ""}', "\x00\xff"],
)  # fmt: skip
def test_a_damaged_record_means_that_nobody_knows(school, record):
    path = school.out / ".recipes/eel.origin"
    path.write_bytes(record.encode("latin-1"))
    assert origin_of(school.out, "eel") is None
    assert school.kinds()["eel"] == "unknown"


def test_five_hundred_names_make_one_short_sentence(school):
    for number in range(500):
        shutil.rmtree(school.add(f"{number:03}-{'long-name-' * 20}"))
    (sentence,) = school.told()
    assert len(sentence) - 2 * len(str(school.out)) <= 400
    assert "497 more" in sentence


def test_a_folder_that_may_not_be_looked_into_withdraws_nothing(school):
    if os.geteuid() == 0:
        # Root may look everywhere: a file in the folder's place is refused to it as well.
        shutil.rmtree(school.root / "lessons")
        (school.root / "lessons").touch()
    else:
        (school.root / "lessons").chmod(0)
    kinds = school.kinds()
    if (school.root / "lessons").is_dir():
        (school.root / "lessons").chmod(0o755)
    assert set(kinds.values()) == {"out-of-reach"}
