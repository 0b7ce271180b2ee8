"""What is performed at one level, bar by bar, and when."""

from kit.route.plan import INTROS, Passage, PerformedBar, Route, Tag, plan_route
from kit.route.tempo import TempoMap, quarters_to_seconds, ritardando
from kit.route.timing import chapters_vtt, timing_map

__all__ = [
    "INTROS",
    "Passage",
    "PerformedBar",
    "Route",
    "Tag",
    "TempoMap",
    "chapters_vtt",
    "plan_route",
    "quarters_to_seconds",
    "ritardando",
    "timing_map",
]
