import tomllib

import pytest

import kit
from kit.lesson.lesson import open_lesson


@pytest.fixture
def route(lesson):
    return kit.route_editor(lesson, "intermediate")


def asks(view, **message):
    view._handle_custom_msg(message, [])


def rows_of(view, **changes):
    """Give the rows with fields changed: ``row2_tag_times="2"``."""
    rows = [dict(row) for row in view.rows]
    for name, value in changes.items():
        place, _, field = name.removeprefix("row").partition("_")
        rows[int(place)][field] = value
    return rows


def level_of(lesson, name="intermediate"):
    table = tomllib.loads((lesson.folder / "lesson.toml").read_text(encoding="utf-8"))
    return next(level for level in table["levels"] if level["name"] == name)


def test_a_tag_is_changed_and_the_rest_of_the_file_stays(route, lesson):
    before = (lesson.folder / "lesson.toml").read_text()
    asks(route, rows=rows_of(route, row2_tag_times="2"))
    after = (lesson.folder / "lesson.toml").read_text()
    assert after == before.replace(
        'sections = "A", tag = { bars = 2, times = 3 } }',
        'sections = "A", tag = { bars = 2, times = 2 } }',
    )
    assert "twice in all" in route.html
    assert lesson.level("intermediate").settings.route[2].tag.times == 2


def test_bars_and_minutes_are_those_of_the_route(route, lesson):
    level = lesson.level("intermediate")
    minutes, seconds = divmod(round(level.seconds), 60)
    assert f"{level.route.counted_bars} bars without the count-in" in route.html
    assert f"<td>120</td><td>{minutes}:{seconds:02}</td>" in route.html
    slower = round(level.route.seconds(72))
    assert f"60 %</th><td>72</td><td>{slower // 60}:{slower % 60:02}</td>" in route.html
    assert route.html.index("60 %") < route.html.index("100 %")


def test_passages_are_added_removed_and_moved(lesson):
    route = kit.route_editor(lesson, "beginner")
    head = {"play": "head", "sections": "", "tag_bars": "", "tag_times": ""}
    solo = head | {"play": "solo"}
    asks(route, rows=[head, solo])
    assert level_of(lesson, "beginner")["route"] == [{"play": "head"}, {"play": "solo"}]
    asks(route, rows=[solo, head])
    assert level_of(lesson, "beginner")["route"] == [{"play": "solo"}, {"play": "head"}]
    asks(route, rows=[head])
    assert level_of(lesson, "beginner")["route"] == [{"play": "head"}]


def test_a_route_that_does_not_fit_waits_with_a_sentence_and_is_not_saved(route, lesson):
    before = (lesson.folder / "lesson.toml").read_text()
    asks(route, rows=rows_of(route, row1_sections="AXB"))
    assert 'asks for sections "AXB"' in route.problem
    assert route.rows[1]["sections"] == "AXB"
    assert (lesson.folder / "lesson.toml").read_text() == before
    asks(route, undo=True)
    assert route.rows[1]["sections"] == "AAB"
    assert route.problem == ""


@pytest.mark.parametrize("field", ["tag_bars", "tag_times"])
@pytest.mark.parametrize("text", ["0", "-1", "two", "99999", "1.5", "²"])
def test_a_tag_that_is_no_number_is_refused(route, field, text):
    asks(route, rows=rows_of(route, **{f"row2_{field}": text}))
    assert "is no number for the tag's" in route.problem


def test_what_the_band_does_is_chosen_saved_and_said(route, lesson):
    asks(route, rows=rows_of(route, row1_band="stop-time", row1_break="2"))
    asks(route, rows=rows_of(route, row2_tag_vamp="vamp"))
    saved = level_of(lesson)["route"]
    assert (saved[1]["band"], saved[1]["break"]) == ("stop-time", 2)
    assert saved[2]["tag"]["vamp"] is True
    assert "in stop-time, a break in its last two bars" in route.html
    assert "as a vamp" in route.html
    bands = {bar.band for bar in lesson.level("intermediate").route.bars}
    assert bands == {"full", "stop-time", "silent"}
    asks(route, rows=rows_of(route, row1_band="full", row1_break=""))
    assert not {"band", "break"} & set(level_of(lesson)["route"][1])


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"row0_band": "trading-fours"}, "fours are traded in solos"),
        ({"row1_band": "loud"}, 'the band has no "loud"'),
        ({"row1_break": "9"}, "is no number for the break"),
    ],
)
def test_what_the_band_cannot_do_waits_with_a_sentence(route, changes, match):
    asks(route, rows=rows_of(route, **changes))
    assert match in route.problem


def test_count_in_intro_and_ending_are_set_and_taken_out(route, lesson):
    asks(route, field={"count_in_bars": "1"})
    asks(route, field={"intro": "vamp"})
    asks(route, field={"ending": "ritardando"})
    said = level_of(lesson)
    assert (said["count_in_bars"], said["intro"], said["ending"]) == (
        1,
        "vamp",
        "ritardando",
    )
    assert lesson.level("intermediate").settings.band.intro == "vamp"
    for _ in range(3):
        asks(route, undo=True)
    assert not {"count_in_bars", "intro", "ending"} & set(level_of(lesson))


def test_messages_that_mean_nothing_are_left_alone(route, lesson):
    before = (lesson.folder / "lesson.toml").read_text()
    for message in (
        {"rows": "x"}, {"rows": None}, {"field": {"name": "x"}}, {"field": []},
        {"field": {}}, {"rows": [{}] * 1000}, {"rows": ["x"]},
    ):  # fmt: skip
        route._handle_custom_msg(message, [])
    assert (lesson.folder / "lesson.toml").read_text() == before


def test_a_second_notebook_changes_other_keys_in_peace_and_the_same_one_in_conflict(
    route, lesson
):
    second = kit.route_editor(open_lesson(lesson.folder), "intermediate")
    asks(second, field={"ending": "stop"})
    third = kit.route_editor(open_lesson(lesson.folder), "beginner")
    asks(third, field={"count_in_bars": "1"})
    assert third.conflict == ""
    asks(route, rows=rows_of(route, row2_tag_times="4"))
    assert "ending has changed on disk" in route.conflict
    assert level_of(lesson)["route"][2]["tag"]["times"] == 3
    asks(route, settle="keep")
    assert level_of(lesson)["route"][2]["tag"]["times"] == 4
    assert "ending" not in level_of(lesson)


def test_the_excerpts_of_the_lesson_and_its_player_follow(route, lesson):
    player = kit.player(lesson, level="intermediate")
    before = player.seconds
    asks(route, rows=rows_of(route, row2_tag_times="2"))
    assert player.seconds < before


def test_the_static_form_says_it_in_words(route):
    bundle = route.static_form()
    assert "Count-in 2 bars; head A A B A; solo A A B; head A" in bundle["text/plain"]
    assert "100 %" in bundle["text/html"]
