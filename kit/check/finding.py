"""A finding: one thing about a lesson that the teacher should know, with its remedy.

Conventions
-----------
* `bar` and `numbers` are printed bar numbers; `bars` are indices of the level's sheet, or
  of the tune where no level is named, and `notes` are the ids of its notes
  (`kit.tune.model.note_id`).
* A written solo counts its bars from 1 in its file and goes on from the head on the sheet;
  `offset` is the difference, and both numbers are printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from kit.errors import KitError
from kit.form.wording import bars_words, counted, listed

__all__ = [
    "SEVERITIES",
    "Finding",
    "Severity",
    "count_words",
    "from_error",
    "in_order",
]

Severity = Literal["error", "warning", "hint"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "hint")
"""The gravest first."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Where, what, how bad, and what to do.

    An *error* stops the build; a *warning* is probably a mistake; a *hint* is worth a look.

    Parameters
    ----------
    severity : "error", "warning" or "hint"
        How bad.
    text : str
        What was found, as a clause without a final full stop.
    file : str, optional
        The file to mend, lesson folder first.
    bar : str or int, optional
        The bar, or the first of them, as the file counts.
    remedy : str, optional
        What to do, as a clause.
    code : str
        A short stable name of the question that was asked: ``melody-clash``.
    level : str, optional
        The level it concerns; the tune itself, or the whole lesson, if None.
    instruments : tuple of str
        Slugs of the instruments it concerns; empty for all.
    numbers, bars, notes
        All bars and notes meant, as described above.
    offset : int
        What the sheet's bar numbers are ahead of the file's.
    """

    severity: Severity
    text: str
    file: str | None = None
    bar: str | int | None = None
    remedy: str | None = None
    code: str = ""
    level: str | None = None
    instruments: tuple[str, ...] = ()
    numbers: tuple[int, ...] = ()
    bars: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    offset: int = 0

    @property
    def place(self) -> str:
        """File, level and all bars meant, as one says it; empty if there is none."""
        parts = [self.file] if self.file else []
        if self.numbers and self.level:
            parts.append(self.level)
        if self.numbers:
            where = bars_words(number - self.offset for number in self.numbers)
            on_sheet = f" ({bars_words(self.numbers)} on the sheet)" if self.offset else ""
            parts.append(where + on_sheet)
        elif self.bar is not None:
            parts.append(f"bar {self.bar}")
        return ", ".join(parts)

    @property
    def sentence(self) -> str:
        """What was found and what to do, without its place."""
        return str(KitError(self.text, remedy=self.remedy))

    def __str__(self) -> str:
        """Print as one line: severity, place, finding, remedy."""
        error = KitError(self.text, file=self.place or None, remedy=self.remedy)
        return f"{self.severity}: {error}"


def from_error(error: KitError, *, code: str = "", level: str | None = None) -> Finding:
    """Turn a raised error into a finding.

    Parameters
    ----------
    error : KitError
        Gives the sentence, with file, bar and remedy where it has them.
    code : str
        The check's name, for whoever sorts findings.
    level : str, optional
        Where the fault is one level's.
    """
    return Finding(
        "error", error.found, error.file, error.bar, error.remedy, code=code, level=level
    )


def count_words(findings: Sequence[Finding]) -> str:
    """Say how many there are of each severity: ``1 error and 3 hints``."""
    counts = [
        counted(number, severity)
        for severity in SEVERITIES
        if (number := sum(finding.severity == severity for finding in findings))
    ]
    return listed(counts) or "nothing to mend"


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Put findings in the order of severity, file and bar, each sentence once."""
    once: dict[str, Finding] = {}
    for finding in findings:
        once.setdefault(str(finding), finding)

    def place(finding: Finding) -> tuple[int, str, int]:
        # What has no bar comes before what has; a bar named in words has no number.
        bar = finding.bar if isinstance(finding.bar, int) else -1
        return SEVERITIES.index(finding.severity), finding.file or "", bar

    return tuple(sorted(once.values(), key=place))
