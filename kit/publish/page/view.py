"""What stands on the lesson's page?

`page_view` gathers everything the page template prints or hands to its script. What the
chosen audience may not have is left out here, before anything is drawn.

Conventions
-----------
* The *public* page holds the free levels only; of the others it knows title and summary.
* Times are seconds on the audio's own clock; bars are named by their index on the sheet.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup

from kit.figures.route_words import route_words
from kit.figures.written import tempo_words
from kit.form.names import form_name
from kit.lesson.audio_table import LEVEL_MIXES
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.prose import parse_prose, plain_text
from kit.output.href import path_href
from kit.publish._html_files import page_css, script
from kit.publish._wording import (
    CAUTION_HEARING,
    CAUTION_PLAYING,
    RIGHTS_REMINDER,
    capital,
    feel_words,
)
from kit.publish.cells import LessonCell, cells_for_page
from kit.publish.page._downloads import downloads
from kit.publish.page._prose import prose_html
from kit.publish.page.packs import Packs, figure_id
from kit.publish.page.sound import (
    MIXES,
    PageSound,
    SoundFile,
    fitting_sounds,
    sound_files,
    tempo_steps,
)
from kit.publish.page.timing import note_spans, route_rows
from kit.tracks.audio import lesson_soundfont

__all__ = ["PageRequest", "page_levels", "page_view"]

_SCRIPTS = (
    "store.js", "packs.js", "sources.js", "clicks.js", "clock.js", "score.js", "strip.js",
    "loops.js", "stand.js", "figures.js", "page.js",
)  # fmt: skip


def page_levels(lesson: Lesson, audience: str) -> tuple[str, ...]:
    """Name the levels a page holds: all of them, or for the public the free ones.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    audience : "public" or "members"
        Who sees the page.

    Returns
    -------
    tuple of str
        In the order of the lesson.
    """
    free = lesson.settings.tiers.free_levels
    return tuple(
        name for name in lesson.level_names if audience == "members" or name in free
    )


@dataclass(frozen=True, slots=True)
class PageRequest:
    """What page is wanted.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    cells : tuple of LessonCell
        The notebook's cells, all of them.
    audience : "members" or "public"
        Whose page it is.
    links : tuple of str
        Paths, as the page can reach them, of files it may offer to download.
    packs : mapping of str to str
        What is drawn already (`kit.publish.page.packs.Packs`).
    """

    lesson: Lesson
    cells: tuple[LessonCell, ...]
    audience: str = "members"
    links: tuple[str, ...] = ()
    packs: Mapping[str, str] = field(default_factory=dict)
    levels: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Work out which levels the page holds."""
        names = page_levels(self.lesson, self.audience)
        object.__setattr__(self, "levels", names)

    @property
    def instruments(self) -> tuple[str, ...]:
        """The instruments' slugs."""
        return tuple(instrument.slug for instrument in self.lesson.settings.instruments)

    def sounds_wanted(self) -> list[tuple[str, str]]:
        """List the levels and mixes whose audio the page carries."""
        tiers = self.lesson.settings.tiers
        return [
            (level, mix)
            for level in self.levels
            for mix in LEVEL_MIXES
            if self.audience == "members" or tiers.of("audio", level) == "free"
        ]


def page_view(request: PageRequest, sounds: Sequence[PageSound]) -> dict[str, Any]:
    """Gather all that the page template prints.

    Parameters
    ----------
    request : PageRequest
        What page is wanted.
    sounds : sequence of PageSound
        The audio of `PageRequest.sounds_wanted`; what does not fit is left out.

    Raises
    ------
    LessonError
        If the lesson's music cannot be used, or nothing in it is free on a public page.
    """
    lesson, settings = request.lesson, request.lesson.settings
    cells = cells_for_page(
        request.cells, audience=request.audience, free_levels=settings.tiers.free_levels
    )
    drawn = Packs(lesson, cells, request.levels, request.packs)
    packs = drawn.all(request.instruments)
    packs_bytes = sum(len(pack["base64"]) for pack in packs)
    sounds = fitting_sounds(sounds, audience=request.audience, packs_bytes=packs_bytes)
    first_level, first_instrument = request.levels[0], settings.default_instrument
    first = drawn.contents(first_level, first_instrument)
    parts, contents = _parts(lesson, cells, drawn, first_level)
    instrument = lesson.instrument(first_instrument)
    level = lesson.level(first_level)
    return {
        "language": settings.language,
        "title": lesson.title,
        "school": settings.school,
        "byline": settings.composer if settings.composer != settings.school else "",
        "summary": settings.summary,
        "facts": _facts(request),
        "contents": contents,
        "instruments": [{"slug": h.slug, "name": h.name} for h in settings.instruments],
        "levels": [_level_words(lesson.level(name)) for name in request.levels],
        "stage_title": (
            f"{instrument.name}, {level.settings.title.lower()}, in {first['key']}"
        ),
        "first_wide": Markup(first["wide"]),  # noqa: S704 - the engraver's own drawing
        "first_narrow": Markup(first["narrow"]),  # noqa: S704 - as above
        "first_words": first["words"],
        "mixes": [{"name": name, "title": title} for name, title in MIXES.items()],
        "caution": f"{CAUTION_HEARING} {CAUTION_PLAYING}",
        "parts": parts,
        "downloads": downloads(settings, request.links),
        "locked": [
            {"title": row.title, "summary": row.summary}
            for row in settings.levels
            if row.name not in request.levels
        ],
        "imprint": _imprint(request, sounds),
        "packs": packs,
        "sounds": sounds,
        "data": Markup(_script_safe(_data(request, sounds))),  # noqa: S704 - escaped there
        "css": Markup(page_css()),  # noqa: S704 - our own files
        "script": Markup(script(*_SCRIPTS)),  # noqa: S704 - our own files
    }


def _facts(request: PageRequest) -> list[tuple[str, str]]:
    lesson = request.lesson
    tempos = {f"{lesson.level(name).settings.tempo:g}" for name in request.levels}
    beats = " and ".join(sorted(tempos, key=float))
    facts = [
        ("Concert key", str(lesson.tune.key)),
        ("Form", form_name(lesson.played, lesson.form)),
        ("Meter", str(lesson.tune.meter)),
        ("Tempo" if len(tempos) == 1 else "Tempos", f"{beats} beats a minute"),
    ]
    if lesson.settings.audio.tuning:
        facts.append(("Tuning", lesson.settings.audio.tuning))
    if any(lesson.changes_are_proposed(name) for name in request.levels):
        facts.append(("Changes", "proposed; the source has none"))
    return facts


def _level_words(level: Level) -> dict[str, str]:
    settings = level.settings
    feel = feel_words(settings.feel)
    route = route_words(level, space="\u00a0")
    about = f"{capital(tempo_words(level))}, {feel}. {route}."
    summary = settings.summary
    return {
        "name": level.name,
        "title": settings.title,
        "note": f"{summary} {about}" if summary else about,
    }


def _parts(
    lesson: Lesson, cells: Iterable[LessonCell], drawn: Packs, first_level: str
) -> tuple[list[dict[str, Any]], list[dict[str, str]]]:
    """Give the text's parts in order, and the headings to list in front of them."""
    parts: list[dict[str, Any]] = []
    contents: list[dict[str, str]] = []
    titles = {row.name: row.title for row in lesson.settings.levels}
    for place, cell in enumerate(cells):
        blocks = parse_prose(cell.prose)
        kept = []
        for block in blocks:
            if block["kind"] == "heading":
                text = plain_text(block["runs"])
                if block["level"] == 1 and text.strip() == lesson.title:
                    continue  # the page has its title already
                block["level"] = max(block["level"], 2) - 1
                if block["level"] == 1:
                    block["anchor"] = f"part-{len(contents) + 1}"
                    contents.append({"anchor": block["anchor"], "text": text})
            kept.append(block)
        figures = [
            _figure(lesson, drawn, place, number, first_level)
            for number in range(len(cell.figures))
        ]
        levels = tuple(name for name in cell.levels if name in titles)
        parts.append(
            {
                "levels": levels,
                "level_title": ", ".join(titles[name] for name in levels),
                "prose": Markup(prose_html(kept)),  # noqa: S704 - holds no raw HTML
                "figures": [figure for figure in figures if figure is not None],
                "pictures": [
                    {
                        "alt": p.alt or "Picture from the lesson's notebook",
                        "width": p.shown.width,
                        "height": p.shown.height,
                        "mime": p.shown.mime,
                        "base64": p.shown.base64,
                    }
                    for p in cell.pictures
                ],
            }
        )
    return parts, contents


def _figure(
    lesson: Lesson, drawn: Packs, place: int, number: int, first_level: str
) -> dict[str, Any] | None:
    call = drawn.cells[place].figures[number]
    name = figure_id(place, number)
    level = call.levels[-1] if call.levels else ""
    shown = drawn.contents(level or first_level, lesson.settings.default_instrument)
    if name not in shown["figures"]:
        return None
    return {
        "id": name,
        "kind": call.show,
        "level": level,
        "mix": str(call.options.get("mix") or ""),
        "html": Markup(shown["figures"][name]),  # noqa: S704 - kit.figures escapes its texts
    }


def _imprint(request: PageRequest, sounds: Sequence[PageSound]) -> list[str]:
    settings = request.lesson.settings
    lines = [settings.rights.statement, RIGHTS_REMINDER]
    if sounds or sound_files(request.links, request.levels):
        font = lesson_soundfont(request.lesson)
        said = f" ({font.licence.rstrip('.')})" if font.licence else ""
        lines.append(f"Sounds of the band: {font.name}{said}.")
    return [line for line in lines if line]


def _data(request: PageRequest, sounds: Sequence[PageSound]) -> dict[str, Any]:
    """Give what the page's script needs to know."""
    settings = request.lesson.settings
    return {
        "slug": request.lesson.slug,
        "default_instrument": settings.default_instrument,
        "default_level": request.levels[0],
        "instruments": [{"slug": h.slug, "name": h.name} for h in settings.instruments],
        "levels": [
            _level_data(
                request.lesson.level(name),
                [sound for sound in sounds if sound.level == name],
                sound_files(request.links, [name]),
            )
            for name in request.levels
        ],
    }


def _level_data(
    level: Level, carried: Sequence[PageSound], beside: Sequence[SoundFile]
) -> dict[str, Any]:
    """Give a level's sounds with the map that belongs to them.

    A source is its tempo in per cent and its address; that is empty for what the page
    carries. Bars keep their share of the time at every tempo, so that one map serves all;
    swung notes do not, so that each tempo has its own onsets.
    """
    sources: dict[str, list[tuple[int, str]]] = {}
    for mix in MIXES:
        found = [(100, "") for sound in carried if sound.mix == mix]
        found += [
            (file.tempo_percent, path_href(file.path)) for file in beside if file.mix == mix
        ]
        if found:
            sources[mix] = found
    return {
        **_level_words(level),
        "tempo": level.settings.tempo,
        "seconds": round(level.count_in_s + level.seconds, 3),
        "count_in_end": round(level.count_in_s, 6),
        "beats": float(level.sheet.meter.bar_length / level.sheet.meter.pulse),
        "sources": sources,
        "map": route_rows(level),
        "onsets": {
            str(percent): note_spans(level, tempo_percent=percent)
            for percent in tempo_steps(beside)
        },
    }


def _script_safe(data: Mapping[str, Any]) -> str:
    """Write JSON that cannot end the script element it stands in."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return (
        text.replace("<", "\\u003c")
        .replace("\u2028", "\\u2028")
        .replace("\u2029", "\\u2029")
    )
