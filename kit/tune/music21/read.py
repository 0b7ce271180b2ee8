"""What tune does a file hold in a notation that music21 reads and we do not?

music21 reads it in a process of its own (`kit.tune.music21._process`), with an end to its
time and memory, and hands back MusicXML, which goes through our own reader like any other
file. So nothing that a stranger's file does to music21 is done to a build or a notebook.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import lru_cache
from pathlib import Path
from typing import Any

from kit.errors import NotationError
from kit.reading import UnusableError, json_of
from kit.tune.model import Tune
from kit.tune.music21._formats import NAMES, SUFFIXES, ForeignFormat, format_of
from kit.tune.music21._melody_score import MelodyScore
from kit.tune.music21._melody_tune import melody_tune

__all__ = [
    "FOREIGN_SUFFIXES",
    "ForeignFormat",
    "foreign_part_names",
    "format_of",
    "read_foreign",
]

FOREIGN_SUFFIXES = tuple(SUFFIXES)
MAX_BYTES = 4_000_000
"""The largest file of music21's corpus in these notations has 83,000."""
_SECONDS = 120
"""The slowest of the corpus takes 10 on one core of an ordinary machine."""


def read_foreign(
    data: bytes,
    kind: ForeignFormat,
    *,
    source: str,
    part: str | None = None,
    keep_uneven: bool = False,
) -> Tune:
    """Read a tune through music21.

    Parameters
    ----------
    data : bytes
        The file.
    kind : str
        What `format_of` says it is.
    source : str
        What messages call the file.
    part : str, optional
        Name of the melody part, or ``P2`` for the second.
    keep_uneven : bool
        Whether a bar that does not add up is given the meter it fills, not refused.

    Raises
    ------
    NotationError
        If it holds no melody, is damaged, too large, or takes too long.
    """
    score = _score(data, kind, part, source)
    return melody_tune(score, source=source, keep_uneven=keep_uneven)


def foreign_part_names(data: bytes, kind: ForeignFormat, *, source: str) -> tuple[str, ...]:
    """Name the parts with notes; none if there is but one, and that without a name.

    Raises
    ------
    NotationError
        As `read_foreign`.
    """
    return _score(data, kind, None, source).part_names


def _score(data: bytes, kind: ForeignFormat, part: str | None, source: str) -> MelodyScore:
    if kind == "romantext":
        raise NotationError(
            "it is an analysis in RomanText, which has chords and no melody",
            file=source,
            remedy="write the tune in a notation program, with its changes above it",
        )
    if len(data) > MAX_BYTES:
        raise NotationError(
            f"the file is larger than {MAX_BYTES // 1_000_000} megabytes, the most that is "
            f"read of {NAMES[kind]}",
            file=source,
        )
    answer = _answer(data, kind, part)
    if "found" in answer:
        raise NotationError(answer["found"], file=source, remedy=answer["remedy"])
    return MelodyScore(
        answer["musicxml"].encode(), tuple(answer["parts"]), tuple(answer["notices"])
    )


# The panel of a new lesson asks for a file's tune and parts several times over.
@lru_cache(maxsize=8)
def _answer(data: bytes, kind: ForeignFormat, part: str | None) -> dict[str, Any]:
    asked = json.dumps({"format": kind, "part": part, "source": "it"}).encode()
    try:
        done = subprocess.run(
            [sys.executable, "-P", "-m", "kit.tune.music21._process"],
            input=asked + b"\n" + data,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=_SECONDS,
            env=_environment(),
            check=False,
        )
        answer: dict[str, Any] = json_of(done.stdout)
    except (subprocess.TimeoutExpired, UnusableError):
        return {
            "found": f"music21 needs more time or memory for it than a tune of "
            f"{NAMES[kind]} should take",
            "remedy": "see whether it is damaged, or export the tune as MusicXML",
        }
    return answer


def _environment() -> dict[str, str]:
    """Let the process find this kit, and no library start threads that reserve memory."""
    kit = str(Path(__file__).parents[3])
    path = os.environ.get("PYTHONPATH")
    return {
        **os.environ,
        "PYTHONPATH": os.pathsep.join([kit, path] if path else [kit]),
        "OPENBLAS_NUM_THREADS": "1",
    }
