"""Run a lesson notebook from top to bottom, as the teacher's JupyterLab would.

The kernel is this very Python, whatever kernels the machine has registered, so that a
notebook meets the kit that builds it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

from kit import errors
from kit.errors import LessonError
from kit.lesson.notebook import notebook_of
from kit.lesson.notebook import read_notebook as notebook_json

__all__ = ["BUILDING", "executed_notebook", "is_building", "read_notebook"]

BUILDING = "KIT_BUILDING"
"""Set where a build runs a notebook."""
CELL_TIMEOUT_S = 120


def is_building() -> bool:
    """Say whether a build runs this notebook, which needs no live views and no build."""
    return bool(os.environ.get(BUILDING))


def read_notebook(path: Path, *, source: str) -> Any:
    """Read a notebook file.

    Raises
    ------
    LessonError
        If it is missing, too large or not a notebook.
    """
    import nbformat  # noqa: PLC0415 - slow, and not needed to see that nothing changed

    if not path.exists():
        raise LessonError(
            "the lesson has no notebook",
            file=source,
            remedy="start the lesson with kit new",
        )
    # Not nbformat.read: what it does not like it also writes to the terminal, in its words.
    plain = notebook_json(path, source=source)
    notebook = nbformat.v4.to_notebook_json(plain)  # type: ignore[no-untyped-call]
    try:
        nbformat.validate(notebook)
    except nbformat.ValidationError as error:
        reason = " ".join(str(error).splitlines()[:1])
        raise LessonError(f"this is not a notebook: {reason}", file=source) from error
    return notebook


def executed_notebook(path: Path, *, source: str) -> Any:
    """Run a notebook in its folder and give it with its outputs; the file is not touched.

    Raises
    ------
    LessonError
        If it cannot be read, or a cell fails (with the cell's number and what it said).
    """
    notebook = read_notebook(path, source=source)
    from jupyter_client.manager import AsyncKernelManager  # noqa: PLC0415
    from nbclient import NotebookClient  # noqa: PLC0415
    from nbclient.exceptions import CellExecutionError, CellTimeoutError  # noqa: PLC0415

    class ThisPython(AsyncKernelManager):
        """Starts the interpreter that is running now."""

        def format_kernel_cmd(self, extra_arguments: list[str] | None = None) -> list[str]:
            command = super().format_kernel_cmd(extra_arguments)
            return [sys.executable, *command[1:], "--log-level=ERROR"]

    client = NotebookClient(
        notebook,
        timeout=CELL_TIMEOUT_S,
        kernel_name="python3",
        kernel_manager_class=ThisPython,
        resources={"metadata": {"path": str(path.parent)}},
    )
    try:
        # What a cell writes past Jupyter must not reach the terminal of the build.
        client.execute(
            env={**os.environ, BUILDING: "1"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
    except CellExecutionError as error:
        number = _failed_cell(notebook)
        name, words = _what_stopped(notebook.cells[number - 1], error)
        if name in errors.__all__:
            # Ours says what to do.
            place = f"{source}, cell {number}"
            raise LessonError(words.removesuffix("."), file=place) from error
        raise LessonError(
            f"cell {number} stopped with {name}: {words.rstrip('. ')}",
            file=source,
            remedy="run the notebook in JupyterLab to see where",
        ) from error
    except CellTimeoutError as error:
        raise LessonError(
            f"cell {_failed_cell(notebook)} took longer than {CELL_TIMEOUT_S} seconds",
            file=source,
        ) from error
    except RecursionError as error:
        raise LessonError(
            f"cell {_failed_cell(notebook)} gives out something nested too deep to be kept",
            file=source,
        ) from error
    except RuntimeError as error:  # DeadKernelError, or a bare one while it starts
        how = "died" if "died" in str(error) else "did not answer"
        raise LessonError(f"the notebook's kernel {how}", file=source) from error
    # What its cells gave out must be as sound as what was read.
    notebook_of(json.dumps(notebook), source=source)
    return notebook


def _what_stopped(cell: Any, error: Any) -> tuple[str, str]:
    """Give name and words of what a cell stopped with.

    Where it ran well and its result cannot be shown, the kernel reports that something
    failed, and only the cell's output says what.
    """
    for output in reversed(cell.get("outputs", ())):
        if output.output_type == "error":
            return str(output.ename), _on_one_line(output.evalue)
    return str(error.ename), _on_one_line(error.evalue)


def _on_one_line(words: object) -> str:
    return " ".join(str(words).split())


def _failed_cell(notebook: Any) -> int:
    """Give the number of the cell that was running: the last one started."""
    started = 1
    for number, cell in enumerate(notebook.cells, start=1):
        if cell.cell_type == "code" and (cell.outputs or cell.execution_count):
            started = number
    return started
