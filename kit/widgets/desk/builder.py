"""Build a lesson from its notebook: what is out of date and why, progress, log, results."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from kit.build.state import BuildState, build_state, output_root
from kit.lesson.lesson import Lesson
from kit.widgets._panel import Panel, panel_template
from kit.widgets.desk._build_run import BuildNews, BuildRun
from kit.widgets.desk._results import show_result

__all__ = ["BuildView", "builder"]


def builder(lesson: Lesson, out: str | Path | None = None) -> BuildView:
    """Show whether the lesson is built, and build it.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    out : path, optional
        Where its output folder goes; where ``kit build`` puts it if left out.
    """
    return BuildView(lesson, Path(out) if out is not None else None)


class BuildView(Panel):
    """One lesson's build.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    out_root : Path or None
        Where output folders are.
    """

    def __init__(self, lesson: Lesson, out_root: Path | None = None) -> None:
        self.lesson = lesson
        self.out_root = out_root or output_root(lesson.folder)
        self.run: BuildRun | None = None
        super().__init__(
            f"Build {lesson.title}",
            {"out": str(out_root) if out_root else None},
            self._regions(build_state(lesson.folder, self.out_root), None),
        )

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:  # noqa: ARG002
        """Build, stop, or show a result."""
        if name == "build":
            self.build()
        elif name == "stop" and self.run is not None:
            self.run.stop()
        elif name == "show":
            state = build_state(self.lesson.folder, self.out_root)
            show_result(state.folder, values.get("what", ""))

    def build(self) -> None:
        """Start a build, if none is running; it goes on beside the notebook.

        Raises
        ------
        LessonError
            If this notebook is itself being run by a build.
        """
        if self.run is not None and self.run.is_running:
            return
        self.run = BuildRun(self.lesson.folder, self.out_root, self._on_news)
        self.said = "The build has started."

    def static_html(self) -> str:
        """Say what the cell does; a state would be wrong tomorrow."""
        return panel_template("build_static", title=self.lesson.title)

    def static_words(self) -> str:
        """Say it in plain text."""
        return f"Build {self.lesson.title}: run this cell to see its state and to build it."

    def _on_news(self, news: BuildNews) -> None:
        state = build_state(self.lesson.folder, self.out_root) if news.outcome else None
        self.fill(**self._regions(state, news))
        if news.outcome:
            self.said = {
                "built": "The lesson is built.",
                "current": "Nothing had changed.",
                "failed": "The build failed.",
            }[news.outcome]

    def _regions(self, state: BuildState | None, news: BuildNews | None) -> dict[str, str]:
        running = news is not None and not news.outcome
        regions = {}
        if state is not None:
            regions["state"] = panel_template(
                "build_state", title=self.lesson.title, slug=self.lesson.slug, state=state
            )
        regions["run"] = panel_template(
            "build_run", state=state, news=news, running=running
        )
        return regions
