from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from fonts import tiny_font
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.band.events import NoteEvent, Performance
from kit.errors import SetupError
from kit.sound.font.riff import read_font
from kit.sound.midi_file import to_midi
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

SMALLEST = tiny_font()
TABLES = SMALLEST.rindex(b"pdta")
SONG = to_midi(
    Performance(
        tuple(
            NoteEvent(player, key, place / 10, 0.08, 90)
            for player in ("melody", "bass", "drums")
            for place, key in enumerate((36, 38, 51, 59, 60, 76, 90, 108))
        ),
        1.0,
        0.0,
        {"melody": 0, "bass": 32, "drums": 0},
    ),
    tail_s=0.2,
)


def test_our_own_font_is_the_default_on_every_machine() -> None:
    font = find_soundfont(environ={})
    assert font.name == "Tune Lesson Kit band"
    assert font.packed
    assert len(font.digest) == 64
    assert font.digest == hashlib.sha256(font.content).hexdigest()
    assert "MIT License" in font.licence


def test_a_font_of_others_says_its_licence_and_has_no_slurs(tmp_path: Path) -> None:
    (tmp_path / "own.sf2").write_bytes(tiny_font(licence="Free Art", also=((1, 65),)))
    font = find_soundfont(tmp_path / "own.sf2", environ={})
    assert font.licence == "Free Art"
    assert font.slurred_programs == frozenset()
    (tmp_path / "silent.sf2").write_bytes(SMALLEST)
    assert find_soundfont(tmp_path / "silent.sf2", environ={}).licence == ""


def test_what_a_font_lacks_is_played_by_its_nearest_sound(tmp_path: Path) -> None:
    (tmp_path / "own.sf2").write_bytes(SMALLEST)
    font = find_soundfont(tmp_path / "own.sf2", environ={})
    wanted = {(0, 33), (0, 71), (1, 71), (128, 40)}
    part = read_font(font.part(frozenset(wanted)))
    assert {(p.bank, p.program) for p in part.presets} == wanted
    names = {(p.bank, p.program): p.name for p in part.presets}
    assert names[0, 33] == "preset 0 32"
    assert names[128, 40] == "preset 128 0"
    for program in (19, 71, 127):
        events = (NoteEvent("melody", 69, 0.0, 0.3, 90),)
        song = to_midi(Performance(events, 0.5, 0.0, {"melody": program}))
        assert abs(open_synth(font).render(song).floats()).max() > 0.01, program


def test_a_part_sounds_as_the_whole_font(tmp_path: Path) -> None:
    (tmp_path / "own.sf2").write_bytes(SMALLEST)
    font = find_soundfont(tmp_path / "own.sf2", environ={})
    everything = frozenset((p.bank, p.program) for p in read_font(SMALLEST).presets)
    whole = replace(font, origin="whole")
    assert len(font.part(frozenset({(0, 32)}))) < len(whole.part(everything))
    song = to_midi(
        Performance((NoteEvent("bass", 40, 0.0, 0.3, 90),), 0.5, 0.0, {"bass": 32})
    )
    from midirenderer import render_wave_from

    assert render_wave_from(font.part(frozenset({(0, 32)})), song) == render_wave_from(
        SMALLEST, song
    )


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.lists(
        st.tuples(
            st.integers(TABLES, len(SMALLEST) - 4),
            st.one_of(st.binary(min_size=1, max_size=1), st.binary(min_size=2, max_size=4)),
        ),
        min_size=1,
        max_size=5,
    )
)
def test_a_spoilt_font_is_refused_or_played_but_never_breaks_the_synthesiser(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], changes: list[tuple[int, bytes]]
) -> None:
    content = bytearray(SMALLEST)
    for at, new in changes:
        content[at : at + len(new)] = new
    path = tmp_path / f"{hashlib.sha256(content).hexdigest()[:16]}.sf2"
    path.write_bytes(content)
    try:
        font = find_soundfont(path, environ={})
    except SetupError:
        return
    assert len(open_synth(font).render(SONG)) > 0
    assert "panicked" not in capfd.readouterr().err


def spoilt(tag: bytes, at: int, value: bytes) -> bytes:
    content = bytearray(SMALLEST)
    start = content.rindex(tag) + 8 + at
    content[start : start + len(value)] = value
    return bytes(content)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (spoilt(b"phdr", 38 + 24, b"\xff\x7f"), "an index leads out of its table"),
        (spoilt(b"inst", 22 + 20, b"\xff\x7f"), "an index leads out of its table"),
        (spoilt(b"ibag", 4, b"\xff\x7f"), "an index leads out of its table"),
        (spoilt(b"pbag", 6, b"\xff\x7f"), "an index leads out of its table"),
        (spoilt(b"pgen", 2, b"\x63\0"), "an index leads out of its table"),
        (spoilt(b"igen", 4 * 3 + 2, b"\x63\0"), "an index leads out of its table"),
        (spoilt(b"shdr", 36, b"\0\0\0\0"), "a sample has no rate that can be played"),
        (spoilt(b"shdr", 44, b"\x11\0"), r"packed samples \(\.sf3\)"),
        (spoilt(b"shdr", 32, b"\x92\x01\0\0"), "a loop is too short"),
    ],
)
def test_what_leads_nowhere_is_told_in_one_sentence(content, said, tmp_path) -> None:
    (tmp_path / "bad.sf2").write_bytes(content)
    with pytest.raises(SetupError, match=rf"bad\.sf2 .*{said}.*; name an \.sf2 file"):
        find_soundfont(tmp_path / "bad.sf2", environ={})


def test_the_lesson_comes_before_the_environment(tmp_path: Path) -> None:
    for name in ("one.sf2", "two.sf2"):
        (tmp_path / name).write_bytes(SMALLEST)
    environ = {"KIT_SOUNDFONT": str(tmp_path / "two.sf2")}
    assert find_soundfont(tmp_path / "one.sf2", environ=environ).name == "one.sf2"
    assert find_soundfont(environ=environ).name == "two.sf2"


def test_a_missing_font_is_one_clear_sentence(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"none\.sf2 cannot be read; check the path"):
        find_soundfont(tmp_path / "none.sf2", environ={})


def test_another_file_is_no_soundfont(tmp_path: Path) -> None:
    (tmp_path / "song.sf2").write_bytes(b"RIFF\0\0\0\0WAVE")
    with pytest.raises(SetupError, match="not a SoundFont"):
        find_soundfont(tmp_path / "song.sf2", environ={})


def test_a_font_that_was_cut_short_is_not_whole(tmp_path: Path) -> None:
    (tmp_path / "cut.sf2").write_bytes(SMALLEST[:-4])
    with pytest.raises(SetupError, match=r"the SoundFont cut\.sf2 is not whole"):
        find_soundfont(tmp_path / "cut.sf2", environ={})


@pytest.mark.parametrize("field", ["start", "end", "end of the loop"])
def test_a_sample_beyond_the_sound_data_is_told_before_anything_reads_it(field, tmp_path):
    data = bytearray(SMALLEST)
    at = (
        data.rindex(b"shdr") + 8 + 20 + {"start": 0, "end": 4, "end of the loop": 12}[field]
    )
    data[at : at + 4] = (1 << 30).to_bytes(4, "little")
    (tmp_path / "far.sf2").write_bytes(data)
    with pytest.raises(SetupError, match=r"far\.sf2 is damaged: a sample lies outside"):
        find_soundfont(tmp_path / "far.sf2", environ={})


def test_a_pipe_is_no_soundfont(tmp_path: Path) -> None:
    import os

    os.mkfifo(tmp_path / "pipe.sf2")
    with pytest.raises(SetupError, match=r"pipe\.sf2 cannot be read; check the path"):
        find_soundfont(tmp_path / "pipe.sf2")
