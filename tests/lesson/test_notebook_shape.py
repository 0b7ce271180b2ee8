"""A notebook of any shape is read, or refused in one sentence with its cell."""

import copy
import json
import os
import warnings

import nbformat
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.build.execute import read_notebook as node_of
from kit.build.identity import file_hash
from kit.errors import LessonError
from kit.lesson.notebook import read_notebook
from kit.publish.cells import read_cells

WHOLE = {
    "cells": [
        {
            "cell_type": "markdown", "id": "a", "metadata": {"tags": ["members"]},
            "source": ["# Lamp\n", "Words."],
            "attachments": {"a.png": {"image/png": "iVBO"}},
        },
        {
            "cell_type": "code", "id": "b", "metadata": {}, "execution_count": 1,
            "source": "1 + 1",
            "outputs": [
                {"output_type": "stream", "name": "stdout", "text": ["a\n"]},
                {
                    "output_type": "display_data", "metadata": {},
                    "data": {"text/plain": "2", "application/json": {"a": [1]}},
                },
            ],
        },
        {"cell_type": "raw", "id": "c", "metadata": {}, "source": "raw"},
    ],
    "metadata": {"kernelspec": {"name": "python3", "display_name": "Python 3"}},
    "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip
ODD = st.recursive(
    st.none()
    | st.booleans()
    | st.sampled_from([0, 4, 3, -1, 2**70, 0.5, "", "\0", "\ud800", "\x1b[31m", "code"])
    | st.text(max_size=4),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=3), inner, max_size=3)
    ),
    max_leaves=5,
)


def places(value, path=()):
    yield path
    if isinstance(value, dict | list):
        inner = value.items() if isinstance(value, dict) else enumerate(value)
        for key, one in inner:
            yield from places(one, (*path, key))


PLACES = [path for path in places(WHOLE) if path]
GONE = object()


def changed(path, value):
    notebook = copy.deepcopy(WHOLE)
    at = notebook
    for key in path[:-1]:
        at = at[key]
    if value is GONE:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    return notebook


def require_read_or_told(path, text):
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    assert file_hash(path)
    try:
        node = node_of(path, source="lamp/lesson.ipynb")
    except LessonError as error:
        said = str(error)
        assert said.startswith("lamp/lesson.ipynb")
        assert len(said) <= 500
        assert len(said.splitlines()) == 1
        return
    nbformat.validate(node)
    read_cells(read_notebook(path, source="lamp/lesson.ipynb"), levels=())


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=st.sampled_from(PLACES), value=ODD | st.just(GONE))
def test_anything_in_any_place_of_a_notebook_is_told(tmp_path, path, value):
    require_read_or_told(tmp_path / "lesson.ipynb", json.dumps(changed(path, value)))


@settings(max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_notebook_cut_off_or_scribbled_over_is_told(tmp_path, data):
    text = json.dumps(WHOLE)
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, len(text)))
    scribble = data.draw(st.text(st.sampled_from('[]{}",:0123\\u'), max_size=8))
    require_read_or_told(tmp_path / "lesson.ipynb", text[:start] + scribble + text[end:])


@pytest.mark.parametrize(
    ("path", "value", "sentence"),
    [
        (("metadata",), [], r"ipynb: its metadata must be a table"),
        (("cells",), {}, r"ipynb: its cells must be a list"),
        (("cells",), GONE, r"ipynb: its cells must be a list"),
        (("cells", 1), "text", r"ipynb, cell 2: a cell must be a table"),
        (("cells", 0, "cell_type"), "film", r"cell 1: its cell_type must be"),
        (("cells", 0, "metadata"), [], r"cell 1: its metadata must be a table"),
        (("cells", 0, "metadata", "tags"), "members", r"cell 1: its tags must be a list"),
        (("cells", 0, "metadata", "tags"), [1], r"cell 1: its tags must be a list"),
        (("cells", 1, "source"), 3, r"cell 2: its source must be a text"),
        (("cells", 1, "source"), GONE, r"cell 2: it has no source"),
        (("cells", 1, "outputs"), GONE, r"cell 2: its outputs must be a list"),
        (("cells", 1, "outputs", 0), "a", r"cell 2: an output must be a table"),
        (("cells", 1, "outputs", 0, "text"), 3, r"cell 2: its output's text must"),
        (("cells", 0, "attachments"), [], r"cell 1: its attachments must be a table"),
        (
            ("cells", 0, "attachments"), {"a\0.png": 3},
            r'cell 1: its attachment "a\\x00\.png" must be a table of texts',
        ),
        (("nbformat",), 9, r"it is of format 9, and this kit reads format 4"),
        (("nbformat",), 3, r"it is of format 3, and this kit reads format 4; open the"),
        (("nbformat",), "4", r"it is of format '4'"),
        (("nbformat",), True, r"it is of format True"),
    ],
)  # fmt: skip
def test_what_is_of_the_wrong_kind_is_told_with_its_cell(tmp_path, path, value, sentence):
    file = tmp_path / "lesson.ipynb"
    file.write_text(json.dumps(changed(path, value)), encoding="utf-8")
    with pytest.raises(LessonError, match=sentence):
        read_notebook(file, source="lamp/lesson.ipynb")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[" * 100_000, "64 deep"),
        (f'{{"nbformat": {"9" * 5000}}}', "64 bits"),
        ("{", "not valid JSON"),
        ("[]", "this is not a notebook"),
        ('{"nbformat": 4}', "its metadata must be a table"),
    ],
)
def test_what_is_no_notebook_at_all_is_told(tmp_path, text, sentence):
    file = tmp_path / "lesson.ipynb"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(LessonError, match=sentence):
        read_notebook(file, source="lamp/lesson.ipynb")
    assert file_hash(file)


def test_a_pipe_or_a_folder_in_place_of_a_notebook_is_told(tmp_path):
    os.mkfifo(tmp_path / "pipe.ipynb")
    with pytest.raises(LessonError, match="a pipe or a device"):
        node_of(tmp_path / "pipe.ipynb", source="lamp/lesson.ipynb")
    with pytest.raises(LessonError, match="is a directory"):
        node_of(tmp_path, source="lamp/lesson.ipynb")


def test_cells_without_ids_of_their_own_are_given_the_same_ones_each_time(tmp_path):
    notebook = copy.deepcopy(WHOLE)
    ids = [None, "a", "a"]
    for cell, own in zip(notebook["cells"], ids, strict=True):
        del cell["id"]
        if own:
            cell["id"] = own
    file = tmp_path / "lesson.ipynb"
    file.write_text(json.dumps(notebook), encoding="utf-8")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        node = node_of(file, source="lamp/lesson.ipynb")
    assert [cell["id"] for cell in node.cells] == ["cell-1", "a", "cell-3"]
