from __future__ import annotations

from pathlib import Path

import pytest

from kit.errors import SetupError
from kit.sound.soundfont import find_soundfont

EMPTY_LISTS = b"".join(b"LIST\x04\0\0\0" + kind for kind in (b"INFO", b"sdta", b"pdta"))
SMALLEST = b"RIFF" + (4 + len(EMPTY_LISTS)).to_bytes(4, "little") + b"sfbk" + EMPTY_LISTS
"""What is a SoundFont by its chunks, with nothing in them."""


def test_the_embedded_font_is_the_default_on_every_machine() -> None:
    font = find_soundfont(environ={})
    assert font.name == "TimGM6mb.sf2"
    assert font.origin == "embedded"
    assert len(font.digest) == 64


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
    data = bytearray(find_soundfont(environ={}).content)
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
