"""May this lesson be published as it says? The ledger's advice as findings."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from kit.check.finding import Finding
from kit.rights import Rights, advice

__all__ = ["rights_findings"]


def rights_findings(
    rights: Rights, on: date, *, gives_away: bool, source: str
) -> Iterator[Finding]:
    """Give what is missing or contradictory in the ledger on a day.

    Parameters
    ----------
    rights : Rights
        The lesson's ledger.
    on : date
        The day to judge.
    gives_away : bool
        Whether the lesson gives files away; only then does anything stop the build.
    source : str
        How messages call lesson.toml.
    """
    for item in advice(rights, on, gives_away=gives_away):
        yield Finding(item.severity, item.text, source, remedy=item.remedy)
