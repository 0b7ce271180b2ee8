"""A font read and written, packed and unpacked, is the font."""

from __future__ import annotations

import numpy as np
import pytest
from fonts import tiny_font

from kit.sound._presets import presets_played
from kit.sound.font._near import nearest_preset
from kit.sound.font.pack import pack_font, packed_digest, unpack_font
from kit.sound.font.riff import read_font, write_font
from kit.sound.soundfont import find_soundfont

TINY = tiny_font(licence="Free")


def test_a_font_read_and_written_is_the_same_to_the_byte() -> None:
    assert write_font(read_font(TINY)) == TINY
    own = find_soundfont(environ={}).content
    assert write_font(read_font(own)) == own


def test_a_font_packed_and_unpacked_is_the_same_to_the_byte() -> None:
    packed = pack_font(TINY)
    assert unpack_font(packed) == TINY
    assert len(packed) < len(TINY)
    assert len(packed_digest(packed)) == 64


@pytest.mark.parametrize("at", [4, 12, 60, -40])
def test_a_damaged_pack_is_never_taken_for_a_font(at: int) -> None:
    packed = bytearray(pack_font(TINY))
    packed[at] ^= 0xFF
    with pytest.raises(ValueError, match="SoundFont"):
        unpack_font(bytes(packed))
    with pytest.raises(ValueError, match="no packed SoundFont"):
        packed_digest(b"RIFF")


def test_a_sample_keeps_its_loop_and_its_sound() -> None:
    before, after = read_font(TINY), read_font(write_font(read_font(TINY)))
    for one, other in zip(before.samples, after.samples, strict=True):
        np.testing.assert_array_equal(one.data, other.data)
        assert one.loop == other.loop


@pytest.mark.parametrize("bank", [0, 1, 128])
def test_whatever_is_asked_for_has_somebody_near(bank: int) -> None:
    there = {(0, 0), (0, 56), (0, 73), (128, 32)}
    for program in range(128):
        bank_found, _ = nearest_preset((bank, program), there)
        assert (bank_found == 128) == (bank == 128)
    with pytest.raises(ValueError, match="without presets"):
        nearest_preset((0, 0), set())


def test_only_what_is_struck_counts_as_played() -> None:
    with pytest.raises(ValueError, match="no MIDI file"):
        presets_played(b"RIFF")
