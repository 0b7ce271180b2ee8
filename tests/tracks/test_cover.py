"""The picture of a lesson that gives none: its own words, whatever they are."""

import io
import json
import re

import numpy as np
import pytest
from PIL import Image

from kit.tracks._cover import _set


def drawn(title="A tune", composer="Somebody", school="A school", form="AABA"):
    said = {"title": title, "composer": composer, "school": school, "form": list(form)}
    return _set(json.dumps(said))


def pixels(png):
    return np.asarray(Image.open(io.BytesIO(png)).convert("L"), int)


def test_it_is_a_small_square_that_tells_lessons_apart():
    one = drawn()
    assert Image.open(io.BytesIO(one)).size == (500, 500)
    assert len(one) < 20_000
    assert drawn() == one
    assert len({one, drawn(title="Another"), drawn(form="AB"), drawn(school="")}) == 4


@pytest.mark.parametrize(
    "title",
    [
        "x",
        "A very long title that goes on and on " * 6,
        "#panic()",
        "$x$ <b> & *bold*",
        "דף",
    ],
)
def test_any_title_is_set_as_words_within_the_margins(title):
    shown = pixels(drawn(title=title))
    paper = shown[2, 2]
    for edge in (shown[:, :24], shown[:, -24:], shown[:24], shown[-24:]):
        assert abs(edge - paper).max() < 12
    assert (shown[36:240] < paper - 80).any(), "something is written"


def test_the_form_is_drawn_section_by_section():
    def boxes(form):
        row = pixels(drawn(form=form))[350]
        dark = "".join("x" if value < 120 else "." for value in row)
        return len(re.findall("x{8,}", dark))

    assert boxes("AABA") == 4
    assert boxes("ABC") == 3
    assert boxes("A" * 40) == 12, "as many as find room"
