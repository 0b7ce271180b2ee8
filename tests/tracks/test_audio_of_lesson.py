"""A lesson's audio from its table to its files: which are made, how, and what they hold."""

from __future__ import annotations

import io
import textwrap
from pathlib import Path

import mido
import numpy as np
import pytest
import soundfile
from PIL import Image

from kit.build._audio_files import audio_percents, level_audio_files, loop_files
from kit.cache import Cache
from kit.errors import LessonError
from kit.lesson.lesson import Lesson, open_lesson
from kit.tracks.audio import PAGE_KBPS, level_audio, level_midi, lossless_audio
from kit.tracks.loops import Loop, level_loops, loop_audio, stretch_audio
from kit.tracks.rendition import loop_rendition, rendition
from kit.tune.pitch import Key

TUNE = """\
X:1
T:Eight bars
M:4/4
L:1/4
K:C
P:A
"C"c d e c|"F"A2 A c|"G7"B d g f|"C"e4|
P:B
"F"f a c' a|"C"g e c2|"G7"d f B d|"C"c4|]
"""


def lesson_in(folder: Path, audio: str = "", level: str = "") -> Lesson:
    home = folder / "eight-bars"
    home.mkdir(exist_ok=True)
    (home / "tune.abc").write_text(TUNE, encoding="utf-8")
    text = f"""\
        title = "Eight bars"
        school = "A school"
        instruments = ["alto-sax", "clarinet"]
        [audio]
        {audio}
        [[levels]]
        name = "beginner"
        tempo = 240
        feel = "straight-eighths"
        count_in_bars = 1
        {level}
        """
    (home / "lesson.toml").write_text(textwrap.dedent(text), encoding="utf-8")
    return open_lesson(home)


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    monkeypatch.delenv("KIT_SOUNDFONT", raising=False)


def test_without_a_table_there_are_three_mixes_at_one_tempo(tmp_path: Path) -> None:
    audio = lesson_in(tmp_path).settings.audio
    assert audio.mixes == ("demo", "backing", "melody")
    assert audio.tempos == (100,)
    assert (audio.a4_hz, audio.loops, audio.lossless) == (440.0, False, "")


def test_the_ladder_is_of_demo_and_backing_unless_more_is_asked_for(
    tmp_path: Path,
) -> None:
    few = lesson_in(tmp_path, "tempos = [70, 85]").settings.audio
    assert few.tempos == (70, 85, 100)
    assert few.mixes_at(70) == ("demo", "backing")
    assert few.mixes_at(100) == ("demo", "backing", "melody")
    all_of_them = lesson_in(
        tmp_path, 'tempos = [70]\nmixes = ["melody"]\ntempo_mixes = ["melody"]'.replace(
            "\n", "\n        "
        ),
    )  # fmt: skip
    assert all_of_them.settings.audio.mixes_at(70) == ("melody",)


@pytest.mark.parametrize(
    ("audio", "level", "match"),
    [
        ('mixes = ["karaoke"]', "", "karaoke"),
        ("mixes = []", "", "empty"),
        ("tempos = [10]", "", "10 per cent"),
        ('tempos = ["slow"]', "", "whole numbers"),
        ("a4 = 300", "", "415 to 446"),
        ('lossless = "wav"', "", "flac"),
        ("loop = true", "", "did you mean loops"),
        ("", 'chords = "strum"', "strum"),
        ("", 'intro = "fanfare"', "fanfare"),
        ("", 'ending = "bang"', "bang"),
        ("", 'section_feels = { B = "gallop" }', "gallop"),
    ],
)
def test_a_slip_of_the_pen_is_named(
    tmp_path: Path, audio: str, level: str, match: str
) -> None:
    with pytest.raises(LessonError, match=match):
        lesson_in(tmp_path, audio, level)


def test_a_feel_for_a_section_that_is_not_there_is_refused(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path, level='section_feels = { C = "two-beat" }')
    with pytest.raises(LessonError, match="has none"):
        lesson.level("beginner")


def test_a_level_says_how_the_band_plays(tmp_path: Path) -> None:
    wishes = [
        'section_feels = { B = "bossa-nova" }', 'chords = "four-to-the-bar"',
        'intro = "vamp"', 'ending = "ritardando"', "steady = true",
    ]  # fmt: skip
    lesson = lesson_in(tmp_path, level="\n        ".join(wishes))
    level = lesson.level("beginner")
    assert [bar.kind for bar in level.route.bars[:5]] == ["intro"] * 4 + ["head"]
    assert level.route.tempo_map.steps
    planned = rendition(lesson, "beginner")
    assert planned.section_feels == (("B", "bossa-nova"),)
    show = planned.perform()
    assert show.programs["chords"] == 26
    assert show.seconds == pytest.approx(level.count_in_s + level.seconds)
    downbeats = level.route.bar_starts(level.tempo_qpm)
    clicks = [event.start_s for event in show.of("click")]
    assert all(min(abs(start - at) for at in clicks) < 1e-9 for start in downbeats)


def test_a_slower_rendering_is_played_not_stretched(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    full, slow = (rendition(lesson, "beginner", tempo_percent=p) for p in (100, 50))
    assert slow.tempo_qpm == 120
    assert slow.perform().seconds == pytest.approx(2 * full.perform().seconds)
    audio = level_audio(lesson, "beginner", ["melody"], tempo_percent=50)["melody"]
    assert audio.seconds > slow.perform().seconds


def test_another_key_moves_every_note_by_the_shorter_way(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    home = rendition(lesson, "beginner").perform().of("melody")
    for name, semitones in (("A major", -3), ("F# major", 6), ("D major", 2)):
        key = Key.parse(name)
        moved = rendition(lesson, "beginner", concert_key=key).perform().of("melody")
        steps = {b.midi - a.midi for a, b in zip(home, moved, strict=True)}
        assert len(steps) == 1
        assert abs(steps.pop()) == abs(semitones)
    with pytest.raises(LessonError, match="major key"):
        rendition(lesson, "beginner", concert_key=Key.parse("A minor"))


@pytest.mark.parametrize(("choruses", "kinds"), [
    (1, ["head"]), (2, ["head", "head"]), (4, ["head", "solo", "solo", "head"]),
])  # fmt: skip
def test_choruses_are_head_solos_head(
    tmp_path: Path, choruses: int, kinds: list[str]
) -> None:
    route = rendition(lesson_in(tmp_path), "beginner", choruses=choruses).route
    assert route.counted_bars == 8 * choruses
    assert [bar.kind for bar in route.bars[::8]] == kinds


@pytest.mark.parametrize("choruses", [0, 41])
def test_no_choruses_or_far_too_many_are_refused(tmp_path: Path, choruses: int) -> None:
    with pytest.raises(ValueError, match="choruses"):
        rendition(lesson_in(tmp_path), "beginner", choruses=choruses)


def test_nothing_is_rendered_twice(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    cache = Cache(tmp_path / "cache")
    one = level_audio(lesson, "beginner", ["demo"], cache=cache)["demo"]
    count = len(list((tmp_path / "cache").rglob("*")))
    two = level_audio(lesson, "beginner", ["demo"], cache=cache)["demo"]
    assert one == two
    assert len(list((tmp_path / "cache").rglob("*"))) == count


def test_the_cache_tells_synthesisers_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lesson = lesson_in(tmp_path)
    cache = Cache(tmp_path / "cache")
    level_audio(lesson, "beginner", ["click"], cache=cache)
    before = set((tmp_path / "cache").rglob("*"))
    monkeypatch.setattr("kit.sound.synth._midirenderer_version", lambda: "9.9.9")
    level_audio(lesson, "beginner", ["click"], cache=cache)
    assert set((tmp_path / "cache").rglob("*")) > before


def test_notebook_and_file_hold_the_same_mix(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    file = level_audio(lesson, "beginner", ["backing"])["backing"]
    page = level_audio(lesson, "beginner", ["backing"], bit_rate_kbps=PAGE_KBPS)["backing"]
    assert len(page.data) < len(file.data)
    assert (page.seconds, page.lufs) == (file.seconds, file.lufs)


def test_a_build_makes_every_file_the_table_asks_for(tmp_path: Path) -> None:
    lesson = lesson_in(
        tmp_path,
        '\n        '.join(
            ['mixes = ["backing", "no-bass"]', "tempos = [80]", "loops = true",
             'lossless = "flac"'],
        ),
    )  # fmt: skip
    assert audio_percents(lesson) == (100, 80)
    files = [
        f for p in audio_percents(lesson) for f in level_audio_files(lesson, "beginner", p)
    ]
    files += loop_files(lesson, "beginner")
    assert {f.path for f in files} >= {
        "audio/beginner-backing.mp3", "audio/beginner-no-bass.mp3",
        "audio/beginner-backing-80.mp3", "audio/beginner-backing.flac",
        "audio/beginner-loop-1-4.mp3", "audio/beginner-loop-5-8.mp3",
    }  # fmt: skip
    assert "audio/beginner-no-bass-80.mp3" not in {f.path for f in files}
    audio = [f for f in files if f.kind in ("audio", "loop")]
    assert {f.soundfont for f in audio} == {"Tune Lesson Kit band"}
    assert {f.tempo_percent for f in audio} == {80, 100}
    for file in audio:
        assert file.lufs == pytest.approx(-16, abs=0.5), file.path
        assert file.true_peak_dbtp is not None
        assert file.true_peak_dbtp <= -1, file.path
    loop = next(f for f in files if f.path == "audio/beginner-loop-5-8.mp3")
    assert (loop.kind, loop.bars, loop.section, loop.mix) == ("loop", "5-8", "B", "demo")
    flac = next(f for f in files if f.path.endswith(".flac"))
    decoded, _ = soundfile.read(io.BytesIO(flac.data))
    assert len(decoded) / 48_000 == pytest.approx(flac.seconds or 0, abs=0.001)


def test_loops_name_their_bars_once(tmp_path: Path) -> None:
    loops = level_loops(lesson_in(tmp_path), "beginner")
    assert [(loop.name, loop.section) for loop in loops][:2] == [("1-4", "A"), ("5-8", "B")]
    assert len({loop.name for loop in loops}) == len(loops)


def test_a_loop_lasts_its_bars_and_rings_on_into_the_next_round(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    loop = loop_audio(lesson, "beginner", Loop(5, 8), tempo_percent=50)
    decoded, _ = soundfile.read(io.BytesIO(loop.data))
    assert len(decoded) == 5 * 2 * 48_000, "a bar of sticks and four bars at 120"
    around = np.concatenate([decoded[-480:], decoded[:480]])
    steps = abs(np.diff(around, axis=0)).max(axis=1)
    assert steps[479] < steps.max() / 3, "no step from round to round"


def test_a_stretch_is_a_section_or_bars(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    by_name = stretch_audio(lesson, "beginner", section="B")
    by_bars = stretch_audio(lesson, "beginner", bars=(5, 8))
    assert by_name == by_bars
    assert by_name.seconds == pytest.approx(5.0)
    for wrong in ({"section": "C"}, {"bars": (7, 12)}, {"bars": (4, 2)}):
        with pytest.raises(LessonError):
            stretch_audio(lesson, "beginner", **wrong)
    with pytest.raises(ValueError, match="name a section"):
        stretch_audio(lesson, "beginner")


def test_the_bars_of_a_loop_are_never_the_last_chord(tmp_path: Path) -> None:
    planned = loop_rendition(lesson_in(tmp_path), "beginner")
    assert planned.route.counted_bars == 16
    assert not planned.route.tempo_map.steps


def test_the_midi_file_is_the_performance(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path, "a4 = 442")
    song = mido.MidiFile(file=io.BytesIO(level_midi(lesson, "beginner")))
    names = [track.name for track in song.tracks[1:]]
    assert names == ["melody", "bass", "chords", "drums", "count"]
    assert "Eight bars, Beginner" in song.tracks[0].name
    planned = rendition(lesson, "beginner").perform()
    struck = sum(m.type == "note_on" and m.velocity > 0 for m in song)
    assert struck == sum(len(planned.of(name)) for name in names)
    sounding: set[tuple[int, int]] = set()
    for message in song:
        if message.type == "note_on" and message.velocity:
            assert (message.channel, message.note) not in sounding
            sounding.add((message.channel, message.note))
        elif message.type == "note_off":
            sounding.discard((message.channel, message.note))
    assert not sounding, "no note is left hanging"


def test_the_cover_is_in_every_mp3_and_must_be_a_picture(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path, 'cover = "cover.png"')
    cover = lesson.folder / "cover.png"
    Image.new("RGB", (60, 60), "teal").save(cover)
    audio = level_audio(lesson, "beginner", ["click"])["click"]
    start = audio.data.index(b"\x89PNG\r\n\x1a\n")
    with Image.open(io.BytesIO(audio.data[start:])) as carried:
        assert (carried.size, carried.getpixel((30, 30))) == ((60, 60), (0, 128, 128))
    for data, words in ((b"GIF89a", "is GIF, not PNG"), (bytes(1_000_001), "than 1 MB")):
        cover.write_bytes(data)
        with pytest.raises(LessonError, match=f"cover.png: the picture .*{words}"):
            level_audio(lesson, "beginner", ["click"])
    outside = lesson_in(tmp_path, 'cover = "../../secret.png"')
    with pytest.raises(LessonError, match="outside"):
        level_audio(outside, "beginner", ["click"])


def test_lossless_audio_is_flac(tmp_path: Path) -> None:
    lesson = lesson_in(tmp_path)
    file = lossless_audio(lesson, "beginner", ["melody"])["melody"]
    assert file.data.startswith(b"fLaC")
    assert file.mime == "audio/flac"
