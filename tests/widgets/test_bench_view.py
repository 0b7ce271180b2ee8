from fractions import Fraction

import pytest

import kit
from kit.errors import LevelError
from kit.figures.figure import FIGURE_MIME
from kit.instruments.transposition import write_part
from kit.lesson.lesson import open_lesson
from kit.levels.draft import draft_edits
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit
from kit.widgets._state import state_of
from kit.widgets.editors._bench_choices import choices, edit_from
from kit.widgets.editors._bench_sites import sites, symbol_sites
from kit.widgets.editors._bench_written import concert_edit, written_text


@pytest.fixture
def bench(lesson):
    return kit.bench(lesson)


def asks(view, **message):
    """Send what the browser sends."""
    view._handle_custom_msg(message, [])


def words_of(view, name):
    return next(site["words"] for site in view.sites if site["id"] == name)


def file_of(lesson):
    return (lesson.folder / "levels/intermediate.toml").read_text(encoding="utf-8")


def test_it_opens_on_the_first_level_with_edits_and_the_first_section(bench):
    assert bench.chosen["level"] == "intermediate"
    assert "bars 1–8" in bench.choosers[2]["options"][1][1]
    assert bench.choosers[2]["value"] == "A"
    assert words_of(bench, bench.selected).startswith("bar 1, beat 2: A")


def test_both_staves_are_one_drawing_with_ids_of_their_own(bench):
    assert 'data-id="sb0n1"' in bench.staves
    assert 'data-id="b0n1"' in bench.staves
    assert bench.staves.count('data-id="b0"') == 1


def test_a_tied_note_is_chosen_by_its_first_symbol_on_either_staff(bench):
    assert words_of(bench, "b0n4").startswith("bar 1, beat 4½: F♯")
    asks(bench, select="b1n0")
    assert bench.selected == "b0n4"
    asks(bench, select="sb1n1")
    assert words_of(bench, bench.selected).startswith("bar 2, beat 2: E")


def test_what_is_possible_applies_and_what_is_not_says_why(bench):
    asks(bench, select="b5n1")
    asks(bench, look=True)
    for row in bench.possible:
        wish = {"do": row["do"], "options": {o["name"]: o["value"] for o in row["options"]}}
        if row["reason"]:
            if all(o["kind"] != "text" for o in row["options"]):
                with pytest.raises(LevelError):
                    bench.edits.preview(bench.read(wish))
        elif all(o["kind"] != "text" or o["value"] for o in row["options"]):
            bench.edits.preview(bench.read(wish))
    assert {row["do"] for row in bench.possible} == set(OPERATIONS)
    reasons = {row["do"]: row["reason"] for row in bench.possible}
    assert "only an eighth long" in reasons["late"]


def test_a_preview_is_seen_and_not_saved(bench, lesson):
    before, saved = bench.staves, file_of(lesson)
    asks(bench, select="b5n0")
    asks(bench, preview={"do": "early", "options": {"by": "eighth"}})
    assert bench.preview_words == "bar 6, beat 1: early (by eighth)"
    assert bench.fresh
    assert bench.staves != before
    assert file_of(lesson) == saved
    asks(bench, cancel=True)
    assert bench.staves == before
    assert not bench.preview_words


def test_an_applied_edit_is_drawn_told_measured_and_saved_and_undone(bench, lesson):
    saved, told = file_of(lesson), bench.facts
    asks(bench, select="b5n0")
    asks(bench, apply={"do": "early", "options": {"by": "eighth"}})
    assert "Bar 6: the first note comes an eighth early" in bench.facts
    assert words_of(bench, bench.selected).startswith("bar 5, beat 4½: A")
    assert bench.status == f"Saved in {lesson.slug}/levels/intermediate.toml"
    assert 'bar = 6, beat = 1, do = "early"' in file_of(lesson)
    assert bench.can_undo
    assert len(bench.past) == 1
    asks(bench, undo=True)
    assert (file_of(lesson), bench.facts) == (saved, told)
    asks(bench, redo=True)
    assert 'bar = 6, beat = 1, do = "early"' in file_of(lesson)


def test_an_edit_is_taken_out_by_its_row(bench, lesson):
    asks(bench, select="b2n3")
    (row,) = bench.here
    assert row["words"].startswith("bar 3, beat 3: grace")
    asks(bench, take_out=row["number"])
    assert bench.here == []
    assert "{ bar = 3," not in file_of(lesson)


def test_a_refused_wish_leaves_a_sentence_and_everything_as_it_was(bench, lesson):
    before = bench.staves, file_of(lesson)
    asks(bench, select="b5n1")
    asks(bench, apply={"do": "late", "options": {"by": "quarter"}})
    assert "cannot come a quarter late" in bench.problem
    asks(bench, apply={"do": "dance"})
    assert "no edit is chosen" in bench.problem
    assert (bench.staves, file_of(lesson)) == before


def test_messages_that_mean_nothing_are_left_alone(bench, lesson):
    before = bench.staves, bench.selected, file_of(lesson)
    for message in (
        {"select": 3}, {"select": "b99n9"}, {"take_out": "x"}, {"take_out": 999},
        {"suggestion": None}, {"suggestion": {"number": 77}}, {"listen": "all"},
        {"restore": -1}, {"settle": "x"}, {"apply": None}, {"preview": [1]}, {},
        {"undo": True, "redo": True}, {"undo": True}, {"redo": True},
    ):  # fmt: skip
        bench._handle_custom_msg(message, [])
    assert (bench.staves, bench.selected, file_of(lesson)) == before


def test_a_suggestion_is_previewed_and_applied_where_it_belongs(bench, lesson):
    asks(bench, select="b5n0")
    asks(bench, look=True)
    assert bench.ideas[0]["words"].startswith("bar 6, beat 1")
    number = next(i for i, idea in enumerate(bench.ideas) if "bar 2" in idea["words"])
    asks(bench, suggestion={"number": number, "apply": False})
    assert bench.preview_words == bench.ideas[number]["words"]
    words = bench.ideas[number]["words"]
    asks(bench, suggestion={"number": number, "apply": True})
    assert words in [str(edit) for edit in bench.edits.edits]


def test_other_widgets_of_the_lesson_are_drawn_anew(bench, lesson):
    excerpt = kit.excerpt(lesson, level="intermediate", section="A")
    other = kit.bench(lesson)
    before, edition = excerpt.html, state_of(lesson).edition
    asks(bench, select="b5n0")
    asks(bench, apply={"do": "octave down", "options": {}})
    assert state_of(lesson).edition == edition + 1
    assert excerpt.html != before
    assert other.staves == bench.staves
    asks(other, undo=True)
    assert excerpt.html == before


def test_a_second_notebook_is_told_and_chooses(bench, lesson):
    second = kit.bench(open_lesson(lesson.folder))
    asks(second, select="b5n0")
    asks(second, apply={"do": "turn", "options": {}})
    asks(bench, select="b4n3")
    asks(bench, apply={"do": "staccato", "options": {}})
    assert "has changed on disk" in bench.conflict
    assert "staccato" not in file_of(lesson)
    asks(bench, settle="load")
    assert not bench.conflict
    assert "bar 6, beat 1: turn" in [str(edit) for edit in bench.edits.edits]
    asks(second, undo=True)
    asks(bench, undo=True)
    assert "has changed on disk" in bench.conflict
    asks(bench, settle="keep")
    assert "staccato" in file_of(lesson)
    assert not bench.conflict


def test_an_earlier_version_is_brought_back(bench, lesson):
    saved = file_of(lesson)
    asks(bench, select="b5n0")
    asks(bench, apply={"do": "turn", "options": {}})
    asks(bench, restore=0)
    assert file_of(lesson) == saved
    assert "Brought back" in bench.status
    asks(bench, undo=True)
    assert '"turn"' in file_of(lesson)


def test_a_pitch_is_typed_as_the_instrument_reads_it(bench, lesson):
    asks(bench, choose={"instrument": "tenor-sax"})
    asks(bench, select="b5n1")
    concert = bench.edits.head.bars[5].notes[1].pitch
    written = words_of(bench, "b5n1").split(": ")[1].split(",")[0]
    asks(bench, look=True)
    (offered,) = next(r for r in bench.possible if r["do"] == "pitch")["options"]
    assert offered["value"].startswith(written)
    asks(bench, apply={"do": "pitch", "options": {"to": offered["value"]}})
    assert bench.edits.head.bars[5].notes[1].pitch.midi == concert.midi


def test_written_and_concert_texts_are_each_others_way_back(lamplighter):
    tune = lamplighter.tune
    for horn in lamplighter.settings.instruments:
        (interval, *_) = write_part(tune, horn).bar_intervals
        for do, text in (("pitch", "E♭4"), ("note", "B4"), ("chord", "Dm7♭5/A♭")):
            shown = written_text(do, text, interval)
            edit = Edit(1, Fraction(1), do, (("to", shown),))
            back = concert_edit(edit, interval).option("to")
            assert back == text


def test_listening_sends_a_few_seconds_of_sound(bench, monkeypatch, tmp_path):
    sent = []
    monkeypatch.setattr(bench, "send", lambda content, buffers=None: sent.append(buffers))
    asks(bench, listen="level")
    (buffers,) = sent
    assert bench.problem == ""
    # 64 kbit a second: two bars at 120 with their ring-out.
    assert 20_000 < len(buffers[0]) < 80_000


def test_the_static_form_is_small_and_for_the_teacher_only(bench):
    bundle = bench.static_form()
    assert FIGURE_MIME not in bundle
    assert "<script" not in bundle["text/html"]
    assert len(bundle["text/html"]) < 150_000
    assert "Bar 2: the first note comes an eighth early." in bundle["text/plain"] or (
        "bar 2: the first note comes an eighth early." in bundle["text/plain"]
    )


def test_a_level_in_notation_is_not_offered_and_not_opened(lesson):
    bench = kit.bench(lesson)
    assert "advanced" not in [value for value, _ in bench.choosers[1]["options"]]
    with pytest.raises(LevelError, match="written out in"):
        kit.bench(lesson, "advanced")


def test_titles_are_escaped(small):
    assert "<b>Tune</b>" not in kit.bench(small).static_form()["text/html"]


def test_every_symbol_of_some_bars_leads_to_a_site(shipped):
    head = shipped.head("intermediate")
    last = len(head.bars) - 1
    known = {site.id for site in sites(head, first=0, last=last)}
    assert set(symbol_sites(head, first=0, last=last).values()) == known


def test_every_site_is_found_by_an_edit_with_its_address(shipped):
    head = shipped.head("intermediate")
    for site in sites(head, first=0, last=len(head.bars) - 1):
        if not site.is_rest:
            edit = Edit(site.number, site.beat, "ghost")
            assert apply_edit(head, edit) != head


def test_choices_agree_with_the_edits_themselves(girl):
    tried = choices(girl.tune, bar=4, beat=Fraction(1), families=("Time", "Marks"))
    for choice in tried:
        edit = Edit(4, Fraction(1), choice.operation.name, choice.options)
        if choice.reason:
            with pytest.raises(LevelError):
                apply_edit(girl.tune, edit)
        else:
            apply_edit(girl.tune, edit)


def test_an_edit_from_the_browser_holds_only_what_was_chosen():
    wish = {"do": "late", "options": {"by": "eighth", "gap": "rest", "other": "x"}}
    assert edit_from(2, Fraction(3), wish).options == (("by", "eighth"),)
    wish = {"do": "repeat", "options": {"times": "3"}}
    assert edit_from(2, Fraction(3), wish).options == (("times", 3),)


def test_every_drafted_edit_can_be_made_on_the_bench(girl):
    for edit in draft_edits(girl.tune, girl.form, level="advanced"):
        wish = {"do": edit.do, "options": dict(edit.options)}
        made = edit_from(edit.bar, edit.beat, wish)
        assert apply_edit(girl.tune, made) == apply_edit(girl.tune, edit)
