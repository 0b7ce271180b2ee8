"""Which signs of a text can be printed on paper, by the fonts that Typst has here?

Typst is asked, because only it knows: it sets the text with its own fonts, and asks those
of the machine where they lack a sign, as a build does (`kit.publish._press`). Text that is
set and text inside a drawing are different things to it: in a drawing each piece of a
joined sign must be there.

Most texts hold nothing but `SURE` signs, which its own fonts are known to have (a test asks
for each), and cost nothing.
"""

from __future__ import annotations

import html
import json
import re
from collections.abc import Collection, Iterator, Mapping
from functools import lru_cache

from kit.engrave._svg import TEXT_FONTS

__all__ = ["REPLACED", "SURE", "unprintable"]

_LEFT_OUT = "\ufeff"
"""A byte-order mark inside a text, which pasting brings along: it says nothing there, and
PDF/UA forbids it."""
REPLACED: Mapping[int, str] = {
    0x1D12B: "♭♭",
    0x1D12A: "♯♯",
    ord(_LEFT_OUT): "",
}
"""What is written otherwise before it is printed. Typst's own fonts lack the double signs
(looked up in 0.15)."""
SURE = frozenset(
    [chr(code) for code in (*range(0x20, 0x7F), *range(0xA0, 0x180)) if code != 0xAD]
    + list("–—‘’“”„…•·′″♭♮♯→−×\n")
)
_MANY = 12
"""So many signs without a font are told; whoever has more knows enough."""
_HEAD = (
    '#set document(title: "signs")\n'
    '#set text(font: "Libertinus Serif")\n'
    '#show raw: set text(font: "DejaVu Sans Mono")\n'
)
_SET = _HEAD + '#for text in json("texts.json") { par(text); par(raw(text)) }\n'
_DRAWN = _HEAD + '#image("texts.svg", alt: "signs")\n'
_QUOTED = re.compile(r'"(?P<text>(?:[^"\\]|\\.)+)"')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")


def unprintable(texts: Collection[str], *, drawn: bool = False) -> dict[str, str]:
    r"""Find the texts that cannot be printed, each with the first of its signs to blame.

    Parameters
    ----------
    texts : collection of str
        What is to be printed.
    drawn : bool
        Whether they stand inside a drawing: syllables, chord symbols, words at the staff.

    Examples
    --------
    >>> unprintable(["Blues in F", "Stop\u0001"])
    {'Stop\x01': '\x01'}
    """
    doubtful = [text for text in dict.fromkeys(texts) if not SURE.issuperset(text)]
    found: dict[str, str] = {}
    for text in list(doubtful):
        # What is half a sign cannot even be handed on.
        half = next((sign for sign in text if "\ud800" <= sign <= "\udfff"), None)
        if half is not None:
            found[text] = half
            doubtful.remove(text)
    for sign in _refused(tuple(doubtful), drawn):
        found |= {text: sign for text in doubtful if sign in text and text not in found}
    return found


def _refused(texts: tuple[str, ...], drawn: bool) -> Iterator[str]:
    """Yield signs that cannot be printed, until all texts without them can be."""
    for _ in range(_MANY):
        sign = _first_refused(texts, drawn)
        if sign is None:
            return
        yield sign
        texts = tuple(text for text in texts if sign not in text)


@lru_cache(maxsize=64)
def _first_refused(texts: tuple[str, ...], drawn: bool) -> str | None:
    if not texts:
        return None
    message = _complaint(texts, drawn)
    if message is None:
        return None
    if len(texts) > 1:
        # Typst does not say which of the texts it speaks of.
        return next(filter(None, (_first_refused((text,), drawn) for text in texts)), None)
    (text,) = texts
    quoted = _QUOTED.search(message)
    said = (
        _ESCAPED.sub(lambda code: chr(int(code[1], 16)), quoted["text"]) if quoted else ""
    )
    if said and said in text and not SURE.issuperset(said):
        return said
    signs = [sign for sign in text if sign not in SURE]
    return next((s for s in signs if _complaint((s,), drawn) is not None), "".join(signs))


def _complaint(texts: Collection[str], drawn: bool) -> str | None:
    """Give what Typst says against texts, None if it prints them."""
    import typst  # noqa: PLC0415 - a large library that only doubtful texts need

    printed = [text.translate(REPLACED) for text in texts]
    if drawn:
        sources = {"main.typ": _DRAWN, "texts.svg": _svg(printed)}
    else:
        sources = {"main.typ": _SET, "texts.json": json.dumps(printed)}
    files = {name: source.encode() for name, source in sources.items()}
    try:
        typst.compile(files, ignore_system_fonts=True, pdf_standards=["ua-1"])  # type: ignore[call-overload]
    except typst.TypstError:
        # The machine's own fonts are slow to look through, so they come second.
        try:
            typst.compile(files, pdf_standards=["ua-1"])  # type: ignore[call-overload]
        except typst.TypstError as error:
            return str(error)
    return None


def _svg(texts: Collection[str]) -> str:
    lines = "".join(
        f'<text x="0" y="{20 * place}" font-family="{TEXT_FONTS}" font-size="12px">'
        f"{html.escape(text)}</text>"
        for place, text in enumerate(texts, start=1)
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" width="900" height="900">{lines}</svg>'
