"""All lessons of a folder at a glance: what is to be mended, what is to be built again.

The list is there at once; checks follow one by one beside it. Builds run one after the
other, each in a process of its own.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from kit.build.state import build_state, output_root
from kit.errors import LessonError
from kit.widgets._panel import Panel, panel_template
from kit.widgets.desk._build_run import BuildNews, BuildRun
from kit.widgets.desk._results import show_result
from kit.widgets.desk._school_entry import Entry, check_entry, entry_of, lesson_folders
from kit.widgets.desk.new_lesson import NewLesson

__all__ = ["SchoolView", "school"]


def school(folder: str | Path = ".", out: str | Path | None = None) -> SchoolView:
    """List the lessons of a folder, to open, check and build them, and to start new ones.

    Parameters
    ----------
    folder : path
        The folder of the lessons.
    out : path, optional
        Where output folders are; where ``kit build`` puts them if left out.
    """
    return SchoolView(Path(folder), Path(out) if out is not None else None)


class SchoolView(Panel):
    """The list of lessons.

    Parameters
    ----------
    lessons : Path
        The folder of the lessons.
    out_root : Path or None
        Where output folders are.
    """

    def __init__(self, lessons: Path, out_root: Path | None = None) -> None:
        self.lessons = lessons.resolve()
        self.out_root = out_root or output_root(self.lessons / "any")
        self.new = NewLesson(self.lessons)
        self.entries: dict[str, Entry] = {}
        self._runs: dict[str, BuildRun] = {}
        self._news: dict[str, BuildNews] = {}
        self._waiting: list[str] = []
        self._read_entries()
        super().__init__("Your lessons", {}, self._all_regions())

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:
        """Check, build, stop, show a result, start a new lesson, or look again."""
        slug = values.get("slug", "")
        if name in ("check", "build", "stop", "show") and slug not in self.entries:
            raise LessonError(f'there is no lesson "{slug}"', remedy="look again")
        if name in ("ready", "again"):
            self.look_again()
        elif name == "check":
            self.check(slug)
        elif name == "build":
            self.build(slug)
        elif name == "stop":
            self._stop(slug)
        elif name == "show":
            show_result(self.entries[slug].build.folder, values.get("what", ""))
        else:
            self._do_new(name, values, data)

    def look_again(self) -> None:
        """Read the folder anew, then check every lesson beside the notebook."""
        self._read_entries()
        self.regions = self._all_regions()
        threading.Thread(target=self._check_all, daemon=True).start()

    def check(self, slug: str) -> None:
        """Check a lesson."""
        entry = entry_of(self.lessons / slug, self.out_root)
        self._take(replace(entry, checked=check_entry(self.lessons / slug)))
        checked = self.entries[slug].checked
        assert checked is not None
        self.said = f"{entry.title}: {checked.words}."

    def build(self, slug: str) -> None:
        """Build a lesson, after those that are being built or wait.

        Raises
        ------
        LessonError
            If this notebook is itself being run by a build.
        """
        with self._lock:
            if slug in self._waiting or self._is_running(slug):
                return
            self._waiting.append(slug)
        self._draw(slug)
        self._build_next()

    def static_html(self) -> str:
        """List the lessons; their state would be wrong tomorrow."""
        return panel_template("school_static", entries=tuple(self.entries.values()))

    def static_words(self) -> str:
        """List them in plain text."""
        titles = [entry.title for entry in self.entries.values()]
        return "\n".join(["Your lessons. Run this cell to work with them.", *titles])

    def _is_running(self, slug: str) -> bool:
        return slug in self._runs and self._runs[slug].is_running

    def _build_next(self) -> None:
        with self._lock:
            if not self._waiting or any(run.is_running for run in self._runs.values()):
                return
            slug = self._waiting.pop(0)
            self._news[slug] = BuildNews()
            self._runs[slug] = BuildRun(
                self.lessons / slug,
                self.out_root,
                lambda news: self._on_news(slug, news),
            )
        self._draw(slug)

    def _stop(self, slug: str) -> None:
        with self._lock:
            if slug in self._waiting:
                self._waiting.remove(slug)
        if self._is_running(slug):
            self._runs[slug].stop()
        self._draw(slug)

    def _on_news(self, slug: str, news: BuildNews) -> None:
        self._news[slug] = news
        if not news.outcome:
            self._draw(slug)
            return
        state = build_state(self.lessons / slug, self.out_root)
        self._take(replace(self.entries[slug], build=state))
        self.said = f"{self.entries[slug].title}: {news.outcome}."
        self._build_next()

    def _do_new(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:
        try:
            self.new.do(name, values, data)
        finally:
            self.fill(new=self.new.html())
        if name == "create" and self.new.made is not None:
            self._take(entry_of(self.new.made, self.out_root))
            self.said = f"The lesson {self.new.made.name} is made."
            threading.Thread(target=self._check_all, daemon=True).start()

    def _check_all(self) -> None:
        for slug, entry in list(self.entries.items()):
            if entry.checked is None:
                self._take(replace(entry, checked=check_entry(self.lessons / slug)))

    def _read_entries(self) -> None:
        folders = lesson_folders(self.lessons)
        self.entries = {f.name: entry_of(f, self.out_root) for f in folders}

    def _take(self, entry: Entry) -> None:
        with self._lock:
            before = self.entries.get(entry.slug)
            if entry.checked is None and before is not None:
                entry = replace(entry, checked=before.checked)
            self.entries[entry.slug] = entry
        self._draw(entry.slug)

    def _draw(self, slug: str) -> None:
        self.fill(**{_region(slug): self._entry_html(self.entries[slug])})

    def _entry_html(self, entry: Entry) -> str:
        news = self._news.get(entry.slug)
        return panel_template(
            "school_entry",
            entry=entry,
            news=news,
            waits=entry.slug in self._waiting,
            running=self._is_running(entry.slug),
        )

    def _all_regions(self) -> dict[str, str]:
        head = panel_template(
            "school_head", count=len(self.entries), folder=_short(self.lessons)
        )
        entries = {_region(e.slug): self._entry_html(e) for e in self.entries.values()}
        return {"head": head, "new": self.new.html(), **entries}


def _region(slug: str) -> str:
    return f"lesson-{slug}"


def _short(path: Path) -> str:
    """Write a path as one says it: from the home folder on, if it lies there."""
    home = Path.home()
    return (
        f"~/{path.relative_to(home).as_posix()}" if path.is_relative_to(home) else str(path)
    )
