"""Every instrument hears the melody in its own octave and sound, over the same band.

Sources: sounding octaves of tenor saxophone, trombone and flute against the alto saxophone:
any orchestration handbook (common practice).
"""

import io
import textwrap
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import correlate

from kit.build._audio_files import melody_file
from kit.errors import LessonError
from kit.lesson.lesson import Lesson, open_lesson
from kit.tracks.audio import instrument_audio, level_audio
from kit.tracks.rendition import rendition, soloist_of
from kit.tracks.stems import melody_instruments

TUNE = """\
X:1
T:Eight bars
M:4/4
L:1/4
K:C
"C"c d e c|"F"A2 A c|"G7"B d g f|"C"e4|"F"f a c' a|"C"g e c2|"G7"d f B d|"C"c4|]
"""


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    monkeypatch.delenv("KIT_SOUNDFONT", raising=False)


def lesson_in(folder: Path, audio: str = "") -> Lesson:
    home = folder / "eight-bars"
    home.mkdir(exist_ok=True)
    (home / "tune.abc").write_text(TUNE, encoding="utf-8")
    text = f"""\
        title = "Eight bars"
        school = "A school"
        instruments = ["alto-sax", "tenor-sax", "flute", "trombone"]
        [audio]
        {audio}
        [[levels]]
        name = "beginner"
        tempo = 120
        feel = "straight-eighths"
        count_in_bars = 1
        """
    (home / "lesson.toml").write_text(textwrap.dedent(text), encoding="utf-8")
    return open_lesson(home)


def heights(lesson: Lesson, instrument: str) -> list[int]:
    planned = rendition(lesson, "beginner", instrument=instrument)
    return [event.midi for event in planned.perform().of("melody")]


def test_the_melody_lies_where_the_part_of_the_instrument_sounds(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    for row in lesson.settings.instruments:
        part = lesson.part("beginner", row.slug)
        above = row.written_above_concert.semitones
        written = [n.pitch.midi for bar in part.tune.bars for n in bar.notes if n.pitch]
        assert heights(lesson, row.slug) == [midi - above for midi in written], row.slug
    assert heights(lesson, "tenor-sax")[0] <= heights(lesson, "alto-sax")[0]
    assert heights(lesson, "trombone")[0] <= heights(lesson, "flute")[0] - 12


def test_band_and_clock_are_the_same_for_every_instrument(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    shows = [
        rendition(lesson, "beginner", instrument=row.slug).perform()
        for row in lesson.settings.instruments
    ]
    for player in ("bass", "chords", "drums", "count"):
        assert len({show.of(player) for show in shows}) == 1, player
    assert len({show.seconds for show in shows}) == 1
    assert len({show.programs["melody"] for show in shows}) == len(shows)


def test_the_default_instrument_is_heard_where_none_is_named(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    assert rendition(lesson, "beginner") == rendition(
        lesson, "beginner", instrument="alto-sax"
    )
    assert soloist_of(lesson, "beginner").program == 65


@pytest.mark.parametrize("instrument", ["tenor-sax", "flute"])
def test_the_file_sounds_at_that_pitch(tmp_path: Path, instrument: str) -> None:
    lesson = lesson_in(tmp_path)
    built = melody_file(lesson, "beginner", instrument)
    assert built.path == f"audio/beginner-melody-{instrument}.mp3"
    assert (built.kind, built.mix, built.instrument) == ("audio", "melody", instrument)
    audio, rate = soundfile.read(io.BytesIO(built.data))
    # The whole note of bar 4: bar of sticks, three bars, then well inside of it.
    start = round((2 + 6 + 0.6) * rate)
    piece = audio[start : start + rate // 4].mean(axis=1)
    alike = correlate(piece, piece, "full")[len(piece) - 1 :]
    shortest = round(rate / 1500)
    # The first strong peak is the period: later ones are octaves below.
    strong = np.flatnonzero(alike[shortest:] > 0.9 * alike[shortest:].max())[0] + shortest
    period = strong + np.argmax(alike[strong : strong + 20])
    midi = 69 + 12 * np.log2(rate / period / 440)
    event = next(
        e
        for e in rendition(lesson, "beginner", instrument=instrument).perform().of("melody")
        if e.start_s > 7.9
    )
    assert midi == pytest.approx(event.midi, abs=0.5)


def test_all_instruments_of_the_lesson_or_those_chosen(tmp_path: Path) -> None:
    everybody = ("alto-sax", "tenor-sax", "flute", "trombone")
    assert melody_instruments(lesson_in(tmp_path)) == everybody
    few = lesson_in(tmp_path, 'melody_for = ["flute", "alto-sax"]')
    assert melody_instruments(few) == ("alto-sax", "flute")
    assert melody_instruments(lesson_in(tmp_path, "melody_for = []")) == ()
    with pytest.raises(LessonError, match="no instrument"):
        lesson_in(tmp_path, 'melody_for = ["tuba"]')


def test_titles_name_the_instrument_where_it_matters(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    own = instrument_audio(lesson, "beginner", "tenor-sax")
    assert "melody, tenor saxophone".encode("utf-16-le") in own.data
    demo = level_audio(lesson, "beginner", ("demo",))["demo"]
    same = instrument_audio(lesson, "beginner", "alto-sax", mix="demo", bit_rate_kbps=160)
    assert same.data == demo.data, "the default instrument's demo is not made twice"
