"""A notebook that cannot be run says so in one sentence."""

import nbformat
import pytest

from kit.errors import LessonError
from kit.publish.crew import LocalCrew
from kit.publish.execute import executed_notebook


@pytest.fixture
def notebook(tmp_path):
    """Write a notebook with one cell."""

    def written(code):
        path = tmp_path / "lesson.ipynb"
        cells = [nbformat.v4.new_code_cell(code)]
        nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
        return path

    return written


def run(path):
    """Run a notebook where builds run it: in a process that is killed in the end."""
    with LocalCrew(1) as crew:
        return crew.submit(executed_notebook, path, source="lamp/lesson.ipynb").result()


def test_of_a_kernel_that_ends_before_it_has_said_a_word(notebook):
    path = notebook("1 + 1")
    # Python looks into the folder first, and so this file is what is run.
    (path.parent / "ipykernel_launcher.py").write_text("raise SystemExit(1)\n")
    with pytest.raises(LessonError, match=r"ipynb: the notebook's kernel died"):
        run(path)


def test_of_a_kernel_that_ends_in_a_cell(notebook):
    path = notebook("import os\nos._exit(1)")
    with pytest.raises(LessonError, match="the notebook's kernel died"):
        run(path)


def test_of_a_mistake_in_a_cell_it_names_the_cell_and_the_mistake(notebook):
    with pytest.raises(
        LessonError,
        match=r"^lamp/lesson\.ipynb: cell 1 stopped with NameError: name 'brass' is not "
        r"defined; run the notebook in JupyterLab to see where\.$",
    ):
        run(notebook("brass"))


@pytest.mark.parametrize("way", ["_repr_html_", "_repr_mimebundle_", "_ipython_display_"])
def test_of_a_result_that_cannot_be_shown_it_says_why(notebook, way):
    path = notebook(
        "from kit.errors import LevelError\n"
        "class Excerpt:\n"
        f"    def {way}(self, **_):\n"
        "        raise LevelError('no bar 9', file='top.toml', remedy='name another')\n"
        "Excerpt()"
    )
    with pytest.raises(
        LessonError,
        match=r"^lamp/lesson\.ipynb, cell 1: top\.toml: no bar 9; name another\.$",
    ):
        run(path)
