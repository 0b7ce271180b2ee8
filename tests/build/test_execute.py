"""A notebook that cannot be run says so in one sentence."""

import nbformat
import pytest

from kit.build.execute import executed_notebook
from kit.build.workers import LocalWorkers
from kit.errors import LessonError


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
    with LocalWorkers(1) as workers:
        return workers.submit(executed_notebook, path, source="lamp/lesson.ipynb").result()


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


def test_what_a_cell_writes_past_jupyter_never_reaches_the_terminal(notebook, capfd):
    path = notebook(
        "import os, subprocess, sys\n"
        "os.write(1, b'\\x1b[31mraw')\n"
        "os.write(2, b'\\x1b[31mraw')\n"
        "sys.__stderr__.write('\\x1b[31mraw')\n"
        "subprocess.run([sys.executable, '-c', 'print(chr(27), flush=True)'])\n"
        "print('shown')"
    )
    done = run(path)
    assert any("shown" in output.get("text", "") for output in done.cells[0].outputs)
    assert "\x1b" not in "".join(capfd.readouterr())


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        (
            "from IPython.display import display\n"
            "display({'application/json': 10 ** 30}, raw=True)",
            r"64 bits",
        ),
        (
            "from IPython.display import display\n"
            "deep = []\n"
            "for _ in range(200):\n"
            "    deep = [deep]\n"
            "display({'application/json': deep}, raw=True)",
            r"deep",
        ),
    ],
)
def test_what_a_cell_gives_out_has_to_be_as_sound_as_what_was_written(
    notebook, code, sentence
):
    with pytest.raises(LessonError, match=rf"^lamp/lesson\.ipynb.*({sentence})") as told:
        run(notebook(code))
    assert len(str(told.value)) <= 500


def test_an_error_of_many_lines_with_signs_is_one_plain_line(notebook):
    with pytest.raises(LessonError) as told:
        run(notebook("raise ValueError('one\\ntwo\\x1b[31m\\u202e' + 'x' * 5000)"))
    said = str(told.value)
    assert "cell 1 stopped with ValueError: one two\\x1b[31m\\u202exxx" in said
    assert said.endswith("; run the notebook in JupyterLab to see where.")
    assert len(said) <= 500
    assert said.isprintable()
