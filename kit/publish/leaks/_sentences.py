"""What sentences stand on a page or a handout, as they stand there?

For a person to read, not to compare: paragraphs stay apart, capitals and signs stay. A
drawing speaks by its label. Rows of chord symbols and bar numbers, of which a sheet of
music is full, are kept apart.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterable

from kit.publish.leaks._read_pdf import bookmarks, page_texts
from kit.publish.leaks._words import word_stream

__all__ = ["Prose", "html_sentences", "is_words", "pdf_sentences"]

_DROPPED = re.compile(r"<!--.*?-->|<(script|style|select)\b.*?</\1\s*>", re.DOTALL | re.I)
_DRAWING = re.compile(r"<svg\b([^>]*)>(.*?)</svg>", re.DOTALL)
_SPOKEN = re.compile(r'aria-label="([^"]*)"')
_SPOKEN_INSIDE = re.compile(r"<(title|desc)\b[^>]*>(.*?)</\1>", re.DOTALL)
_BLOCK = re.compile(
    r"</?(?:p|li|h[1-6]|dt|dd|div|section|article|header|footer|nav|main|ul|ol|dl|table|tr|td"
    r"|th|figure|figcaption|summary|details|option|label|legend|button|br|blockquote|pre|title"
    r"|caption|thead|tbody|fieldset|form|head|body)\b[^>]*>",
    re.IGNORECASE,
)
_TAG = re.compile(r"<[^<>]*>")
_END = re.compile(r"(?<=[.!?…])[\"”’)]*\s+(?=[\"“‘(]?[A-Z0-9À-Þ])")
_PRINTERS_HYPHEN = re.compile(r"[\x02\ufffe]\s*|(?<=\w-)\r?\n(?=[a-zß-ÿ])")
_BULLET = re.compile(r"^[–•☐□-]\s+")
_MARKS = re.compile(r"[*_`#>]")
_FEW_WORDS = 5
_FULL_LINE = 62
"""A line of so many letters that ends without a full stop goes on in the next one."""


def html_sentences(source: str) -> list[str]:
    """Give the sentences of a page or a fragment, in order, each once."""
    text = _DRAWING.sub(_said_of_drawing, _DROPPED.sub(" ", source))
    text = html.unescape(_TAG.sub("", _BLOCK.sub("\n", text)))
    return _cut(text.split("\n"))


def _said_of_drawing(match: re.Match[str]) -> str:
    said = _SPOKEN.findall(match[1]) + [
        text for _, text in _SPOKEN_INSIDE.findall(match[2])
    ]
    return "\n" + "\n".join(said) + "\n"


def pdf_sentences(data: bytes) -> list[str]:
    """Give the sentences of a handout's pages, in order, each once."""
    paragraphs: list[str] = []
    headings = bookmarks(data)
    for text in page_texts(data):
        goes_on = False
        for line in _PRINTERS_HYPHEN.sub("", text).splitlines():
            stripped = line.strip()
            # Headings stand in the margin, in one line with the text beside them.
            beside = next((h for h in headings if stripped.startswith(f"{h} ")), None)
            if beside:
                paragraphs.append(beside)
                stripped, goes_on = stripped[len(beside) :].strip(), False
            if goes_on or (paragraphs and stripped[:1].islower()):
                paragraphs[-1] += f" {stripped}"
            else:
                paragraphs.append(stripped)
            goes_on = len(stripped) >= _FULL_LINE and stripped[-1:] not in ".!?:"
    return _cut(paragraphs)


def _cut(paragraphs: Iterable[str]) -> list[str]:
    found: dict[str, None] = {}
    for paragraph in paragraphs:
        for sentence in _END.split(" ".join(paragraph.split())):
            if said := _BULLET.sub("", sentence):
                found[said] = None
    return list(found)


def is_words(sentence: str) -> bool:
    """Say whether a sentence is one, and no row of chord symbols or numbers."""
    return any(word.isalpha() and len(word) >= 3 for word in word_stream(sentence))


class Prose:
    """What somebody wrote: to tell their sentences from those that are computed.

    A few words that stand somewhere in a long text prove nothing ("Form"): they have to be
    a heading or a sentence by themselves.
    """

    def __init__(self, texts: Iterable[str]) -> None:
        texts = list(texts)
        self._streams = [f" {' '.join(word_stream(text))} " for text in texts]
        self._whole = {
            " ".join(word_stream(part))
            for text in texts
            for line in text.splitlines()
            for part in (line, *_END.split(_MARKS.sub("", line)))
        }

    def holds(self, sentence: str) -> bool:
        """Say whether they wrote this sentence."""
        stream = word_stream(sentence)
        words = " ".join(stream)
        if len(stream) < _FEW_WORDS:
            return words in self._whole
        return any(f" {words} " in stream for stream in self._streams)
