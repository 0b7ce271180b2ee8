"""How late and how loud does a sound of this SoundFont speak?

Wind samples need some hundredths of a second to be heard. So that the audio keeps to the
map, each key of a program is rendered once by itself, and the time until its envelope
reaches a fifth (-14 dB) of its peak becomes the key's *lead*: it is started that much
earlier. The same rendering tells how loud the program is, for the balance of the mix.

Source: perceptual onset as a threshold 6 to 15 dB below the maximum: Vos & Rasch,
*Perception & Psychophysics* 29 (1981) (from memory).
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.cache import code_fingerprint, default_cache, fingerprint
from kit.reading import json_of
from kit.sound._loudness import k_weighted
from kit.sound.midi_file import to_midi
from kit.sound.synth import SAMPLE_RATE_HZ, Synth

__all__ = ["ONSET_SHARE", "Patch", "measure_patch", "onset_s"]

ONSET_SHARE = 0.2
_NOTE_S = 0.6
_VELOCITY = 88
_LONGEST_LEAD_S = 0.08


@dataclass(frozen=True, slots=True)
class Patch:
    """What was measured of one program: seconds of lead per key, and mean level in LUFS."""

    leads_s: Mapping[int, float]
    level_lufs: float


_measured: dict[tuple[str, str, int], dict[int, tuple[float, float]]] = {}


def measure_patch(synth: Synth, player: str, program: int, keys: Sequence[int]) -> Patch:
    """Measure keys of a program as a player uses it; what is measured goes to the cache.

    Parameters
    ----------
    synth : Synth
        With its SoundFont.
    player : str
        Decides channel, pan and room.
    program : int
        General MIDI program from 0.
    keys : sequence of int
        MIDI numbers.
    """
    known = _measured.setdefault((synth.key, player, program), {})
    for key in sorted(set(keys) - set(known)):
        known[key] = _kept(synth, player, program, key)
    energies = [known[key][1] for key in keys]
    mean = sum(energies) / len(energies) if energies else 0.0
    level = -0.691 + 10 * math.log10(mean) if mean > 0 else -math.inf
    return Patch({key: known[key][0] for key in keys}, level)


def onset_s(samples: NDArray[np.float32]) -> float:
    """Give the second at which a sound's envelope first reaches `ONSET_SHARE` of its peak.

    Audio is shape (samples, 2); the peak is that of the first 250 ms.
    """
    early = np.abs(samples[: SAMPLE_RATE_HZ // 4]).max(axis=1)
    peak = float(early.max(initial=0.0))
    if peak == 0:
        return 0.0
    return float(np.argmax(early >= ONSET_SHARE * peak)) / SAMPLE_RATE_HZ


def _kept(synth: Synth, player: str, program: int, key: int) -> tuple[float, float]:
    name = fingerprint("patch", code_fingerprint("sound"), synth.key, player, program, key)
    return default_cache().parsed_through(
        name,
        lambda: json.dumps(_measure(synth, player, program, key)).encode(),
        _lead_and_energy,
    )


def _lead_and_energy(entry: bytes) -> tuple[float, float]:
    measured = json_of(entry)
    if not isinstance(measured, list) or [type(x) for x in measured] != [float, float]:
        raise ValueError("these are not two measured numbers")
    return measured[0], measured[1]


def _measure(synth: Synth, player: str, program: int, key: int) -> tuple[float, float]:
    """Give lead and energy of a key.

    It is rendered by itself: the ring of another key would change both a little, and then
    they would depend on what else was played before.
    """
    event = NoteEvent(player, key, 0.0, _NOTE_S, _VELOCITY)
    score = Performance((event,), _NOTE_S, 0.0, {player: program})
    sound = synth.render(to_midi(score, players=[player], tail_s=0.0)).floats()
    lead = min(_LONGEST_LEAD_S, onset_s(sound))
    return lead, float(np.square(k_weighted(sound)).mean(axis=0).sum())
