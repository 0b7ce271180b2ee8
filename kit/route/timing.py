"""The bar-to-second map, as a file: for the page's cursor, chapters and other programs.

Seconds are counted on the audio's own clock: 0 is its first sample, where the count-in
begins. Bars are listed in playing order under their printed numbers; the count-in is told
apart, not listed.

Sources: WebVTT (W3C Candidate Recommendation 2019) for chapters.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from kit.route.plan import PerformedBar, Route

__all__ = ["chapters", "chapters_vtt", "timing_map", "vtt_text", "vtt_time"]

_KIND_WORDS = {"intro": "Intro", "head": "Head", "solo": "Solo", "tag": "Tag"}


def timing_map(route: Route, tempo_qpm: float) -> dict[str, Any]:
    """Give the map as plain data.

    Returns
    -------
    dict
        ``tempo`` (quarter notes a minute), ``meter``, ``count_in`` (bars, end in seconds)
        and ``bars``: number, section, pass, kind, start, end in seconds.
    """
    return {
        "tempo": tempo_qpm,
        "meter": str(route.bars[0].meter),
        "count_in": {
            "bars": len(route.count_in),
            "end": _second(route, route.music_start, tempo_qpm),
        },
        "bars": [_entry(route, bar, tempo_qpm) for bar in route.bars],
    }


def _entry(route: Route, bar: PerformedBar, tempo_qpm: float) -> dict[str, Any]:
    return {
        "number": bar.number,
        "section": bar.section,
        "pass": bar.time_through,
        "kind": bar.kind,
        "start": _second(route, bar.start, tempo_qpm),
        "end": _second(route, bar.end, tempo_qpm),
    }


def _second(route: Route, position: Fraction, tempo_qpm: float) -> float:
    return round(route.second_at(position, tempo_qpm), 6)


def chapters_vtt(route: Route, tempo_qpm: float) -> str:
    """Write one WebVTT chapter for the count-in, the intro, each section and the tag.

    Parameters
    ----------
    route : Route
        What is played.
    tempo_qpm : float > 0
        Quarter notes per minute.

    Returns
    -------
    str
        A whole file of chapters without gaps, times to the millisecond.
    """
    blocks = [
        f"{vtt_time(start)} --> {vtt_time(end)}\n{vtt_text(title)}"
        for start, end, title in chapters(route, tempo_qpm)
    ]
    return "WEBVTT\n\n" + "\n\n".join(blocks) + "\n"


def chapters(route: Route, tempo_qpm: float) -> tuple[tuple[float, float, str], ...]:
    """Give start and end in seconds and title of the count-in, each section and the tag.

    Parameters
    ----------
    route : Route
        What is played.
    tempo_qpm : float > 0
        Quarter notes per minute.

    Returns
    -------
    tuple of (float, float, str)
        Without gaps, from the first sample; each ends where the next begins.
    """
    return tuple(_chapters(route, tempo_qpm))


def _chapters(route: Route, tempo_qpm: float) -> Iterator[tuple[float, float, str]]:
    starts: list[tuple[float, str]] = []
    if route.count_in:
        starts.append((0.0, "Count-in"))
    before: PerformedBar | None = None
    for bar in route.bars:
        is_new = before is None or before.kind != bar.kind
        if (bar.kind in ("intro", "tag") and is_new) or bar.starts_section:
            starts.append((_second(route, bar.start, tempo_qpm), _title(bar)))
        before = bar
    ends = [start for start, _ in starts[1:]] + [_second(route, route.end, tempo_qpm)]
    for (start, text), end in zip(starts, ends, strict=True):
        yield start, end, text


def _title(bar: PerformedBar) -> str:
    return f"{_KIND_WORDS[bar.kind]} {bar.section}, bar {bar.number}"


def vtt_text(text: str) -> str:
    """Make a text fit for a WebVTT cue: no markup, no arrow, no empty line."""
    one_line = " ".join(text.split())
    # WebVTT: an arrow marks a cue's times, and an empty line ends the cue.
    return one_line.replace("&", "&amp;").replace("<", "&lt;").replace("-->", "→")


def vtt_time(seconds: float) -> str:
    """Write a time as WebVTT does: ``00:01:02.500``."""
    millis = round(seconds * 1000)
    hours, rest = divmod(millis, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02}:{minutes:02}:{rest // 1000:02}.{rest % 1000:03}"
