"""Errors are sentences, on the command line and in a notebook."""

import pickle

import pytest
from IPython.core.interactiveshell import InteractiveShell

from kit.errors import KitError, LessonError, NotationError


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (KitError("it is so"), "it is so."),
        (LessonError("it is so", file="a/lesson.toml"), "a/lesson.toml: it is so."),
        (
            NotationError(
                "a note too many", file="a/tune.abc", bar=3, remedy="take it out"
            ),
            "a/tune.abc, bar 3: a note too many; take it out.",
        ),
        (NotationError("none", bar=0), "bar 0: none."),
    ],
)
def test_an_error_is_one_sentence_with_its_place_first(error, sentence):
    assert str(error) == sentence


def test_an_error_goes_from_process_to_process_whole():
    error = LessonError("it is so", file="a", bar=2, remedy="go on").with_more(("Also.",))
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.more) == (str(error), error.more)


def test_a_notebook_shows_the_sentence_and_no_traceback(capsys):
    shell = InteractiveShell.instance()
    shell.user_ns["error"] = LessonError("it is so", file="a", remedy="go on").with_more(
        ("Also this.",)
    )
    shell.run_cell("raise error")
    shown = capsys.readouterr().out
    assert "a: it is so; go on.\nAlso this." in shown
    assert "Traceback" not in shown
    InteractiveShell.clear_instance()
