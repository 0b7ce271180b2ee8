"""What is a build made from? Fingerprints of a lesson's files and of the kit itself.

They let an unchanged lesson be recognised without reading a note of it, and a changed
template rebuild what it prints. Of a notebook only what someone wrote counts, so that
running and saving it does not make a lesson out of date.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from unicodedata import normalize

from kit.cache import code_fingerprint, fingerprint
from kit.reading import MAX_JSON_BYTES, json_of, read_bytes

__all__ = [
    "KIT_VERSION",
    "environment",
    "file_hash",
    "kit_fingerprint",
    "lesson_files",
    "lesson_hashes",
    "source_fingerprint",
]

try:
    KIT_VERSION = version("tune-lesson-kit")
except PackageNotFoundError:  # run from a source tree that is not installed
    KIT_VERSION = "0"

# The libraries whose output ends up in the files; a new one may draw or sound otherwise.
_LIBRARIES = (
    "verovio", "typst", "midirenderer", "lameenc", "nbconvert", "mistune",
    "jinja2", "segno", "numpy", "scipy", "av", "mido", "soundfile",
    "pillow", "pypdfium2",
)  # fmt: skip
_END_BYTES = 1 << 20
_IGNORED = {"__pycache__", ".ipynb_checkpoints", ".kit-history"}


def lesson_files(folder: Path) -> list[Path]:
    """Give a lesson's files in a fixed order, editors' leftovers left out."""
    return sorted(
        path
        for path in folder.rglob("*")
        if path.is_file()
        and not any(
            part in _IGNORED or part.startswith(".")
            for part in path.relative_to(folder).parts
        )
    )


def lesson_hashes(folder: Path) -> dict[str, str]:
    """Hash each file of a lesson, by its name below the folder.

    Names count as Unicode writes them in one piece (form C), because file systems differ.
    """
    return {
        normalize("NFC", path.relative_to(folder).as_posix()): file_hash(path)
        for path in lesson_files(folder)
    }


def file_hash(path: Path) -> str:
    """Hash a file of a lesson; of a notebook only what someone wrote."""
    if path.suffix == ".ipynb" and path.stat().st_size <= MAX_JSON_BYTES:
        notebook = read_bytes(path, limit_bytes=MAX_JSON_BYTES)
        return hashlib.sha256(_written(notebook)).hexdigest()
    # Piece by piece: a teacher may keep an hour of film beside the notes.
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _written(notebook: bytes) -> bytes:
    """Leave out of a notebook what running it puts in."""
    try:
        cells = json_of(notebook)["cells"]
        kept = [
            {
                "type": cell["cell_type"],
                # Programs store a text as one string or as a list of lines.
                "source": "".join(cell["source"]),
                "tags": cell.get("metadata", {}).get("tags", []),
                "attachments": cell.get("attachments", {}),
            }
            for cell in cells
        ]
    except (ValueError, KeyError, TypeError, AttributeError):
        # Not a notebook; whoever reads it will say so, and until then any change counts.
        return notebook
    return json.dumps(kept, sort_keys=True).encode()


def source_fingerprint(folder: Path, hashes: Mapping[str, str] | None = None) -> str:
    """Hash all that a lesson is built from: its files, the kit, a configured SoundFont.

    `hashes` are those of `lesson_hashes`, if they have been taken already.

    Parameters
    ----------
    folder : Path
        The lesson's.
    hashes : mapping of file name to hash, optional
        What `lesson_hashes` gave.
    """
    files = lesson_hashes(folder) if hashes is None else dict(hashes)
    return f"{fingerprint(files)[:32]}-{environment()}"


def environment() -> str:
    """Name kit, libraries and SoundFont: the same name makes the same of a lesson."""
    chosen = [f"-{os.environ['KIT_SYNTH']}"] if os.environ.get("KIT_SYNTH") else []
    return "".join([kit_fingerprint()[:16], *chosen, _soundfont_mark()])


def _soundfont_mark() -> str:
    """Tell a SoundFont by its size and both its ends: it may be gigabytes."""
    name = os.environ.get("KIT_SOUNDFONT")
    if not name:
        return ""
    path = Path(name)
    if not path.is_file():
        return f"-{path.name}"
    size = path.stat().st_size
    with path.open("rb") as font:
        ends = font.read(_END_BYTES)
        font.seek(max(0, size - _END_BYTES))
        ends += font.read()
    return f"-{path.name}-{size}-{hashlib.sha256(ends).hexdigest()[:12]}"


@cache
def kit_fingerprint() -> str:
    """Hash the kit's own files and the versions of the libraries that make its output."""
    digest = hashlib.sha256(code_fingerprint().encode())
    for name in _LIBRARIES:
        digest.update(f"{name} {_version(name)}\n".encode())
    return digest.hexdigest()


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "none"
