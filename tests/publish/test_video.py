"""The score-follow video, decoded again: its format, its marks against its own sound."""

import io
import shutil
import sys
from itertools import pairwise

import av
import numpy as np
import pytest
import soundfile

from kit.errors import SetupError
from kit.lesson.lesson import open_lesson
from kit.publish.recording._video_plates import PLACES, moments, video_lines
from kit.publish.recording.video import FRAME_RATE, require_video, score_video
from kit.route.timing import timing_map

RATE = 48_000


@pytest.fixture(scope="module")
def quick(folder, tmp_path_factory):
    """The lesson at a fast tempo, so that the video is short."""
    place = tmp_path_factory.mktemp("quick") / "fish"
    shutil.copytree(folder, place)
    path = place / "lesson.toml"
    text = path.read_text(encoding="utf-8").replace("tempo = 112", "tempo = 240")
    path.write_text(text, encoding="utf-8")
    return open_lesson(place)


@pytest.fixture(scope="module")
def starts(quick):
    level = quick.level("easy")
    return [bar["start"] for bar in timing_map(level.route, level.tempo_qpm)["bars"]]


@pytest.fixture(scope="module")
def video(quick, starts, tmp_path_factory):
    """The video over a sound that clicks where each bar begins, with a cache of its own."""
    samples = np.zeros((round((starts[-1] + 2) * RATE), 2), np.float32)
    for start in starts:
        at = round(start * RATE)
        samples[at : at + 480] = (
            0.8 * np.sin(np.arange(480) * 2 * np.pi * 1000 / RATE)[:, None]
        )
    wave = io.BytesIO()
    soundfile.write(wave, samples, RATE, format="WAV")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KIT_CACHE", str(tmp_path_factory.mktemp("cache")))
        made = score_video(quick, "easy", "alto-sax", wave.getvalue())
        again = score_video(quick, "easy", "alto-sax", wave.getvalue())
    assert again == made
    return made


def test_it_is_h264_and_aac_of_the_promised_size(video):
    with av.open(io.BytesIO(video)) as file:
        picture, sound = file.streams.video[0], file.streams.audio[0]
        assert (picture.codec_context.name, sound.codec_context.name) == ("h264", "aac")
        assert (picture.width, picture.height) == (1280, 720)
        assert picture.average_rate == FRAME_RATE
        assert picture.pix_fmt == "yuv420p"
        assert sound.rate == RATE
        lengths = [float(stream.duration * stream.time_base) for stream in (picture, sound)]
        assert lengths[0] == pytest.approx(lengths[1], abs=0.05)
    assert video.index(b"moov") < video.index(b"mdat"), (
        "it must play before it is all there"
    )


@pytest.fixture(scope="module")
def marks(video):
    """Time and place of every change of the lit box, as the picture shows it."""
    changes, before = [], None
    with av.open(io.BytesIO(video)) as file:
        for frame in file.decode(video=0):
            pixels = frame.to_ndarray(format="rgb24")[72:].astype(int)
            lit = (pixels[..., 0] > 235) & (pixels[..., 2] < 175) & (pixels[..., 1] > 180)
            rows, columns = np.nonzero(lit[:, :1240])
            box = None
            if len(rows) > 500:
                box = (int(np.median(rows)) // 216, int(columns.min()) // 8)
            if box != before:
                changes.append((frame.time, box))
                before = box
    return changes


def clicks(video):
    """Give the seconds at which the decoded sound clicks."""
    with av.open(io.BytesIO(video)) as file:
        parts = [(f.time, f.to_ndarray()[0]) for f in file.decode(audio=0)]
    found = []
    for time, samples in parts:
        for at in np.nonzero(np.abs(samples) > 0.3)[0]:
            second = time + at / RATE
            if not found or second - found[-1] > 0.1:
                found.append(second)
    return found


def test_the_mark_is_within_50_ms_of_what_is_heard(video, marks, starts):
    shown = [time for time, box in marks if box is not None]
    heard = clicks(video)
    assert len(heard) == len(starts)
    assert heard == pytest.approx(starts, abs=0.01)
    assert shown == pytest.approx(heard, abs=0.05)


def test_nothing_is_lit_during_the_count_in(marks, starts):
    first_time, first_box = marks[0]
    assert first_box is not None
    assert first_time > starts[0] - 0.05 > 0.5


def test_the_line_that_is_played_stays_and_the_next_is_there_already(lesson):
    for level in lesson.level_names:
        lines = video_lines(lesson, level, "alto-sax")
        seen = moments(lesson, level, lines)
        for moment in seen:
            if moment.bar is not None:
                line = lines[moment.lines[moment.place]]
                assert line.first <= moment.bar <= line.last
        for one, other in pairwise(seen):
            stays = one.place == other.place
            kept = other.lines[other.place] == one.lines[other.place]
            assert stays or other.place == (one.place + 1) % PLACES
            assert kept, "a line must be on the screen before it is played"


def test_without_the_library_there_is_one_sentence_with_the_remedy(monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)
    monkeypatch.setattr("kit.lesson.publish_tables.find_spec", lambda name: None)
    with pytest.raises(SetupError, match="run pip install av"):
        require_video()
