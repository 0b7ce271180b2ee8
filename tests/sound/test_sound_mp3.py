from __future__ import annotations

import io
import struct

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.sound._id3 import id3_tag
from kit.sound._mp3 import encode
from kit.sound._mp3_info import BIT_RATES_KBPS, crc16


def clicks(count: int = 48_000 * 2 + 123) -> np.ndarray:
    audio = np.zeros((count, 2), np.float32)
    audio[[0, 48_000, 90_000]] = 0.7
    return audio


@settings(max_examples=15, deadline=None)
@given(st.integers(1200, 60_000), st.sampled_from(BIT_RATES_KBPS))
def test_the_length_survives_to_the_sample(count: int, rate: int) -> None:
    audio = np.zeros((count, 2), np.float32)
    decoded, _ = soundfile.read(io.BytesIO(encode(audio, bit_rate_kbps=rate)))
    assert len(decoded) == count


@pytest.mark.parametrize("rate", [96, 128, 192, 320])
def test_onsets_survive_to_the_sample(rate: int) -> None:
    decoded, hertz = soundfile.read(io.BytesIO(encode(clicks(), bit_rate_kbps=rate)))
    assert hertz == 48_000
    for place in (0, 48_000, 90_000):
        first = max(0, place - 1000)
        peak = first + int(np.argmax(np.abs(decoded[first : place + 1000, 0])))
        assert abs(peak - place) <= 1


@pytest.mark.parametrize("rate", [64, 128, 160, 192, 224, 256, 320])
def test_the_encoder_does_not_change_the_level(rate: int) -> None:
    time = np.arange(48_000 * 2) / 48_000
    tone = (0.5 * np.sin(2 * np.pi * 440 * time)).astype(np.float32)
    decoded, _ = soundfile.read(
        io.BytesIO(encode(np.stack([tone, tone], axis=1), bit_rate_kbps=rate))
    )
    inner = slice(9600, -9600)
    change = np.sqrt(np.square(decoded[inner, 0]).mean() / np.square(tone[inner]).mean())
    assert 20 * np.log10(change) == pytest.approx(0, abs=0.05)


def test_the_same_audio_gives_the_same_bytes() -> None:
    assert encode(clicks()) == encode(clicks())


def test_tags_are_utf_16_with_safe_sizes() -> None:
    tag = id3_tag({"title": "E♭ 𝄫", "album": "<b>&"})
    assert tag[:6] == b"ID3\x03\x00\x00"
    size = 0
    for byte in tag[6:10]:
        assert byte < 128
        size = size << 7 | byte
    assert len(tag) == size + 10
    assert tag[10:14] == b"TIT2"
    (length,) = struct.unpack(">I", tag[14:18])
    assert tag[20] == 1
    assert tag[21 : 20 + length].decode("utf-16") == "E♭ 𝄫"


def test_control_characters_do_not_reach_the_tag() -> None:
    assert "a b".encode("utf-16-le") in id3_tag({"title": "a\0b"})


def test_unknown_tags_shapes_and_rates_are_refused() -> None:
    with pytest.raises(ValueError, match="no tag 'mood'"):
        id3_tag({"mood": "blue"})
    with pytest.raises(ValueError, match="shape"):
        encode(np.zeros(100, np.float32))
    with pytest.raises(ValueError, match="kbps"):
        encode(clicks(), bit_rate_kbps=100)


@given(st.binary(max_size=3000))
def test_the_checksum_equals_the_bitwise_definition(content: bytes) -> None:
    crc = 0
    for byte in content:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    assert crc16(content) == crc
