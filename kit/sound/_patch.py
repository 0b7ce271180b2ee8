"""How late and how loud does a sound of this SoundFont speak?

Wind samples need some hundredths of a second to be heard. So that the audio keeps to the
map, each key of a program is rendered once by itself, and the time until its envelope
reaches a fifth (-14 dB) of its peak becomes the key's *lead*: it is started that much
earlier. The same rendering tells how loud the key is. A player's level, for the balance of
the mix, is the mean of all keys it plays, each by how much it plays it: then a part is as
loud with one SoundFont as with another. Strokes of percussion differ among themselves as
``drum_levels.toml`` says, so that a part of soft cymbals stays soft.

Source: perceptual onset as a threshold 6 to 15 dB below the maximum: Vos & Rasch,
*Perception & Psychophysics* 29 (1981) (from memory).
"""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.cache import code_fingerprint, default_cache, fingerprint
from kit.reading import json_of
from kit.sound._loudness import k_weighted
from kit.sound.midi_file import to_midi
from kit.sound.synth import SAMPLE_RATE_HZ, Synth

__all__ = [
    "ONSET_SHARE",
    "PERCUSSION",
    "Patch",
    "drum_levels_lu",
    "measure_patch",
    "measured_energy",
    "onset_s",
]

PERCUSSION = frozenset({"drums", "count", "click"})
ONSET_SHARE = 0.2
_SURE_SHARE = 0.25
_NOTE_S = 0.6
_STANDARD_VELOCITY = 88
_VELOCITIES = {"melody": 78, "bass": 80, "chords": 68, "drums": 64}
"""What each player mostly plays with (loudness goes with its fourth power): a softer note
may also be darker. What is measured counts as at the standard velocity."""
_LENGTHS_S = (0.15, 0.3, _NOTE_S)
"""Chords and bass are measured by notes as short as those of the part: how much a sound
swells, fades and rings on within so short a time, differs from font to font."""
_SHORT = frozenset({"bass", "chords"})
_RING_S = 0.3
_LONGEST_LEAD_S = 0.08

Key = tuple[int, bool]
"""A MIDI number, and whether it is slurred into."""


@dataclass(frozen=True, slots=True)
class Patch:
    """What was measured of one program.

    Parameters
    ----------
    leads_s : mapping of MIDI number to seconds
        How much earlier a key is to be started.
    level_lufs : float
        As it is played, at the standard velocity; minus infinity for silence.
    slurred_leads_s : mapping of MIDI number to seconds, optional
        Of its sounds without an attack; None if it has none.
    """

    leads_s: Mapping[int, float]
    level_lufs: float
    slurred_leads_s: Mapping[int, float] | None = None


@dataclass(frozen=True, slots=True)
class _Sound:
    """What is measured: a program as a player uses it, in notes of a length."""

    player: str
    program: int
    length_s: float = _NOTE_S


_measured: dict[tuple[str, _Sound], dict[Key, tuple[float, float]]] = {}


def measure_patch(synth: Synth, program: int, events: Sequence[NoteEvent]) -> Patch:
    """Measure a program as a player uses it; what is measured goes to the cache.

    Parameters
    ----------
    synth : Synth
        With its SoundFont.
    program : int
        General MIDI program or percussion kit, from 0.
    events : sequence of NoteEvent
        What one player plays with it; who that is decides channel, pan and room.
    """
    if not events:
        return Patch({}, -math.inf)
    player = events[0].player
    has_slurs = player not in PERCUSSION and program in synth.slurred_programs
    shares: dict[Key, float] = {}
    for event in events:
        key = event.midi, has_slurs and event.joined
        shares[key] = shares.get(key, 0.0) + _share(event)
    known = _known(synth, _Sound(player, program, _length_s(events)), shares)
    levels = _levels(player, shares)
    mean = sum(shares[key] * known[key][1] for key in shares)
    mean /= sum(shares[key] * levels[key] for key in shares)
    return Patch(
        {midi: known[midi, slurred][0] for midi, slurred in shares if not slurred},
        -0.691 + 10 * math.log10(mean) if mean > 0 else -math.inf,
        {midi: known[midi, slurred][0] for midi, slurred in shares if slurred}
        if has_slurs
        else None,
    )


def _share(event: NoteEvent) -> float:
    """Give how much of a player's loudness comes from a note, if all sounds were alike."""
    # Loudness goes with the square of velocity (SoundFont 2.04, 8.4.1, roughly).
    energy = float((event.velocity / 127) ** 4)
    return energy if event.player in PERCUSSION else energy * min(event.duration_s, 2.0)


def _length_s(events: Sequence[NoteEvent]) -> float:
    if events[0].player not in _SHORT:
        return _NOTE_S
    energies = [(event.velocity / 127) ** 4 for event in events]
    lengths = [event.duration_s for event in events]
    mean = sum(e * s for e, s in zip(energies, lengths, strict=True)) / sum(energies)
    return min(_LENGTHS_S, key=lambda length: abs(math.log(length / max(mean, 0.01))))


def _known(
    synth: Synth, sound: _Sound, keys: Collection[Key]
) -> Mapping[Key, tuple[float, float]]:
    """Give lead and energy of keys."""
    known = _measured.setdefault((synth.key, sound), {})
    for key in sorted(set(keys) - set(known)):
        known[key] = _kept(synth, sound, key)
    return known


def _levels(player: str, keys: Collection[Key]) -> Mapping[Key, float]:
    """Give which energy keys should have among themselves: tuned ones all the same."""
    if player != "drums":
        return dict.fromkeys(keys, 1.0)
    levels_lu = drum_levels_lu()
    return {key: 10 ** (levels_lu.get(key[0], 0.0) / 10) for key in keys}


@cache
def drum_levels_lu() -> Mapping[int, float]:
    """Read ``drum_levels.toml``: percussion key to level."""
    text = (files("kit.sound") / "drum_levels.toml").read_text(encoding="utf-8")
    return {int(key): level for key, level in tomllib.loads(text)["levels_lu"].items()}


def measured_energy(synth: Synth, player: str, program: int, midi: int) -> float:
    """Give the energy of a key, as it counts for a player's level."""
    return _measure(synth, _Sound(player, program), (midi, False))[1]


def onset_s(samples: NDArray[np.float32], *, share: float = ONSET_SHARE) -> float:
    """Give the second at which a sound's envelope first reaches a share of its peak.

    Audio is shape (samples, 2); the peak is that of the first 250 ms.
    """
    early = np.abs(samples[: SAMPLE_RATE_HZ // 4]).max(axis=1)
    peak = float(early.max(initial=0.0))
    if peak == 0:
        return 0.0
    return float(np.argmax(early >= share * peak)) / SAMPLE_RATE_HZ


def _kept(synth: Synth, sound: _Sound, key: Key) -> tuple[float, float]:
    name = fingerprint("patch", code_fingerprint("sound"), synth.key, sound, key)
    return default_cache().parsed_through(
        name,
        lambda: json.dumps(_measure(synth, sound, key)).encode(),
        _lead_and_energy,
    )


def _lead_and_energy(entry: bytes) -> tuple[float, float]:
    measured = json_of(entry)
    if not isinstance(measured, list) or [type(x) for x in measured] != [float, float]:
        raise ValueError("these are not two measured numbers")
    return measured[0], measured[1]


def _measure(synth: Synth, sound: _Sound, key: Key) -> tuple[float, float]:
    """Give lead and energy of a key.

    It is rendered by itself: the ring of another key would change both a little, and then
    they would depend on what else was played before.
    """
    midi, slurred = key
    player, length_s = sound.player, sound.length_s
    velocity = _VELOCITIES.get(player, _STANDARD_VELOCITY)
    event = NoteEvent(player, midi, 0.0, length_s, velocity, joined=slurred)
    score = Performance((event,), length_s, 0.0, {player: sound.program})
    file = to_midi(
        score,
        players=[player],
        slurred_leads_s={player: {}},
        tail_s=_RING_S if player in _SHORT else 0.0,
    )
    audio = synth.render(file).floats()
    # Some sounds linger about the threshold: take the middle of passing it and 2 dB more.
    lead = (onset_s(audio) + onset_s(audio, share=_SURE_SHARE)) / 2
    lead = min(_LONGEST_LEAD_S, lead)
    energy = float(np.square(k_weighted(audio)).sum()) / (length_s * SAMPLE_RATE_HZ)
    return lead, energy * (_STANDARD_VELOCITY / velocity) ** 4
