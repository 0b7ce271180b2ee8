"""kit new on tunes from outside: thirty files of music21's corpus.

Source: the corpus that ships with music21 (registry package): ABC collections and MusicXML
scores, drawn with a fixed seed from the files under 40 kB; of a book the first tune. Only
collections whose origin is known (docs/sources.md).
"""

from __future__ import annotations

import random
from pathlib import Path

import music21
import pytest

from kit.authoring.first_look import TuneChoice
from kit.authoring.start import start_lesson
from kit.check.lesson import check_lesson
from kit.errors import NotationError
from kit.tune.tune_book import tunes_in

CORPUS = Path(music21.__file__).parent / "corpus"
FOLDERS = (
    "airdsAirs", "bach", "beach", "ciconia", "corelli", "essenFolksong", "joplin",
    "liliuokalani", "luca", "miscFolk", "oneills1850", "ryansMammoth", "schumann_clara",
)  # fmt: skip
SUFFIXES = (".abc", ".mxl", ".xml", ".musicxml")
MAX_BYTES = 40_000


def sample(count: int) -> list[Path]:
    """Draw files, two thirds ABC and a third scores."""
    found = [
        path
        for folder in FOLDERS
        for path in sorted((CORPUS / folder).rglob("*"))
        if path.suffix.lower() in SUFFIXES and path.stat().st_size < MAX_BYTES
    ]
    abc = [path for path in found if path.suffix == ".abc"]
    scores = [path for path in found if path.suffix != ".abc"]
    draw = random.Random(30)
    return draw.sample(abc, 2 * count // 3) + draw.sample(scores, count - 2 * count // 3)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory) -> dict[str, str | list[str]]:
    """What became of each file: the errors of its lesson, or why there is none."""
    found: dict[str, str | list[str]] = {}
    for place, file in enumerate(sample(30)):
        lessons = tmp_path_factory.mktemp("corpus") / str(place)
        tunes = tunes_in(file)
        first = TuneChoice(number=tunes[0].number if len(tunes) > 1 else None)
        try:
            folder = start_lesson(file, lessons, choice=first)
        except NotationError as error:
            found[file.name] = str(error)
            assert not lessons.exists()
        else:
            findings = check_lesson(folder)
            found[file.name] = [str(f) for f in findings if f.severity == "error"]
    return found


def test_a_tune_that_can_be_read_becomes_a_lesson_without_errors(outcomes):
    lessons = [errors for errors in outcomes.values() if isinstance(errors, list)]
    assert len(lessons) >= 24
    assert lessons == [[]] * len(lessons)


def test_a_file_whose_bars_do_not_add_up_is_refused_with_its_bar(outcomes):
    refused = {name: text for name, text in outcomes.items() if isinstance(text, str)}
    for name, text in refused.items():
        assert text.startswith(f"{name}, bar ")
        assert "\n" not in text
