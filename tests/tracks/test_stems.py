"""Each player of a level alone: kept by what is played, the melody as each instrument."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.cache import Cache
from kit.lesson.lesson import Lesson, open_lesson
from kit.tracks.stems import BAND, level_stems, stem_instruments

TUNE = """X:1
T:Weir
M:4/4
L:1/4
K:C
"C"C E G c | "F"A F "G7"G B, | "C"C4 |]
"""
SETTINGS = """
title = "Weir"
instruments = ["alto-sax", "tenor-sax", "trombone"]
default_instrument = "tenor-sax"
[rights]
basis = "own work"
[audio]
{audio}
[[levels]]
name = "beginner"
tempo = 120
feel = "straight-eighths"
count_in_bars = 1
"""


def lesson_in(place: Path, audio: str = "", tune: str = TUNE) -> Lesson:
    folder = place / "weir"
    folder.mkdir(exist_ok=True)
    (folder / "tune.abc").write_text(tune, encoding="utf-8")
    (folder / "lesson.toml").write_text(SETTINGS.format(audio=audio), encoding="utf-8")
    return open_lesson(folder)


def test_the_default_instrument_comes_first_and_is_always_there(tmp_path):
    assert stem_instruments(lesson_in(tmp_path)) == ("tenor-sax", "alto-sax", "trombone")
    chosen = lesson_in(tmp_path, 'melody_for = ["trombone"]')
    assert stem_instruments(chosen) == ("tenor-sax", "trombone")
    assert stem_instruments(lesson_in(tmp_path, "melody_for = []")) == ("tenor-sax",)


def test_every_player_has_pieces_and_the_band_is_the_same_for_all(tmp_path):
    lesson, cache = lesson_in(tmp_path), Cache(tmp_path / "cache")
    stems = level_stems(lesson, "beginner", BAND, cache=cache)
    assert [stem.player for stem in stems] == list(BAND)
    assert all(stem.pieces for stem in stems)
    again = level_stems(lesson, "beginner", BAND, instrument="trombone", cache=cache)
    assert again == stems


def test_each_instrument_has_a_melody_of_its_own(tmp_path):
    lesson, cache = lesson_in(tmp_path), Cache(tmp_path / "cache")
    melodies = {
        slug: level_stems(lesson, "beginner", ("melody",), instrument=slug, cache=cache)[0]
        for slug in stem_instruments(lesson)
    }
    assert len({melody.pieces for melody in melodies.values()}) == 3
    usual = level_stems(lesson, "beginner", ("melody",), cache=cache)[0]
    assert usual == melodies["tenor-sax"]


def test_the_same_lesson_gives_the_same_bytes(tmp_path):
    lesson = lesson_in(tmp_path)
    one, other = (
        level_stems(lesson, "beginner", ("melody", *BAND), cache=Cache(tmp_path / name))
        for name in ("one", "other")
    )
    assert one == other


def test_a_changed_melody_note_leaves_the_bands_entries_as_they_are(tmp_path, monkeypatch):
    cache = Cache(tmp_path / "cache")
    before = level_stems(lesson_in(tmp_path), "beginner", BAND, cache=cache)
    changed = lesson_in(tmp_path, tune=TUNE.replace("C E G c", "C E C c"))

    def refuse(*_: object, **__: object) -> None:
        raise AssertionError("rendered again")

    monkeypatch.setattr("kit.sound.stem_pieces.stem_pieces", refuse)
    kept = level_stems(changed, "beginner", ("bass", "drums", "count"), cache=cache)
    by_player = {stem.player: stem for stem in before}
    assert all(stem == by_player[stem.player] for stem in kept)
    with pytest.raises(AssertionError, match="rendered again"):
        level_stems(changed, "beginner", ("melody",), cache=cache)
