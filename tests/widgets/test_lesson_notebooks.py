import ast

import nbformat
import pytest

import kit

PLAIN_TAGS = {"page-only", "handout-only", "members", "hide"}


@pytest.fixture(scope="module")
def notebook(shipped):
    path = shipped.folder / "lesson.ipynb"
    return nbformat.read(path, as_version=nbformat.NO_CONVERT)


def test_the_notebook_is_valid_and_holds_no_outputs(notebook):
    nbformat.validate(notebook)
    assert (notebook.nbformat, notebook.nbformat_minor) == (4, 5)
    for cell in notebook.cells:
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


def test_cells_have_names_of_their_own(notebook):
    ids = [cell.id for cell in notebook.cells]
    assert len(ids) == len(set(ids))
    assert all(name.replace("-", "").isalpha() for name in ids)


def test_music_comes_in_one_line_calls_of_the_kit(notebook, shipped):
    calls = [cell.source for cell in notebook.cells if cell.cell_type == "code"]
    assert calls[0] == "import kit\n\nlesson = kit.open_lesson()"
    shown = set()
    for source in calls[1:]:
        (statement,) = ast.parse(source).body
        call = statement.value
        assert isinstance(call, ast.Call)
        shown.add(call.func.attr)
        assert call.func.attr in kit.__all__
        assert "\n" not in source
        for keyword in call.keywords:
            if keyword.arg in ("level", "lower", "upper"):
                assert keyword.value.value in shipped.level_names
    assert shown == {
        "excerpt", "form_chart", "player", "comparison", "solo_guide", "practice_plan"
    }  # fmt: skip


def test_tags_are_known_and_name_levels_of_the_lesson(notebook, shipped):
    levels = {f"level:{name}" for name in shipped.level_names}
    tagged = set()
    for cell in notebook.cells:
        tags = set(cell.metadata.get("tags", ()))
        assert tags <= PLAIN_TAGS | levels
        tagged |= tags
    assert levels <= tagged


def test_prose_names_no_note_because_it_goes_to_every_instrument(notebook):
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            assert "♭" not in cell.source
            assert "♯" not in cell.source
