"""The list of lessons, and a new lesson from a file."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from waiting import until

import kit

SMALL = Path(__file__).resolve().parents[1] / "figures" / "small-lesson"
TUNE = """X:1
T:Third <i>Tune</i>
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""


@pytest.fixture
def lessons(tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "lessons"
    shutil.copytree(SMALL, folder / "small-lesson")
    (folder / "broken").mkdir()
    (folder / "broken" / "lesson.toml").write_text("title = ", encoding="utf-8")
    (folder / "Start here.ipynb").write_text("{}", encoding="utf-8")
    (tmp_path / "third.abc").write_text(TUNE, encoding="utf-8")
    return folder


def press(view, name, data=None, **values):
    view._handle_custom_msg({"do": name, "values": values}, [data] if data else [])


def test_every_lesson_is_listed_with_its_state_and_nothing_else(lessons):
    view = kit.school(lessons)
    assert list(view.regions) == ["head", "new", "lesson-broken", "lesson-small-lesson"]
    assert "cannot be read" in view.regions["lesson-broken"]
    assert "never built" in view.regions["lesson-small-lesson"]
    assert "checking" in view.regions["lesson-small-lesson"]


def test_checks_follow_once_somebody_looks_and_name_what_is_wrong(lessons):
    view = kit.school(lessons)
    press(view, "ready")
    until(lambda: "checking" not in "".join(view.regions.values()), why="all are checked")
    entry = view.entries["broken"].checked
    assert entry.kind == "error"
    assert "broken/lesson.toml" in view.regions["lesson-broken"]
    found = view.entries["small-lesson"].checked.findings
    assert [text for severity, text in found if severity == "error"] == [
        text for _, text in found if "has no notebook" in text
    ]


def test_a_check_is_kept_until_a_file_changes(lessons):
    view = kit.school(lessons)
    press(view, "check", slug="small-lesson")
    first = view.entries["small-lesson"].checked
    assert kit.school(lessons).do("check", {"slug": "small-lesson"}, None) is None
    (lessons / "small-lesson" / "lesson.toml").write_text("", encoding="utf-8")
    press(view, "check", slug="small-lesson")
    assert view.entries["small-lesson"].checked != first
    assert view.entries["small-lesson"].checked.kind == "error"


def test_builds_wait_for_one_another_and_can_be_stopped(lessons):
    shutil.copytree(lessons / "small-lesson", lessons / "another")
    view = kit.school(lessons)
    press(view, "build", slug="small-lesson")
    press(view, "build", slug="another")
    assert "Waits for the build" in view.regions["lesson-another"]
    press(view, "stop", slug="another")
    assert "Waits" not in view.regions["lesson-another"]
    press(view, "stop", slug="small-lesson")
    until(lambda: not view._runs["small-lesson"].is_running, why="the build has ended")


def test_a_slug_that_is_no_lesson_is_refused(lessons):
    view = kit.school(lessons)
    press(view, "build", slug="../elsewhere")
    assert "there is no lesson" in view.problem


def test_an_uploaded_file_is_shown_confirmed_and_made(lessons, tmp_path):
    view = kit.school(lessons)
    press(view, "look", TUNE.encode(), file="..\\..\\evil/third.abc")
    assert view.problem == ""
    shown = view.regions["new"]
    assert "Is this your tune?" in shown
    assert "Third &lt;i&gt;Tune&lt;/i&gt;" in shown
    assert "F major" in shown
    assert "found from the music" in shown
    assert "<svg" in shown
    assert sorted(p.name for p in lessons.iterdir() if p.is_dir()) == [
        "broken",
        "small-lesson",
    ]
    press(view, "create", title="My own title")
    assert (lessons / "my-own-title" / "lesson.ipynb").is_file()
    assert 'data-open="my-own-title/lesson.ipynb"' in view.regions["new"]
    assert "lesson-my-own-title" in view.regions
    until(lambda: view.entries["my-own-title"].checked is not None, why="it is checked")


def test_a_file_by_its_path_or_a_sentence(lessons, tmp_path):
    view = kit.new_lesson(lessons)
    press(view, "look", path=str(tmp_path / "third.abc"))
    assert "Is this your tune?" in view.regions["new"]
    press(view, "look", path=str(tmp_path / "none.abc"))
    assert "there is no such file" in view.problem
    press(view, "look", path="")
    assert "no file is chosen" in view.problem
    press(view, "create", title="x")
    assert "no file is chosen" in view.problem


def test_what_is_not_notation_makes_nothing(lessons):
    view = kit.new_lesson(lessons)
    before = sorted(lessons.rglob("*"))
    press(view, "look", b"\x00\x01 not music", file="a.musicxml")
    assert "a.musicxml" in view.problem
    press(view, "look", b"x" * 8_000_001, file="big.abc")
    assert "larger than 8 MB" in view.problem
    assert sorted(lessons.rglob("*")) == before


BOOK = """X:2
T:Uneven & First
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 A | "F"F4 |]

X:5
T:Second
M:3/4
L:1/4
K:G
"G"G B d | "D7"A F D | "G"G3 |]
"""


def test_the_tunes_of_a_book_are_offered_by_number_and_title(lessons):
    view = kit.new_lesson(lessons)
    press(view, "look", BOOK.replace(" A |", " |").encode(), file="book.abc")
    assert view.problem == ""
    assert (
        '<option value="2" selected>2: Uneven &amp; First</option>' in view.regions["new"]
    )
    press(view, "tune", tune="5", title="Uneven & First")
    assert 'value="Second"' in view.regions["new"]
    assert '<option value="5" selected>5: Second</option>' in view.regions["new"]
    assert "G major" in view.regions["new"]
    press(view, "create", title="Second")
    assert kit.open_lesson(lessons / "second").tune.meter.beats == 3
    assert "Uneven" not in (lessons / "second" / "tune.abc").read_text(encoding="utf-8")


def test_another_tune_can_be_chosen_though_the_first_cannot_be_read(lessons):
    view = kit.new_lesson(lessons)
    press(view, "look", BOOK.encode(), file="book.abc")
    assert "bar 2: 5 quarters in a bar of 4/4" in view.problem
    assert "--keep-uneven" not in view.problem
    assert "Is this your tune?" not in view.regions["new"]
    press(view, "tune", tune="5")
    assert view.problem == ""
    assert "Is this your tune?" in view.regions["new"]
    assert 'type="checkbox"' not in view.regions["new"]
    press(view, "tune", tune="9")
    assert "there is no tune X:9" in view.problem
    assert '<option value="5">5: Second</option>' in view.regions["new"]


def test_uneven_bars_are_kept_if_the_box_is_ticked_and_refused_again_if_not(lessons):
    view = kit.new_lesson(lessons)
    press(view, "look", BOOK.encode(), file="book.abc")
    assert 'value="yes"> Keep uneven bars' in view.regions["new"]
    press(view, "uneven", uneven="yes")
    assert view.problem == ""
    assert 'value="yes" checked> Keep uneven bars' in view.regions["new"]
    assert "given the meter they fill: 2." in view.regions["new"]
    press(view, "uneven", uneven="", title="Mine")
    assert "bar 2" in view.problem
    press(view, "uneven", uneven="yes", title="Mine")
    assert 'value="Mine"' in view.regions["new"]
    press(view, "create", title="Mine")
    meters = [str(bar.meter) for bar in kit.open_lesson(lessons / "mine").tune.bars]
    assert meters == ["4/4", "5/4", "4/4"]


def test_a_long_book_lists_its_first_thousand_tunes_and_says_so(lessons):
    body = "M:2/4\nL:1/4\nK:C\nC D|]"
    book = "\n\n".join(f"X:{n}\nT:No. {n}\n{body}" for n in range(1, 1202))
    view = kit.new_lesson(lessons)
    press(view, "look", book.encode(), file="long.abc")
    tunes, _, _ = view.regions["new"].partition("</select>")
    assert tunes.count("<option") == 1000
    assert "The first 1000 of 1201 tunes are listed" in view.regions["new"]


def test_feels_stand_by_their_names_with_those_for_the_meter_first(lessons):
    view = kit.new_lesson(lessons)
    music = "M:6/8\nR:jig\nL:1/8\nK:D\n" + "|".join(["d2e f2e"] * 8) + "|]"
    press(view, "look", f"X:1\nT:Six\n{music}".encode(), file="six.abc")
    html = view.regions["new"]
    fitting, _, others = html.partition('<optgroup label="for other meters">')
    assert '<optgroup label="for 6/8">' in fitting
    assert '<option value="jig" selected>Jig</option>' in fitting
    assert '<option value="march">March</option>' in fitting
    assert '<option value="bossa-nova">Bossa nova</option>' in others
    assert html.count('data-do="feel"') == 1
    press(view, "feel", feel="march", title="Six")
    assert '<option value="march" selected>March</option>' in view.regions["new"]
    press(view, "create", title="Six")
    levels = kit.open_lesson(lessons / "six").settings.levels
    assert {level.feel for level in levels} == {"march"}


TWO_PARTS = """<?xml version="1.0"?><score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Trumpet</part-name></score-part>
<score-part id="P2"><part-name>Trombone</part-name></score-part></part-list>
{parts}</score-partwise>"""
PART = """<part id="P{n}"><measure number="1"><attributes><divisions>1</divisions>
<key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>C</step><octave>4</octave></pitch><duration>{quarters}</duration></note>
</measure></part>"""


def test_a_part_can_be_chosen_though_the_one_read_by_itself_is_uneven(lessons):
    parts = PART.format(n=1, quarters=5) + PART.format(n=2, quarters=4)
    view = kit.new_lesson(lessons)
    press(view, "look", TWO_PARTS.format(parts=parts).encode(), file="two.musicxml")
    assert "5 quarters" in view.problem
    assert '<option value="" selected>choose one</option>' in view.regions["new"]
    press(view, "part", part="Trombone")
    assert view.problem == ""
    assert "<option selected>Trombone</option>" in view.regions["new"]


def test_a_title_that_is_taken_is_said_and_the_draft_stays(lessons, tmp_path):
    view = kit.new_lesson(lessons)
    press(view, "look", path=str(tmp_path / "third.abc"))
    press(view, "create", title="Small lesson")
    assert 'there is a lesson "small-lesson" already' in view.problem
    assert "Is this your tune?" in view.regions["new"]


def test_the_static_form_lists_titles_only(lessons):
    form = kit.school(lessons).static_form()
    assert set(form) == {"text/html", "text/plain"}
    body = form["text/html"].partition("</style>")[2]
    assert "<li>broken</li>" in body
    assert "built" not in body


def test_changes_are_proposed_if_the_box_is_ticked_and_only_where_there_are_none(lessons):
    bare = lessons.parent / "bare.abc"
    bare.write_text("X:1\nT:Bare\nM:4/4\nL:1/4\nK:G\nGBdB|cege|dfaf|g4|\n", "utf-8")
    view = kit.new_lesson(lessons)
    press(view, "look", path=str(bare))
    assert 'value="yes"> Propose changes' in view.regions["new"]
    press(view, "chords", chords="yes")
    assert 'value="yes" checked> Propose changes' in view.regions["new"]
    assert "4 chord symbols, proposed" in view.regions["new"]
    press(view, "create", title="Bare")
    made = kit.open_lesson(lessons / "bare")
    assert made.settings.changes_proposed
    press(view, "look", path=str(lessons.parent / "third.abc"))
    assert "Propose changes" not in view.regions["new"]
