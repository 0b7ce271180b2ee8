"""The widgets of a lesson notebook, each with a static form that stays in the file."""

from kit.widgets.show import (
    comparison,
    excerpt,
    form_chart,
    player,
    practice_plan,
    solo_guide,
)
from kit.widgets.state import LessonState, state_of

__all__ = [
    "LessonState",
    "comparison",
    "excerpt",
    "form_chart",
    "player",
    "practice_plan",
    "solo_guide",
    "state_of",
]
