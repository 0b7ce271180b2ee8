"""What does a score-follow video show? The pieces its frames are put together from.

Three lines of music stand on the screen. The line being played never moves; as soon as it
is over, its place is taken by the line that comes next but two, so there is always
something to read ahead. The bar that sounds is lit.

Conventions: pixels count from the top left; a *place* is one of the three rows for lines.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kit.engrave.drawing import Drawing, engrave_lines
from kit.engrave.engraver import PAPER
from kit.lesson.lesson import Lesson
from kit.publish.recording._press import press_pictures
from kit.publish.recording.captions import bar_words
from kit.route.timing import timing_map
from kit.tune.model import bar_id

__all__ = [
    "HEAD_PX",
    "PLACES",
    "SIZE_PX",
    "SLOT_PX",
    "WORDS_PX",
    "Box",
    "Moment",
    "Plates",
    "moments",
    "plates",
    "video_lines",
]

SIZE_PX = (1280, 720)
HEAD_PX = 72
PLACES = 3
SLOT_PX = (SIZE_PX[1] - HEAD_PX) // PLACES
WORDS_PX = (400, 56)
_MUSIC_WIDTH_PX = 1200
_SLOT_MARGIN_PX = 8
_SPACES_AROUND = 2
"""How many staff spaces the lit box reaches beyond the staff."""
COUNT_IN = "Count-in"


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in whole pixels; right and bottom are not included."""

    left: int
    top: int
    right: int
    bottom: int


@dataclass(frozen=True, slots=True)
class Moment:
    """From `start_s` on: which lines are on the screen, which bar is lit, what is written.

    `lines` has one line number for each place, None for an empty one. `bar` is a sheet
    index or None, and stands in the line at `place`.
    """

    start_s: float
    lines: tuple[int | None, ...]
    place: int
    bar: int | None
    words: str


@dataclass(frozen=True, slots=True)
class Plates:
    """PNG pictures: plate, lines, words; and where each bar lies in its line."""

    plate: bytes
    lines: tuple[bytes, ...]
    words: dict[str, bytes]
    boxes: dict[int, Box]


def moments(
    lesson: Lesson, level_name: str, lines: Sequence[Drawing]
) -> tuple[Moment, ...]:
    """Work out what is to be seen from when on.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level_name : str
        One of its levels.
    lines : sequence of Drawing
        All lines of the part, in order.
    """
    level = lesson.level(level_name)
    timing = timing_map(level.route, level.tempo_qpm)["bars"]
    line_of = {
        bar: number
        for number, line in enumerate(lines)
        for bar in range(line.first, line.last + 1)
    }
    bars = [bar.sheet_index for bar in level.route.bars]
    # A line begins anew where the music goes on in another line or goes back in this one.
    visits = [0]
    for one, other in pairwise(bars):
        moved = line_of[one] != line_of[other] or other <= one
        visits.append(visits[-1] + moved)
    order = [line_of[bars[visits.index(visit)]] for visit in range(visits[-1] + 1)]
    found = [
        Moment(row["start"], _on_screen(order, visit), visit % PLACES, bar, bar_words(row))
        for row, bar, visit in zip(timing, bars, visits, strict=True)
    ]
    if found[0].start_s > 0:
        found.insert(0, Moment(0.0, _on_screen(order, 0), 0, None, COUNT_IN))
    return tuple(found)


def _on_screen(order: Sequence[int], visit: int) -> tuple[int | None, ...]:
    """Give the line at each place while a visit lasts: this one and those to come."""
    lines: list[int | None] = [None] * PLACES
    for ahead in range(PLACES):
        if visit + ahead < len(order):
            lines[(visit + ahead) % PLACES] = order[visit + ahead]
    return tuple(lines)


def video_lines(lesson: Lesson, level: str, instrument: str) -> tuple[Drawing, ...]:
    """Draw the lines of a part as the video shows them."""
    return engrave_lines(lesson.part(level, instrument), page=PAPER)


def plates(
    lesson: Lesson,
    level_name: str,
    instrument: str,
    lines: Sequence[Drawing],
    seen: Sequence[Moment],
) -> Plates:
    """Set the pictures that the frames are put together from.

    Raises
    ------
    SetupError
        If Typst refuses.
    """
    level, own = lesson.level(level_name), lesson.instrument(instrument)
    key = lesson.part(level_name, instrument).tune.key
    title = {"title": lesson.title}
    (plate,) = press_pictures(
        "video.typ",
        title
        | {
            "kind": "plate",
            "width": SIZE_PX[0],
            "height": SIZE_PX[1],
            "head": HEAD_PX,
            "title_width": SIZE_PX[0] - WORDS_PX[0] - 100,
            "facts": f"{own.name} in {key} · {level.settings.title}",
        },
        {},
    )
    placed = [_placed(line, number) for number, line in enumerate(lines)]
    music = press_pictures(
        "video.typ",
        title | {"kind": "lines", "width": SIZE_PX[0], "height": SLOT_PX, "lines": placed},
        {
            str(row["file"]): line.svg.encode()
            for row, line in zip(placed, lines, strict=True)
        },
    )
    words = list(dict.fromkeys(moment.words for moment in seen))
    signs = press_pictures(
        "video.typ",
        title
        | {"kind": "words", "width": WORDS_PX[0], "height": WORDS_PX[1], "words": words},
        {},
    )
    boxes = {
        bar: box
        for line, row in zip(lines, placed, strict=True)
        for bar, box in _boxes(line, row)
    }
    return Plates(plate, tuple(music), dict(zip(words, signs, strict=True)), boxes)


def _placed(line: Drawing, number: int) -> dict[str, float | str]:
    """Fit a line into its slot, as large as width and height allow, and centre it."""
    scale = min(
        _MUSIC_WIDTH_PX / PAPER.width_mm,
        (SLOT_PX - 2 * _SLOT_MARGIN_PX) / line.height_mm,
    )
    width, height = line.width_mm * scale, line.height_mm * scale
    return {
        "file": f"line-{number}.svg",
        "x": (SIZE_PX[0] - PAPER.width_mm * scale) / 2,
        "y": (SLOT_PX - height) / 2,
        "width": width,
        "height": height,
        "alt": line.label,
    }


def _boxes(line: Drawing, row: dict[str, float | str]) -> Iterator[tuple[int, Box]]:
    """Find where each bar of a line lies in its slot, from the ends of its staff lines."""
    root = ET.fromstring(line.svg)  # noqa: S314 - the engraver's own drawing
    _, _, width, _ = map(float, root.attrib["viewBox"].split())
    scale = float(row["width"]) / width
    left, top = _margin(root)
    groups = {group.get("data-id"): group for group in root.iter() if group.get("data-id")}
    for bar in range(line.first, line.last + 1):
        corners = [(float(x), float(y)) for x, y in _corners(groups[bar_id(bar)])]
        xs, ys = [x for x, _ in corners], [y for _, y in corners]
        space = (max(ys) - min(ys)) / 4 * _SPACES_AROUND
        yield (
            bar,
            Box(
                round(float(row["x"]) + (left + min(xs)) * scale),
                max(0, round(float(row["y"]) + (top + min(ys) - space) * scale)),
                round(float(row["x"]) + (left + max(xs)) * scale),
                min(SLOT_PX, round(float(row["y"]) + (top + max(ys) + space) * scale)),
            ),
        )


def _margin(root: ET.Element) -> tuple[float, float]:
    for group in root.iter():
        move = group.get("transform", "")
        if move.startswith("translate("):
            x, _, y = move.removeprefix("translate(").partition(")")[0].partition(",")
            return float(x), float(y)
    raise ValueError("the drawing has no margin")


def _corners(bar: ET.Element) -> Iterator[tuple[str, str]]:
    """Give both ends of a bar's staff lines: the first five paths of its staff."""
    staff = next(group for group in bar.iter() if group.get("class") == "staff")
    paths = [child for child in staff if child.tag.endswith("path")]
    for path in paths[:5]:
        _, x1, y1, _, x2, y2 = (
            path.attrib["d"].replace("M", "M ").replace("L", "L ").split()
        )
        yield x1, y1
        yield x2, y2
