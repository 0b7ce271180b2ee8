"""What is kept of a player sounds as it did, and keeps to its room."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from kit.sound._takes import kept_take
from kit.sound.synth import Take


class Noise:
    """Gives other samples each time it is asked."""

    def __init__(self, kind: str, gain: float, seconds: float = 0.1) -> None:
        self.key = f"noise {kind}"
        self.slurred_programs: frozenset[int] = frozenset()
        self.asked = 0
        self._chance = np.random.default_rng(1)
        self._kind, self._gain, self._count = kind, gain, round(48_000 * seconds)

    def render(self, midi: bytes) -> Take:
        self.asked += 1
        numbers = self._chance.uniform(-0.9, 0.9, (self._count, 2)) / self._gain
        return Take(numbers.astype(self._kind), self._gain)


@pytest.mark.parametrize(("kind", "gain"), [("int16", 1 / 32768), ("float32", 1.0)])
def test_a_kept_take_is_the_take(kind: str, gain: float) -> None:
    synth = Noise(kind, gain)
    first, again = kept_take(synth, b"one"), kept_take(synth, b"one")
    assert synth.asked == 1
    assert again.gain == first.gain
    assert again.data.dtype == first.data.dtype
    np.testing.assert_array_equal(again.floats(), first.floats())
    kept_take(synth, b"two")
    assert synth.asked == 2


def test_takes_keep_to_their_room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("KIT_CACHE_GB", "0.001")
    synth = Noise("int16", 1 / 32768)
    for number in range(30):
        kept_take(synth, bytes([number]))
    entries = (tmp_path / "cache" / "takes").glob("??/*")
    sizes = [path.stat().st_size for path in entries]
    assert 0 < sum(sizes) <= 200_000
