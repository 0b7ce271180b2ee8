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


def test_the_first_stick_comes_a_quarter_of_a_second_in(files: dict[str, bytes]) -> None:
    # Players and wireless loudspeakers swallow a file's first moment (common practice).
    for mix in ("demo", "backing", "melody"):
        decoded, rate = soundfile.read(io.BytesIO(files[mix]))
        early = np.abs(decoded[: rate // 2]).max(axis=1)
        assert np.argmax(early > 0.2 * early.max()) / rate == pytest.approx(0.25, abs=0.005)
        assert early[: rate // 5].max() < 0.003


def test_a_loop_played_twice_has_no_step_where_it_meets_itself(
    files: dict[str, bytes],
) -> None:
    decoded, rate = soundfile.read(io.BytesIO(files["loop"]))
    # The last round rings on under the first stroke: from its last sample to its first the
    # sound moves as far as it does half a millisecond before and after, and does not jump.
    near = rate // 2000
    steps = np.abs(np.diff([*decoded[-near:], *decoded[:near]], axis=0)).max(axis=1)
    assert steps[near - 1] <= 1.5 * np.delete(steps, near - 1).max()
    assert np.abs(decoded[-rate // 50 :]).max() > 0.002, "it is not faded to nothing"


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
