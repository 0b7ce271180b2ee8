"""How is it seen that two texts hold the same run of words, whatever they are dressed in?

A text becomes a stream of bare words: entities, escapes and percent signs are resolved,
letters are brought to one form (NFKC, case folded), and what a printer adds is taken
away: hyphens, also at the end of a line, soft hyphens, apostrophes of all shapes. Runs of
words are hashed; equal runs have equal hashes on every machine.

Conventions
-----------
* Hashes are unsigned 64-bit numbers. A run is 4 to `RUN` words long.
* A hyphenated word is one word without its hyphen, so that a line may end in it.

Sources: Unicode Standard Annex 15 (NFKC); Broder, "On the resemblance and containment of
documents" (1997), for runs of words as fingerprints.
"""

from __future__ import annotations

import hashlib
import html
import re
import unicodedata
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "NO_HASHES", "RUN", "SHORTEST", "Hashes", "among", "file_names", "hashed", "rolled",
    "run_hashes", "runs_in", "telling_hashes", "without_markup",
    "word_stream",
]  # fmt: skip

Hashes = NDArray[np.uint64]
NO_HASHES: Hashes = np.zeros(0, np.uint64)

RUN = 8
"""So many words in a row are nobody's by chance."""
SHORTEST = 4
"""Whole sentences are looked for from this length on."""
_TELLING_WORDS = 3
_TELLING_LETTERS = 3
"""A run tells something if it has so many words of so many letters: no row of numbers,
chord symbols or note names is taken for somebody's sentence."""
_BASE = np.uint64(0x9E3779B97F4A7C15)

_UNICODE_ESCAPE = re.compile(
    r"\\u([0-9a-fA-F]{4})|\\u\{([0-9a-fA-F]{1,6})\}|\\x([0-9a-fA-F]{2})"
)
_OTHER_ESCAPE = re.compile(r"\\([bfnrtv])|\\(.)", re.DOTALL)
_PERCENT = re.compile(r"(?:%[0-9a-fA-F]{2})+")
_HIDDEN = re.compile("[\u00ad\u200b-\u200f\u2060-\u2064\ufeff]")
_APOSTROPHES = re.compile("(?<=\\w)['’‘ʼ`´′＇](?=\\w)")
_HYPHENS = re.compile(
    "(?<=\\w)(?:[-\u2010\u2011]+(?:[ \t]*[\r\n]\\s*)?|[\x02\ufffe]\\s*)(?=\\w)"
)
_NO_SPACES = "\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af\u0e00-\u0e7f"
_WORD = re.compile(f"[{_NO_SPACES}]|[^\\W_{_NO_SPACES}]+")
"""A letter of a script that puts no spaces between words is a word."""
_LETTER = re.compile(f"[{_NO_SPACES}]")
_LINK = re.compile(r"!?\[([^\]]*)\]\([^)]*\)")
_TAG = re.compile(r"<[^<>]*>")
_SENTENCE_END = re.compile(
    r"(?<=[.!?:;…])[\s*_)\"”’]+|\n\s*\n|\n\s*(?:[-*+>#|]+|\d+[.)])\s|\s\|\s"
)
_FILE_NAME = re.compile(
    r"[\w][\w.-]*\.(?:png|jpe?g|gif|webp|svg|pdf|mp3|flac|wav|ogg|m4a|mp4|mid|midi|musicxml"
    r"|mxl|abc|json|vtt|toml|ipynb)\b",
    re.IGNORECASE,
)


def word_stream(text: str) -> list[str]:
    r"""Give the bare words of a text.

    Examples
    --------
    >>> word_stream("Don’t ru\u00adsh: the ﬁrst half-\nstep &amp; caf%C3%A9")
    ['dont', 'rush', 'the', 'first', 'halfstep', 'café']
    """
    if "&" in text:
        text = html.unescape(html.unescape(text))
    if "\\" in text:
        text = _UNICODE_ESCAPE.sub(_unicode_escaped, text)
        text = _OTHER_ESCAPE.sub(lambda m: " " if m[1] else m[2], text)
    if "%" in text:
        text = _PERCENT.sub(_percent_escaped, text)
    if not text.isascii():
        # The mark that PDF readers put for a hyphen is no character to normalise.
        text = unicodedata.normalize("NFKC", _HIDDEN.sub("", text))
    text = _APOSTROPHES.sub("", text.casefold())
    return _WORD.findall(_HYPHENS.sub("", text))


def _unicode_escaped(match: re.Match[str]) -> str:
    number = int(match[1] or match[2] or match[3], 16)
    # Half of a surrogate pair says nothing by itself.
    return chr(number) if number < 0xD800 or 0xE000 <= number <= 0x10FFFF else " "


def _percent_escaped(match: re.Match[str]) -> str:
    return bytes.fromhex(match[0].replace("%", "")).decode("utf-8", "replace")


class _Numbers(dict[str, int]):
    """Words by number: each word is hashed once."""

    def __missing__(self, word: str) -> int:
        if len(self) > 500_000:
            self.clear()
        digest = hashlib.blake2b(word.encode("utf-8", "surrogatepass"), digest_size=8)
        number = self[word] = int.from_bytes(digest.digest(), "little")
        return number


_NUMBERS = _Numbers()


def hashed(name: str) -> int:
    """Hash one name."""
    return _NUMBERS[name]


def _numbers(words: list[str]) -> Hashes:
    return np.fromiter(map(_NUMBERS.__getitem__, words), np.uint64, len(words))


def among(hashes: Hashes, known: Hashes) -> NDArray[np.bool_]:
    """Say of each hash whether it is among some that are sorted."""
    if not len(known):
        return np.zeros(len(hashes), np.bool_)
    places = np.minimum(np.searchsorted(known, hashes), len(known) - 1)
    found: NDArray[np.bool_] = known[places] == hashes
    return found


def rolled(numbers: Hashes, length: int) -> Hashes:
    """Hash every run of so many numbers; the hash tells runs of other lengths apart."""
    count = len(numbers) - length + 1
    if count <= 0:
        return NO_HASHES
    total = np.full(count, length, np.uint64)
    for place in range(length):
        total *= _BASE
        total += numbers[place : place + count]
        total ^= total >> np.uint64(29)
    return total


def run_hashes(text: str) -> Hashes:
    """Hash all runs of 4 to `RUN` words of a text."""
    numbers = _numbers(word_stream(text))
    return np.concatenate([rolled(numbers, k) for k in range(SHORTEST, RUN + 1)])


def without_markup(text: str) -> str:
    """Leave out tags, and of links what they lead to."""
    return _TAG.sub(" ", _LINK.sub(r"\1", text))


def telling_hashes(text: str) -> Hashes:
    """Hash what gives a text away: its runs of `RUN` words, and its shorter sentences."""
    found = [_telling(text, RUN)]
    plain = without_markup(text)
    if plain != text:
        found.append(_telling(plain, RUN))
    found.extend(
        _telling(sentence, len(word_stream(sentence)))
        for sentence in _short_sentences(plain)
    )
    return np.unique(np.concatenate(found))


def _short_sentences(text: str) -> Iterator[str]:
    for sentence in (*_SENTENCE_END.split(text), text):
        if SHORTEST <= len(word_stream(sentence)) < RUN:
            yield sentence


def _telling(text: str, length: int) -> Hashes:
    words = word_stream(text)
    runs = rolled(_numbers(words), length)
    if not len(runs):
        return runs
    least = 1 if length == RUN and _LETTER.search(text) else _TELLING_LETTERS
    speaks = np.array([len(w) >= least and w.isalpha() for w in words])
    counts = np.concatenate([[0], np.cumsum(speaks)])
    told: Hashes = runs[counts[length:] - counts[:-length] >= _TELLING_WORDS]
    return told


def file_names(text: str) -> set[str]:
    """Find what reads like the name of a file."""
    return (
        {match.casefold() for match in _FILE_NAME.findall(text)} if "." in text else set()
    )


def runs_in(words: list[str], length: int) -> Hashes:
    """Hash the runs of one length of words."""
    return rolled(_numbers(words), length)
