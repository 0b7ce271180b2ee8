"""Builders of tiny notation files, one feature each."""

from __future__ import annotations

import io
import zipfile

import pytest

HEAD = "X:1\nT:Test\nM:{meter}\nL:1/8\nK:{key}\n"


def abc_text(music: str, *, meter: str = "4/4", key: str = "C") -> str:
    return HEAD.format(meter=meter, key=key) + music + "\n"


def note_xml(
    step: str = "C",
    duration: int = 4,
    *,
    octave: int = 4,
    alter: int = 0,
    before: str = "",
    after: str = "",
) -> str:
    """Give a note; divisions are 4 to the quarter."""
    alteration = f"<alter>{alter}</alter>" if alter else ""
    return (
        f"<note>{before}<pitch><step>{step}</step>{alteration}<octave>{octave}</octave></pitch>"
        f"<duration>{duration}</duration>{after}</note>"
    )


def score_xml(
    *measures: str, attributes: str = "", header: str = "", doctype: str = ""
) -> bytes:
    """Give a one-part score in 4/4 and C major; each measure is its inner XML."""
    first = (
        "<attributes><divisions>4</divisions><key><fifths>0</fifths></key>"
        f"<time><beats>4</beats><beat-type>4</beat-type></time>{attributes}</attributes>"
    )
    bars = "".join(
        f'<measure number="{number}">{first if number == 1 else ""}{inner}</measure>'
        for number, inner in enumerate(measures, start=1)
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{doctype}'
        f'<score-partwise version="4.0">{header}'
        '<part-list><score-part id="P1"><part-name>Voice</part-name></score-part>'
        "</part-list>"
        f'<part id="P1">{bars}</part></score-partwise>'
    ).encode()


def mxl_bytes(score: bytes, *, name: str = "score.musicxml", **more: bytes) -> bytes:
    """Pack a score as .mxl, with more members if wanted."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            "META-INF/container.xml",
            f'<container><rootfiles><rootfile full-path="{name}"/></rootfiles></container>',
        )
        archive.writestr(name, score)
        for member, data in more.items():
            archive.writestr(member.replace("__", "/"), data)
    return buffer.getvalue()


@pytest.fixture(name="abc")
def abc_fixture():
    return abc_text


@pytest.fixture(name="note")
def note_fixture():
    return note_xml


@pytest.fixture(name="score")
def score_fixture():
    return score_xml


@pytest.fixture(name="mxl")
def mxl_fixture():
    return mxl_bytes


@pytest.fixture
def whole_bar() -> str:
    return note_xml("C", 16)
