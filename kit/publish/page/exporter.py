"""The lesson's page: one HTML file that needs nothing beside it.

`PageExporter` is an nbconvert exporter (entry point ``lesson_page``). It takes the
notebook's prose and the figures its cells name, and builds around them a page that plays:
notation in every instrument's key, audio, and a map from bars to seconds. Templates, styles
and scripts are files of this package (``templates/lesson``, ``assets``).

Resources it understands, beside nbconvert's own:

``kit_lesson``
    An open `Lesson`, to save reading it again.
``kit_links``
    Paths that the page may offer to download.
``kit_audio``
    Audio already made, as bytes by ``(level, mix)``.
``kit_packs``
    Packs already drawn (`kit.publish.page.packs`), by name.
"""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import nbformat
from jinja2 import Environment
from nbconvert.exporters import Exporter, TemplateExporter
from traitlets import Enum, default

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import has_run, read_cells, withheld_cells
from kit.publish.page._closed import closed_page
from kit.publish.page.sound import PageSound
from kit.publish.page.view import PageRequest, page_view

__all__ = ["PageExporter", "page_html"]


def page_html(
    lesson: Lesson,
    notebook: Mapping[str, Any],
    *,
    audience: str,
    links: Iterable[str] = (),
    packs: Mapping[str, str] | None = None,
    audio: Mapping[tuple[str, str], bytes] | None = None,
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
    audio : mapping of (level, mix) to bytes, optional
        MP3 already at hand; what is missing is rendered.

    Raises
    ------
    LessonError
        If the lesson or its notebook cannot be used.
    """
    resources = {
        "kit_lesson": lesson,
        "kit_links": tuple(links),
        "kit_packs": packs or {},
        "kit_audio": audio or {},
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
        if not request.levels:
            return closed_page(lesson), resources
        sounds = _sounds(request, resources.pop("kit_audio", {}))
        view = resources["view"] = page_view(request, sounds)
        if len(view["sounds"]) < len(sounds):
            held = {sound.name for sound in view["sounds"]}
            self.log.warning(
                "%s: the %s page has no room for the audio %s",
                lesson.slug,
                self.audience,
                ", ".join(sound.name for sound in sounds if sound.name not in held),
            )
        return str(self.template.render(nb=nb, resources=resources)), resources


def _sounds(
    request: PageRequest, at_hand: Mapping[tuple[str, str], bytes]
) -> list[PageSound]:
    sounds = []
    for level, mix in request.sounds_wanted():
        data = at_hand.get((level, mix))
        if data is None:
            # Audio at hand needs no synthesis, nor the libraries for it.
            from kit.tracks.audio import page_audio  # noqa: PLC0415

            data = page_audio(request.lesson, level, mix).data
        sounds.append(PageSound(level, mix, base64.b64encode(data).decode("ascii")))
    return sounds
