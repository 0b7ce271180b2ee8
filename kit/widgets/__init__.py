"""The widgets of a lesson notebook, each with a static form that stays in the file."""

from kit.widgets.bench_view import bench
from kit.widgets.build_view import builder
from kit.widgets.changes_editor_view import changes_editor
from kit.widgets.form_editor_view import form_editor
from kit.widgets.new_lesson_view import new_lesson
from kit.widgets.preview_view import preview
from kit.widgets.rights_view import rights_summary
from kit.widgets.route_editor_view import route_editor
from kit.widgets.school_view import school
from kit.widgets.show import (
    comparison,
    excerpt,
    form_chart,
    player,
    practice_plan,
    problems,
    solo_guide,
)
from kit.widgets.state import LessonState, state_of

__all__ = [
    "LessonState",
    "bench",
    "builder",
    "changes_editor",
    "comparison",
    "excerpt",
    "form_chart",
    "form_editor",
    "new_lesson",
    "player",
    "practice_plan",
    "preview",
    "problems",
    "rights_summary",
    "route_editor",
    "school",
    "solo_guide",
    "state_of",
]
