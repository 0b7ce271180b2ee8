"""Findings about a lesson: what is wrong or doubtful, where, and what to do."""

from kit.check.finding import Finding, Severity, from_error
from kit.check.lesson import check_lesson

__all__ = ["Finding", "Severity", "check_lesson", "from_error"]
