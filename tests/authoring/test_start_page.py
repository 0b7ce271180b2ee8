import json

import nbformat

from kit.authoring.start_page import START_PAGE, write_start_page


def test_the_folder_is_made_with_a_valid_notebook_that_lists_the_lessons(tmp_path):
    page = write_start_page(tmp_path / "lessons")
    assert page == tmp_path / "lessons" / START_PAGE
    notebook = nbformat.read(page, as_version=4)
    nbformat.validate(notebook)
    assert "kit.school()" in notebook.cells[1].source


def test_what_the_teacher_wrote_into_it_stays(tmp_path):
    page = write_start_page(tmp_path)
    data = json.loads(page.read_text(encoding="utf-8"))
    data["cells"][0]["source"] = ["mine"]
    page.write_text(json.dumps(data), encoding="utf-8")
    assert json.loads(write_start_page(tmp_path).read_text(encoding="utf-8")) == data
