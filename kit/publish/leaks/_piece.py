"""What does a reader find in a file, and what does it leave to others to open?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Found", "Inside", "Piece", "PieceKind", "Plain", "within"]

PieceKind = Literal["text", "melody", "drawn", "numbers", "mp3", "picture", "blob"]


@dataclass(frozen=True, slots=True)
class Piece:
    """Something found in a file.

    Parameters
    ----------
    place : str
        Where in the file, as a teacher would say it; empty for the file itself.
    kind : PieceKind
        What `value` is: a ``str``; rows of pitch and onset or of height, head and bar
        (`kit.publish.leaks._melody`); numbers; or the bytes of an MP3, of a picture, or of
        anything that is a file by itself.
    """

    place: str
    kind: PieceKind
    value: Any


@dataclass(frozen=True, slots=True)
class Inside:
    """A file in a file, or a text that may be of any kind: to be opened in its turn.

    Readers give it instead of opening it, because what opens it has to know all of them.
    """

    place: str
    content: bytes | str


@dataclass(frozen=True, slots=True)
class Plain:
    """A text without markup, in which there may be music in words or as ABC."""

    place: str
    text: str


Found = Piece | Inside | Plain


def within(place: str, inner: str) -> str:
    """Say where something is that is inside of something else."""
    return f"{place}, {inner}" if place else inner
