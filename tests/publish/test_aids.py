"""Recording aids: times that add up, hostile words that stay words, real pictures."""

import io
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest
from pypdf import PdfReader

from kit.errors import LessonError
from kit.lesson.lesson import open_lesson
from kit.lesson.publish_tables import RecordingSettings, Talk
from kit.publish.recording._press import press_tagged_pdf
from kit.publish.recording._running_order import RING_OUT_S, running_order, spoken_seconds
from kit.publish.recording.aids import (
    AIDS,
    cue_cards_pdf,
    description_text,
    recording_aids,
    running_order_html,
    still_png,
)

TITLE = 'Fish & <b>Chips</b> #"\\$[x]" Ünïcode'


def test_every_aid_has_a_file_of_its_kind(lesson):
    aids = recording_aids(lesson, "easy")
    assert {aid.kind for aid in aids} == set(AIDS)
    assert aids[1].path("easy") == "recording/easy-cue-cards.pdf"
    assert recording_aids(lesson, "easy") == aids


def test_playing_takes_exactly_as_long_as_the_route(lesson):
    for level in lesson.levels:
        items = running_order(lesson, level.name)
        played = [item for item in items if item.kind != "talk"]
        assert sum(item.seconds for item in played) == pytest.approx(
            level.count_in_s + level.seconds
        )
        assert played[0].audio_s == 0
        for item in played:
            assert item.start_s - played[0].start_s == pytest.approx(item.audio_s)


def test_nothing_overlaps_and_the_last_chord_rings(lesson):
    items = running_order(lesson, "hard")
    for one, other in pairwise(items):
        ringing = other.kind == "talk" and one.kind == "play"
        gap = RING_OUT_S if ringing else 0
        assert other.start_s == pytest.approx(one.end_s + gap)


def test_the_teachers_own_talk_takes_the_place_of_the_suggested(folder):
    lesson = open_lesson(folder)
    own = RecordingSettings(talk=(Talk("Say this", 42.0),), close=(Talk("Bye", 7.0),))
    lesson.settings = replace(lesson.settings, recording=own)
    items = running_order(lesson, "easy")
    assert (items[0].text, items[0].seconds, items[0].estimated) == ("Say this", 42, False)
    assert items[1].start_s == 42
    assert items[-1].text == "Bye"


def test_talk_is_estimated_at_130_words_a_minute():
    assert spoken_seconds("word " * 130) == 60
    assert spoken_seconds("word") == 5


def test_the_running_order_is_well_formed_and_escapes_everything(lesson):
    html = running_order_html(lesson, "easy")
    ElementTree.fromstring(re.sub(r"<!DOCTYPE html>|<meta[^>]*>", "", html))
    assert "<b>Chips" not in html
    assert "<script" not in html
    assert "http" not in html


def test_the_description_lists_chapters_a_video_site_accepts(lesson):
    text = description_text(lesson, "hard")
    times = re.findall(r"^(\d+):(\d\d) ", text, re.MULTILINE)
    seconds = [int(minutes) * 60 + int(rest) for minutes, rest in times]
    assert seconds[0] == 0
    assert len(seconds) >= 3
    assert all(later - one >= 9 for one, later in pairwise(seconds))
    assert TITLE in text
    assert "not legal advice" in text


def test_cue_cards_are_tagged_and_one_for_each_talk(lesson):
    pdf = PdfReader(io.BytesIO(cue_cards_pdf(lesson, "easy")))
    talks = [i for i in running_order(lesson, "easy") if i.kind == "talk"]
    assert len(pdf.pages) == len(talks) + 1
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    text = " ".join(page.extract_text() for page in pdf.pages)
    assert "Count-in" in text
    assert "Head A, bar 1" in text


def test_the_still_picture_has_its_size_and_shows_music(lesson):
    png = still_png(lesson, "easy")
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(png[16:20]) == 1280
    assert int.from_bytes(png[20:24]) == 720
    import av

    with av.open(io.BytesIO(png)) as picture:
        pixels = next(picture.decode(video=0)).to_ndarray(format="gray")
    lower = pixels[500:700, 100:1180]
    assert (lower < 90).mean() > 0.005, "no ink where the first line of music belongs"
    assert (lower > 240).mean() > 0.8
    assert still_png(lesson, "easy") == png


def test_a_sign_without_a_font_is_said_so_on_cue_cards_too():
    with pytest.raises(LessonError, match="no font on this machine can print"):
        press_tagged_pdf(
            "cue-cards.typ",
            {
                "title": "Cards", "author": "A", "lang": "en", "region": None,
                "lesson": "A \U000f1234 sign", "facts": "", "cards": [],
            },
            {},
        )  # fmt: skip
