"""Which bar is it now? Captions for a recording, one cue for each bar.

A cue reads ``A, bar 5``; where the head is over, ``Solo A, bar 45``. They come from the
same map as everything else that follows the music, so they fit demo and backing alike.

Source: WebVTT (W3C Candidate Recommendation 2019).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from kit.lesson.level import Level
from kit.route.timing import timing_map, vtt_text, vtt_time

__all__ = ["bar_words", "captions_vtt"]


def captions_vtt(level: Level) -> str:
    """Write the captions of a level as WebVTT."""
    blocks = [
        f"{vtt_time(start)} --> {vtt_time(end)}\n{vtt_text(text)}"
        for start, end, text in _cues(timing_map(level.route, level.tempo_qpm))
    ]
    return "WEBVTT\n\n" + "\n\n".join(blocks) + "\n"


def _cues(timing: Mapping[str, Any]) -> Iterator[tuple[float, float, str]]:
    bars = timing["bars"]
    starts = [bar["start"] for bar in bars]
    if starts[0] > 0:
        yield 0.0, starts[0], "Count-in"
    # A pick-up overlaps the bar before it: each cue ends where the next one begins.
    for bar, end in zip(bars, [*starts[1:], bars[-1]["end"]], strict=True):
        yield bar["start"], end, bar_words(bar)


def bar_words(bar: Mapping[str, Any]) -> str:
    """Say where a bar of `kit.route.timing.timing_map` stands."""
    kind = {"intro": "Intro ", "solo": "Solo ", "tag": "Tag "}.get(bar["kind"], "")
    place = "pick-up" if bar["number"] == 0 else f"bar {bar['number']}"
    return f"{kind}{bar['section']}, {place}"
