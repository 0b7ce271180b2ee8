"""Leaks of every kind, planted in a finished build: each is found, told, and by one means.

Each plant says which kind of print has to find it. The proof is then made to forget its
secrets of that kind, and must find nothing: so the test fails if the detection is taken
away, and no plant is found by another one's means.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable

import pytest

from kit.publish.leaks._reading import pieces
from kit.publish.leaks._search import Search
from kit.publish.leaks.proof import Proof

from .conftest import MEMBERS, Stage, drawing
from .plants import MIDI, MP3, PAGE, PDF, PLANTS, XML, Plant, embedded


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.name)
def test_a_planted_leak_is_found_by_its_own_print(stage: Stage, plant: Plant):
    before = stage.read(plant.path)
    planted = plant.change(before, stage)
    assert planted != before
    stage.write(plant.path, planted)
    proof = stage.proof()
    leaks = [leak for leak in proof.leaks() if leak.file == plant.path]
    told = [leak for leak in leaks if plant.place in leak.place]
    assert any(re.search(plant.what, leak.what) for leak in told), leaks
    forget(proof, plant.kinds)
    assert list(proof.leaks()) == []


def forget(proof: Proof, kinds: set[str]) -> None:
    """Take from a proof what it knows of some kinds."""
    secrets = [s for s in proof.search.secrets if s.kind not in kinds]
    sounds = [] if {"frames", "files"} <= kinds else proof.search.sounds
    if kinds & {"frames", "files"} and sounds:
        sounds = [s for s in sounds if bool(len(s.files)) != ("files" in kinds)]
    proof.search = Search(secrets, sounds, proof.given, proof._widenings())


def test_a_clean_build_has_no_leak(stage: Stage):
    assert list(stage.proof().leaks()) == []


def zipped(
    stage: Stage, change: Callable[[str, bytes], bytes], *, comment: bytes = b""
) -> None:
    kept = io.BytesIO()
    packed = io.BytesIO(stage.read("free.zip"))
    with zipfile.ZipFile(packed) as old, zipfile.ZipFile(kept, "w") as new:
        for name in old.namelist():
            new.writestr(name, change(name, old.read(name)))
        new.comment = comment
    stage.write("free.zip", kept.getvalue())


def test_what_is_in_the_free_zip_only_is_found(stage: Stage):
    add = MEMBERS.encode()
    zipped(stage, lambda name, data: data + add if name == "index.html" else data)
    (leak,) = stage.proof().leaks()
    assert leak.file == "free.zip, index.html"
    assert "cell 4" in leak.what


def test_a_comment_of_the_free_zip_is_read(stage: Stage):
    zipped(stage, lambda name, data: data, comment=MEMBERS.encode())
    (leak,) = stage.proof().leaks()
    assert (leak.file, "cell 4" in leak.what) == ("free.zip", True)


def test_a_members_file_in_the_free_zip_is_found_by_name_and_content(stage: Stage):
    kept = io.BytesIO(stage.read("free.zip"))
    with zipfile.ZipFile(kept, "a") as archive:
        archive.writestr("midi/hard.mid", stage.read("midi/hard.mid"))
    stage.write("free.zip", kept.getvalue())
    told = {(leak.file, leak.what) for leak in stage.proof().leaks()}
    what = "the file midi/hard.mid, which lesson.toml does not give away"
    assert ("free.zip", what) in told
    assert ("free.zip, midi/hard.mid", "the file midi/hard.mid") in told


def test_a_file_in_the_wrong_tier_is_found(stage: Stage):
    (entry,) = [e for e in stage.entries if e["path"] == "audio/hard-demo.mp3"]
    entry["tier"] = "free"
    files = {leak.file for leak in stage.proof().leaks()}
    assert "audio/hard-demo.mp3" in files


def test_a_file_of_a_wrong_level_is_found_by_its_name(stage: Stage):
    (entry,) = [e for e in stage.entries if e["path"] == "midi/hard.mid"]
    entry |= {"tier": "free", "level": "easy"}
    whats = {leak.what for leak in stage.proof().leaks() if leak.file == "midi/hard.mid"}
    assert "a file that lesson.toml does not give away" in whats


def test_an_unknown_file_beside_the_public_page_is_found(stage: Stage):
    stage.write("public/notes.txt", b"x")
    (leak,) = stage.proof().leaks()
    assert leak.file == "public/notes.txt"


def test_the_free_picture_is_no_leak(stage: Stage):
    plant = embedded(lambda s: drawing(1), "image/png")
    stage.write(PAGE, plant(stage.read(PAGE), stage))
    assert list(stage.proof().leaks()) == []


def test_every_reader_stands_damaged_files(stage: Stage):
    for path in (PDF, XML, MIDI, MP3, "free.zip"):
        data = stage.read(path)
        for end in (5, 20, 200, len(data) // 2):
            assert list(pieces(data[:end]))
