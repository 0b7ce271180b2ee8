"""The score-follow video: the notation with the bar that sounds lit, and the demo audio.

MP4 with H.264 and AAC, 1280 by 720 pixels, 25 frames a second. A frame shows the bar that
sounds in the middle of the frame's time, so the mark is off by half a frame at most.

PyAV does the encoding. It is an optional extra of the kit, because few lessons need it and
it is large.

Sources: ISO/IEC 14496-10 (H.264), 14496-3 (AAC), 14496-14 (MP4), as FFmpeg writes them.
"""

from __future__ import annotations

import io
import tempfile
from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from importlib.metadata import version
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from kit.cache import code_fingerprint, default_cache, fingerprint
from kit.lesson.lesson import Lesson
from kit.lesson.publish_tables import require_video
from kit.publish.recording._video_plates import (
    HEAD_PX,
    SIZE_PX,
    SLOT_PX,
    WORDS_PX,
    Moment,
    Plates,
    moments,
    plates,
    video_lines,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Picture = NDArray[np.uint8]

__all__ = ["FRAME_RATE", "require_video", "score_video"]

FRAME_RATE = 25
_SAMPLE_RATE = 48_000
_AUDIO_BITS = 160_000
_LAMP = (255, 217, 140)
"""The lit bar, as on the page; multiplied with the picture, so that notes stay black."""
_X264 = {"crf": "20", "preset": "veryfast", "tune": "stillimage", "threads": "1"}
"""One thread, because only then are the bytes the same on every machine."""


def score_video(lesson: Lesson, level: str, instrument: str, audio: bytes) -> bytes:
    """Make the video of a level for an instrument.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level, instrument : str
        Whose part is shown.
    audio : bytes
        The level's demo as MP3; its clock is the video's.

    Returns
    -------
    bytes
        An MP4 file, as long as the audio.

    Raises
    ------
    LessonError
        If the level or the part cannot be computed.
    SetupError
        If PyAV is missing.
    """
    require_video()
    music = lesson.level(level)
    key = fingerprint(
        "video",
        code_fingerprint("engrave", "publish", "instruments", "route", "tune"),
        repr((lesson.part(level, instrument), music.route, music.settings)),
        lesson.title,
        version("av"),
        audio,
    )
    return default_cache().parsed_through(
        key, lambda: _made(lesson, level, instrument, audio), _mp4_file
    )


def _mp4_file(entry: bytes) -> bytes:
    if entry[4:8] != b"ftyp":
        raise ValueError("this is no MP4 file")
    return entry


def _made(lesson: Lesson, level: str, instrument: str, audio: bytes) -> bytes:
    lines = video_lines(lesson, level, instrument)
    seen = moments(lesson, level, lines)
    painter = _Painter(plates(lesson, level, instrument, lines, seen))
    return _encoded(seen, painter, audio)


class _Painter:
    """Puts frames together."""

    def __init__(self, pieces: Plates) -> None:
        self.boxes = pieces.boxes
        self.plate = _pixels(pieces.plate)
        self.lines = [_pixels(line) for line in pieces.lines]
        self.words = {text: _pixels(png) for text, png in pieces.words.items()}
        self.frame = lru_cache(maxsize=4)(self._frame)

    def _frame(self, moment: Moment) -> Any:
        import av  # noqa: PLC0415 - an optional extra

        picture = self.plate.copy()
        for place, line in enumerate(moment.lines):
            if line is not None:
                top = HEAD_PX + place * SLOT_PX
                # The rule under the head stays: it belongs to the plate.
                picture[max(top, HEAD_PX + 2) : top + SLOT_PX] = self.lines[line][
                    max(0, HEAD_PX + 2 - top) :
                ]
        if moment.bar is not None:
            self._light(picture, moment)
        right, top = SIZE_PX[0] - 40, (HEAD_PX - WORDS_PX[1]) // 2
        picture[top : top + WORDS_PX[1], right - WORDS_PX[0] : right] = self.words[
            moment.words
        ]
        frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
        return frame.reformat(format="yuv420p")

    def _light(self, picture: Picture, moment: Moment) -> None:
        import numpy as np  # noqa: PLC0415 - as above

        assert moment.bar is not None
        box, down = self.boxes[moment.bar], HEAD_PX + moment.place * SLOT_PX
        part = picture[box.top + down : box.bottom + down, box.left : box.right]
        lit = part.astype(np.uint16) * np.array(_LAMP, np.uint16) // 255
        part[:] = lit.astype(np.uint8)


def _pixels(png: bytes) -> Picture:
    import av  # noqa: PLC0415 - an optional extra

    with av.open(io.BytesIO(png), "r") as picture:
        pixels: Any = next(picture.decode(video=0)).to_ndarray(format="rgb24")
    return cast("Picture", pixels)


def _encoded(seen: tuple[Moment, ...], painter: _Painter, audio: bytes) -> bytes:
    import av  # noqa: PLC0415 - an optional extra

    starts = [moment.start_s for moment in seen]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "score.mp4"
        with (
            av.open(path, "w", format="mp4", options={"movflags": "+faststart"}) as out,
            av.open(io.BytesIO(audio)) as sound,
        ):
            video = out.add_stream("libx264", rate=FRAME_RATE, options=_X264)
            video.width, video.height = SIZE_PX
            video.pix_fmt = "yuv420p"
            voice = out.add_stream("aac", rate=_SAMPLE_RATE, layout="stereo")
            voice.bit_rate = _AUDIO_BITS
            shown = 0
            for chunk, end_s in _sound(sound):
                out.mux(voice.encode(chunk))
                while (shown + 0.5) / FRAME_RATE < end_s:
                    middle_s = (shown + 0.5) / FRAME_RATE
                    frame = painter.frame(seen[max(0, bisect_right(starts, middle_s) - 1)])
                    frame.pts = shown
                    out.mux(video.encode(frame))
                    shown += 1
            out.mux(voice.encode(None))
            out.mux(video.encode(None))
        return path.read_bytes()


def _sound(source: Any) -> Iterator[tuple[Any, float]]:
    """Decode the audio piece by piece; give each with the second at which it ends."""
    import av  # noqa: PLC0415 - an optional extra

    resampler = av.AudioResampler(format="fltp", layout="stereo", rate=_SAMPLE_RATE)
    samples = 0
    for frame in chain(source.decode(audio=0), (None,)):
        for chunk in resampler.resample(frame):
            chunk.pts, chunk.time_base = samples, Fraction(1, _SAMPLE_RATE)
            samples += chunk.samples
            yield chunk, samples / _SAMPLE_RATE
