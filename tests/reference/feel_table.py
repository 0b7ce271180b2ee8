"""The teacher's table of feels, written from their files and definitions.

``python tests/reference/feel_table.py`` writes it anew into ``docs/teacher/audio.md``,
between the table's head and the next empty line; `test_feel_table.py` tells where it is not
as the files say.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from kit.band.feel import feel_names, load_feel

PAGE = Path(__file__).parents[2] / "docs" / "teacher" / "audio.md"
HEAD = (
    "| feel | meters, and beats a minute | what you hear | what it is held to |\n"
    "| --- | --- | --- | --- |\n"
)
DEFINITIONS = tomllib.loads(
    Path(__file__).with_name("feels.toml").read_text(encoding="utf-8")
)


def table() -> str:
    """Give the whole table, a feel a line, in alphabetical order."""
    return HEAD + "".join(_row(name) for name in feel_names())


def _row(name: str) -> str:
    feel = load_feel(name)
    tempi = ", ".join(
        f"{meter}: {low:g} to {high:g}" for meter, (low, high) in feel.tempi.items()
    )
    source = DEFINITIONS[name]["source"].replace("|", "/")
    return f"| `{name}` | {tempi} | {feel.words} | {source} |\n"


def written(page: str) -> str:
    """Give the table that a page has now; empty if it has none."""
    start = page.find(HEAD)
    end = page.find("\n\n", start) + 1
    return page[start:end] if start >= 0 else ""


def main() -> None:
    page = PAGE.read_text(encoding="utf-8")
    PAGE.write_text(page.replace(written(page), table()), encoding="utf-8")


if __name__ == "__main__":
    main()
