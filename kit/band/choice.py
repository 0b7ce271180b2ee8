"""Which feel suits a tune: what do its words say, which meters and tempi does a feel take?

Words on the page come first (``feel_words.toml``), then the kind of tune, then the meter.
A feel is never chosen for a meter that it does not fit.

Source: the table's; that a bar of five is felt as three and two, and six as twice three, is
common practice.
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from kit.band._felt import is_uneven
from kit.band.feel import Feel, beat_groups, feel_names, load_feel
from kit.tune.model import Meter

__all__ = ["feel_for", "feels_by_fit", "fits_meter", "tempi_in"]

_PLAIN = "straight-eighths"


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table; `words` are plain (`_plain`)."""

    words: tuple[str, ...]
    feels: tuple[str, ...]
    sevenths: tuple[str, ...] = ()


def fits_meter(feel: Feel, meter: Meter) -> bool:
    """Say whether a feel is made for a meter, or for the groups of beats it is felt in.

    Parameters
    ----------
    feel : Feel
        Whose `tempi` name the meters it is made for.
    meter : Meter
        Of the tune.

    Examples
    --------
    >>> waltz = load_feel("waltz")
    >>> [fits_meter(waltz, Meter.parse(m)) for m in ("3/4", "3/2", "6/4", "4/4", "9/8")]
    [True, True, True, False, False]
    """
    listed = [Meter.parse(text) for text in feel.tempi]
    # A bar of one beat has no pattern to miss.
    if meter in listed or meter.pulses == 1:
        return True
    if is_uneven(meter):
        return any(map(is_uneven, listed))
    sizes = {
        one.pulses
        for one in listed
        if one.is_compound == meter.is_compound and not is_uneven(one)
    }
    return sizes.issuperset(beat_groups(meter.pulses))


def tempi_in(feel: Feel, meter: Meter) -> tuple[float, float] | None:
    """Give the felt beats a minute between which a feel is at home in a meter.

    None where its file does not say it for this very meter.
    """
    return feel.tempi.get(str(meter))


def feels_by_fit(meter: Meter) -> tuple[tuple[Feel, ...], tuple[Feel, ...]]:
    """Give the feels that fit a meter and those that do not, each by title."""
    every = sorted(map(load_feel, feel_names()), key=lambda feel: feel.title.casefold())
    fitting = tuple(feel for feel in every if fits_meter(feel, meter))
    return fitting, tuple(feel for feel in every if feel not in fitting)


def feel_for(
    texts: Iterable[str],
    meter: Meter,
    *,
    tempo_qpm: float | None = None,
    sevenths: bool = False,
) -> str:
    """Choose a feel by what is said of a tune.

    Parameters
    ----------
    texts : iterable of str
        What is said, the weightiest first: words above the first bars, then others. The
        first text that names a feel which fits the meter decides.
    meter : Meter
        Of the tune.
    tempo_qpm : float, optional
        Quarter notes a minute, where the file says it.
    sevenths : bool
        Whether most chords carry a seventh.

    Returns
    -------
    str
        One of `kit.band.feel.feel_names`.

    Examples
    --------
    >>> feel_for(["Tempo di Marcia"], Meter(2, 4))
    'march'
    >>> feel_for(["Swing"], Meter(4, 4), tempo_qpm=280)
    'fast-swing'
    >>> feel_for([], Meter(9, 8))
    'six-eight'
    """
    for text in texts:
        for row in _named_in(text):
            found = _fitting(row, meter, tempo_qpm, sevenths=sevenths)
            if found:
                return found
    (unsaid,) = (row for row in _rows() if not row.words)
    return _fitting(unsaid, meter, tempo_qpm, sevenths=sevenths) or _PLAIN


def _fitting(
    row: _Row, meter: Meter, tempo_qpm: float | None, *, sevenths: bool
) -> str | None:
    names = (*(row.sevenths if sevenths else ()), *row.feels)
    fitting = [name for name in names if fits_meter(load_feel(name), meter)]
    at_home = [name for name in fitting if _is_at_home(name, meter, tempo_qpm)]
    return next(iter(at_home or fitting), None)


def _is_at_home(name: str, meter: Meter, tempo_qpm: float | None) -> bool:
    tempi = tempi_in(load_feel(name), meter)
    if tempo_qpm is None or tempi is None:
        return True
    slow, fast = tempi
    return slow <= tempo_qpm / float(meter.pulse) <= fast


def _named_in(text: str) -> Sequence[_Row]:
    """Give the rows that a text names, that of the longest phrase first."""
    plain = f" {_plain(text)} "
    found = [
        (len(phrase), row)
        for row in _rows()
        for phrase in row.words
        if any(f" {phrase}{ending} " in plain for ending in ("", "s", "es"))
    ]
    return [row for _, row in sorted(found, key=lambda pair: -pair[0])]


def _plain(text: str) -> str:
    """Write a text in small plain letters, one space between words."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(sign for sign in apart if not unicodedata.combining(sign))
    return " ".join(re.findall(r"\w+", letters))


@cache
def _rows() -> tuple[_Row, ...]:
    text = (files("kit.band") / "feel_words.toml").read_text(encoding="utf-8")
    return tuple(
        _Row(
            tuple(map(_plain, row["words"])),
            tuple(row["feels"]),
            tuple(row.get("sevenths", ())),
        )
        for row in tomllib.loads(text)["row"]
    )
