"""What is performed at one level, bar by bar, and when."""

from kit.route.plan import (
    Passage,
    PerformedBar,
    Route,
    Tag,
    plan_route,
    quarters_to_seconds,
)
from kit.route.timing import chapters, chapters_vtt, timing_map, vtt_text, vtt_time

__all__ = [
    "Passage",
    "PerformedBar",
    "Route",
    "Tag",
    "chapters",
    "chapters_vtt",
    "plan_route",
    "quarters_to_seconds",
    "timing_map",
    "vtt_text",
    "vtt_time",
]
