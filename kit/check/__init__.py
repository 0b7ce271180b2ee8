"""Findings about a lesson: what is wrong or doubtful, where, and what to do."""

from kit.check.finding import SEVERITIES, Finding, Severity, count_words, from_error
from kit.check.lesson import check_lesson, findings_beside, lesson_findings
from kit.check.names import shared_names

__all__ = [
    "SEVERITIES",
    "Finding",
    "Severity",
    "check_lesson",
    "count_words",
    "findings_beside",
    "from_error",
    "lesson_findings",
    "shared_names",
]
