"""What is a build made from? Fingerprints of a lesson's files and of the kit itself.

They let an unchanged lesson be recognised without reading a note of it, and a changed
template rebuild what it prints.
"""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from kit.cache import code_fingerprint

__all__ = ["KIT_VERSION", "kit_fingerprint", "lesson_files"]

try:
    KIT_VERSION = version("tune-lesson-kit")
except PackageNotFoundError:  # run from a source tree that is not installed
    KIT_VERSION = "0"

# The libraries whose output ends up in the files; a new one may draw or sound otherwise.
_LIBRARIES = ("verovio", "typst", "midirenderer", "pretty-midi", "lameenc", "nbconvert")
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
