"""A lesson of sixteen bars, with a title and a composer that try to be markup."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.lesson.lesson import Lesson, open_lesson

SMALL = Path(__file__).parent / "small-lesson"


@pytest.fixture(scope="session")
def small() -> Lesson:
    """AABA in C minor, two levels, a written solo; the second A ends an octave higher."""
    return open_lesson(SMALL)
