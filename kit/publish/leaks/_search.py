"""Does a file hold something of the members', and where in it?

`Search` knows everything that is theirs and what is given away by right. A file is first
compared hash by hash, which takes a moment. Only where something is found is it asked what
the kit would say by itself, and only what is left after that is a `Leak`; then the file is
opened once more to see where in it the leak is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.form.wording import stretch_words
from kit.publish.leaks._pictures import alike
from kit.publish.leaks._piece import Piece
from kit.publish.leaks._prints import Prints, prints_of_pieces
from kit.publish.leaks._reading import pieces
from kit.publish.leaks._secrets import Secret
from kit.publish.leaks._sounds import SoundSecret
from kit.publish.leaks._words import (
    NO_HASHES,
    RUN,
    SHORTEST,
    Hashes,
    among,
    runs_in,
    word_stream,
)

__all__ = ["Leak", "Search"]

_INDEXED = ("words", "names", "melody", "drawn", "numbers", "blobs")
_SHOWN_WORDS = 12
Widening = Callable[[], Prints]


@dataclass(frozen=True, slots=True)
class Leak:
    """Something of the members' (`what`) found at a place of a file."""

    file: str
    place: str
    what: str


@dataclass(frozen=True, slots=True)
class _Index:
    """All hashes of one kind, with the secret (by number) each belongs to."""

    hashes: Hashes
    owners: NDArray[np.int64]

    def found(self, content: Hashes) -> dict[int, Hashes]:
        """Give what of it is in a content, by secret."""
        hits = np.flatnonzero(among(self.hashes, content))
        owners = self.owners[hits]
        return {int(n): self.hashes[hits[owners == n]] for n in np.unique(owners)}


def _indexed(numbered: Sequence[tuple[int, Hashes]]) -> _Index:
    owners = [np.full(len(hashes), number, np.int64) for number, hashes in numbered]
    return _Index(
        np.concatenate([NO_HASHES, *(hashes for _, hashes in numbered)]),
        np.concatenate([np.zeros(0, np.int64), *owners]),
    )


class Search:
    """All secrets of a lesson, ready to be looked for.

    Parameters
    ----------
    secrets : iterable of Secret
        What is the members'.
    sounds : iterable of SoundSecret
        Their sound.
    given : Prints
        What is everybody's.
    widenings : sequence of functions
        Each computes more of what is everybody's; asked one after the other, once, and only
        if something has been found.
    """

    def __init__(
        self,
        secrets: Iterable[Secret],
        sounds: Iterable[SoundSecret],
        given: Prints,
        widenings: Sequence[Widening] = (),
    ) -> None:
        self.secrets = list(secrets)
        self.sounds = list(sounds)
        self._given = [given]
        self._widenings = list(widenings)
        self._index = {kind: self._indexed(kind) for kind in _INDEXED}
        self._looks = [
            secret
            for secret in self.secrets
            if secret.seen is not None and not alike(secret.seen, given.looks).any()
        ]
        self._files = _indexed([(n, s.files) for n, s in enumerate(self.sounds)])
        self._frames = _indexed([(n, s.hashes) for n, s in enumerate(self.sounds)])

    def _indexed(self, kind: str) -> _Index:
        of_kind = [(n, s.hashes) for n, s in enumerate(self.secrets) if s.kind == kind]
        index = _indexed(of_kind)
        kept = ~among(index.hashes, getattr(self._given[0], kind))
        return _Index(index.hashes[kept], index.owners[kept])

    def words(self) -> Hashes:
        """Give the runs of words that are the members' alone."""
        return np.unique(self._index["words"].hashes)

    def leaks(self, file: str, data: Callable[[], bytes], content: Prints) -> list[Leak]:
        """Look for everything in a file.

        Parameters
        ----------
        file : str
            How to call it.
        data : function
            Reads it once more, to say where in it something was found.
        content : Prints
            What is in it.
        """
        found = [hit for kind in self._index for hit in self._hits(kind, content)]
        found += [
            (secret, secret.hashes)
            for secret in self._looks
            if secret.seen is not None and alike(secret.seen, content.looks).any()
        ]
        sounds = list(self._sounds(content))
        if not found and not sounds:
            return []
        return list(_placed(file, data(), found, sounds))

    def _hits(self, kind: str, content: Prints) -> Iterator[tuple[Secret, Hashes]]:
        found = self._index[kind].found(getattr(content, kind))
        while found and kind in ("words", "melody", "drawn") and self._widen():
            self._index = {name: self._without(name) for name in self._index}
            found = self._index[kind].found(getattr(content, kind))
        for number, hashes in found.items():
            yield self.secrets[number], hashes

    def _widen(self) -> bool:
        """Ask for more of what is everybody's, if there is more to ask."""
        if not self._widenings:
            return False
        self._given.append(self._widenings.pop(0)())
        return True

    def _without(self, kind: str) -> _Index:
        index = self._index[kind]
        kept = ~among(index.hashes, getattr(self._given[-1], kind))
        return _Index(index.hashes[kept], index.owners[kept])

    def _sounds(self, content: Prints) -> Iterator[tuple[SoundSecret, float, Hashes]]:
        for number, found in self._files.found(content.blobs).items():
            if len(self.sounds[number].alone()):
                yield self.sounds[number], 0.0, found
        for number, found in self._frames.found(content.frames).items():
            second = self.sounds[number].secret_second(found)
            if second is not None:
                yield self.sounds[number], second, found


def _placed(
    file: str,
    data: bytes,
    found: Sequence[tuple[Secret, Hashes]],
    sounds: Sequence[tuple[SoundSecret, float, Hashes]],
) -> Iterator[Leak]:
    """Say where in a file each thing is: the first place that holds it."""
    left = list(found)
    left_sounds = list(sounds)
    for piece in pieces(data):
        content = prints_of_pieces([piece])
        for secret, hashes in list(left):
            if _holds(piece, content, secret, hashes):
                left.remove((secret, hashes))
                yield Leak(file, piece.place, _what(piece, secret, hashes))
        for sound, second, hashes in list(left_sounds):
            if (
                np.isin(hashes, content.frames).any()
                or np.isin(hashes, content.blobs).any()
            ):
                left_sounds.remove((sound, second, hashes))
                yield Leak(file, piece.place, f"{sound.name}, from second {second:.1f}")
    for secret, _ in left:
        yield Leak(file, "", secret.name)
    for sound, second, _ in left_sounds:
        yield Leak(file, "", f"{sound.name}, from second {second:.1f}")


def _holds(piece: Piece, content: Prints, secret: Secret, hashes: Hashes) -> bool:
    if secret.seen is not None and secret.kind == "looks":
        return piece.kind == "picture" and bool(alike(secret.seen, content.looks).any())
    return bool(np.isin(hashes, getattr(content, secret.kind)).any())


def _what(piece: Piece, secret: Secret, hashes: Hashes) -> str:
    if secret.kind == "words":
        return f"words of {secret.name} (“{_quoted(piece.value, hashes)}”)"
    if secret.bars is not None and secret.kind in ("melody", "drawn"):
        bars = secret.bars[np.isin(secret.hashes, hashes)]
        return f"{secret.name}, {stretch_words(int(bars.min()), int(bars.max()))}"
    return secret.name


def _quoted(text: str, hashes: Hashes) -> str:
    """Give the words that were found, as far as they fit into a sentence."""
    words = word_stream(text)
    best: tuple[int, int] | None = None
    for length in range(RUN, SHORTEST - 1, -1):
        hits = np.flatnonzero(np.isin(runs_in(words, length), hashes))
        if len(hits):
            behind = [int(hits[0]) + n == hit for n, hit in enumerate(hits.tolist())]
            row = behind.index(False) if False in behind else len(behind)
            best = (int(hits[0]), length + row - 1)
            break
    if best is None:
        return ""
    start, count = best
    shown = " ".join(words[start : start + min(count, _SHOWN_WORDS)])
    return shown[:90] + (" …" if count > _SHOWN_WORDS or len(shown) > 90 else "")
