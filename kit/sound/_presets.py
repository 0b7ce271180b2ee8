"""Which presets of a SoundFont does a MIDI file play?

Only what is struck counts, with the bank (controller 0) and the program of that moment; the
tenth channel is percussion, bank 128. A synthesiser is then given no more of the font.

Source: Standard MIDI Files 1.0; bank selection as in General MIDI 2 and FluidSynth.
"""

from __future__ import annotations

from collections.abc import Iterator

__all__ = ["presets_played"]

_DRUM_CHANNEL, _PERCUSSION = 9, 128
_LENGTHS = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}
"""Data bytes behind each kind of channel message."""
_BANK_SELECT = 0


def presets_played(midi: bytes) -> frozenset[tuple[int, int]]:
    """Give bank and program of whatever is struck in a MIDI file of our own writing.

    Each track speaks for its own channels, as `kit.sound.midi_file` writes them.

    Raises
    ------
    ValueError
        If the bytes are no MIDI file.
    """
    found: set[tuple[int, int]] = set()
    try:
        for track in _tracks(midi):
            banks: dict[int, int] = {}
            programs: dict[int, int] = {}
            for kind, channel, first, second in _messages(track):
                if kind == 0xB0 and first == _BANK_SELECT:
                    banks[channel] = second
                elif kind == 0xC0:
                    programs[channel] = first
                elif kind == 0x90 and second:
                    drums = channel == _DRUM_CHANNEL
                    bank = _PERCUSSION if drums else banks.get(channel, 0)
                    found.add((bank, programs.get(channel, 0)))
    except (IndexError, KeyError) as error:
        raise ValueError("these bytes are no MIDI file") from error
    return frozenset(found)


def _tracks(midi: bytes) -> Iterator[bytes]:
    if midi[:4] != b"MThd":
        raise ValueError("these bytes are no MIDI file")
    at = 8 + int.from_bytes(midi[4:8])
    while at + 8 <= len(midi):
        size = int.from_bytes(midi[at + 4 : at + 8])
        if midi[at : at + 4] == b"MTrk":
            yield midi[at + 8 : at + 8 + size]
        at += 8 + size


def _messages(track: bytes) -> Iterator[tuple[int, int, int, int]]:
    """Give kind, channel and data of each channel message."""
    at, status = 0, 0
    while at < len(track):
        while track[at] & 0x80:  # the time before it, seven bits a byte
            at += 1
        at += 1
        if track[at] & 0x80:
            status = track[at]
            at += 1
        if status >= 0xF0:  # a text, a tempo, or what only one maker understands
            at += status == 0xFF
            size = 0
            while True:
                size = size << 7 | track[at] & 0x7F
                at += 1
                if not track[at - 1] & 0x80:
                    break
            at += size
            continue
        length = _LENGTHS[status & 0xF0]
        yield status & 0xF0, status & 0x0F, track[at], track[at + 1] if length == 2 else 0
        at += length
