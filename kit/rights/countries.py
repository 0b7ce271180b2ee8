"""Which countries' terms of protection does the kit know?

The table is ``countries.toml``. A country that is not in it has no entry, and a lesson that
names it is told so: no guess is better than a wrong one.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["USUAL", "Country", "countries", "country"]


@dataclass(frozen=True, slots=True)
class Country:
    """A country or union by its code, with the rule that its terms follow."""

    code: str
    name: str
    rule: str


@cache
def countries() -> dict[str, Country]:
    """Give the known countries by code."""
    known: dict[str, Country] = {}
    table = _table()
    for code, row in table.items():
        if code in ("usual", "members"):
            continue
        for name in (code, *row.get("also", ())):
            known[name] = Country(code, row["name"], row["rule"])
    for code, name in table["members"].items():
        known[code] = Country(code, name, known["EU"].rule)
    return known


def country(code: str) -> Country:
    """Give a country by code, in capitals or not.

    Raises
    ------
    ValueError
        If its terms are not known.
    """
    found = countries().get(code.strip().upper())
    if found is None:
        raise ValueError(
            f'the terms of "{code}" are not known; choose from {", ".join(countries())}'
        )
    return found


@cache
def _table() -> dict[str, dict[str, str]]:
    text = files("kit.rights").joinpath("countries.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


USUAL: tuple[str, ...] = tuple(_table()["usual"])
"""Codes looked at where a lesson names no countries."""
