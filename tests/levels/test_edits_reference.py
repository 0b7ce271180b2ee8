"""The teacher's edit reference names every edit and every option there is."""

import re
from pathlib import Path

import pytest

from kit.levels.edits import OPERATIONS

REFERENCE = (Path(__file__).parents[2] / "docs/teacher/edits.md").read_text(
    encoding="utf-8"
)


@pytest.mark.parametrize("name", OPERATIONS)
def test_the_reference_names_the_edit_with_its_options(name):
    line = next((x for x in REFERENCE.splitlines() if f"`{name}`" in x), "")
    assert line, f"docs/teacher/edits.md does not explain {name!r}"
    for option in OPERATIONS[name].options:
        assert f"`{option}`" in line


def test_the_reference_invents_no_edit():
    # Each table row starts with the edit's name, or with two of them.
    rows = [row.split("|")[1] for row in REFERENCE.splitlines() if row.startswith("| `")]
    named = {name for row in rows for name in re.findall(r"`([^`]+)`", row)} - {"do"}
    assert named <= {*OPERATIONS}
