"""What lies in the cache in the place of measured or rendered sound is looked at first."""

import math
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.sound import _patch as patch
from kit.sound import _strokes as strokes
from kit.sound import _takes as takes

READERS = (patch._lead_and_energy, strokes._sound_and_attack, takes._take_of)
SAMPLES = np.zeros((10, 2), "<f4").tobytes()


@pytest.mark.parametrize("reader", READERS)
@given(entry=st.binary(max_size=60))
def test_any_bytes_are_read_whole_or_refused(reader, entry):
    try:
        read = reader(entry)
    except ValueError:
        return
    assert read is not None


@pytest.mark.parametrize(
    ("reader", "entry"),
    [
        (patch._lead_and_energy, b"[1]"),
        (patch._lead_and_energy, b"[1.0, 2.0, 3.0]"),
        (patch._lead_and_energy, b'[1.0, "loud"]'),
        (patch._lead_and_energy, b'{"lead": 1.0}'),
        (strokes._sound_and_attack, b""),
        (strokes._sound_and_attack, struct.pack("<i", 0) + SAMPLES[:-1]),
        (strokes._sound_and_attack, struct.pack("<i", 11) + SAMPLES),
        (strokes._sound_and_attack, struct.pack("<i", -1) + SAMPLES),
        (takes._take_of, struct.pack("<2sd", b"f4", 1.0) + SAMPLES[:-1]),
        (takes._take_of, struct.pack("<2sd", b"O8", 1.0) + SAMPLES),
        (takes._take_of, b"short"),
    ],
)
def test_what_is_no_such_sound_is_refused(reader, entry):
    with pytest.raises(ValueError, match=r"th(is|ese)"):
        reader(entry)


def test_what_was_kept_comes_back():
    assert patch._lead_and_energy(b"[0.5, 2.0]") == (0.5, 2.0)
    sound, attack = strokes._sound_and_attack(struct.pack("<i", 3) + SAMPLES)
    assert (len(sound), attack) == (10, 3)
    take = takes._take_of(struct.pack("<2sd", b"f4", 0.5) + SAMPLES)
    assert len(take) == 10
    assert math.isclose(take.gain, 0.5)
