"""Start a lesson from a notation file: look at what it holds, confirm, and it is made.

A file comes by upload or by path. It is drafted in a folder of its own outside the lessons,
so that the form, the changes and the first bars can be shown before anything is made.

Where the file leaves a choice (the tunes of a book, the parts of a score, uneven bars), it
can be made before and after the tune could be read: the first tune of a book may be the one
that cannot. For a tune without changes some can be proposed.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from kit.authoring.first_look import (
    PLAIN_CHOICE,
    FirstLook,
    TuneChoice,
    can_keep_uneven,
    first_look,
)
from kit.authoring.start import start_lesson
from kit.band.choice import feels_by_fit
from kit.check.lesson import check_lesson
from kit.errors import LessonError, UnevenBarError
from kit.figures.excerpt import excerpt
from kit.figures.form_chart import form_chart
from kit.lesson.lesson import open_lesson
from kit.tune.part_names import part_names
from kit.tune.tune_book import BookTune, tunes_in
from kit.widgets._panel import Panel, panel_template

__all__ = ["NewLesson", "NewLessonView", "new_lesson"]

MAX_UPLOAD_BYTES = 8_000_000
MAX_LISTED_TUNES = 1000
"""A select box of more is of no use; the largest printed collections have about as many."""
_NAME = re.compile(r"[^\w .()\-]+")
_BY_DESIGN = {"no-rights", "notice", "proposed-changes"}
"""Findings that every new lesson has, and those that are among the doubts already."""


@dataclass(frozen=True, slots=True)
class _Draft:
    """A file that is being looked at."""

    look: FirstLook
    chart: str
    notes: str
    hints: tuple[str, ...]


class NewLesson:
    """A new lesson on its way: from a file to a folder.

    Parameters
    ----------
    lessons : Path
        The folder of the lessons.
    """

    def __init__(self, lessons: Path) -> None:
        self.lessons = lessons
        self.made: Path | None = None
        self._desk = tempfile.TemporaryDirectory(prefix="kit-new-")
        self._forget()

    def _forget(self) -> None:
        self.file: Path | None = None
        self.draft: _Draft | None = None
        self.choice = PLAIN_CHOICE
        self.tunes: tuple[BookTune, ...] = ()
        self.parts: tuple[str, ...] = ()
        self.offers_uneven = False
        self._own_part = ""

    def take_upload(self, name: str, data: bytes) -> None:
        """Take a file that the browser has sent.

        Raises
        ------
        LessonError
            If it is too large, or is no notation.
        """
        if len(data) > MAX_UPLOAD_BYTES:
            raise LessonError("the file is larger than 8 MB", file=name)
        # Nothing but the name's last part counts, and nothing in it but plain signs.
        plain = _NAME.sub(" ", name.replace("\\", "/").rpartition("/")[2]).strip(". ")
        path = Path(self._desk.name) / (plain or "tune")
        path.write_bytes(data)
        self._take(path)

    def take_path(self, text: str) -> None:
        """Take a file by its path.

        Raises
        ------
        LessonError
            If there is none, or it is no notation.
        """
        if not text.strip():
            raise LessonError("no file is chosen", remedy="choose one, or type its path")
        self._take(Path(text.strip()).expanduser())

    def _take(self, file: Path) -> None:
        """Look at a new file, at the first tune if it is a book."""
        self._forget()
        self.made = None
        tunes = tunes_in(file)
        self.file = file
        self.tunes = tunes if len(tunes) > 1 else ()
        first = self.tunes[0].number if self.tunes else None
        self.choose(TuneChoice(number=first))

    def choose(self, choice: TuneChoice, *, title: str = "") -> None:
        """Draft a lesson of the file as chosen, to be shown.

        Raises
        ------
        LessonError
            If no file is taken, or it cannot be read so.
        """
        if self.file is None:
            raise LessonError("no file is chosen", remedy="choose one first")
        self.draft = None
        self.choice = choice
        self.offers_uneven = choice.keep_uneven
        try:
            look = first_look(self.file, title=title, choice=choice)
        except UnevenBarError:
            self.offers_uneven |= can_keep_uneven(self.file, choice)
            self.parts = part_names(self.file)
            raise
        self.parts = part_names(self.file)
        if choice.part is None:
            self._own_part = look.tune.part_name
        self.draft = self._drafted(look)

    def _drafted(self, look: FirstLook) -> _Draft:
        assert self.file is not None
        stage = Path(self._desk.name) / "draft"
        shutil.rmtree(stage, ignore_errors=True)
        lesson = open_lesson(start_lesson(self.file, stage, look=look))
        level, instrument = lesson.level_names[0], "concert"
        found = [f for f in check_lesson(lesson.folder) if f.code not in _BY_DESIGN]
        return _Draft(
            look=look,
            chart=form_chart(lesson, instrument=instrument).html,
            notes=excerpt(
                lesson,
                level=level,
                instrument=instrument,
                section=look.form.sections[0].label,
            ).html,
            hints=tuple(f.sentence for f in found if f.severity != "hint"),
        )

    def create(self, title: str) -> Path:
        """Make the lesson folder.

        Raises
        ------
        LessonError
            If no file is chosen, or there is a lesson of that name.
        """
        if self.file is None or self.draft is None:
            raise LessonError("no file is chosen", remedy="choose one first")
        self.made = start_lesson(self.file, self.lessons, title=title, choice=self.choice)
        self._forget()
        return self.made

    def html(self) -> str:
        """Draw the form, the confirmation, or what was made."""
        return panel_template(
            "new_lesson",
            draft=self.draft,
            made=self.made.name if self.made else "",
            file=self.file.name if self.file else "",
            tunes=self.tunes[:MAX_LISTED_TUNES],
            tune_count=len(self.tunes),
            parts=self.parts if len(self.parts) > 1 else (),
            choice=self.choice,
            part=self.choice.part or self._own_part,
            offers_uneven=self.offers_uneven,
            feels=self._feels(),
        )

    def _feels(self) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        """Give all feels in two groups, those that fit the tune's meter first."""
        if self.draft is None:
            return ()
        meter = self.draft.look.tune.meter
        labels = (f"for {meter}", "for other meters")
        return tuple(
            (label, tuple((feel.name, feel.title) for feel in feels))
            for label, feels in zip(labels, feels_by_fit(meter), strict=True)
            if feels
        )

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> bool:
        """Do what a button of this part asks; say whether it was one.

        Raises
        ------
        LessonError
            If the file cannot be used or the lesson exists.
        """
        if name == "look":
            if data is not None:
                self.take_upload(values.get("file", "tune"), data)
            else:
                self.take_path(values.get("path", ""))
        elif name in ("tune", "part", "uneven", "chords", "form", "feel"):
            choice, title = self._chosen(name, values), values.get("title", "")
            # Another tune has a title of its own.
            self.choose(choice, title="" if name == "tune" else title)
        elif name == "create":
            self.create(values.get("title", ""))
        elif name == "forget":
            self._forget()
            self.made = None
        else:
            return False
        return True

    def _chosen(self, name: str, values: Mapping[str, str]) -> TuneChoice:
        value = values.get(name, "")
        if name == "tune":
            # Its parts and its bars are to be decided about anew.
            return TuneChoice(number=_number(value))
        if name == "part":
            # The part that is read anyway leaves the file as it is.
            own = value in ("", self._own_part)
            part = None if own else value
            # Another part may have changes of its own, and another meter.
            return replace(self.choice, part=part, propose_changes=False, feel="")
        if name == "chords":
            return replace(self.choice, propose_changes=value == "yes")
        if name == "feel":
            return replace(self.choice, feel=value)
        if name == "form":
            return replace(self.choice, file_letters=value == "letters")
        return replace(self.choice, keep_uneven=value == "yes")


def _number(text: str) -> int:
    if not text.isdecimal():
        raise LessonError(f'"{text}" is not the number of a tune', remedy="choose one")
    return int(text)


class NewLessonView(Panel):
    """The widget of a new lesson, by itself.

    Parameters
    ----------
    lessons : Path
        The folder of the lessons.
    on_made : callable, optional
        Told of the new folder.
    """

    def __init__(
        self, lessons: Path, on_made: Callable[[Path], None] | None = None
    ) -> None:
        self.new = NewLesson(lessons)
        self._on_made = on_made
        super().__init__("New lesson", {}, {"new": self.new.html()})

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:
        """Take a file, change the part, make the lesson."""
        try:
            self.new.do(name, values, data)
        finally:
            self.fill(new=self.new.html())
        if name == "create" and self.new.made is not None:
            self.said = f"The lesson {self.new.made.name} is made."
            if self._on_made is not None:
                self._on_made(self.new.made)

    def static_html(self) -> str:
        """Say what the cell does."""
        return panel_template("new_static")

    def static_words(self) -> str:
        """Say it in plain text."""
        return "New lesson: run this cell to start one from a notation file."


def new_lesson(folder: str | Path = ".") -> NewLessonView:
    """Start a lesson from a notation file, step by step.

    Parameters
    ----------
    folder : path
        The folder of the lessons.
    """
    return NewLessonView(Path(folder).resolve())
