"""How is audio rendered, encoded, and kept in the cache?

Encoded audio is kept under the hash of its bytes; two small entries lead to it, each with
what was measured:

* by its *source*: what the performance is made from (the rendition, the code of band and
  sound), so that an unchanged lesson is not even performed;
* by what is *played in this mix*: the sounds of its players and all that acts on them, so
  that a change which this mix or these bars do not hear renders nothing.

Both hold the synthesiser with its version and SoundFont and the encoding. What an MP3 says
of itself, its tag and picture, is put in front of the kept frames as it is asked for:
another word of a lesson's rights encodes nothing.

What is in the cache in neither way is rendered together, so that mixes share their players,
and one mix after the other is encoded in every form asked for and let go of.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

from kit.cache import Cache, code_fingerprint, default_cache, fingerprint
from kit.reading import json_of

if TYPE_CHECKING:
    from kit.band.events import Performance
    from kit.sound.render import Rendered
    from kit.sound.soundfont import SoundFont

MixAt = tuple[str, int]
"""A mix and its bit rate in kbit/s."""

__all__ = ["FLAC", "AudioFile", "Takes"]

_FACTS: Mapping[str, tuple[type, ...]] = {
    "seconds": (float, int),
    "lufs": (float, int),
    "true_peak_dbtp": (float, int),
    "soundfont": (str,),
    "mime": (str,),
    "blob": (str,),
}
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

    @classmethod
    def of(cls, rendered: Rendered, data: bytes, mime: str = "audio/mpeg") -> AudioFile:
        """Put what was measured before encoding beside what was encoded."""
        return cls(
            data,
            rendered.seconds,
            rendered.lufs,
            rendered.true_peak_dbtp,
            rendered.soundfont,
            mime,
        )


@dataclass(frozen=True, slots=True)
class Takes:
    """Renders what is not there yet.

    Parameters
    ----------
    font : SoundFont
        What it sounds like.
    tags : function from mix to tags
        What a mix says of itself, as `kit.sound._id3` names it.
    cover_png : bytes or None
        The picture in every MP3.
    cache : Cache, optional
        The user's unless given.
    apart : bool
        Whether the lesson's mixes need each player apart (`kit.sound.render.each_mix`).
    """

    font: SoundFont
    tags: Callable[[str], Mapping[str, str]]
    cover_png: bytes | None = None
    cache: Cache | None = None
    apart: bool = False

    def files(
        self,
        source: object,
        play: Callable[[], Performance],
        wanted: Sequence[MixAt],
        *,
        is_loop: bool = False,
    ) -> dict[MixAt, AudioFile]:
        """Give mixes in the encodings asked for.

        Parameters
        ----------
        source : object
            What the performance is made from; the same source is the same sound.
        play : function
            Performs; called only if something is missing.
        wanted : sequence of (str, int)
            Mixes (`kit.sound.mix_names`), each with a bit rate in kbps or `FLAC`.
        is_loop : bool
            Whether the audio ends exactly with its last bar.
        """
        cache = self.cache or default_cache()
        by_source = self._keys(
            wanted,
            lambda _: (code_fingerprint("band", "sound", "route"), repr(source)),
            is_loop,
        )
        found = _in_cache(cache, by_source)
        missing = [place for place in wanted if place not in found]
        if not missing:
            return self._tagged(found)
        performance = play()
        by_sound = self._keys(
            missing,
            lambda mix: (code_fingerprint("sound"), _played(performance, mix)),
            is_loop,
        )
        known = _in_cache(cache, by_sound)
        for place, audio in known.items():
            _put(cache, (by_source[place],), audio)
        found |= known
        missing = [place for place in missing if place not in known]
        for place, audio in self._made(performance, missing, is_loop=is_loop):
            _put(cache, (by_sound[place], by_source[place]), audio)
            found[place] = audio
        return self._tagged(found)

    def _tagged(self, found: Mapping[MixAt, AudioFile]) -> dict[MixAt, AudioFile]:
        """Let each MP3 say what it is; of a lossless file the encoder has done it."""
        from kit.sound.render import mp3_tag  # noqa: PLC0415 - needs numpy

        return {
            (mix, rate): audio
            if rate == FLAC
            else replace(
                audio, data=mp3_tag(self.tags(mix), cover_png=self.cover_png) + audio.data
            )
            for (mix, rate), audio in found.items()
        }

    def _keys(
        self, places: Iterable[MixAt], made_from: Callable[[str], object], is_loop: bool
    ) -> dict[MixAt, str]:
        from kit.sound.mix_names import mix_table  # noqa: PLC0415
        from kit.sound.synth import open_synth  # noqa: PLC0415 - needs numpy

        places = list(places)
        synth = open_synth(self.font).key
        made = {
            mix: fingerprint(
                made_from(mix),
                synth,
                is_loop,
                mix_table().stems(mix, apart=self.apart, is_loop=is_loop),
                mix,
            )
            for mix in dict.fromkeys(mix for mix, _ in places)
        }
        return {
            (mix, rate): fingerprint(
                made[mix], rate, dict(self.tags(mix)) if rate == FLAC else {}
            )
            for mix, rate in places
        }

    def _made(
        self, performance: Performance, places: Sequence[MixAt], *, is_loop: bool
    ) -> Iterator[tuple[MixAt, AudioFile]]:
        from kit.sound.render import each_mix  # noqa: PLC0415 - needs numpy

        mixes = list(dict.fromkeys(mix for mix, _ in places))
        rendered = each_mix(
            performance, mixes, soundfont=self.font, apart=self.apart, is_loop=is_loop
        )
        # The encoder lets go of the interpreter: two files are packed at once.
        with ThreadPoolExecutor(2) as threads:
            for mix, audio in rendered:
                rates = [rate for other, rate in places if other == mix]
                packed = list(threads.map(partial(self._packed, audio, mix), rates))
                # Before the next mix is summed this one must be gone.
                del audio
                yield from zip(((mix, rate) for rate in rates), packed, strict=True)

    def _packed(self, rendered: Rendered, mix: str, rate_kbps: int) -> AudioFile:
        from kit.sound.render import encode_lossless, encode_mp3  # noqa: PLC0415 - needs numpy

        if rate_kbps == FLAC:
            data, mime = encode_lossless(rendered, tags=self.tags(mix)), "audio/flac"
        else:
            data, mime = encode_mp3(rendered, bit_rate_kbps=rate_kbps), "audio/mpeg"
        return AudioFile.of(rendered, data, mime)


def _played(performance: Performance, mix: str) -> str:
    """Say all that a mix's sound depends on: its own players and what acts on them all."""
    from kit.sound.mix_names import mix_table  # noqa: PLC0415

    players = mix_table().players(mix)
    programs = {name: performance.programs.get(name, 0) for name in players}
    events = [event for name in players for event in performance.of(name)]
    return repr(replace(performance, events=tuple(events), programs=programs))


def _put(cache: Cache, keys: Iterable[str], audio: AudioFile) -> None:
    facts = {name: value for name, value in asdict(audio).items() if name != "data"}
    entry = json.dumps(facts | {"blob": cache.keep(audio.data)}).encode()
    for key in keys:
        cache.put(key, entry)


def _in_cache(cache: Cache, keys: Mapping[MixAt, str]) -> dict[MixAt, AudioFile]:
    """Give what is there; an entry whose audio has gone does not count."""
    found: dict[MixAt, AudioFile] = {}
    for place, key in keys.items():
        facts = cache.parsed(key, _facts_of)
        if facts is None:
            continue
        data = cache.blob(facts.pop("blob"))
        if data is not None:
            found[place] = AudioFile(data=data, **facts)
    return found


def _facts_of(entry: bytes) -> dict[str, Any]:
    """Read what was measured of a piece of audio, and under which hash it lies."""
    facts = json_of(entry)
    if not isinstance(facts, dict) or facts.keys() != _FACTS.keys():
        raise ValueError("this is nothing about audio")
    if not all(type(facts[name]) in kinds for name, kinds in _FACTS.items()):
        raise ValueError("something in this was never measured")
    return facts
