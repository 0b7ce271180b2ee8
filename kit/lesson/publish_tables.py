"""What does lesson.toml say about rights, recording and the catalogue?

The tables ``[rights]``, ``[recording]`` and ``[catalogue]``, read into frozen records.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from importlib.util import find_spec

from kit.errors import LessonError, SetupError
from kit.lesson.toml_table import Table
from kit.rights.countries import country
from kit.rights.ledger import (
    RIGHTS_BASES,
    Person,
    Rights,
    Work,
    credit_line,
)

__all__ = [
    "CatalogueSettings",
    "RecordingSettings",
    "Talk",
    "read_catalogue",
    "read_recording",
    "read_rights",
    "require_video",
    "video_wish",
]

YEARS = (1000, 2200)
"""Years outside are slips of the pen."""
MAX_TALK_S = 3600


@dataclass(frozen=True, slots=True)
class Talk:
    """Something said before or after the playing, and for how long."""

    say: str
    seconds: float


@dataclass(frozen=True, slots=True)
class RecordingSettings:
    """The teacher's wishes for the recording; without talks the kit suggests some.

    `videos` are pairs of level and instrument.
    """

    talk: tuple[Talk, ...] = ()
    close: tuple[Talk, ...] = ()
    videos: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class CatalogueSettings:
    """Where the lesson stands in the catalogue.

    `published` is the day from which the feed tells of it; `adds` says what a student of
    the course learns here first, computed where it is empty.
    """

    course: str = ""
    order: int = 0
    adds: str = ""
    published: date | None = None


def read_rights(table: Table) -> Rights:
    """Read ``[rights]``; without a statement the credit line is made from the ledger.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    rights = Rights(
        basis=table.choice("basis", RIGHTS_BASES, "") if table.has("basis") else "",
        statement=table.get("statement", ""),
        composers=tuple(_people(table, "composers")),
        lyricists=tuple(_people(table, "lyricists")),
        published=_year(table, "published"),
        anonymous=table.get("anonymous", False),
        arrangements=tuple(_arrangements(table)),
        licence=table.get("licence", ""),
        countries=tuple(_countries(table)),
    )
    table.finish()
    if rights.anonymous and (rights.composers or rights.lyricists):
        raise table.error(
            "the tune is anonymous, and someone is named as its author",
            "leave one of the two out",
        )
    return rights if rights.statement else replace(rights, statement=credit_line(rights))


def _people(table: Table, key: str) -> Iterator[Person]:
    for row in table.tables(key):
        yield _person(row)
        row.finish()


def _person(row: Table) -> Person:
    name = row.need("name", str)
    if not name.strip():
        raise row.error('"name" is empty', "write the name, or anonymous = true")
    return Person(name, _year(row, "died"))


def _arrangements(table: Table) -> Iterator[Work]:
    for row in table.tables("arrangers"):
        person = _person(row)
        yield Work(f"the arrangement by {person.name}", (person,), _year(row, "published"))
        row.finish()


def _year(table: Table, key: str) -> int | None:
    if not table.has(key):
        return None
    year = table.need(key, int)
    if not YEARS[0] <= year <= YEARS[1]:
        raise table.error(f"{key} = {year} is no likely year", "write it with four digits")
    return year


def _countries(table: Table) -> Iterator[str]:
    for code in table.texts("countries"):
        try:
            yield country(code).code
        except ValueError as error:
            raise table.error(str(error)) from error


def read_recording(
    table: Table, levels: tuple[str, ...], instruments: tuple[str, ...]
) -> RecordingSettings:
    """Read ``[recording]``.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    settings = RecordingSettings(
        talk=tuple(_talks(table, "talk")),
        close=tuple(_talks(table, "close")),
        videos=tuple(
            video_wish(text, levels, instruments, source=table.source)
            for text in table.texts("videos")
        ),
    )
    table.finish()
    return settings


def _talks(table: Table, key: str) -> Iterator[Talk]:
    for row in table.tables(key):
        talk = Talk(row.need("say", str), row.need("seconds", float))
        if not 0 <= talk.seconds <= MAX_TALK_S:
            raise row.error(f"{talk.seconds:g} seconds is out of reach")
        row.finish()
        yield talk


def video_wish(
    text: str, levels: tuple[str, ...], instruments: tuple[str, ...], *, source: str
) -> tuple[str, str]:
    """Split ``level:instrument``, and make sure that the lesson has both.

    Raises
    ------
    LessonError
        If it has not.
    """
    level, _, instrument = text.partition(":")
    if level not in levels or instrument not in instruments:
        raise LessonError(
            f'there is no video "{text}" to make',
            file=source,
            remedy=f"write level:instrument with one of {', '.join(levels)} and one of "
            f"{', '.join(instruments)}",
        )
    return level, instrument


def require_video() -> None:
    """Make sure that videos can be made here.

    Raises
    ------
    SetupError
        If PyAV is not installed.
    """
    if find_spec("av") is None:
        raise SetupError(
            "making a video needs PyAV, which is not installed",
            remedy="run pip install av",
        )


def read_catalogue(table: Table) -> CatalogueSettings:
    """Read ``[catalogue]``.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    published = table.need("published", date) if table.has("published") else None
    settings = CatalogueSettings(
        course=table.get("course", ""),
        order=table.get("order", 0),
        adds=table.get("adds", ""),
        # A date with a time is a date too.
        published=published and date(published.year, published.month, published.day),
    )
    table.finish()
    return settings
