"""The teacher's table of feels says what their files say."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from feel_table import PAGE, table, written


def test_the_table_is_as_the_files_say():
    assert written(PAGE.read_text(encoding="utf-8")) == table(), (
        "run tests/reference/feel_table.py"
    )
