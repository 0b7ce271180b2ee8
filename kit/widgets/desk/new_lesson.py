"""Start a lesson from a notation file: look at what it holds, confirm, and it is made.

A file comes by upload or by path. It is drafted in a folder of its own outside the lessons,
so that the form, the changes and the first bars can be shown before anything is made.
"""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from kit.authoring.first_look import FirstLook, first_look
from kit.authoring.start import start_lesson
from kit.check.lesson import check_lesson
from kit.errors import LessonError
from kit.figures.excerpt import excerpt
from kit.figures.form_chart import form_chart
from kit.lesson.lesson import open_lesson
from kit.tune.part_names import part_names
from kit.widgets._panel import Panel, panel_template

__all__ = ["NewLesson", "NewLessonView", "new_lesson"]

MAX_UPLOAD_BYTES = 8_000_000
_NAME = re.compile(r"[^\w .()\-]+")
_BY_DESIGN = {"no-rights", "notice"}
"""Findings that every new lesson has, and those that are among the doubts already."""


@dataclass(frozen=True, slots=True)
class _Draft:
    """A file that is being looked at."""

    look: FirstLook
    parts: tuple[str, ...]
    part: str
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
        self.file: Path | None = None
        self.draft: _Draft | None = None
        self.made: Path | None = None
        self._desk = tempfile.TemporaryDirectory(prefix="kit-new-")

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
        self.look_at(path)

    def take_path(self, text: str) -> None:
        """Take a file by its path.

        Raises
        ------
        LessonError
            If there is none, or it is no notation.
        """
        if not text.strip():
            raise LessonError("no file is chosen", remedy="choose one, or type its path")
        self.look_at(Path(text.strip()).expanduser())

    def look_at(self, file: Path, *, part: str = "", title: str = "") -> None:
        """Draft a lesson of a file, to be shown.

        Raises
        ------
        LessonError
            If it cannot be read.
        """
        self.draft = self.made = None
        look = first_look(file, title=title, part=part or None)
        stage = Path(self._desk.name) / "draft"
        shutil.rmtree(stage, ignore_errors=True)
        lesson = open_lesson(start_lesson(file, stage, title=title, part=part or None))
        level, horn = lesson.level_names[0], "concert"
        found = [f for f in check_lesson(lesson.folder) if f.code not in _BY_DESIGN]
        self.file = file
        self.draft = _Draft(
            look=look,
            parts=part_names(file),
            part=part or look.tune.part_name,
            chart=form_chart(lesson, instrument=horn).html,
            notes=excerpt(
                lesson, level=level, instrument=horn, section=look.form.sections[0].label
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
        chosen = self.draft.part if self.draft.part != self._own_part() else None
        self.made = start_lesson(self.file, self.lessons, title=title, part=chosen)
        self.draft = None
        return self.made

    def html(self) -> str:
        """Draw the form, the confirmation, or what was made."""
        made = self.made
        return panel_template(
            "new_lesson",
            draft=self.draft,
            made=made.name if made else "",
            chart_has_changes=bool(self.draft and self.draft.look.chord_count),
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
        elif name == "part" and self.file is not None:
            title = values.get("title", "")
            self.look_at(self.file, part=values.get("part", ""), title=title)
        elif name == "create":
            self.create(values.get("title", ""))
        elif name == "forget":
            self.file = self.draft = self.made = None
        else:
            return False
        return True

    def _own_part(self) -> str:
        assert self.file is not None
        return first_look(self.file).tune.part_name


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
