"""The panel of proposed changes: what stands, what was rejected, what is taken."""

from __future__ import annotations

import pytest

import kit
from kit.authoring.first_look import TuneChoice
from kit.authoring.start import start_lesson

# A reel: a draft for it edits no chords, so that every chord can be another.
BARE = (
    "X:1\nT:Bare <b>Bones</b>\nR:reel\nM:4/4\nL:1/4\nQ:1/4=100\nK:G\nGBdB|cege|dfaf|g4|\n"
)


@pytest.fixture
def lesson(tmp_path):
    path = tmp_path / "bare.abc"
    path.write_text(BARE, encoding="utf-8")
    choice = TuneChoice(propose_changes=True)
    return kit.open_lesson(start_lesson(path, tmp_path / "lessons", choice=choice))


def press(view, name, **values):
    view._handle_custom_msg({"do": name, "values": values}, [])


def test_every_bar_offers_all_that_was_weighed_with_its_reason(lesson):
    shown = kit.proposed_changes(lesson).regions["changes"]
    assert shown.count("<select") == 4
    assert 'value="IV" selected>C (IV): its C, E and G are in the melody' in shown
    assert "Am (ii): the melody&#39;s G is not in it" in shown
    assert "<b>" not in shown


def test_a_chord_chosen_is_written_and_can_be_chosen_back(lesson):
    view = kit.proposed_changes(lesson)
    before = lesson.tune
    press(view, "chord", place="1", **{"slot-1": "ii"})
    assert view.problem == ""
    assert str(lesson.tune.bars[1].chords[0].symbol) == "Am"
    assert 'value="ii" selected' in view.regions["changes"]
    press(view, "chord", place="1", **{"slot-1": "IV"})
    assert lesson.tune == before


@pytest.mark.parametrize("values", [{}, {"place": "x"}, {"place": "77"}, {"place": "0"}])
def test_what_cannot_be_chosen_is_a_sentence(lesson, values):
    view = kit.proposed_changes(lesson)
    press(view, "chord", **values)
    assert view.problem


def test_accepted_changes_cannot_be_chosen_any_more_but_seen(lesson):
    view = kit.proposed_changes(lesson)
    press(view, "accept")
    assert view.problem == ""
    assert not lesson.settings.changes_proposed
    assert "<select" not in view.regions["changes"]
    assert "Am (ii)" in view.regions["changes"]


def test_what_is_saved_in_the_notebook_is_no_figure_of_the_lesson(lesson):
    form = kit.proposed_changes(lesson).static_form()
    assert set(form) == {"text/html", "text/plain"}
    assert "Bar 3: D7." in form["text/plain"]
