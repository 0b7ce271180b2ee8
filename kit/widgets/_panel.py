"""What do the desk widgets (lessons, build, preview, rights) have in common?

A panel is a column of *regions*, each a fragment of HTML that the kernel fills from a
template; only regions that changed are drawn again. Buttons carry ``data-do`` and send what
they are called, with the fields of the form they stand in::

    {"do": "build", "values": {"slug": "small-tune"}}     bytes of a chosen file behind it

Each is answered by ``{"chosen": true}``; select boxes wait for it.

A panel is a tool of the teacher's and no figure of the lesson: its static form bears no
private type, so pages and handouts leave it out.
"""

from __future__ import annotations

import threading
from abc import abstractmethod
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

import traitlets
from jinja2 import Environment, PackageLoader, StrictUndefined

from kit.errors import KitError
from kit.widgets._assets import script, style
from kit.widgets._saved import tool_bundle
from kit.widgets._shown import ShownWidget
from kit.widgets._view import model_id

__all__ = ["Panel", "panel_style", "panel_template"]


@cache
def panel_style() -> str:
    """Give the style sheet of panels, with that of figures and widgets."""
    own = files("kit.widgets").joinpath("assets", "panel.css").read_text(encoding="utf-8")
    return style() + own


def panel_template(name: str, **values: Any) -> str:
    """Fill a template of a panel; all values are escaped but markup of the kit's own."""
    return _environment().get_template(f"{name}.html.j2").render(**values).strip()


class Panel(ShownWidget):
    """The base of the desk widgets.

    Parameters
    ----------
    name : str
        What is shown, part of the widget's stable id.
    said : mapping
        What the call said.
    regions : mapping
        Names and HTML of the regions, in order.
    """

    _esm = script("choosers", "panel")
    _css = panel_style()

    regions: Any = traitlets.Dict().tag(sync=True)
    label = traitlets.Unicode().tag(sync=True)
    """What a screen reader calls the panel."""
    problem = traitlets.Unicode().tag(sync=True)
    said = traitlets.Unicode().tag(sync=True)
    """The last thing worth saying aloud to a screen reader."""

    def __init__(
        self, name: str, said: Mapping[str, str | None], regions: Mapping[str, str]
    ) -> None:
        self._lock = threading.RLock()
        super().__init__(
            model_id=model_id(type(self).__name__, name, said),
            regions=dict(regions),
            label=name,
        )
        self.on_msg(self._on_message)

    @abstractmethod
    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:
        """Do what a button asks.

        Raises
        ------
        KitError
            What cannot be done becomes the panel's `problem`.
        """

    @abstractmethod
    def static_html(self) -> str:
        """Give the HTML that is saved in the notebook."""

    @abstractmethod
    def static_words(self) -> str:
        """Give the same as plain text."""

    def fill(self, **regions: str) -> None:
        """Put new content into regions; can be called from any thread."""
        with self._lock:
            self.regions = {**self.regions, **regions}

    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook: HTML and plain text."""
        return tool_bundle(self.static_html(), self.static_words())

    def _on_message(self, _: Any, content: Any, buffers: list[memoryview]) -> None:
        if not isinstance(content, dict) or not isinstance(content.get("do"), str):
            return
        values = content.get("values")
        plain = values if isinstance(values, dict) else {}
        data = bytes(buffers[0]) if buffers else None
        self.problem = ""
        try:
            self.do(content["do"], {str(k): str(v) for k, v in plain.items()}, data)
        except KitError as error:
            self.problem = str(error)
        finally:
            # Of choices in quick succession the browser sends the next one only now.
            self.send({"chosen": True})


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("kit.widgets"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
