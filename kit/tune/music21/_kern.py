"""How does music21 read Humdrum **kern with the names of its parts?

music21 keeps the record of a spine's name (``*I"Flute``) as a remark of its own; here it
becomes the name of the part.

Source: Humdrum's tandem interpretations for instruments, from memory.
"""

from __future__ import annotations

from typing import Any

__all__ = ["read_kern"]


def read_kern(text: str) -> Any:
    """Let music21 read the text of a kern file.

    Returns
    -------
    music21.stream.Score or music21.stream.Opus
    """
    from music21.converter import parseData  # noqa: PLC0415 - in a process of its own

    score = parseData(text, format="humdrum")
    for part in score.recurse().getElementsByClass("Part"):
        for remark in part.recurse().getElementsByClass("MiscTandem"):
            _, sign, name = str(remark.tandem).partition('"')
            if sign and name.strip() and not part.partName:
                part.partName = name.strip()
    return score
