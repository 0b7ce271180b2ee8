"""How is an instrument called in running text? ``alto saxophone``, but ``E♭ clarinet``."""

from __future__ import annotations

from collections.abc import Iterable

from kit.form.wording import listed
from kit.instruments.part import Part

__all__ = ["name_in_text", "players_words"]


def name_in_text(name: str) -> str:
    """Take the capital off a name that is a common noun: ``B♭ clarinet`` keeps its own.

    Examples
    --------
    >>> name_in_text("Alto saxophone"), name_in_text("E♭ clarinet")
    ('alto saxophone', 'E♭ clarinet')
    """
    return name[:1].lower() + name[1:] if name[1:2].islower() else name


def players_words(parts: Iterable[Part]) -> str:
    """Name those who play some parts: ``flute, trombone and trumpet in B♭``."""
    return listed([name_in_text(part.instrument.name) for part in parts])
