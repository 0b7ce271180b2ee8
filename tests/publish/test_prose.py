from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.lesson.prose import is_safe_address, parse_prose, plain_text
from kit.publish.page._prose import prose_html


def html_of(markdown: str) -> str:
    return prose_html(parse_prose(markdown))


def test_headings_are_lifted_under_the_pages_own():
    assert html_of("# Form\n\n## Bridge") == "<h2>Form</h2>\n<h3>Bridge</h3>"


def test_lists_tables_and_dress_are_kept():
    html = html_of("3. *soft*\n4. **loud**\n\n| Bar | Note |\n|---|:-:|\n| 8 | `E` |\n")
    assert '<ol start="3"><li><em>soft</em></li><li><strong>loud</strong></li></ol>' in html
    assert '<td class="center"><code>E</code></td>' in html


@pytest.mark.parametrize(
    "markdown",
    [
        "<script>alert(1)</script>",
        "before <img src=x onerror=alert(1)> after",
        "<details open ontoggle=alert(1)>x</details>",
        "[x](javascript:alert(1))",
        "[x](JaVaScRiPt:alert(1))",
        "[x](data:text/html,<script>alert(1)</script>)",
        "[x](vbscript:x)",
        "![x](javascript:alert(1))",
        '[x](https://example.org/"onmouseover="alert(1))',
        "# <svg onload=alert(1)>",
        "&lt;script&gt;alert(1)&lt;/script&gt;",
    ],
)
def test_nothing_in_prose_becomes_live_markup(markdown: str):
    html = html_of(markdown)
    for live in ("<script", "<img", "<svg", "<details", 'href="javascript', 'href="data:'):
        assert live not in html.lower()
    assert ' onmouseover="' not in html


def test_an_unsafe_link_keeps_its_words():
    assert html_of("[listen here](javascript:alert(1))") == "<p>listen here</p>"


def test_safe_links_stay_links():
    assert '<a href="https://example.org/a?b=1&amp;c=2"' in html_of(
        "[here](https://example.org/a?b=1&c=2)"
    )
    assert is_safe_address("mailto:school@example.org")
    assert is_safe_address("#part-1")
    assert not is_safe_address("//evil.example/x")
    assert not is_safe_address("file:///etc/passwd")


def test_a_paragraph_of_raw_html_leaves_nothing_behind():
    assert parse_prose("<b></b>\n\n<div>\nhidden\n</div>\n") == []


def test_an_image_is_printed_as_its_description():
    (block,) = parse_prose("![the key of E♭](staff.png)")
    assert plain_text(block["runs"]) == "the key of E♭"


@given(st.text(max_size=300))
def test_any_text_at_all_can_be_printed(text: str):
    html = html_of(text)
    assert "<script" not in html.lower()


@given(st.text(alphabet="<>&\"'`*_[]()!# \n-1.|xjs:/", max_size=120))
def test_angle_brackets_of_prose_never_open_a_tag_of_their_own(text: str):
    plain = (
        "p em strong code ul ol li br blockquote pre table thead tbody tr td th s hr div"
    )
    names = [*plain.split(), *(f"h{level}" for level in range(1, 7))]
    own = [f"<{name}{end}" for name in names for end in (">", " id=", " start=", " class=")]
    allowed = (*own, *(f"</{name}>" for name in names), "<pre tabindex=", "<th scope=")
    allowed = (*allowed, '<a href="', "</a>")
    html = html_of(text)
    for place, sign in enumerate(html):
        if sign == "<":
            assert html.startswith(allowed, place), html[place : place + 20]


def test_a_heading_without_words_is_left_out():
    kinds = [block["kind"] for block in parse_prose("# \n\nWords.\n\n## ##\n")]
    assert kinds == ["paragraph"]
