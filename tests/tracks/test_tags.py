"""What a music player shows of a lesson's files, read by a reader that is not ours."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from kit.lesson.lesson import open_lesson
from kit.rights.ledger import Rights
from kit.tracks._tags import _rights_tags, track_tags
from kit.tracks.audio import lossless_audio
from kit.tracks.loops import Loop, loop_audio
from kit.tune.pitch import Key

LESSONS = Path(__file__).parents[2] / "lessons"


@pytest.fixture(scope="module")
def lesson():
    return open_lesson(LESSONS / "the-girl-i-left-behind-me")


def test_a_loop_is_named_as_a_student_reads_it(lesson):
    tags = track_tags(lesson, "intermediate", "demo", bars=(1, 8), tempo_percent=80)
    assert tags["title"] == (
        "The Girl I Left Behind Me, Intermediate: demo, bars 1 to 8, loop, at 80 %"
    )
    assert track_tags(lesson, "beginner", "demo", bars=(4, 4))["title"].endswith(
        "demo, bar 4, loop"
    )
    assert track_tags(lesson, "beginner", "melody-click")["title"].endswith(
        ": melody click"
    )


def test_tempo_and_key_are_those_that_sound(lesson):
    full = track_tags(lesson, "intermediate", "demo")
    slow = track_tags(lesson, "intermediate", "demo", tempo_percent=50)
    assert int(full["bpm"]) == 2 * int(slow["bpm"])
    moved = track_tags(lesson, "intermediate", "demo", concert_key=Key.parse("Eb minor"))
    assert moved["key"] == "Ebm"
    in_mode = track_tags(lesson, "intermediate", "demo", concert_key=Key.parse("F# dorian"))
    assert in_mode["key"] == "F#m"


def probed(data: bytes, path: Path) -> dict[str, str]:
    path.write_bytes(data)
    run = subprocess.run(
        ["ffprobe", "-v", "error", "-show_entries", "format_tags", "-of", "json", path],
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(run.stdout)["format"]["tags"]


def test_another_reader_finds_them(lesson, ffmpeg, tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    wanted = track_tags(lesson, "beginner", "demo", bars=(1, 2))
    read = probed(loop_audio(lesson, "beginner", Loop(1, 2)).data, tmp_path / "a.mp3")
    assert read["title"] == wanted["title"]
    assert read["track"] == f"1/{len(lesson.level_names)}"
    assert (read["TBPM"], read["TKEY"]) == (wanted["bpm"], wanted["key"])
    flac = lossless_audio(lesson, "beginner", ("melody",))["melody"].data
    read = probed(flac, tmp_path / "a.flac")
    lower = {name.lower(): text for name, text in read.items()}
    assert f"key: {wanted['key']}" in str(lower)


@pytest.mark.parametrize(
    ("rights", "frame", "text"),
    [
        (
            Rights("own work", "By the school, 2026."),
            "copyright",
            "2026 By the school, 2026.",
        ),
        (Rights("own work", "By the school."), "comment", "By the school."),
        (Rights("public domain", "In print by 1810."), "comment", "In print by 1810."),
        (Rights(), "comment", ""),
    ],
)
def test_whose_the_music_is_stands_where_it_may(lesson, rights, frame, text):
    told = _rights_tags(rights)
    assert told == {frame: text}
