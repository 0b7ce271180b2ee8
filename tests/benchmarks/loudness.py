"""Is every audio file of a build as loud as promised, by two meters that are not ours?

Run by hand: ``python tests/benchmarks/loudness.py build/lamplighters-detour``. Measures
each MP3 with the ebur128 filter of ffmpeg (loudness and true peak) and with pyloudnorm,
and prints the extremes; ends with an error if one file is outside -16 LUFS +- 0.5 or above
-1 dBTP, or if more than a hundredth of its energy lies below 25 Hz, where no instrument
plays. Bare clicks are reported, not judged: their peaks set the limit.
"""

from __future__ import annotations

import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pyloudnorm
import soundfile
from scipy.signal import welch


def measured(path: Path) -> tuple[str, float, float, float, float]:
    """Give name, ebur128 loudness and true peak, pyloudnorm loudness, share below 25 Hz."""
    run = subprocess.run(
        ["ffmpeg", "-hide_banner", "-nostats", "-i", path, "-af", "ebur128=peak=true",
         "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    summary = run.stderr[run.stderr.rindex("Summary:") :]
    loudness = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)
    assert loudness is not None
    assert peak is not None
    audio, rate = soundfile.read(path)
    other = pyloudnorm.Meter(rate).integrated_loudness(audio)
    hertz, power = welch(audio, rate, nperseg=rate, detrend=False, axis=0)
    below = float(power[hertz < 25].sum() / power.sum())
    return path.stem, float(loudness[1]), float(peak[1]), other, below


def main(folders: list[str]) -> int:
    """Measure the builds named; give 1 if a file is outside."""
    paths = [
        path for folder in folders for path in sorted(Path(folder).rglob("audio/*.mp3"))
    ]
    if not paths:
        print("no audio found; name a folder that kit build has made")
        return 1
    with ThreadPoolExecutor(2) as workers:
        rows = list(workers.map(measured, paths))
    judged = [row for row in rows if not row[0].endswith("-click")]
    loud = sorted(judged, key=lambda row: row[1])
    print(f"{len(rows)} files")
    print(f"ebur128 loudness: {loud[0][1]} ({loud[0][0]}) to {loud[-1][1]} ({loud[-1][0]})")
    print(f"ebur128 true peak: at most {max(row[2] for row in rows)} dBTP")
    print(f"pyloudnorm: {min(r[3] for r in judged):.2f} to {max(r[3] for r in judged):.2f}")
    print(f"below 25 Hz: at most {max(row[4] for row in rows):.2%} of a file's energy")
    outside = [
        row for row in judged if abs(row[1] + 16) > 0.5 or row[2] > -1.0 or row[4] > 0.01
    ]
    for row in outside:
        print("outside:", *row)
    return int(bool(outside))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
