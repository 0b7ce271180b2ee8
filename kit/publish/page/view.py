"""What stands on the lesson's page?

`page_view` gathers everything the page template prints or hands to its script. What the
chosen audience may not have is left out here, before anything is drawn.

Conventions
-----------
* The *public* page holds the free levels only; of the others it knows title and summary.
* Times are seconds on the audio's own clock; bars are named by their index on the sheet.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup

from kit.figures.route_words import route_words
from kit.figures.written import tempo_words
from kit.form.names import form_name
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
from kit.publish.page.packs import Packs, figure_id, packed
from kit.publish.page.sound import (
    MIXES,
    PLAYERS,
    SoundFile,
    level_sound,
    sound_files,
)
from kit.publish.page.timing import click_rows, note_spans, route_rows
from kit.tracks.audio import lesson_soundfont

__all__ = ["PageRequest", "page_levels", "page_view"]

_SCRIPTS = (
    "vendor/inflate.js", "store.js", "shelf.js", "packs.js", "mixer.js", "engine.js",
    "plain.js", "music.js", "mix.js", "clock.js", "score.js", "strip.js", "loops.js",
    "stand.js", "figures.js", "page.js",
)  # fmt: skip
_RING_S = 2.5
"""So long after its last bar the music counts as over."""
_LIGHT_FIGURE = 6_000
"""Signs: a larger figure is drawn from its pack, so that a page is soon there."""
_TEMPO_STEPS = (50, 70, 85, 100)
_VIEW_BOX = re.compile(r'viewBox="0 0 (\d+) (\d+)"')


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
    inside : mapping of path to bytes, optional
        Files that the page holds inside, as `kit.publish.page.beside` writes them; all its
        packs are inside then too. Without it they lie beside the page.
    """

    lesson: Lesson
    cells: tuple[LessonCell, ...]
    audience: str = "members"
    links: tuple[str, ...] = ()
    packs: Mapping[str, str] = field(default_factory=dict)
    inside: Mapping[str, bytes] | None = None
    levels: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Work out which levels the page holds."""
        names = page_levels(self.lesson, self.audience)
        object.__setattr__(self, "levels", names)

    @property
    def instruments(self) -> tuple[str, ...]:
        """The instruments' slugs."""
        return tuple(instrument.slug for instrument in self.lesson.settings.instruments)

    @property
    def melodies(self) -> tuple[str, ...]:
        """The instruments, the one that everybody hears at first before the others."""
        default = self.lesson.settings.default_instrument
        return (default, *(slug for slug in self.instruments if slug != default))

    def heard_levels(self) -> tuple[str, ...]:
        """List the levels that the audience may hear."""
        tiers = self.lesson.settings.tiers
        return tuple(
            name
            for name in self.levels
            if self.audience == "members" or tiers.of("audio", name) == "free"
        )


def page_view(request: PageRequest) -> dict[str, Any]:
    """Gather all that the page template prints.

    Parameters
    ----------
    request : PageRequest
        What page is wanted.

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
    first_level, first_instrument = request.levels[0], settings.default_instrument
    first = drawn.contents(first_level, first_instrument)
    packs = [drawn.one(first_level, first_instrument)]
    if request.inside is not None:
        packs = drawn.all(request.instruments)
    inside = request.inside or {}
    parts, contents = _parts(lesson, cells, drawn, first_level)
    data = _data(request)
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
        "narrow_ratio": _ratio(first["narrow"]),
        "first_words": first["words"],
        "players": [
            {"name": name, "title": title, "value": 0 if name == "click" else 80}
            for name, title in PLAYERS.items()
        ],
        "loud_caution": CAUTION_HEARING,
        "tempos": sorted({*_TEMPO_STEPS, *settings.audio.tempos}),
        "mixes": [{"name": name, "title": title} for name, title in MIXES.items()],
        "caution": f"{CAUTION_HEARING} {CAUTION_PLAYING}",
        "parts": parts,
        "downloads": downloads(settings, request.links),
        "locked": [
            {"title": row.title, "summary": row.summary}
            for row in settings.levels
            if row.name not in request.levels
        ],
        "imprint": _imprint(request, data),
        "packs": [{"name": "lesson", "base64": packed(data)}, *packs],
        "strip": _strip(level) if data["levels"][0]["sound"] else [],
        "files_inside": [
            {"path": path, "text": Markup(data.decode("ascii"))}  # noqa: S704 - ours, base64
            for path, data in inside.items()
        ],
        "css": Markup(page_css()),  # noqa: S704 - our own files
        "early_script": Markup(script("early.js")),  # noqa: S704 - ours
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
    html = shown["figures"][name]
    return {
        "id": name,
        "kind": call.show,
        "level": level,
        "mix": str(call.options.get("mix") or ""),
        "html": Markup(html if len(html) <= _LIGHT_FIGURE else ""),  # noqa: S704 - as above
    }


def _strip(level: Level) -> list[dict[str, Any]]:
    """Give what is played, as ``assets/strip.js`` shows it, so that nothing moves later."""
    groups: list[dict[str, Any]] = []
    for *_, number, section, kind, begins, _played, _beats in route_rows(level):
        title = capital(kind)
        if not groups or groups[-1]["title"] != title:
            groups.append({"title": title, "bars": 0, "passages": []})
        group = groups[-1]
        if begins or not group["passages"]:
            words = f"{title} {section}".strip() + f", bar {number}"
            group["passages"].append({"section": section, "bars": 0, "words": words})
        group["bars"] += 1
        group["passages"][-1]["bars"] += 1
    return groups


def _imprint(request: PageRequest, data: Mapping[str, Any]) -> list[str]:
    settings = request.lesson.settings
    lines = [settings.rights.statement, RIGHTS_REMINDER]
    if any(level["sound"] or level["files"] for level in data["levels"]):
        font = lesson_soundfont(request.lesson)
        said = f" ({font.licence.rstrip('.')})" if font.licence else ""
        lines.append(f"Sounds of the band: {font.name}{said}.")
    return [line for line in lines if line]


def _data(request: PageRequest) -> dict[str, Any]:
    """Give what the page's script needs to know."""
    from kit.sound.stem_pieces import (  # noqa: PLC0415 - needs numpy
        LEAD,
        MEASURE_AT,
        OVERLAP,
        measure_piece,
    )

    settings = request.lesson.settings
    paths = {*request.links, *(request.inside or ())}
    heard = request.heard_levels()
    return {
        "slug": request.lesson.slug,
        "default_instrument": settings.default_instrument,
        "default_level": request.levels[0],
        "instruments": [{"slug": h.slug, "name": h.name} for h in settings.instruments],
        "measure": {
            "measure": {
                "base64": base64.b64encode(measure_piece()).decode("ascii"),
                "at": MEASURE_AT,
            },
            "lead": LEAD,
            "overlap": OVERLAP,
        },
        "levels": [
            _level_data(
                request.lesson,
                name,
                level_sound(name, request.melodies, paths) if name in heard else None,
                sound_files(request.links, [name]),
            )
            for name in request.levels
        ],
    }


def _level_data(
    lesson: Lesson, name: str, sound: dict[str, Any] | None, beside: Sequence[SoundFile]
) -> dict[str, Any]:
    """Give a level's sounds with the map that belongs to them."""
    level = lesson.level(name)
    seconds = level.count_in_s + level.seconds
    return {
        **_level_words(level),
        "tempo": level.settings.tempo,
        "seconds": round(seconds, 3),
        "count_in_end": round(level.count_in_s, 6),
        "sound": sound and {**sound, "seconds": round(seconds + _RING_S, 3)},
        "files": {
            file.mix: path_href(file.path) for file in beside if file.tempo_percent == 100
        },
        "map": route_rows(level),
        "clicks": click_rows(lesson, name),
        "onsets": note_spans(level),
    }


def _ratio(drawing: str) -> str:
    """Give width and height of a drawing, to keep its place until it is drawn."""
    found = _VIEW_BOX.search(drawing)
    assert found is not None, "the engraver gives each drawing its size"
    return f"{found[1]} / {found[2]}"
