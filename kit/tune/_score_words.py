"""What does a word above the staff ask the player to do?

A word is an order to jump (``D.S. al Coda``), a dynamic (``mf``), a feel (``Medium
swing``), or just a word. Source: common practice.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Literal, cast

from kit.tune.model import Bar, Jump, Word

__all__ = [
    "DYNAMICS",
    "TEMPO_CHANGES",
    "is_feel",
    "jump_in_words",
    "take_feel",
    "word_kind",
]

DYNAMICS = frozenset({
    "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "fp", "sf",
    "sfz", "sfp", "sffz", "fz", "rf", "rfz", "n", "pf", "sfzp",
})  # fmt: skip
"""The dynamics of MusicXML 4.0 that a lead sheet uses."""

TEMPO_CHANGES = "Changes of tempo are printed; what is played keeps the first tempo."

_FEELS = re.compile(
    r"\b(swing|swung|straight|shuffle|boogie|bop|bebop|dixie(?:land)?|fox ?trot|charleston"
    r"|bossa(?:nova)?|samba|choro|latin|ballad|waltz|rock|funky?|soul|pop|gospel|doo-?wop|folk"
    r"|blues|calypso|soca|reggae|ska|one[- ]drop|march(?:e|a)?|marcia|marsch|two[- ]?step"
    r"|rag(?:time)?|cakewalk|jig|slip ?jig|reel|hornpipe|clog|barn ?dance|set dance"
    r"|breakdown|hoedown|polka|galop|strathspey|fling|air|minuet|menuett?|minuetto|gavotte|bourr[eé]e"
    r"|polonaise|polska|mazurka|redowa|varsovienne|schottische|quick ?step|valse|vals"
    r"|valzer|walzer|l[aä]e?ndler|musette|gigue|giga|hymn|chorale?|anthem|psalm|carol|doxology"
    r"|spiritual|lament|lullaby|berceuse|barcarolle|sicilian[oa]|pastorale|planxty|lied|lieder"
    r"|ballade|romanze|geistliches|religi\w+|tango|milonga|habanera|rumba|rhumba|mambo|salsa"
    r"|montuno|guaracha|danz[oó]n|cha[- ]?cha(?:[- ]?cha)?|even (?:eighths|8ths)"
    r"|12/8 (?:feel|blues)|(?:two|2)-?[ ]?beat|second line|street beat|afro"
    r"|maxixe|slow ?fox|menuetto|sarabande"
    r"|gallop|retreat|rocksteady|contradanza|highland)(?:e?s)?\b",
    re.IGNORECASE,
)
_TEMPI = re.compile(
    r"\b(allegro|allegretto|andante|andantino|adagio|moderato|presto|prestissimo|lento|largo"
    r"|larghetto|vivace|grave|slow(?:ly)?|fast|bright(?:ly)?|medium|lively|moderate(?:ly)?"
    r"|up tempo|a tempo|tempo|rit\.?|ritard\.?|ritardando|rall\.?|rallentando|accel\.?"
    r"|accelerando|rubato|half[- ]time|double[- ]time)(?=\W|$)",
    re.IGNORECASE,
)
_DA_CAPO = re.compile(r"(?:d\.? ?c\.?|da ?capo)(?=\W|$)(?P<rest>.*)", re.IGNORECASE)
_DAL_SEGNO = re.compile(
    r"(?:d\.? ?s\.?|(?:dal|del|da) ?segno)(?=\W|$)(?P<rest>.*)", re.IGNORECASE
)
_AL = re.compile(
    r"\W*(?:al|to|e poi la?)?\W*(?:the )?(?P<end>fine|coda)?\b.*", re.IGNORECASE
)
_PLAIN: tuple[tuple[re.Pattern[str], Jump], ...] = (
    (re.compile(r"(?:to|al|da) (?:the )?coda|dacoda", re.IGNORECASE), "to coda"),
    (re.compile(r"(?:il )?fine|end", re.IGNORECASE), "fine"),
    (re.compile(r"coda", re.IGNORECASE), "coda"),
    (re.compile(r"segno", re.IGNORECASE), "segno"),
)
MAX_FEEL_LENGTH = 60


def jump_in_words(text: str) -> Jump | None:
    """Give the sign or instruction that a text is, None if it is another text.

    Examples
    --------
    >>> jump_in_words("D.S. al Coda"), jump_in_words("Da Capo al Fine")
    ('D.S. al coda', 'D.C. al fine')
    """
    text = text.strip(" .()[]\N{MUSICAL SYMBOL CODA}\N{MUSICAL SYMBOL SEGNO}")
    if len(text) > 40:
        return None
    for pattern, order in ((_DA_CAPO, "D.C."), (_DAL_SEGNO, "D.S.")):
        match = pattern.fullmatch(text)
        if match:
            goal = _AL.fullmatch(match["rest"])
            end = (goal["end"] or "") if goal else ""
            return cast(Jump, f"{order} al {end.lower()}" if end else order)
    for pattern, sign in _PLAIN:
        if pattern.fullmatch(text):
            return sign
    return None


def word_kind(text: str) -> Literal["words", "tempo"]:
    """Say whether a word is about the tempo (``rit.``, ``Slowly``) or anything else."""
    return "tempo" if len(text) <= MAX_FEEL_LENGTH and _TEMPI.search(text) else "words"


def is_feel(text: str) -> bool:
    """Say whether a text names a feel: ``Medium swing``, ``Jazz waltz``, ``Jig``."""
    return len(text) <= MAX_FEEL_LENGTH and _FEELS.search(text) is not None


def take_feel(bars: tuple[Bar, ...], feel: str) -> tuple[tuple[Bar, ...], str]:
    """Take a feel such as "Medium swing" out of the words above the first bar."""
    if not bars:
        return bars, feel
    for word in bars[0].words:
        if word.kind != "dynamics" and is_feel(word.text):
            kept: tuple[Word, ...] = tuple(w for w in bars[0].words if w is not word)
            return (replace(bars[0], words=kept), *bars[1:]), word.text
    return bars, feel
