"""The manifest holds what a catalogue needs, and nothing that does not apply."""

import hashlib

import pytest

from kit.publish.manifest import BuiltFile, manifest


@pytest.fixture(scope="module")
def described(lesson):
    files = [
        BuiltFile("b.txt", "page", "free", b"abc"),
        BuiltFile("a.mp3", "audio", "members", b"", level="easy", seconds=0.0),
    ]
    entries = [file.entry() for file in files]
    return manifest(lesson, entries, built_from="x", kit_version="1")


def test_files_are_in_order_with_their_hash(described):
    assert [file["path"] for file in described["files"]] == ["a.mp3", "b.txt"]
    assert described["files"][1] == {
        "path": "b.txt", "kind": "page", "tier": "free",
        "sha256": hashlib.sha256(b"abc").hexdigest(), "bytes": 3,
    }  # fmt: skip
    assert described["files"][0]["seconds"] == 0.0


def test_levels_say_whether_they_are_free(described):
    assert [(x["name"], x["free"]) for x in described["levels"]] == [
        ("easy", True),
        ("hard", False),
    ]


def test_instruments_come_with_their_written_key(described):
    keys = {row["slug"]: row["key"] for row in described["instruments"]}
    assert keys == {"alto-sax": "C major", "trombone": "E♭ major", "flute": "E♭ major"}
    assert described["concert_key"] == "Eb major"


def test_a_lesson_outside_the_catalogues_paths_says_nothing_of_them(described):
    assert described["catalogue"] == {}
