"""Why is a piece of a build made again? Told by ingredients, not by files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kit.form.wording import counted

__all__ = ["Reason", "reason_sentences"]

_MOST_TITLES = 6


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a job was done again.

    Parameters
    ----------
    title : str
        The job.
    changed : tuple of str
        The ingredients that are not what they were; none if it was never made before.
    is_new : bool
        Whether it was never made before, as far as is known.
    """

    title: str
    changed: tuple[str, ...] = ()
    is_new: bool = False

    @property
    def words(self) -> str:
        """What was done and why, without saying to what."""
        if self.is_new:
            return "made for the first time"
        if not self.changed:
            return "made again, no longer being in the cache"
        return f"made again (changed: {', '.join(self.changed)})"


def reason_sentences(reasons: Iterable[Reason], *, kept: int) -> Iterator[str]:
    """Sum reasons up, the same reason once with all it is the reason for.

    Parameters
    ----------
    reasons : iterable of Reason
        What was made anew.
    kept : int
        How many pieces were taken from the cache.
    """
    titles: dict[str, list[str]] = {}
    for reason in reasons:
        titles.setdefault(reason.words, []).append(reason.title)
    for words, made in titles.items():
        shown = made[:_MOST_TITLES]
        more = len(made) - len(shown)
        if more:
            shown.append(f"{more} more")
        yield f"{words}: {'; '.join(shown)}."
    total = sum(len(made) for made in titles.values())
    yield f"{counted(total, 'piece')} made, {kept} kept from before."
