"""The widgets of a lesson notebook, each with a static form that stays in the file."""

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
