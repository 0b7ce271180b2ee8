"""What does a handout say, and in what order?

First what a player needs at the stand: who wrote it, for which instrument, in what key,
how it is played, the form in small, the music. Then the learning notes: the notebook's
prose for this level, and what the kit computed for it. The result is plain data for
``templates/handout.typ``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from textwrap import wrap
from typing import Any

from kit.accompany.proposal import PROPOSED
from kit.engrave.drawing import Drawing
from kit.figures.route_words import route_words
from kit.figures.written import tempo_words
from kit.form.sections import Form
from kit.form.wording import bars_words
from kit.lesson.address import require_address
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.prose import Block, parse_prose, plain_text
from kit.publish._sheets import PaperScore, notes_lines, paper_score
from kit.publish._wording import (
    CAUTION_HEARING,
    CAUTION_PLAYING,
    RIGHTS_REMINDER,
    feel_words,
)
from kit.publish.cells import LessonCell, cells_for_handout
from kit.publish.handout._qr import qr_svg
from kit.publish.handout.notes import NotesSection
from kit.publish.handout.papers import Paper
from kit.publish.handout.sections import SECTIONS
from kit.tune.model import Tune

__all__ = ["Handout", "handout_content"]

_HEAD_ROOM_MM = 62.0
"""Height of the first page's head with the melody's heading (measured)."""
_QR_ROOM_MM = 4.0
"""What a QR code is higher than the words beside it (measured)."""
_SOLO_ROOM_MM = 16.0
_LETTER_MM = 1.75
_LINE_MM = 4.6
_TITLE_LETTER_MM = 0.168
_TITLE_LINE_MM = 0.4
"""Average width of a letter and height of a line of text; the same for a point of title."""


class Handout:
    """A handout's data and the pictures it names, put together piece by piece."""

    def __init__(self) -> None:
        self.data: dict[str, Any] = {}
        self.pictures: dict[str, bytes] = {}

    def place(self, lines: Iterable[Drawing]) -> list[dict[str, Any]]:
        """Keep the pictures of lines of music, and give what the template needs of them."""
        placed = []
        for line in lines:
            name = f"line-{len(self.pictures)}.svg"
            self.pictures[name] = line.svg.encode()
            placed.append(
                {
                    "file": name,
                    "width_mm": round(line.width_mm, 2),
                    "alt": f"{line.label}. {' '.join(line.description)}",
                }
            )
        return placed


def handout_content(
    lesson: Lesson,
    level_name: str,
    instrument: str,
    cells: Sequence[LessonCell],
    *,
    paper: Paper,
    large: bool = False,
) -> Handout:
    """Gather everything a handout prints.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    level_name, instrument : str
        Which of its handouts.
    cells : sequence of LessonCell
        The notebook's cells, all of them.
    paper : Paper
        Size of the sheet.
    large : bool
        Large print.
    """
    level = lesson.level(level_name)
    handout = Handout()
    handout.data = {
        "qr": _qr(handout, lesson),
        **_facts(lesson, level, instrument),
        "paper": paper.name,
        "large": large,
        "sections": [
            _section_data(handout, section, paper, large)
            for section in _sections(lesson, level, instrument, cells)
        ],
        "cautions": [f"{CAUTION_HEARING} {CAUTION_PLAYING}", RIGHTS_REMINDER],
        "attachments": [],
    }
    handout.data["scores"] = list(_scores(handout, lesson, level, instrument, paper, large))
    return handout


def _qr(handout: Handout, lesson: Lesson) -> dict[str, str] | None:
    """Give the way from paper to the lesson's page, if it has an address."""
    address = lesson.settings.address
    if not address:
        return None
    handout.pictures["qr.svg"] = qr_svg(address, source=lesson.settings.source)
    return {
        "file": "qr.svg",
        "address": require_address(address, source=lesson.settings.source),
        "alt": f"QR code with the address of this lesson: {address}",
    }


def _facts(lesson: Lesson, level: Level, instrument: str) -> dict[str, Any]:
    settings = lesson.settings
    row = lesson.instrument(instrument)
    key = str(lesson.part(level.name, instrument).tune.key)
    title = level.settings.title
    language, _, region = settings.language.partition("-")
    return {
        "document_title": f"{lesson.title}: {title}, {row.name}",
        "title": lesson.title,
        "title_pt": _title_pt(lesson.title),
        "author": settings.composer or settings.school or lesson.title,
        "description": f"Handout for {row.name} in {key}: {title}. {settings.summary}",
        "keywords": [row.name, title, key, lesson.form.pattern],
        "lang": language,
        "region": region or None,
        "school": settings.school,
        "composer": settings.composer,
        "instrument": row.name,
        "key": key,
        "level": title,
        "tempo": f"{tempo_words(level)}, {feel_words(level.settings.feel)}",
        "running_head": f"{row.name}, {title.lower()}",
        "imprint": " · ".join(
            dict.fromkeys(t for t in (settings.school, settings.rights.statement) if t)
        ),
        "form": _form_strip(level.played, level.form),
        "route": _route(lesson, level),
        "words": {"page": "Page", "of": "of", "played": "What is played:", "form": "Form"},
    }


def _route(lesson: Lesson, level: Level) -> str:
    """Say what is played, how the recordings are tuned, and whose the changes are.

    The last two only where they are not as usual.
    """
    tuning = lesson.settings.audio.tuning
    said = [
        f"{route_words(level)}.",
        f"The recordings have {tuning}." if tuning else "",
        PROPOSED if lesson.changes_are_proposed(level.name) else "",
    ]
    return " ".join(filter(None, said))


def _form_strip(played: Tune, form: Form) -> list[dict[str, Any]]:
    looks = {label: place for place, label in enumerate(form.labels)}
    strip = []
    for section in form.sections:
        numbers = [played.bars[i].number for i in range(section.first, section.last + 1)]
        span = bars_words(numbers).removeprefix("bars ").removeprefix("bar ")
        strip.append(
            {
                "label": section.label,
                "span": span,
                "bars": section.bar_count,
                "look": looks[section.label],
            }
        )
    return strip


def _scores(
    handout: Handout,
    lesson: Lesson,
    level: Level,
    instrument: str,
    paper: Paper,
    large: bool,
) -> Iterable[dict[str, Any]]:
    part = lesson.part(level.name, instrument)
    end = len(part.tune.bars) - 1
    head_end = end if level.solo is None else level.solo[0] - 1
    head_mm = _head_mm(handout.data, paper)
    pieces = [("The melody", 0, head_end, head_mm)]
    if level.solo is not None:
        pieces.append(("The solo", level.solo[0], end, _SOLO_ROOM_MM))
    for heading, first, last, taken_mm in pieces:
        score: PaperScore = paper_score(
            part, first=first, last=last, width_mm=paper.text_width_mm,
            room_mm=paper.text_height_mm - taken_mm, large=large,
        )  # fmt: skip
        yield {
            "heading": heading,
            "lines": handout.place(score.lines),
            "gap_mm": score.gap_mm,
            "fills_page": score.fills_page,
        }


def _head_mm(data: Mapping[str, Any], paper: Paper) -> float:
    """Estimate the height of the first page's head, rather too much than too little."""
    beside = max(
        len(data["tempo"]) * _LETTER_MM, len(data["instrument"]) * 1.4 * _LETTER_MM
    )
    beside += 11.0 + (24.0 if data["qr"] else 0.0)
    points: int = data["title_pt"]
    title = _lines(data["title"], paper.text_width_mm - beside, points * _TITLE_LETTER_MM)
    route = _lines(
        f"{data['words']['played']} {data['route']}", paper.text_width_mm, _LETTER_MM
    )
    wider = (title - 1) * points * _TITLE_LINE_MM + (route - 1) * _LINE_MM
    return _HEAD_ROOM_MM + wider + (_QR_ROOM_MM if data["qr"] else 0.0)


def _title_pt(title: str) -> int:
    """Choose the title's size: a long one must not take the music's place."""
    return 25 if len(title) <= 32 else 21 if len(title) <= 60 else 17


def _lines(text: str, width_mm: float, letter_mm: float) -> int:
    return max(1, len(wrap(text, max(1, int(width_mm / letter_mm)))))


def _sections(
    lesson: Lesson, level: Level, instrument: str, cells: Sequence[LessonCell]
) -> list[NotesSection]:
    tiers = lesson.settings.tiers
    chosen = cells_for_handout(
        cells,
        level=level.name,
        free=tiers.of("handout", level.name) == "free",
        free_levels=tiers.free_levels,
    )
    prose = _prose_sections(lesson, chosen)
    made = (make(lesson, level, instrument) for make in SECTIONS)
    return [*prose, *(section for section in made if section is not None)]


def _prose_sections(lesson: Lesson, cells: Iterable[LessonCell]) -> list[NotesSection]:
    """Cut the prose into sections at its first and second headings."""
    heading, blocks = "About the tune", list[Block]()
    sections: list[NotesSection] = []
    for block in (b for cell in cells for b in parse_prose(cell.prose)):
        if block["kind"] == "heading" and block["level"] <= 2:
            if blocks:
                sections.append(NotesSection(heading, tuple(blocks)))
            text = plain_text(block["runs"]).strip()
            heading, blocks = "About the tune" if text == lesson.title else text, []
        else:
            blocks.append(_with_level(block, 3))
    if blocks:
        sections.append(NotesSection(heading, tuple(blocks)))
    return sections


def _with_level(block: Block, level: int) -> Block:
    """Put inner headings on one level, so that none is skipped (PDF/UA-1, 7.4.2)."""
    match block["kind"]:
        case "heading":
            return {**block, "level": level}
        case "quote":
            return {**block, "blocks": [_with_level(b, level) for b in block["blocks"]]}
        case "list":
            items = [[_with_level(b, level) for b in item] for item in block["items"]]
            return {**block, "items": items}
    return block


def _section_data(
    handout: Handout, section: NotesSection, paper: Paper, large: bool
) -> dict[str, Any]:
    return {
        "heading": section.heading,
        "blocks": list(section.blocks),
        "steps": [list(step) for step in section.steps],
        "figures": [
            {
                "caption": figure.caption,
                "lines": handout.place(
                    notes_lines(figure, paper.notes_width_mm(large), large)
                ),
            }
            for figure in section.figures
        ],
    }
