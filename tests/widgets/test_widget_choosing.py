import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

import kit
from kit.errors import LessonError
from kit.figures.figure import FIGURE_MIME
from kit.lesson.figure_calls import FIGURES
from kit.tune.read import read_tune
from kit.widgets._state import state_of


def browser_chooses(view, **values):
    """Send what the browser sends."""
    view._handle_custom_msg({"choose": values}, [])


def read_tune_text(text):
    """Read MusicXML the way a notation program would: from a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.musicxml"
        path.write_text(text, encoding="utf-8")
        return read_tune(path)


def offered(view, name):
    return next(c for c in view.choosers if c["name"] == name)


def test_choosing_an_instrument_redraws_in_its_key(small):
    view = kit.excerpt(small, section="A")
    assert "in A minor" in view.html
    browser_chooses(view, instrument="tenor-sax")
    assert "in D minor" in view.html
    assert offered(view, "instrument")["value"] == "tenor-sax"


def test_views_that_follow_change_together_and_the_others_do_not(small):
    first, second = kit.excerpt(small), kit.form_chart(small)
    pinned = kit.excerpt(small, instrument="trombone")
    apart = kit.excerpt(small)
    apart.follow = False
    browser_chooses(first, instrument="tenor-sax")
    assert "tenor saxophone" in second.html
    assert "trombone" in pinned.html
    assert "alto saxophone" in apart.html
    assert state_of(small).instrument == "tenor-sax"
    apart.follow = True
    assert "tenor saxophone" in apart.html


def test_a_view_shown_later_begins_on_the_instrument_chosen_before(small):
    kit.excerpt(small).choose(instrument="trombone")
    assert "trombone" in kit.solo_guide(small).html


def test_a_closed_view_follows_no_more(small):
    closed, other = kit.excerpt(small), kit.excerpt(small)
    closed.close()
    browser_chooses(other, instrument="tenor-sax")
    assert "alto saxophone" in closed.html


def test_a_section_that_another_level_lacks_falls_back_to_all(small):
    view = kit.excerpt(small, level="intermediate", section="solo")
    assert "bars 17–20" in view.html
    browser_chooses(view, level="beginner")
    assert offered(view, "section")["value"] == ""
    assert "solo" not in [value for value, _ in offered(view, "section")["options"]]
    assert "bars 1–16" in view.html


def test_a_value_that_is_of_no_use_leaves_a_sentence_and_the_figure_as_it_was(small):
    view = kit.excerpt(small, section="A")
    before = view.html
    browser_chooses(view, level="expert")
    assert 'no level "expert"' in view.problem
    assert view.html == before
    assert view.chosen["level"] == "beginner"
    browser_chooses(view, level="intermediate")
    assert view.problem == ""


def test_messages_that_mean_nothing_are_left_alone(small):
    view = kit.excerpt(small)
    before = view.html
    for content in ({}, {"choose": 3}, "choose", None, {"render": "yes"}):
        view._handle_custom_msg(content, [])
    assert view.html == before
    with pytest.raises(ValueError, match="no chooser 'tempo'"):
        view.choose(tempo="120")


def test_a_call_with_an_unknown_level_says_so_at_once(small):
    with pytest.raises(LessonError, match='no level "expert"'):
        kit.excerpt(small, level="expert")


@pytest.mark.parametrize("level", ["intermediate", "expert"])
def test_each_choice_is_answered_so_that_the_next_may_follow(small, level):
    sent = []
    view = kit.excerpt(small)
    view.send = lambda content, buffers=None: sent.append(content)
    browser_chooses(view, level=level)
    assert sent == [{"chosen": True}]


def test_any_bars_can_be_shown_and_stay_an_option(small):
    view = kit.excerpt(small, bars=(3, 6))
    assert "bars 3–6" in view.html
    assert ["3-6", "Bars 3–6"] in offered(view, "section")["options"]
    assert view.static_form()[FIGURE_MIME]["bars"] == [3, 6]
    assert "section" not in view.static_form()[FIGURE_MIME]
    browser_chooses(view, section="2-2")
    assert "bar 2" in view.html
    browser_chooses(view, section="90-99")
    assert "no section" in view.problem
    assert offered(view, "section")["value"] == "2-2"
    with pytest.raises(ValueError, match="not for both"):
        kit.excerpt(small, section="A", bars=(3, 6))


def test_a_smaller_size_takes_fewer_lines(lamplighter):
    view = kit.excerpt(lamplighter)
    lines = {}
    for size in ("small", "normal", "large"):
        browser_chooses(view, size=size)
        lines[size] = view.html.count('class="system"')
    assert lines["small"] < lines["normal"] < lines["large"]
    browser_chooses(view, size="huge")
    assert 'no size "huge"' in view.problem


@pytest.mark.parametrize("section", ["", "B", "3-4"])
def test_musicxml_of_an_excerpt_holds_its_bars_at_written_pitch(small, section):
    view = kit.excerpt(small, level="beginner", instrument="tenor-sax")
    browser_chooses(view, section=section)
    text = view.musicxml()
    part = small.part("beginner", "tenor-sax").tune
    shown = {"": part.bars, "B": part.bars[8:12], "3-4": part.bars[2:4]}[section]
    assert text.count("<measure ") == len(shown)
    written = re.findall(r"<step>(.)</step>.*?<octave>(\d)</octave>", text, re.DOTALL)
    assert written == [
        (note.pitch.step, str(note.pitch.octave))
        for bar in shown
        for note in bar.notes
        if note.pitch
    ]
    assert "<chromatic>-2</chromatic>" in text
    assert "<octave-change>-1</octave-change>" in text
    assert read_tune_text(text).key == small.tune.key
    assert view.file_name == "-".join(
        filter(None, ("small-lesson", "beginner", "tenor-sax", section))
    )


def test_choosing_a_concert_key_transposes_and_the_own_key_comes_first(small):
    view = kit.excerpt(small, section="A")
    options = offered(view, "key")["options"]
    assert options[0] == ["", "Own key, C minor"]
    assert len(options) == 13
    browser_chooses(view, key="F minor")
    assert "alto saxophone, in D minor, sounding in F minor" in view.html
    browser_chooses(view, key="F major")
    assert "cannot be played in F major" in view.problem
    assert "sounding in F minor" in view.html
    browser_chooses(view, key="")
    assert "sounding in" not in view.html


def test_a_call_may_name_the_key_and_is_told_if_there_is_none_such(small):
    view = kit.excerpt(small, key="gb")
    assert offered(view, "key")["value"] == "F# minor"
    with pytest.raises(LessonError, match='"H" is not a key'):
        kit.excerpt(small, key="H")
    assert offered(kit.excerpt(small, key="C minor"), "key")["value"] == ""


def test_problems_are_listed_for_all_levels_or_one(small):
    view = kit.problems(small)
    assert offered(view, "level")["value"] == ""
    everything = view.html
    browser_chooses(view, level="beginner")
    assert view.problem == ""
    assert len(view.html) <= len(everything)
    with pytest.raises(LessonError, match='no level "expert"'):
        kit.problems(small, level="expert")


def test_problems_of_a_broken_lesson_are_listed_too(small, tmp_path):
    shutil.copytree(small.folder, tmp_path / "broken")
    (tmp_path / "broken/tune.abc").write_text("X:1\nT:x\nM:4/4\nL:1/8\nK:C\nc8 c |\nc8|\n")
    html = kit.problems(kit.open_lesson(tmp_path / "broken")).html
    assert "lk-is-error" in html
    assert "broken/tune.abc, bar 1" in html


def test_comparison_begins_with_the_first_two_levels(small):
    view = kit.comparison(small)
    assert "From beginner to intermediate" in view.html
    browser_chooses(view, lower="intermediate")
    assert "The notes and changes are the same." in view.html


def test_every_select_box_offers_the_value_it_shows(small):
    for view in (getattr(kit, row.name)(small) for row in FIGURES):
        assert view.choosers
        for chooser in view.choosers:
            assert chooser["value"] in [value for value, _ in chooser["options"]]


def test_a_view_has_an_id_of_its_own_that_follows_from_its_call(small):
    script = (
        "import sys, kit; lesson = kit.open_lesson(sys.argv[1]); "
        "print(*(kit.excerpt(lesson, section=s).model_id for s in ('A', 'B', 'A')))"
    )
    command = [sys.executable, "-c", script, str(small.folder)]
    runs = [
        subprocess.run(command, capture_output=True, text=True, check=True).stdout.split()
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert len(set(runs[0])) == 3
