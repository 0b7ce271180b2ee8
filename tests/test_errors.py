"""Errors are sentences, on the command line and in a notebook."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st
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


@given(
    found=st.text(st.characters(), max_size=900),
    file=st.none() | st.text(st.characters(), max_size=900),
    bar=st.none() | st.integers() | st.text(max_size=90),
    remedy=st.none() | st.text(st.characters(), max_size=900),
)
def test_any_error_is_one_line_of_at_most_500_characters(found, file, bar, remedy):
    said = f"error: {KitError(found, file=file, bar=bar, remedy=remedy)}"
    assert len(said) <= 500
    assert len(said.splitlines()) == 1
    said.encode("utf-8")


def test_what_is_quoted_is_shortened_and_the_rest_kept():
    long = "x" * 5000
    said = str(
        LessonError(
            f'no instrument "{long}" in this lesson',
            file=f"{long}/lesson.toml",
            remedy="did you mean tenor-sax?",
        )
    )
    assert said.count("…") == 2
    assert "/lesson.toml: no instrument" in said
    assert said.endswith('x" in this lesson; did you mean tenor-sax?.')


def test_a_long_finding_without_quotes_keeps_its_remedy():
    said = str(LessonError("word " * 300, file="a.toml", remedy="take some out"))
    assert said.startswith("a.toml: word word")
    assert said.endswith("; take some out.")
