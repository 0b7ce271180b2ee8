"""The demo lessons' audio against outside meters and readers.

* Loudness and true peak: ffmpeg's ebur128 filter and pyloudnorm (ITU-R BS.1770).
* The MIDI file: pretty_midi, an independent reader.

One level is measured here; ``tests/benchmarks/loudness.py`` measures every file of a build.
"""

from __future__ import annotations

import io
import re
import subprocess
from pathlib import Path

import numpy as np
import pretty_midi
import pyloudnorm
import pytest
import soundfile

from kit.lesson.lesson import open_lesson
from kit.tracks.audio import level_audio, level_midi
from kit.tracks.loops import Loop, loop_audio
from kit.tracks.rendition import rendition

LESSONS = Path(__file__).parents[2] / "lessons"


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KIT_CACHE", str(tmp_path_factory.mktemp("cache")))
        patch.delenv("KIT_SOUNDFONT", raising=False)
        lesson = open_lesson(LESSONS / "the-girl-i-left-behind-me")
        made = {m: a.data for m, a in level_audio(lesson, "beginner").items()}
        made["loop"] = loop_audio(lesson, "beginner", Loop(1, 8)).data
    return made


@pytest.mark.parametrize("name", ["demo", "backing", "melody", "loop"])
def test_two_outside_meters_agree_on_loudness_and_peak(
    files: dict[str, bytes], name: str, ffmpeg: str, tmp_path: Path
) -> None:
    path = tmp_path / f"{name}.mp3"
    path.write_bytes(files[name])
    run = subprocess.run(
        [ffmpeg, "-hide_banner", "-nostats", "-i", path, "-af", "ebur128=peak=true",
         "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    summary = run.stderr[run.stderr.rindex("Summary:") :]
    loudness = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)
    assert loudness is not None
    assert peak is not None
    assert float(loudness[1]) == pytest.approx(-16, abs=0.5)
    assert float(peak[1]) <= -1.0
    decoded, rate = soundfile.read(path)
    other = pyloudnorm.Meter(rate).integrated_loudness(decoded)
    assert other == pytest.approx(float(loudness[1]), abs=0.25)


def test_a_loop_played_twice_has_no_step_where_it_meets_itself(
    files: dict[str, bytes],
) -> None:
    decoded, rate = soundfile.read(io.BytesIO(files["loop"]))
    # What was rendered begins at nothing; MP3 lays an echo before the first stroke.
    stroke = np.abs(np.diff(decoded[: rate // 100], axis=0)).max()
    assert abs(decoded[0]).max() < 0.1 * stroke
    assert abs(decoded[-1]).max() < 0.002
    ending = np.abs(np.diff(decoded[-rate // 50 :], axis=0))
    assert ending.max() < 0.02, "the last sounds are let go, not cut off"


@pytest.mark.parametrize("slug", ["lamplighters-detour", "the-girl-i-left-behind-me"])
def test_pretty_midi_reads_every_level_as_it_is_performed(slug: str) -> None:
    lesson = open_lesson(LESSONS / slug)
    for name in lesson.level_names:
        song = pretty_midi.PrettyMIDI(io.BytesIO(level_midi(lesson, name)))
        planned = rendition(lesson, name)
        show = planned.perform()
        assert song.get_tempo_changes()[1][0] == pytest.approx(planned.tempo_qpm, rel=1e-4)
        assert 0 <= song.get_end_time() - show.seconds <= 3.5
        by_name = {part.name: part for part in song.instruments}
        for player in ("melody", "bass", "chords"):
            events = show.of(player)
            part = by_name[player]
            assert part.program == show.programs[player]
            assert len(part.notes) == len(events)
            starts = sorted(note.start for note in part.notes)
            assert np.abs(starts - np.sort([e.start_s for e in events])).max() < 0.001
            lasts: dict[int, float] = {}
            for note in sorted(part.notes, key=lambda note: note.start):
                assert note.start >= lasts.get(note.pitch, 0.0) - 1e-3
                lasts[note.pitch] = note.end
        assert sum(part.is_drum for part in song.instruments) >= 1
