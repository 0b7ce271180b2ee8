"""A finding: one thing about a lesson that the teacher should know, with its remedy."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from kit.errors import KitError

__all__ = ["Finding", "Severity", "from_error"]

Severity = Literal["error", "warning", "hint"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Where, what, how bad, and what to do.

    An *error* stops the build; a *warning* is probably a mistake; a *hint* is worth a look.
    """

    severity: Severity
    text: str
    file: str | None = None
    bar: str | int | None = None
    remedy: str | None = None

    def __str__(self) -> str:
        """Print as one line: severity, place, finding, remedy."""
        error = KitError(self.text, file=self.file, bar=self.bar, remedy=self.remedy)
        return f"{self.severity}: {error}"


def from_error(error: KitError) -> Finding:
    """Turn a raised error into a finding."""
    return Finding("error", error.found, error.file, error.bar, error.remedy)
