"""Write one tune once; publish a multi-level wind lesson for every instrument.

A lesson notebook needs one import and one-line calls:

    import kit
    lesson = kit.open_lesson()
    kit.excerpt(lesson, section="A")

Everything is loaded on first use, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kit.lesson.lesson import Lesson, open_lesson
    from kit.widgets.desk.builder import builder
    from kit.widgets.desk.new_lesson import new_lesson
    from kit.widgets.desk.preview import preview
    from kit.widgets.desk.rights_summary import rights_summary
    from kit.widgets.desk.school import school
    from kit.widgets.editors.bench import bench
    from kit.widgets.editors.changes_editor import changes_editor
    from kit.widgets.editors.form_editor import form_editor
    from kit.widgets.editors.route_editor import route_editor
    from kit.widgets.figures.show import (
        comparison,
        excerpt,
        form_chart,
        player,
        practice_plan,
        problems,
        solo_guide,
    )

__version__ = "0.1.0"

__all__ = [
    "Lesson",
    "__version__",
    "bench",
    "builder",
    "changes_editor",
    "comparison",
    "excerpt",
    "form_chart",
    "form_editor",
    "new_lesson",
    "open_lesson",
    "player",
    "practice_plan",
    "preview",
    "problems",
    "rights_summary",
    "route_editor",
    "school",
    "solo_guide",
]

_HOMES = {
    "school": "kit.widgets.desk.school",
    "rights_summary": "kit.widgets.desk.rights_summary",
    "preview": "kit.widgets.desk.preview",
    "new_lesson": "kit.widgets.desk.new_lesson",
    "builder": "kit.widgets.desk.builder",
    "Lesson": "kit.lesson.lesson",
    "open_lesson": "kit.lesson.lesson",
    "bench": "kit.widgets.editors.bench",
    "changes_editor": "kit.widgets.editors.changes_editor",
    "comparison": "kit.widgets.figures.show",
    "excerpt": "kit.widgets.figures.show",
    "form_chart": "kit.widgets.figures.show",
    "form_editor": "kit.widgets.editors.form_editor",
    "player": "kit.widgets.figures.show",
    "practice_plan": "kit.widgets.figures.show",
    "problems": "kit.widgets.figures.show",
    "route_editor": "kit.widgets.editors.route_editor",
    "solo_guide": "kit.widgets.figures.show",
}


def __getattr__(name: str) -> Any:
    """Load a public name from its room on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted({*globals(), *_HOMES})
