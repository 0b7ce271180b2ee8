"""What becomes of a build in which something is found, and of the catalogue."""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from kit.build._staging import add_bundles, add_files, add_made, add_manifest, staged
from kit.cache import Cache
from kit.errors import LessonError
from kit.output.place import OutputPlace, output_place
from kit.publish.bundles import bundled
from kit.publish.catalogue.site import write_catalogue
from kit.publish.leaks.proof import prove_catalogue, proven

from .conftest import MEMBERS, Built, Stage

PAGE = "public/index.html"
SEARCHED = b"quot;words&quot;:&quot;"


def planted(stage: Stage, text: str) -> None:
    stage.write(PAGE, stage.read(PAGE).replace(b"</main>", f"{text}</main>".encode(), 1))


def test_a_leak_is_one_sentence_with_file_place_and_cell(stage: Stage):
    planted(stage, f"<p>{MEMBERS}</p>")
    with pytest.raises(LessonError) as raised:
        stage.proof().require_nothing_found()
    sentence = str(raised.value)
    assert sentence.startswith("gull/public/index.html: text holds words of cell 4 (“lean")
    assert "nothing was put in place" in sentence
    assert len(sentence) <= 500
    assert sentence.count(".") - sentence.count(".html") - sentence.count(".zip") <= 2


def test_a_sentence_stays_short_whatever_is_found(stage: Stage):
    planted(stage, f'<p title="{"x" * 900}">{MEMBERS * 20}</p>')
    with pytest.raises(LessonError) as raised:
        stage.proof().require_nothing_found()
    assert all(len(text) <= 500 for text in (str(raised.value), *raised.value.more))


def put_in_place(built: Built, entries: list[dict[str, Any]], place: OutputPlace) -> None:
    """Take the steps of a build."""
    with staged(place) as stage:
        add_files(stage.folder, entries, built.cache)
        entries += add_bundles(stage.folder, entries)
        made = proven(built.lesson, built.notebook, entries, stage.folder, built.cache)
        entries += add_made(stage.folder, made)
        add_manifest(stage.folder, {})


def test_a_leak_leaves_the_last_good_output_as_it_was(built: Built, tmp_path: Path):
    """A members' file has come into the wrong tier."""
    out = tmp_path / "out/gull"
    shutil.copytree(built.out, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    files = json.loads(built.read("manifest.json"))["files"]
    entries = [f for f in files if f["kind"] not in ("bundle", "what-a-stranger-sees")]
    entries = [f for f in entries if f["kind"] != "members-words"]
    for entry in entries:
        built.cache.keep(built.read(entry["path"]))
        if entry["path"] == "handouts/hard-trombone.pdf":
            entry["tier"] = "free"
    with pytest.raises(LessonError, match=r"hard-trombone\.pdf"):
        put_in_place(built, entries, output_place(built.folder, out.parent))
    assert {p: p.read_bytes() for p in out.rglob("*") if p.is_file()} == before
    assert list(out.parent.iterdir()) == [out]


def test_what_is_the_teachers_is_in_no_bundle(built: Built):
    files = json.loads(built.read("manifest.json"))["files"]
    page = next(f for f in files if f["path"] == "teacher/what-a-stranger-sees.html")
    assert (page["tier"], page["kind"]) == ("members", "what-a-stranger-sees")
    assert page not in bundled(files)
    for name in ("free.zip", "members.zip"):
        with zipfile.ZipFile(built.out / name) as archive:
            assert not [n for n in archive.namelist() if n.startswith("teacher/")]


def test_the_same_build_leaves_the_same_bytes(stage: Stage):
    def made() -> list[bytes]:
        built = stage.built
        cache = Cache(stage.place.parent / f"cache-{os.urandom(4).hex()}")
        made = proven(built.lesson, built.notebook, stage.entries, stage.place, cache)
        return [file.data for file in made]

    assert made() == made()


@pytest.fixture
def school(built: Built, tmp_path: Path) -> Path:
    """An output folder with its catalogue."""
    root = tmp_path / "school"
    shutil.copytree(built.out, root / "gull", copy_function=os.link)
    write_catalogue(root)
    return root


def given(school: Path) -> dict[str, bytes]:
    return {name: (school / name).read_bytes() for name in (PAGE, "free-site.zip")}


def test_a_catalogue_without_members_words_passes(school: Path, built: Built):
    prove_catalogue(school, given(school), built.cache)


@pytest.mark.parametrize(
    ("name", "change"),
    [
        (PAGE, lambda page: page.replace(b"</main>", f"{MEMBERS}</main>".encode())),
        (PAGE, lambda page: page.replace(SEARCHED, SEARCHED + MEMBERS.encode())),
    ],
    ids=["text", "search words"],
)  # fmt: skip
def test_members_words_in_the_catalogue_are_found(school, built, name, change):
    files = given(school)
    before = files[name]
    files[name] = change(before.replace(b"&#34;", b"&quot;"))
    assert MEMBERS.encode() in files[name]
    with pytest.raises(LessonError, match="members' part of gull"):
        prove_catalogue(school, files, built.cache)


@pytest.mark.parametrize("member", ["index.html", "feed.xml"])
def test_members_words_in_the_site_zip_are_found(school, built, member):
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w") as archive:
        archive.writestr(
            member, f"<feed><entry><summary>{MEMBERS}</summary></entry></feed>"
        )
    with pytest.raises(LessonError, match=f"^free-site.zip: {member}, text holds words"):
        prove_catalogue(school, {"free-site.zip": kept.getvalue()}, built.cache)


def test_a_manifest_that_gives_members_words_away_stops_the_catalogue(school: Path):
    """The catalogue prints what the manifest calls the summary."""
    path = school / "gull/manifest.json"
    manifest = json.loads(path.read_text(encoding="utf-8"))
    manifest["summary"] = MEMBERS
    path.write_text(json.dumps(manifest), encoding="utf-8")
    before = given(school)
    with pytest.raises(LessonError, match=re.escape("gull")):
        write_catalogue(school)
    assert given(school) == before


VARIED = {
    "equal": {"levels": ("easy", "easy"), "free": ["easy"]},
    "all": {"levels": ("easy", "hard"), "free": ["easy", "hard"]},
    "none": {"levels": ("easy", "hard"), "free": []},
    "upper": {"levels": ("easy", "hard"), "free": ["hard"]},
}


def test_builds_that_give_nothing_away_are_not_stopped(built: Built, tmp_path: Path):
    """Levels that are one; all, none, the upper one free; prose that quotes the title."""
    folders = []
    for name, variety in VARIED.items():
        folder = shutil.copytree(built.folder, tmp_path / "lessons" / name)
        toml = (folder / "lesson.toml").read_text(encoding="utf-8")
        toml = re.sub(r"free_levels = .*", f"free_levels = {variety['free']}", toml)
        toml = re.sub(r"tempo = \d+\nfeel = .*", 'tempo = 116\nfeel = "two-beat"', toml)
        toml = toml.replace('"Gull"', f'"Gull over the {name} pier"').replace(
            'lossless = "flac"', ""
        )
        if variety["levels"][1] == "easy":
            toml = toml.replace('notation = "levels/hard.abc"', "count_in_bars = 1")
        (folder / "lesson.toml").write_text(toml, encoding="utf-8")
        path = folder / "lesson.ipynb"
        notebook = json.loads(path.read_text(encoding="utf-8"))
        cell = {**notebook["cells"][3], "id": "quotes"}
        cell["source"] = (
            f"Gull over the {name} pier. Gull over the {name} pier again, a short tune for "
            "a windy day: put the instrument down for five minutes in every half hour."
        )
        notebook["cells"].append(cell)
        path.write_text(json.dumps(notebook), encoding="utf-8")
        folders.append(str(folder))
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build", *folders, "--out", str(tmp_path / "out")],
        capture_output=True, text=True, check=False,
        env={**os.environ, "KIT_CACHE": str(built.cache.folder)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert len(re.findall(r"(?m)^\w+ built:", done.stdout)) == len(VARIED)
