"""What helps the teacher to record a level and to publish the recording?

For each level, into ``recording/``: the running order as a page to have open while
recording, cue cards as a PDF, a draft of title and description with chapter times, and a
still picture with the first line of the music. None of it is for students: it goes into no
bundle.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from kit.engrave.drawing import engrave_lines
from kit.engrave.engraver import PAPER
from kit.figures.written import length_words, tempo_words
from kit.lesson.address import require_address
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.publish._html_files import asset, template
from kit.publish._wording import RIGHTS_REMINDER, capital, feel_words
from kit.publish.recording._press import press_pictures, press_tagged_pdf
from kit.publish.recording._running_order import OrderItem, running_order

__all__ = [
    "AIDS",
    "Aid",
    "cue_cards_pdf",
    "description_text",
    "recording_aids",
    "running_order_html",
    "still_png",
]

AIDS = {
    "running-order": "html",
    "cue-cards": "pdf",
    "description": "txt",
    "still": "png",
}
"""The kinds of aids, and the kind of file each is."""

_SHORTEST_CHAPTER_S = 10.0
"""Video sites list chapters of ten seconds and more (common practice)."""
_STILL_STAFF_MM = 9.0
_STILL_BARS = 4


@dataclass(frozen=True, slots=True)
class Aid:
    """A finished aid: its kind, a key of `AIDS`, and its bytes."""

    kind: str
    data: bytes

    def path(self, level: str) -> str:
        """Where it goes in the output folder."""
        return f"recording/{level}-{self.kind}.{AIDS[self.kind]}"


def recording_aids(lesson: Lesson, level: str) -> tuple[Aid, ...]:
    """Make all aids of a level.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    SetupError
        If Typst refuses.
    """
    return (
        Aid("running-order", running_order_html(lesson, level).encode()),
        Aid("cue-cards", cue_cards_pdf(lesson, level)),
        Aid("description", description_text(lesson, level).encode()),
        Aid("still", still_png(lesson, level)),
    )


def running_order_html(lesson: Lesson, level_name: str) -> str:
    """Write the running order as a page that needs nothing beside it."""
    level = lesson.level(level_name)
    items = running_order(lesson, level_name)
    return template("running-order.html.j2").render(
        language=lesson.settings.language,
        css=Markup(asset("aids.css")),  # noqa: S704 - our own file
        title=lesson.title,
        facts=_facts(lesson, level),
        length=length_words(items[-1].end_s),
        rows=[_row(item) for item in items],
        estimated=any(item.estimated for item in items),
    )


def _facts(lesson: Lesson, level: Level) -> str:
    return (
        f"{level.settings.title}, {tempo_words(level)}, "
        f"{feel_words(level.settings.feel)}, concert {lesson.tune.key}, "
        f"form {level.form.pattern}"
    )


def _row(item: OrderItem) -> dict[str, Any]:
    return {
        "kind": item.kind,
        "text": item.text,
        "at": length_words(item.start_s),
        "audio": "" if item.audio_s is None else length_words(item.audio_s),
        "length": f"{item.seconds:.0f} s",
        "about": "about " if item.estimated else "",
    }


def description_text(lesson: Lesson, level_name: str) -> str:
    """Draft a title and a description for the recording, chapter times included.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level_name : str
        Which of its levels is recorded.

    Returns
    -------
    str
        Plain text for the teacher to edit.
    """
    settings, level = lesson.settings, lesson.level(level_name)
    items = running_order(lesson, level_name)
    about = [settings.summary, level.settings.summary]
    if level.settings.feel:
        about.append(
            f"{capital(tempo_words(level))}, {feel_words(level.settings.feel)}; "
            f"form {level.form.pattern}."
        )
    keys = "; ".join(
        f"{instrument.name}: {lesson.part(level_name, instrument.slug).tune.key}"
        for instrument in settings.instruments
    )
    paragraphs = [
        f"{lesson.title}: {level.settings.title.lower()} level"
        + (f" ({settings.school})" if settings.school else ""),
        " ".join(text for text in about if text),
        f"Written keys. {keys}.",
        "\n".join(f"{length_words(start)} {text}" for start, text in _chapters(items)),
        settings.address
        and "Handout and backing track: "
        + require_address(settings.address, source=settings.source),
        " ".join(text for text in (settings.rights.statement, RIGHTS_REMINDER) if text),
    ]
    return "\n\n".join(text for text in paragraphs if text) + "\n"


def _chapters(items: Iterable[OrderItem]) -> list[tuple[float, str]]:
    """Choose the chapters worth listing: what is short belongs to what comes after it.

    The talks before and after the music are one chapter each; the count-in belongs to the
    first section.
    """
    found: list[tuple[float, float, str]] = []
    waiting: float | None = None
    for item in items:
        if item.kind == "talk":
            name = (
                "Welcome"
                if not any(text != "Welcome" for *_, text in found)
                else "To finish"
            )
            if found and found[-1][2] == name:
                found[-1] = (found[-1][0], item.end_s, name)
            else:
                found.append((item.start_s, item.end_s, name))
        elif item.kind == "count-in":
            waiting = item.start_s
        else:
            start = item.start_s if waiting is None else waiting
            waiting = None
            found.append((start, item.end_s, item.text))
    return [
        (start, text)
        for place, (start, end, text) in enumerate(found)
        if place == 0 or end - start >= _SHORTEST_CHAPTER_S
    ]


def cue_cards_pdf(lesson: Lesson, level_name: str) -> bytes:
    """Make the cue cards: one for each talk, and one for all that is played.

    Talk parts the cards: what is played between two talks shares one.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level_name : str
        Which of its levels is recorded.

    Returns
    -------
    bytes
        A tagged PDF.
    """
    level = lesson.level(level_name)
    items = running_order(lesson, level_name)
    cards: list[dict[str, Any]] = []
    for item in items:
        if item.kind == "talk":
            cards.append({**_row(item), "rows": []})
        elif cards and cards[-1]["rows"]:
            cards[-1]["rows"].append(_row(item))
        else:
            cards.append({**_row(item), "text": "Play", "rows": [_row(item)]})
    language, _, region = lesson.settings.language.partition("-")
    data = {
        "title": f"{lesson.title}: cue cards, {level.settings.title}",
        "author": lesson.settings.school or lesson.title,
        "lang": language,
        "region": region or None,
        "lesson": lesson.title,
        "facts": _facts(lesson, level),
        "cards": cards,
    }
    return press_tagged_pdf("cue-cards.typ", data, {})


def still_png(lesson: Lesson, level_name: str) -> bytes:
    """Make a picture of title and first line for the recording's thumbnail, 1280 by 720.

    Parameters
    ----------
    lesson : Lesson
        The lesson; the music is that of its default instrument.
    level_name : str
        Which of its levels is recorded.
    """
    settings, level = lesson.settings, lesson.level(level_name)
    instrument = lesson.instrument(settings.default_instrument)
    part = lesson.part(level_name, instrument.slug)
    last = min(len(part.tune.bars), _STILL_BARS + part.tune.bars[0].pickup) - 1
    page = replace(
        PAPER, staff_mm=_STILL_STAFF_MM, width_mm=240.0, sections=False, fill_last_line=0.0
    )
    line = engrave_lines(part, first=0, last=last, page=page)[0]
    data = {
        "school": settings.school,
        "title": lesson.title,
        "level": level.settings.title,
        "facts": f"{instrument.name} in {part.tune.key} · {tempo_words(level)}",
        "line": "line.svg",
        "alt": line.label,
    }
    return press_pictures("still.typ", data, {"line.svg": line.svg.encode()})[0]
