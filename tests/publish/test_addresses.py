"""Names in links: every sign of a name survives, and none means anything in an address."""

import os
import re
from pathlib import PurePosixPath
from urllib.parse import unquote_to_bytes, urljoin, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import LessonError
from kit.lesson.address import MAX_ADDRESS_CHARS, require_address, web_address
from kit.output.href import path_href
from kit.publish.handout._qr import qr_svg

names = st.text(st.characters(codec="utf-8", exclude_characters="/\0"), min_size=1).filter(
    lambda name: name not in (".", "..")
)


@given(st.lists(names, min_size=1, max_size=3))
def test_a_path_in_a_link_leads_to_that_path_and_nowhere_else(parts):
    href = path_href("/".join(parts))
    assert re.fullmatch(r"[A-Za-z0-9._~/%-]+", href)
    whole = urlsplit(urljoin("https://quay.example/site/here.html", href))
    assert (whole.query, whole.fragment) == ("", "")
    assert unquote_to_bytes(whole.path) == b"/site/" + "/".join(parts).encode()


def test_a_name_that_is_no_unicode_becomes_its_bytes():
    name = os.fsdecode(b"tune-\xff")
    assert unquote_to_bytes(path_href(name)) == b"tune-\xff"


@given(st.text(max_size=40))
def test_an_address_is_encoded_once_and_keeps_its_host(rest):
    address = web_address(f"https://quay.example/{rest}")
    assert re.fullmatch(r"[!-~]+", address)
    assert not set(address) & set('"<>\\^`{|}')
    assert not re.search(r"%(?![0-9A-Fa-f]{2})", address)
    assert web_address(address) == address
    assert urlsplit(address).netloc == "quay.example"


@pytest.mark.parametrize(
    ("typed", "linked"),
    [
        ("https://q.example/my tunes/", "https://q.example/my%20tunes/"),
        ("https://q.example/50%/a%20b", "https://q.example/50%25/a%20b"),
        ("https://q.example/x?a=1&b=ü#c#d", "https://q.example/x?a=1&b=%C3%BC#c%23d"),
        ('https://q.example/"x"\\y', "https://q.example/%22x%22%5Cy"),
        ("HTTPS://q.example", "HTTPS://q.example"),
        ("https://müller.example/ü ", "https://müller.example/%C3%BC"),
    ],
)
def test_a_typed_address_becomes_one_that_programs_take(typed, linked):
    assert web_address(typed) == linked


@pytest.mark.parametrize(
    "typed",
    ["", "quay.example", "ftp://q.example", "https://", "https://a b", "https:///x",
     "https://[/x", 'https://q"x/', "javascript:alert(1)", "https://q.example\\@evil/"],
)  # fmt: skip
def test_what_is_no_address_is_a_clear_error(typed):
    with pytest.raises(LessonError, match=r"fish/lesson\.toml: .* is not the address of"):
        require_address(typed, source="fish/lesson.toml")
    with pytest.raises(LessonError):
        qr_svg(typed, source="fish/lesson.toml")


def test_the_message_stays_short_whatever_was_typed():
    with pytest.raises(LessonError) as caught:
        require_address("x" * 100_000, source="fish/lesson.toml")
    assert len(str(caught.value)) <= 500


def test_a_qr_code_holds_the_encoded_address_and_long_letters_as_they_are():
    import segno

    def held(text: str) -> bytes:
        return qr_svg(text, source="x")

    def drawn(text: str) -> bytes:
        import io

        out = io.BytesIO()
        segno.make(text, error="m", micro=False).save(
            out, kind="svg", xmldecl=False, border=4, scale=1, unit=None, omitsize=True
        )
        return out.getvalue()

    assert held("https://q.example/a b") == drawn("https://q.example/a%20b")
    letters = f"https://q.example/{'я' * 80} x"
    assert len(web_address(letters)) > MAX_ADDRESS_CHARS
    assert held(letters) == drawn(f"https://q.example/{'я' * 80}%20x")
    with pytest.raises(LessonError, match="too many for a QR code"):
        held(f"https://q.example/{'я' * 120}")


def test_downloads_are_offered_as_addresses(lesson):
    from kit.publish.page._downloads import downloads

    settings = lesson.settings
    assert settings.instruments[0].slug == "alto-sax"
    offered = downloads(settings, ["handouts/easy-alto-sax.pdf", "audio/easy-demo.mp3"])
    (row,) = offered["sheets"][0]["rows"]
    assert row["links"] == [{"href": "handouts/easy-alto-sax.pdf", "text": "Handout (PDF)"}]
    assert PurePosixPath(offered["sounds"][0]["links"][0]["href"]).name == "easy-demo.mp3"
