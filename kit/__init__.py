"""Write one tune once; publish a multi-level wind lesson for every instrument.

A lesson notebook needs one import and one-line calls:

    import kit
    lesson = kit.open_lesson()
    kit.excerpt(lesson, section="A")

Everything is loaded on first use, so that importing the package costs next to nothing. What
editors and type checkers see of it is `__init__.pyi`, which is made from the lists here and
in `kit.lesson.figure_calls` (``python tests/widgets/stub_of_kit.py``).
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from kit.lesson.figure_calls import FIGURES

__version__ = "0.1.0"

_HOMES = {
    "Lesson": "kit.lesson.lesson",
    "bench": "kit.widgets.editors.bench",
    "builder": "kit.widgets.desk.builder",
    "changes_editor": "kit.widgets.editors.changes_editor",
    "form_editor": "kit.widgets.editors.form_editor",
    "from_music21": "kit.tune.music21.bridge",
    "new_lesson": "kit.widgets.desk.new_lesson",
    "open_lesson": "kit.lesson.lesson",
    "preview": "kit.widgets.desk.preview",
    "proposed_changes": "kit.widgets.desk.proposed_changes",
    "rights_summary": "kit.widgets.desk.rights_summary",
    "route_editor": "kit.widgets.editors.route_editor",
    "school": "kit.widgets.desk.school",
    "to_music21": "kit.tune.music21.bridge",
}
_FIGURES = tuple(row.name for row in FIGURES)

__all__ = ["__version__", *_HOMES, *_FIGURES]  # noqa: PLE0604 - names, as in the stub


def __getattr__(name: str) -> Any:
    """Load a public name from its room on first use."""
    if name in _FIGURES:
        value = import_module("kit.widgets.figures.show").figure_call(name)
    elif name in _HOMES:
        value = getattr(import_module(_HOMES[name]), name)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *_HOMES, *_FIGURES})
