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
    from kit.lesson import Lesson, open_lesson
    from kit.widgets import (
        bench,
        builder,
        changes_editor,
        comparison,
        excerpt,
        form_chart,
        form_editor,
        new_lesson,
        player,
        practice_plan,
        preview,
        problems,
        rights_summary,
        route_editor,
        school,
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
    "school": "kit.widgets",
    "rights_summary": "kit.widgets",
    "preview": "kit.widgets",
    "new_lesson": "kit.widgets",
    "builder": "kit.widgets",
    "Lesson": "kit.lesson",
    "open_lesson": "kit.lesson",
    "bench": "kit.widgets",
    "changes_editor": "kit.widgets",
    "comparison": "kit.widgets",
    "excerpt": "kit.widgets",
    "form_chart": "kit.widgets",
    "form_editor": "kit.widgets",
    "player": "kit.widgets",
    "practice_plan": "kit.widgets",
    "problems": "kit.widgets",
    "route_editor": "kit.widgets",
    "solo_guide": "kit.widgets",
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
