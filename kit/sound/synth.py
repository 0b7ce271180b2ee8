"""How do MIDI bytes become samples?

One small interface, `Synth`, and two ways behind it: midirenderer, which comes as a wheel
and is the default, and the FluidSynth library where midirenderer has no wheel (Linux on
ARM) or a user prefers it (``KIT_SYNTH=fluidsynth``). Audio is a `Take` at
`SAMPLE_RATE_HZ`, without what lies below the music, and ends with the end-of-track event.

Source: FluidSynth 2.2 API reference (file player, ``fluid_synth_write_float``,
``fluid_sfloader_set_callbacks``).
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib.util
import io
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.metadata import version
from typing import Protocol, cast

import mido
import numpy as np
from numpy.typing import NDArray

from kit.errors import SetupError
from kit.sound._high_pass import HIGH_PASS, high_passed
from kit.sound._presets import presets_played
from kit.sound.soundfont import SoundFont

Samples = NDArray[np.float32]
Words = NDArray[np.int16]

__all__ = [
    "SAMPLE_RATE_HZ",
    "FluidSynthLibrary",
    "Midirenderer",
    "Synth",
    "Take",
    "open_synth",
    "require_sound",
]

SAMPLE_RATE_HZ = 48_000
_DRUM_KEYS = range(35, 82)
_PANIC = "PanicException"


@dataclass(frozen=True, slots=True, eq=False)
class Take:
    """Rendered audio, kept as the synthesiser gave it: no copy is made of minutes of sound.

    Parameters
    ----------
    data : int16 or float32 array, shape (samples, 2)
        Left and right.
    gain : float
        What to multiply by, so that full scale is 1.0.
    """

    data: Words | Samples
    gain: float = 1.0

    def __len__(self) -> int:
        """Length in samples."""
        return len(self.data)

    def floats(self, start: int = 0, stop: int | None = None) -> Samples:
        """Give a piece as float32, full scale 1.0.

        Parameters
        ----------
        start, stop : int
            Samples, as in a slice; all of them unless said.

        Returns
        -------
        float32 array, shape (samples, 2)
            A copy: the take itself stays as it was rendered.
        """
        piece = self.data[start:stop]
        return np.multiply(piece, np.float32(self.gain), dtype=np.float32)


class Synth(Protocol):
    """Anything that renders a MIDI file with a SoundFont."""

    @property
    def key(self) -> str:
        """Name, version and SoundFont digest: the same key gives the same samples."""
        ...

    @property
    def slurred_programs(self) -> frozenset[int]:
        """Programs whose bank 1 has sounds without an attack, to be slurred into."""
        ...

    def render(self, midi: bytes) -> Take:
        """Render a Standard MIDI File at 48 kHz."""
        ...


def open_synth(font: SoundFont) -> Synth:
    """Take the synthesiser this machine has.

    Raises
    ------
    SetupError
        If there is none.
    """
    wanted = os.environ.get("KIT_SYNTH", "")
    if wanted != "fluidsynth" and importlib.util.find_spec("midirenderer") is not None:
        return Midirenderer(font)
    return FluidSynthLibrary(font)


@lru_cache(maxsize=4)
def require_sound(font: SoundFont) -> None:
    """Make sure that a SoundFont sounds on this machine: each of its sounds is tried.

    Raises
    ------
    SetupError
        If there is no synthesiser, or the one there is cannot use the font.
    """
    track = mido.MidiTrack()
    for program in range(128):
        track.append(mido.Message("program_change", program=program))
        track += _touch(60, channel=0)
    for key in _DRUM_KEYS:
        track += _touch(key, channel=9)
    track.append(mido.MetaMessage("end_of_track", time=0))
    written = io.BytesIO()
    mido.MidiFile(type=0, tracks=[track]).save(file=written)
    open_synth(font).render(written.getvalue())


def _touch(key: int, *, channel: int) -> list[mido.Message]:
    """Sound a key for some milliseconds."""
    return [
        mido.Message("note_on", note=key, velocity=64, channel=channel),
        mido.Message("note_off", note=key, time=5, channel=channel),
    ]


class Midirenderer:
    """The default synthesiser."""

    def __init__(self, font: SoundFont) -> None:
        self._font = font

    @property
    def key(self) -> str:
        """Name, version and SoundFont digest."""
        return f"midirenderer {_midirenderer_version()} {self._font.digest} {HIGH_PASS}"

    @property
    def slurred_programs(self) -> frozenset[int]:
        """See `Synth.slurred_programs`."""
        return self._font.slurred_programs

    def render(self, midi: bytes) -> Take:
        """Render a MIDI file; see `Synth.render`."""
        # Not everywhere installed: see `open_synth`.
        from midirenderer import render_wave_from  # noqa: PLC0415

        try:
            wave = render_wave_from(self._font.part(presets_played(midi)), midi)
        except BaseException as error:
            # A panic of its Rust code is no `Exception`, and has no name to import (pyo3).
            if isinstance(error, RuntimeError) or type(error).__name__ == _PANIC:
                raise _unusable(self._font) from error
            raise
        # 16-bit stereo at 48 kHz behind a RIFF header whose data chunk comes last.
        start = wave.index(b"data") + 8
        words = np.frombuffer(wave, "<i2", offset=start).reshape(-1, 2)
        return Take(high_passed(words, SAMPLE_RATE_HZ), 1 / 32768)


def _unusable(font: SoundFont) -> SetupError:
    return SetupError(
        f"the synthesiser cannot use the SoundFont {font.name}",
        remedy=f"name another .sf2 file ({font.origin})",
    )


@cache
def _midirenderer_version() -> str:
    # Every file asks, and Python would look through the installed packages each time.
    return version("midirenderer")


class FluidSynthLibrary:
    """The FluidSynth library, called through ctypes."""

    _BLOCK = 4800

    def __init__(self, font: SoundFont) -> None:
        found = ctypes.util.find_library("fluidsynth")
        if found is None:
            remedy = "pip install midirenderer" + (
                " (it has no wheel for this machine), or install FluidSynth"
                if sys.platform == "linux"
                else " or install FluidSynth"
            )
            raise SetupError("no synthesiser is installed", remedy=f"run {remedy}")
        self._library = _declared(ctypes.CDLL(found))
        self._font = font

    @property
    def key(self) -> str:
        """Name, version and SoundFont digest."""
        number = self._library.fluid_version_str().decode("ascii", "replace")
        return f"fluidsynth {number} {self._font.digest} {HIGH_PASS}"

    @property
    def slurred_programs(self) -> frozenset[int]:
        """See `Synth.slurred_programs`."""
        return self._font.slurred_programs

    def render(self, midi: bytes) -> Take:
        """Render a MIDI file; see `Synth.render`."""
        seconds = mido.MidiFile(file=io.BytesIO(midi)).length
        count = round(seconds * SAMPLE_RATE_HZ)
        lib = self._library
        # It would tell of each channel that has no instrument; those play nothing.
        lib.fluid_set_log_function(_WARNING, None, None)
        settings = lib.new_fluid_settings()
        lib.fluid_settings_setnum(settings, b"synth.sample-rate", float(SAMPLE_RATE_HZ))
        lib.fluid_settings_setstr(settings, b"player.timing-source", b"sample")
        lib.fluid_settings_setint(settings, b"synth.lock-memory", 0)
        synth = lib.new_fluid_synth(settings)
        player = lib.new_fluid_player(synth)
        # Rounded up to whole blocks; the player itself would go on for a while.
        audio = np.zeros((-(-count // self._BLOCK) * self._BLOCK, 2), np.float32)
        try:
            loader = lib.new_fluid_defsfloader(settings)
            font = _FontInMemory(self._font.part(presets_played(midi)))
            lib.fluid_sfloader_set_callbacks(loader, *font.callbacks)
            lib.fluid_synth_add_sfloader(synth, loader)
            if lib.fluid_synth_sfload(synth, self._font.name.encode(), 1) < 0:
                raise _unusable(self._font)
            lib.fluid_player_add_mem(player, midi, len(midi))
            lib.fluid_player_play(player)
            for start in range(0, len(audio), self._BLOCK):
                place = audio[start:].ctypes.data
                lib.fluid_synth_write_float(synth, self._BLOCK, place, 0, 2, place, 1, 2)
        finally:
            lib.delete_fluid_player(player)
            lib.delete_fluid_synth(synth)
            lib.delete_fluid_settings(settings)
        return Take(high_passed(audio[:count], SAMPLE_RATE_HZ))


_WARNING = 2
"""FluidSynth's number for messages of that weight."""
_SIZE, _POINTER = ctypes.c_longlong, ctypes.c_void_p
_CALLBACKS = (
    ctypes.CFUNCTYPE(_POINTER, ctypes.c_char_p),  # open
    ctypes.CFUNCTYPE(ctypes.c_int, _POINTER, _SIZE, _POINTER),  # read
    ctypes.CFUNCTYPE(ctypes.c_int, _POINTER, _SIZE, ctypes.c_int),  # seek
    ctypes.CFUNCTYPE(_SIZE, _POINTER),  # tell
    ctypes.CFUNCTYPE(ctypes.c_int, _POINTER),  # close
)
_DONE, _FAILED = 0, -1


class _FontInMemory:
    """A font that the library reads like a file; it must live until that is done."""

    def __init__(self, content: bytes) -> None:
        self._file = io.BytesIO(content)
        parts = (self._open, self._read, self._seek, self._tell, self._close)
        self.callbacks: tuple[object, ...] = tuple(
            cast("Callable[[object], object]", kind)(part)
            for kind, part in zip(_CALLBACKS, parts, strict=True)
        )

    def _open(self, _name: bytes) -> int:
        self._file.seek(0)
        return 1  # a handle, which only must not be nothing

    def _read(self, place: int, count: int, _handle: int) -> int:
        found = self._file.read(count)
        ctypes.memmove(place, found, len(found))
        return _DONE if len(found) == count else _FAILED

    def _seek(self, _handle: int, offset: int, origin: int) -> int:
        try:
            self._file.seek(offset, origin)
        except ValueError:
            return _FAILED
        return _DONE

    def _tell(self, _handle: int) -> int:
        return self._file.tell()

    def _close(self, _handle: int) -> int:
        return _DONE


def _declared(library: ctypes.CDLL) -> ctypes.CDLL:
    """Tell ctypes the signatures, so that pointers are not cut to 32 bits."""
    pointer, text, number = ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int
    signatures: dict[str, tuple[object, list[object]]] = {
        "fluid_version_str": (text, []),
        "fluid_set_log_function": (pointer, [number, pointer, pointer]),
        "new_fluid_settings": (pointer, []),
        "fluid_settings_setnum": (number, [pointer, text, ctypes.c_double]),
        "fluid_settings_setstr": (number, [pointer, text, text]),
        "fluid_settings_setint": (number, [pointer, text, number]),
        "new_fluid_synth": (pointer, [pointer]),
        "new_fluid_player": (pointer, [pointer]),
        "new_fluid_defsfloader": (pointer, [pointer]),
        "fluid_sfloader_set_callbacks": (number, [pointer, *_CALLBACKS]),
        "fluid_synth_add_sfloader": (None, [pointer, pointer]),
        "fluid_synth_sfload": (number, [pointer, text, number]),
        "fluid_player_add_mem": (number, [pointer, text, ctypes.c_size_t]),
        "fluid_player_play": (number, [pointer]),
        "fluid_synth_write_float": (
            number, [pointer, number, pointer, number, number, pointer, number, number],
        ),
        "delete_fluid_player": (None, [pointer]),
        "delete_fluid_synth": (None, [pointer]),
        "delete_fluid_settings": (None, [pointer]),
    }  # fmt: skip
    for name, (result, arguments) in signatures.items():
        function = getattr(library, name)
        function.restype = result
        function.argtypes = arguments
    return library
