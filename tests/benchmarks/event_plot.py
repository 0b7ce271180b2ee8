"""Draw what is played at a level, to be looked at: a picture of its events, bar by bar.

    python tests/benchmarks/event_plot.py lessons/lamplighters-detour beginner /tmp/a.png
    python tests/benchmarks/event_plot.py LESSON LEVEL OUT --first 9 --bars 8

Four lanes: melody (dark: loud; a line through it: its swell; a foot: slurred into), chords
(the top note of each stroke filled), bass, and one row for each key of the drums.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from PIL import Image, ImageDraw

from kit.band.events import NoteEvent
from kit.band.swell import level_at
from kit.lesson.lesson import open_lesson
from kit.tracks.rendition import rendition

WIDTH, ROW, MARGIN = 1800, 6, 40
LANES = ("melody", "chords", "bass")
COLOURS = {"melody": (30, 60, 140), "chords": (150, 80, 20), "bass": (20, 110, 60)}


def shade(event: NoteEvent) -> tuple[int, int, int]:
    """Give a player's colour, the lighter the softer."""
    share = min(1.0, event.velocity / 110)
    r, g, b = (round(255 - (255 - c) * share) for c in COLOURS[event.player])
    return r, g, b


def draw(lesson_folder: Path, level: str, first: int, bars: int) -> Image.Image:
    """Draw some bars of a level, counted as played from 1."""
    lesson = open_lesson(lesson_folder)
    planned = rendition(lesson, level)
    show = planned.perform()
    played = planned.route.bars[first - 1 : first - 1 + bars]
    start = planned.route.second_at(played[0].start, planned.tempo_qpm)
    end = planned.route.second_at(played[-1].end, planned.tempo_qpm)
    events = [e for e in show.events if start - 0.05 <= e.start_s < end]
    lanes = {name: [e for e in events if e.player == name] for name in LANES}
    strokes = [e for e in events if e.player == "drums"]
    heights = {
        name: ROW * (1 + max((e.midi for e in own), default=0)
                     - min((e.midi for e in own), default=0)) + 20
        for name, own in lanes.items()
    }  # fmt: skip
    keys = sorted({e.midi for e in strokes})
    image = Image.new("RGB", (WIDTH, 60 + sum(heights.values()) + 14 * len(keys)), "white")
    pen = ImageDraw.Draw(image)

    def across(second: float) -> float:
        return MARGIN + (WIDTH - 2 * MARGIN) * (second - start) / (end - start)

    for bar in played:
        left = across(planned.route.second_at(bar.start, planned.tempo_qpm))
        pen.line([(left, 0), (left, image.height)], fill=(200, 200, 200))
        pen.text((left + 3, 2), f"{bar.number} {bar.section} {bar.kind}", fill="black")
    top = 20
    for name, own in lanes.items():
        pen.text((2, top), name, fill="black")
        high = max((e.midi for e in own), default=0)
        crown = {e.start_s: max(f.midi for f in own if abs(f.start_s - e.start_s) < 0.03)
                 for e in own}  # fmt: skip
        for event in own:
            y = top + 12 + ROW * (high - event.midi)
            box = [across(event.start_s), y, across(event.end_s), y + ROW - 1]
            is_top = event.midi == crown[event.start_s]
            outline = "black" if is_top and name == "chords" else None
            pen.rectangle(box, fill=shade(event), outline=outline)
            if event.joined:
                pen.rectangle([box[0] - 3, y + 1, box[0], y + ROW - 2], fill=(220, 40, 40))
            if event.swell:
                points = [
                    (across(event.start_s + event.duration_s * n / 20),
                     y - 2 - level_at(event.swell, event.duration_s * n / 20) / 2)
                    for n in range(21)
                ]  # fmt: skip
                pen.line(points, fill=(220, 40, 40))
        top += heights[name]
    for row, key in enumerate(keys):
        y = top + 10 + 14 * row
        pen.text((2, y), str(key), fill="black")
        for event in strokes:
            if event.midi == key:
                size = 1 + event.velocity / 25
                x = across(event.start_s)
                pen.ellipse([x - size, y + 5 - size, x + size, y + 5 + size], fill="black")
    return image


def main() -> None:
    """Write the picture."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("lesson", type=Path)
    parser.add_argument("level")
    parser.add_argument("out", type=Path)
    parser.add_argument("--first", type=int, default=1)
    parser.add_argument("--bars", type=int, default=8)
    asked = parser.parse_args()
    draw(asked.lesson, asked.level, asked.first, asked.bars).save(asked.out)


if __name__ == "__main__":
    main()
