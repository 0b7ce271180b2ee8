"""How is audio rendered, encoded, and kept on the shelf?

An entry's key holds everything it was made from: the rendition, code of band and sound,
synthesiser with its version and SoundFont, the tags. What is not on the shelf is rendered
together, so that mixes share their players, and encoded in every form the lesson needs.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from itertools import product
from typing import TYPE_CHECKING

from kit.cache import Cache, code_fingerprint, default_cache, fingerprint

if TYPE_CHECKING:
    from kit.band import Performance
    from kit.sound import Rendered, SoundFont

__all__ = ["FLAC", "AudioFile", "Shelf"]

FLAC = 0
"""The bit rate that stands for lossless."""


@dataclass(frozen=True, slots=True)
class AudioFile:
    """Encoded audio with what was measured before encoding.

    `seconds` is the whole length, count-in and ring-out included; `mime` the kind of file.
    """

    data: bytes
    seconds: float
    lufs: float
    true_peak_dbtp: float
    soundfont: str
    mime: str = "audio/mpeg"


@dataclass(frozen=True, slots=True)
class Shelf:
    """Renders what is not there yet.

    Parameters
    ----------
    font : SoundFont
        What it sounds like.
    tags : function from mix to tags
        Title, artist and album of a mix.
    cover_png : bytes or None
        The picture in every MP3.
    cache : Cache, optional
        The user's unless given.
    """

    font: SoundFont
    tags: Callable[[str], Mapping[str, str]]
    cover_png: bytes | None = None
    cache: Cache | None = None

    def files(
        self,
        source: object,
        play: Callable[[], Performance],
        mixes: Sequence[str],
        rates_kbps: Iterable[int],
        *,
        is_loop: bool = False,
    ) -> dict[tuple[str, int], AudioFile]:
        """Give mixes in all the encodings asked for (`FLAC` for lossless).

        Parameters
        ----------
        source : object
            What the performance is made from; the same source is the same sound.
        play : function
            Performs; called only if something is missing.
        mixes : sequence of str
            Some of `kit.sound.mix_names`.
        rates_kbps : iterable of int
            Bit rates.
        is_loop : bool
            Whether the audio ends exactly with its last bar.
        """
        wanted = list(product(mixes, rates_kbps))
        keys = self._keys(source, wanted, is_loop=is_loop)
        shelf = self.cache or default_cache()
        found = {place: _from_bytes(shelf.get(keys[place])) for place in wanted}
        missing = [place for place, audio in found.items() if audio is None]
        if missing:
            made = self._made(play(), missing, is_loop=is_loop)
            for place, audio in made.items():
                shelf.put(keys[place], _to_bytes(audio))
            found |= made
        return {place: audio for place, audio in found.items() if audio is not None}

    def _keys(
        self, source: object, wanted: Iterable[tuple[str, int]], *, is_loop: bool
    ) -> dict[tuple[str, int], str]:
        from kit.sound import open_synth  # noqa: PLC0415 - needs numpy

        stem = fingerprint(
            code_fingerprint("band", "sound", "route"),
            repr(source),
            open_synth(self.font).key,
            self.cover_png,
            is_loop,
        )
        return {
            (mix, rate): fingerprint(stem, dict(self.tags(mix)), mix, rate)
            for mix, rate in wanted
        }

    def _made(
        self, performance: Performance, places: Sequence[tuple[str, int]], *, is_loop: bool
    ) -> dict[tuple[str, int], AudioFile]:
        from kit.sound import render_mixes  # noqa: PLC0415 - needs numpy

        mixes = list(dict.fromkeys(mix for mix, _ in places))
        rendered = render_mixes(performance, mixes, soundfont=self.font, is_loop=is_loop)
        # The encoder lets go of the interpreter: two files are packed at once.
        with ThreadPoolExecutor(2) as crew:
            packed = crew.map(lambda one: self._packed(rendered[one[0]], *one), places)
            return dict(zip(places, packed, strict=True))

    def _packed(self, rendered: Rendered, mix: str, rate_kbps: int) -> AudioFile:
        from kit.sound import encode_lossless, encode_mp3  # noqa: PLC0415 - needs numpy

        tags = self.tags(mix)
        if rate_kbps == FLAC:
            data, mime = encode_lossless(rendered, tags=tags), "audio/flac"
        else:
            data = encode_mp3(
                rendered, bit_rate_kbps=rate_kbps, tags=tags, cover_png=self.cover_png
            )
            mime = "audio/mpeg"
        return AudioFile(
            data,
            rendered.seconds,
            rendered.lufs,
            rendered.true_peak_dbtp,
            rendered.soundfont,
            mime,
        )


def _to_bytes(audio: AudioFile) -> bytes:
    facts = {name: value for name, value in asdict(audio).items() if name != "data"}
    return json.dumps(facts).encode() + b"\n" + audio.data


def _from_bytes(entry: bytes | None) -> AudioFile | None:
    if entry is None:
        return None
    facts, _, data = entry.partition(b"\n")
    return AudioFile(data=data, **json.loads(facts))
