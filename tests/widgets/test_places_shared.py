"""A section or a bar chosen in one figure is shown by the others that follow."""

import asyncio

import pytest

import kit
from kit.lesson.lesson import open_lesson
from kit.widgets._quiet import PAUSE_S
from kit.widgets._state import state_of


def asks(view, **message):
    view._handle_custom_msg(message, [])


def chosen(view):
    return view.chosen["section"]


def test_a_section_picked_in_the_chart_is_shown_by_excerpt_and_player(lamplighter_again):
    lesson = lamplighter_again
    chart, excerpt, player = kit.form_chart(lesson), kit.excerpt(lesson), kit.player(lesson)
    other_chart = kit.form_chart(lesson)
    asks(chart, pick=2)
    assert "bars 17–24" in excerpt.html
    assert player.chosen["loop"] == "17-24"
    assert chart.picked == other_chart.picked == 2
    asks(chart, pick=2)
    assert chosen(excerpt) == player.chosen["loop"] == ""
    assert chart.picked == other_chart.picked == -1


async def _chosen_in_a_row(view, other, horns):
    for horn in horns:
        asks(view, choose={"instrument": horn})
    meanwhile = view.chosen["instrument"], other.chosen["instrument"]
    await asyncio.sleep(PAUSE_S + 0.2)
    return meanwhile, other.chosen["instrument"]


def test_the_others_follow_the_last_of_several_choices(lamplighter_again):
    view, other = kit.excerpt(lamplighter_again), kit.form_chart(lamplighter_again)
    before = other.chosen["instrument"]
    drawn = []
    other.observe(drawn.append, names="html")
    horns = ("trumpet", "flute", "tenor-sax")
    meanwhile, after = asyncio.run(_chosen_in_a_row(view, other, horns))
    assert meanwhile == ("tenor-sax", before)
    assert after == "tenor-sax"
    assert len(drawn) == 1


def test_a_figure_that_says_its_section_or_does_not_follow_stays(lamplighter_again):
    lesson = lamplighter_again
    said, apart = kit.excerpt(lesson, section="A"), kit.excerpt(lesson)
    apart.follow = False
    asks(kit.form_chart(lesson), pick=2)
    assert chosen(said) == "A"
    assert chosen(apart) == ""


def test_the_second_time_behind_a_repeat_sign_is_shown_where_it_is_printed(girl):
    lesson = open_lesson(girl.folder)
    excerpt = kit.excerpt(lesson)
    places = len(lesson.form.sections)
    assert places > 2
    for place in range(places):
        asks(kit.form_chart(lesson), pick=place)
        assert excerpt.problem == ""
        label = lesson.form.sections[place].label
        assert chosen(excerpt).startswith(label)


@pytest.mark.parametrize("place", [-1, 99, "A", None])
def test_a_section_that_is_not_there_is_passed_over(lamplighter_again, place):
    chart, excerpt = kit.form_chart(lamplighter_again), kit.excerpt(lamplighter_again)
    asks(chart, pick=place)
    assert chart.picked == -1
    assert chosen(excerpt) == ""


def test_a_problem_sends_excerpt_and_bench_to_its_bar(lamplighter_again):
    lesson = lamplighter_again
    excerpt, bench = kit.excerpt(lesson), kit.bench(lesson)
    pinned = kit.excerpt(lesson, level="beginner")
    go = {"first": 18, "last": 19, "level": "intermediate", "instrument": "trumpet"}
    asks(kit.problems(lesson), go=go)
    assert state_of(lesson).instrument == "trumpet"
    assert excerpt.chosen["level"] == "intermediate"
    assert "bars 18 and 19" in excerpt.html
    assert "trumpet" in excerpt.html
    assert bench.chosen["section"] == "B"
    assert bench.site.number == 18
    assert pinned.chosen["level"] == "beginner"
    assert chosen(pinned) == ""
    # Sent there again after a look elsewhere.
    excerpt.choose(section="A")
    asks(kit.problems(lesson), go=go)
    assert "bars 18 and 19" in excerpt.html


def test_every_problem_with_bars_says_where_it_is(small):
    html = kit.problems(small).html
    assert html.count("data-first=") == html.count('class="lk-card lk-notation"') > 0


def test_a_wish_that_means_nothing_moves_nobody(small):
    excerpt, problems = kit.excerpt(small), kit.problems(small)
    for wish in ({}, {"first": "1", "last": 2}, 5, {"first": 1, "last": 900}):
        asks(problems, go=wish)
    assert chosen(excerpt) == ""
