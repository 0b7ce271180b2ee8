"""Let music21 read one untrusted file, in a process that may be ended at any time.

    python -P -m kit.tune.music21._process

Standard input is one line of JSON, ``{"format": name, "part": name or null, "source":
name}``, and then the file. Standard output is one JSON object: ``{"musicxml": text,
"parts": [name], "notices": [sentence]}`` or ``{"found": clause, "remedy": clause or
null}``.

music21 gets the file's content, never its name, so that it neither looks for other files
and addresses nor keeps a pickle of what it has read. What it prints goes nowhere.
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any

from kit.errors import KitError
from kit.reading import json_of
from kit.tune._notices import Notices
from kit.tune.music21._formats import NAMES
from kit.tune.music21._kern import read_kern
from kit.tune.music21._mei import read_mei
from kit.tune.music21._melody_score import melody_score
from kit.tune.source_text import decoded, printable

__all__ = ["main"]

_MEMORY_BYTES = 3_000_000_000
_CAUSE_CHARS = 100


def main() -> None:
    """Read standard input, answer on standard output."""
    answer_to = os.dup(1)
    os.dup2(2, 1)
    _limit_memory()
    head, _, data = sys.stdin.buffer.read().partition(b"\n")
    asked = json_of(head)
    try:
        answer = _answer(asked, data)
    except KitError as error:
        answer = {"found": error.found, "remedy": error.remedy}
    # What music21 meets in a damaged file comes out as an error of any kind (an index, a
    # name, a length), and there is no list of them.
    except Exception as error:  # noqa: BLE001
        cause = printable(f"{type(error).__name__}: {error}", _CAUSE_CHARS)
        name = NAMES[asked["format"]]
        answer = {
            "found": f"music21 cannot read it as {name} ({cause})",
            "remedy": "see whether it is damaged, or export the tune as MusicXML",
        }
    with os.fdopen(answer_to, "wb") as output:
        output.write(json.dumps(answer).encode())


def _answer(asked: dict[str, Any], data: bytes) -> dict[str, Any]:
    from music21.converter import parseData  # noqa: PLC0415 - within the limits set above

    source, notices = asked["source"], Notices()
    if asked["format"] == "mei":
        stream = read_mei(data, notices, source=source)
    elif asked["format"] == "humdrum":
        stream = read_kern(decoded(data))
    else:
        stream = parseData(decoded(data), format=asked["format"])
    score = melody_score(stream, asked["part"], source=source)
    return {
        "musicxml": score.musicxml.decode(),
        "parts": score.part_names,
        "notices": (*score.notices, *notices.sentences()),
    }


def _limit_memory() -> None:
    """Keep a file that asks for gigabytes from slowing the machine down (Unix)."""
    try:
        import resource  # noqa: PLC0415 - Windows has none
    except ImportError:
        return
    hard = resource.getrlimit(resource.RLIMIT_AS)[1]
    limit = _MEMORY_BYTES if hard == resource.RLIM_INFINITY else min(_MEMORY_BYTES, hard)
    resource.setrlimit(resource.RLIMIT_AS, (limit, hard))


if __name__ == "__main__":
    main()
