"""The lesson's page: one HTML file, with what it fetches beside it or all inside it.

`PageExporter` is an nbconvert exporter (entry point ``lesson_page``). It takes the
notebook's prose and the figures its cells name, and builds around them a page that plays:
notation in every instrument's key, audio, and a map from bars to seconds. Templates, styles
and scripts are files of this package (``templates/lesson``, ``assets``).

Resources it understands, beside nbconvert's own:

``kit_lesson``
    An open `Lesson`, to save reading it again.
``kit_links``
    Paths that the page may offer to download.
``kit_packs``
    Packs already drawn (`kit.publish.page.packs`), by name.
``kit_stems``
    Files of stems already made (`kit.publish.page.beside`), as bytes by path.
``kit_inside``
    Whether the page holds all of that inside; it does unless a build says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import nbformat
from jinja2 import Environment
from nbconvert.exporters import Exporter, TemplateExporter
from traitlets import Enum, default

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import has_run, read_cells, withheld_cells
from kit.publish.page._closed import closed_page
from kit.publish.page.beside import (
    STRETCH_PATH,
    band_path,
    melody_path,
    stems_file,
    stretch_file,
)
from kit.publish.page.sound import fitting_files
from kit.publish.page.view import PageRequest, page_view
from kit.tracks.stems import BAND, level_stems

__all__ = ["PageExporter", "page_html"]

_ROOM_BYTES = 2_000_000
"""For words, styles, program and the notation of nine instruments (measured: 1.8 MB)."""


def page_html(
    lesson: Lesson,
    notebook: Mapping[str, Any],
    *,
    audience: str,
    links: Iterable[str] = (),
    packs: Mapping[str, str] | None = None,
    stems: Mapping[str, bytes] | None = None,
    inside: bool = False,
) -> str:
    """Make the page of a lesson.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    notebook : mapping
        Its notebook, run.
    audience : "members" or "public"
        Whose page it is; the public one holds nothing that is not free.
    links : iterable of str
        Paths the page may link to, as they lie beside it.
    packs : mapping of str to str, optional
        Packs already drawn, by name; what is missing is drawn.
    stems : mapping of path to bytes, optional
        Files of stems at hand for a page that holds them; what is missing is rendered.
    inside : bool
        Whether the page holds notation and sound itself, to be mailed, or fetches what
        lies beside it.

    Raises
    ------
    LessonError
        If the lesson or its notebook cannot be used.
    """
    resources = {
        "kit_lesson": lesson,
        "kit_links": tuple(links),
        "kit_packs": packs or {},
        "kit_stems": stems or {},
        "kit_inside": inside,
        "metadata": {"name": lesson.slug, "path": str(lesson.folder)},
    }
    exporter = PageExporter(audience=audience)  # type: ignore[no-untyped-call]
    node = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    html, _ = exporter.from_notebook_node(node, resources)
    return html


class PageExporter(TemplateExporter):
    """Turns a lesson notebook into the lesson's page."""

    export_from_notebook = "Lesson page"
    output_mimetype = "text/html"

    audience = Enum(
        ["members", "public"],
        default_value="members",
        help="Whose page: the public one holds the free levels only.",
    ).tag(config=True)

    @default("file_extension")
    def _file_extension_default(self) -> str:
        return ".html"

    @default("template_name")
    def _template_name_default(self) -> str:
        return "lesson"

    @default("extra_template_basedirs")
    def _extra_template_basedirs_default(self) -> list[str]:
        own = str(Path(__file__).parents[1] / "templates")
        return [*super()._default_extra_template_basedirs(), own]

    def _create_environment(self) -> Environment:
        environment: Environment = super()._create_environment()  # type: ignore[no-untyped-call]
        # nbconvert's templates escape by hand; ours must not be able to forget it.
        environment.autoescape = True
        return environment

    def from_notebook_node(  # type: ignore[override]  # nbconvert's own annotation is narrower
        self, nb: Any, resources: dict[str, Any] | None = None, **kw: Any
    ) -> tuple[str, dict[str, Any]]:
        """Convert a notebook.

        Raises
        ------
        LessonError
            If the notebook's folder holds no usable lesson.
        """
        # nbconvert's preprocessors first: one of them may run the notebook (--execute).
        nb, resources = Exporter.from_notebook_node(self, nb, resources, **kw)
        lesson = resources.pop("kit_lesson", None) or open_lesson(
            resources.get("metadata", {}).get("path") or "."
        )
        if not has_run(nb):
            self.log.warning(
                "%s has not been run, so its figures are left out; add --execute",
                lesson.name_of("lesson.ipynb"),
            )
        for why in withheld_cells(nb, lesson.level_names):
            self.log.warning("%s: %s", lesson.name_of("lesson.ipynb"), why)
        request = PageRequest(
            lesson=lesson,
            cells=read_cells(
                nb, levels=lesson.level_names, source=lesson.name_of("lesson.ipynb")
            ),
            audience=self.audience,
            links=tuple(resources.pop("kit_links", ())),
            packs=resources.pop("kit_packs", {}),
        )
        stems, inside = resources.pop("kit_stems", {}), resources.pop("kit_inside", True)
        if not request.levels:
            return closed_page(lesson), resources
        if inside:
            request = replace(request, inside=self._inside(request, stems))
        resources["view"] = page_view(request)
        return str(self.template.render(nb=nb, resources=resources)), resources

    def _inside(self, request: PageRequest, stems: Mapping[str, bytes]) -> dict[str, bytes]:
        """Give the files that a page holds: sound as far as it fits."""
        files = _wanted_files(request, stems)
        kept = fitting_files(files, audience=self.audience, room=_ROOM_BYTES)
        left_out = [path for path in files if path not in kept]
        if left_out:
            self.log.warning(
                "%s: the %s page has no room for %s",
                request.lesson.slug,
                self.audience,
                ", ".join(left_out),
            )
        return {path: files[path] for path in kept}


def _wanted_files(request: PageRequest, at_hand: Mapping[str, bytes]) -> dict[str, bytes]:
    """Give the files that a page may hold, the most wanted first.

    Parameters
    ----------
    request : PageRequest
        The page.
    at_hand : mapping of path to bytes
        Files of stems that are made; if there are any, no others are wanted.
    """
    lesson, default = request.lesson, request.lesson.settings.default_instrument
    found = {STRETCH_PATH: stretch_file()}
    for level in request.heard_levels():
        for path, players in (
            (band_path(level), BAND),
            (melody_path(level, default), ("melody",)),
        ):
            found[path] = at_hand.get(path) or stems_file(
                level, level_stems(lesson, level, players)
            )
    # The other instruments' melodies are worth their bytes, not another rendering.
    for level in request.heard_levels():
        paths = [melody_path(level, slug) for slug in request.melodies]
        found |= {path: at_hand[path] for path in paths if path in at_hand}
    return found
