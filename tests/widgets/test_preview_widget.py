"""The handout preview shows the real PDF's pages; rights are shown as stated."""

from __future__ import annotations

import asyncio
import re
import shutil
import struct
from pathlib import Path

import pytest

import kit
from kit.errors import LessonError
from kit.lesson.lesson import open_lesson
from kit.publish.handout.pdf import handout_pdf
from kit.publish.pdf_pages import page_count, page_png
from kit.rights.advice import REMINDER
from kit.widgets._quiet import QUIET_S, when_quiet
from kit.widgets._state import state_of
from kit.widgets.desk.preview import PreviewView

SMALL = Path(__file__).resolve().parents[1] / "figures" / "small-lesson"


class ListeningPreview(PreviewView):
    """Keeps what it sends instead of sending it to a browser."""

    def __init__(self, *args, **kwargs):
        self.sent = []
        super().__init__(*args, **kwargs)

    def send(self, content, buffers=None):
        if buffers:
            self.sent.append((content, buffers[0]))


@pytest.fixture
def view(small):
    return ListeningPreview(small, {"level": None, "instrument": None, "paper": None})


def press(view, name, **values):
    view._handle_custom_msg({"do": name, "values": values}, [])


def size_of(png):
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    return struct.unpack(">II", png[16:24])


def test_a_page_is_drawn_once_somebody_looks_in_the_proportions_of_the_paper(view):
    assert view.sent == []
    press(view, "ready")
    about, png = view.sent[-1]
    width, height = size_of(png)
    assert height / width == pytest.approx(297 / 210, rel=0.01)
    assert re.fullmatch(r"Page 1 of \d of the handout for .*, beginner", about["alt"])
    press(view, "choose", paper="letter")
    width, height = size_of(view.sent[-1][1])
    assert height / width == pytest.approx(11 / 8.5, rel=0.01)


def test_pages_are_turned_within_the_handout(view, small):
    pdf = handout_pdf(small, "beginner", small.settings.default_instrument)
    pages = page_count(pdf)
    press(view, "ready")
    press(view, "turn", to="back")
    assert view.page == 1
    for _ in range(pages + 3):
        press(view, "turn", to="next")
    assert view.page == pages
    assert f"page {pages} of {pages}" in view.regions["choices"]


def test_pages_of_a_pdf_are_counted_and_none_is_beyond_the_last(small):
    pdf = handout_pdf(small, "beginner", small.settings.default_instrument)
    assert page_png(pdf, page_count(pdf) + 1, ppi=10) is None


def test_it_follows_the_instrument_of_the_lesson_and_leads_it(view, small):
    press(view, "ready")
    state_of(small).instrument = "tenor-sax"
    assert "Tenor saxophone" in view.sent[-1][0]["alt"]
    press(view, "choose", instrument="trombone")
    assert state_of(small).instrument == "trombone"
    named = kit.preview(small, instrument="trombone")
    state_of(small).instrument = "tenor-sax"
    assert named.chosen["instrument"] == "trombone"


def test_each_wish_is_answered_so_that_the_next_choice_may_follow(small):
    answers = []
    view = kit.preview(small)
    view.send = lambda content, buffers=None: answers.append(content)
    press(view, "choose", level="expert")
    press(view, "choose", level="intermediate")
    assert [one for one in answers if "picture" not in one] == [{"chosen": True}] * 2
    assert len(answers) == 3


def test_a_handout_that_cannot_be_drawn_does_not_stop_the_other_widgets(small, tmp_path):
    shutil.copytree(small.folder, tmp_path / "small")
    lesson = kit.open_lesson(tmp_path / "small")
    preview, excerpt = kit.preview(lesson, level="intermediate"), kit.excerpt(lesson)
    toml = lesson.folder / "lesson.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(
        text.replace('sections = "A" },', 'sections = "Q" },'), encoding="utf-8"
    )
    lesson.reread()
    state_of(lesson).edition += 1
    assert "no section Q" in preview.problem
    excerpt.choose(instrument="trombone")
    assert "trombone" in excerpt.html


async def _asks_often(wishes):
    done = []
    for wish in wishes:
        when_quiet("somebody", lambda wish=wish: done.append(wish))
    assert done == []
    await asyncio.sleep(QUIET_S + 0.2)
    return done


def test_in_a_kernel_only_the_newest_wish_is_done_once_it_is_quiet():
    assert asyncio.run(_asks_often([1, 2, 3])) == [3]


def test_what_is_not_there_is_said(view, small):
    press(view, "choose", level="expert")
    assert 'no level "expert"' in view.problem
    press(view, "choose", paper="papyrus")
    assert 'no paper "papyrus"' in view.problem
    with pytest.raises(LessonError, match="no level"):
        kit.preview(small, level="expert")
    with pytest.raises(ValueError, match="no paper"):
        kit.preview(small, paper="papyrus")


def test_the_static_form_is_the_first_page_small(small):
    form = kit.preview(small).static_form()
    assert set(form) == {"text/html", "text/plain"}
    assert 'src="data:image/png;base64,' in form["text/html"]
    assert len(form["text/html"]) < 130_000
    assert form == kit.preview(small).static_form()


@pytest.fixture
def owned(tmp_path):
    folder = tmp_path / "small-lesson"
    shutil.copytree(SMALL, folder)
    return folder


def test_rights_are_shown_as_stated_with_the_reminder(owned):
    view = kit.rights_summary(open_lesson(owned))
    assert REMINDER in view.regions["rights"]
    assert "Basis" in view.regions["rights"]
    assert REMINDER in view.static_words()


def test_rights_read_again_show_what_is_stated_now(owned):
    view = kit.rights_summary(open_lesson(owned))
    path = owned / "lesson.toml"
    text = path.read_text(encoding="utf-8")
    head = re.sub(r"(?ms)^\[rights\].*?(?=^\[)", "", text)
    path.write_text(head, encoding="utf-8")
    press(view, "again")
    assert "not stated" in view.regions["rights"]
    assert "no basis is stated" in view.regions["rights"]
    path.write_text("title = ", encoding="utf-8")
    press(view, "again")
    assert "lesson.toml" in view.problem
