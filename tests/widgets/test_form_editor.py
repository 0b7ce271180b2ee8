import tomllib

import pytest

import kit
from kit.lesson.lesson import open_lesson


@pytest.fixture
def form(lesson):
    return kit.form_editor(lesson)


def asks(view, **message):
    view._handle_custom_msg(message, [])


def toml_of(lesson):
    return (lesson.folder / "lesson.toml").read_text(encoding="utf-8")


def ranges(*rows):
    return [{"label": label, "bars": bars} for label, bars in rows]


AABA = ranges(("A", "1-8"), ("A", "9-16"), ("B", "17-24"), ("A", "25-32"))


def test_it_begins_with_the_sections_there_are(form, girl):
    assert form.rows == AABA
    assert "marked in the notation" in form.html
    assert kit.form_editor(girl).rows


def test_sections_are_saved_used_and_undone(form, lesson):
    before = toml_of(lesson)
    chart = kit.form_chart(lesson)
    asks(form, rows=ranges(("A", "1-8"), ("A", "9-16"), ("B", "17–24"), ("C", "25 - 32")))
    assert tomllib.loads(toml_of(lesson))["sections"][2] == {"label": "B", "bars": "17-24"}
    assert lesson.form.pattern == "AABC"
    assert "AABC" in chart.html
    asks(form, undo=True)
    assert toml_of(lesson) == before
    assert lesson.form.pattern == "AABA"


def test_routes_that_do_not_fit_the_new_form_are_named(form):
    asks(form, rows=ranges(("A", "1-8"), ("A", "9-16"), ("C", "17-24"), ("A", "25-32")))
    assert "What does not fit this form any more" in form.html
    assert "Intermediate" in form.html
    assert "AAB" in form.html


def test_the_route_editor_opens_on_a_route_that_does_not_fit_and_mends_it(form, lesson):
    asks(form, rows=ranges(("A", "1-8"), ("A", "9-16"), ("C", "17-24"), ("A", "25-32")))
    route = kit.route_editor(open_lesson(lesson.folder), "intermediate")
    assert "asks for sections" in route.html
    rows = [dict(row) for row in route.rows]
    rows[1]["sections"] = "AAC"
    asks(route, rows=rows)
    assert route.problem == ""
    assert "solo A A C" in route.html


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (ranges(("A", "1-8")), "bar"),
        (ranges(("A", "1-8"), ("B", "9-99")), "no bar 99"),
        (ranges(("A", "1-8"), ("", "9-32")), "no label or no bars yet"),
        (ranges(("A", "one to eight"), ("B", "9-32")), "bars"),
    ],
)
def test_ranges_that_do_not_cover_the_tune_wait_with_a_sentence(form, lesson, rows, why):
    before = toml_of(lesson)
    asks(form, rows=rows)
    assert why in form.problem
    assert form.rows == rows
    assert toml_of(lesson) == before
    # The button in the browser is there to be pressed, whatever else is going on.
    assert form.can_undo
    asks(form, undo=True)
    assert form.rows == AABA
    assert form.problem == ""
    assert not form.can_undo


def test_taking_the_ranges_out_goes_back_to_the_marks(form, lesson):
    before = toml_of(lesson)
    asks(form, rows=ranges(("Verse", "1-16"), ("Refrain", "17-32")))
    assert lesson.form.pattern == "Verse Refrain"
    asks(form, rows=[])
    assert lesson.form.pattern == "AABA"
    assert tomllib.loads(toml_of(lesson)) == tomllib.loads(before)


def test_the_static_form_is_the_chart(form):
    bundle = form.static_form()
    assert "lk-picture" in bundle["text/html"]
    assert "32-bar song form, AABA" in bundle["text/plain"]
