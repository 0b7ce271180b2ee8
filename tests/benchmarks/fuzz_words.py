"""Which words are put into files where they do harm? Those of ``fuzz_words.toml``."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

__all__ = ["words"]


@lru_cache
def words(name: str) -> tuple[str, ...]:
    """Give a list of ``fuzz_words.toml``, what is repeated there written out."""
    table = tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))
    return tuple(map(_written_out, table[name]))


def _written_out(entry: str | dict[str, Any]) -> str:
    if isinstance(entry, str):
        return entry
    return entry.get("head", "") + entry["text"] * entry["times"] + entry.get("tail", "")
