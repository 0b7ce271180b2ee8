import pytest

import kit
from kit.widgets.editors.changes_editor import CLASHES_SHOWN


@pytest.fixture
def changes(lesson):
    return kit.changes_editor(lesson)


def asks(view, **message):
    view._handle_custom_msg(message, [])


def chords(view, number):
    cell = next(cell for cell in view.grid if cell["number"] == number)
    return [chord["text"] for chord in cell["chords"]]


def test_the_grid_shows_the_changes_in_the_players_key(changes, lesson):
    assert len(changes.grid) == 32
    assert chords(changes, 7) == ["Bm7♭5", "E7♭9"]
    asks(changes, choose={"instrument": "concert"})
    assert chords(changes, 7) == ["Dm7♭5", "G7♭9"]


def test_a_chord_is_typed_in_the_players_key_and_stored_at_concert_pitch(changes, lesson):
    asks(changes, select="3 1")
    asks(changes, apply={"do": "chord", "options": {"to": "Bb7"}})
    assert chords(changes, 4) == ["B♭7"]
    assert lesson.head("intermediate").bars[3].chords[0].symbol.root.step == "D"
    assert "bar 4, beat 1: B♭7" in changes.chosen_words
    asks(changes, undo=True)
    assert chords(changes, 4) == ["E7♭9"]


def test_a_text_that_is_no_chord_leaves_a_sentence(changes):
    asks(changes, select="3 1")
    asks(changes, apply={"do": "chord", "options": {"to": "Hurrah"}})
    assert 'bar 4: chord "Hurrah"' in changes.problem
    assert chords(changes, 4) == ["E7♭9"]


def test_reharmonisations_are_offered_where_they_apply_with_reasons_elsewhere(changes):
    asks(changes, select="3 1")
    reasons = {row["do"]: row["reason"] for row in changes.possible}
    assert reasons["tritone substitute"] == ""
    asks(changes, select="0 1")
    reasons = {row["do"]: row["reason"] for row in changes.possible}
    assert "not a dominant seventh chord" in reasons["tritone substitute"]


def test_a_preview_is_in_the_grid_and_not_in_the_file(changes, lesson):
    before = (lesson.folder / "levels/intermediate.toml").read_text()
    asks(changes, select="3 1")
    asks(changes, preview={"do": "tritone substitute", "options": {}})
    assert chords(changes, 4) == ["B♭7"]
    asks(changes, cancel=True)
    assert chords(changes, 4) == ["E7♭9"]
    assert (lesson.folder / "levels/intermediate.toml").read_text() == before


def test_a_chord_that_rubs_against_the_melody_is_marked_with_its_reason(changes):
    assert not any(cell["clash"] for cell in changes.grid[:8])
    # Bar 2 holds C at the alto's pitch for two beats: a fourth over G major.
    asks(changes, select="1 3")
    asks(changes, apply={"do": "chord", "options": {"to": "G"}})
    cell = changes.grid[1]
    assert cell["clash"]
    assert any("Bar 2: C over G" in words for words in changes.rubs)
    assert len(changes.rubs) <= CLASHES_SHOWN


def test_a_chord_may_be_set_between_two_others(changes):
    asks(changes, select="0 3")
    assert "no chord of its own, Am7 holds on" in changes.chosen_words
    asks(changes, apply={"do": "chord", "options": {"to": "D7"}})
    assert chords(changes, 1) == ["Am7", "D7"]
    assert changes.grid[0]["chords"][1]["new"]


def test_the_bench_sees_and_undoes_what_was_done_to_the_changes(changes, lesson):
    bench = kit.bench(lesson)
    asks(changes, select="3 1")
    asks(changes, apply={"do": "tritone substitute", "options": {}})
    assert "B♭7" in bench.staves
    asks(bench, undo=True)
    assert chords(changes, 4) == ["E7♭9"]


def test_the_static_form_lists_every_bar(changes):
    bundle = changes.static_form()
    assert bundle["text/plain"].count(" | ") == 31
    assert "Bm7♭5 E7♭9" in bundle["text/html"]


def test_a_tune_without_changes_can_be_given_some(small):
    view = kit.changes_editor(small)
    assert view.grid
    assert view.problem == ""
