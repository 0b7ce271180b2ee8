import re
from html.parser import HTMLParser

import pytest

from kit.figures.by_kind import drawing
from kit.figures.excerpt import excerpt
from kit.figures.figure import KINDS, Figure, figure_css
from kit.lesson.figure_calls import FIGURES

CALL = {
    "level": "intermediate", "instrument": "alto-sax", "mix": "demo",
    "lower": "beginner", "upper": "intermediate",
}  # fmt: skip
VOID = {"br", "img", "hr", "rect", "path", "use", "line", "polygon", "ellipse", "circle"}


class Outline(HTMLParser):
    """Collects tags, ids and attributes, and checks that elements close in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.ids: list[str] = []
        self.attributes: set[str] = set()
        self.broken: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes.update(name for name, _ in attrs)
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.broken.append(tag)


def outline(figure: Figure) -> Outline:
    parser = Outline()
    parser.feed(figure.html)
    parser.close()
    return parser


@pytest.fixture(scope="module")
def every(small) -> dict[str, Figure]:
    return {
        row.kind: drawing(row.kind)(
            small, **{name: CALL[name] for name in row.parameters if name in CALL}
        )
        for row in FIGURES
    }


@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_says_of_which_kind_it_is(every, kind):
    assert every[kind].kind == kind
    assert f'class="lk-figure lk-{kind}"' in every[kind].html


@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_is_whole_markup_without_scripts(every, kind):
    found = outline(every[kind])
    assert found.broken == []
    assert found.open == []
    assert not found.tags & {"script", "style", "iframe", "object", "link", "a", "b"}
    assert not {name for name in found.attributes if name.startswith("on")}


@pytest.mark.parametrize("kind", KINDS)
def test_the_title_is_text_and_never_markup(every, kind):
    figure = every[kind]
    assert "<b>" not in figure.html
    assert "<script" not in figure.html
    if "Small" in figure.title:
        assert "&lt;b&gt;Tune&lt;/b&gt; &amp;" in figure.html


@pytest.mark.parametrize("kind", KINDS)
def test_a_figure_has_words_without_markup_and_real_accidentals(every, kind):
    words = every[kind].words
    assert len(words) > 80
    assert "</" not in words.replace(small_title(), "")
    assert not re.search(r"\b[A-G]b\b|\b[A-G]#", words)


def small_title() -> str:
    return 'Small <b>Tune</b> & "Co"'


def test_ids_of_figures_on_one_page_do_not_clash(every, small):
    more = [
        excerpt(small, level="intermediate", instrument="tenor-sax", section="A"),
        excerpt(small, level="intermediate", instrument="alto-sax", section="A2"),
    ]
    ids = [name for figure in (*every.values(), *more) for name in outline(figure).ids]
    assert len(ids) == len(set(ids))


def test_every_class_in_the_markup_is_our_own_or_the_drawings(every):
    drawn = re.compile(r"<svg.*</svg>", re.DOTALL)
    for figure in every.values():
        for value in re.findall(r'class="([^"]*)"', drawn.sub("", figure.html)):
            assert all(name.startswith("lk-") for name in value.split())


def test_the_style_sheet_touches_nothing_outside_the_figures():
    text = re.sub(r"/\*.*?\*/", "", figure_css(), flags=re.DOTALL)
    selectors = re.findall(r"([^{}]+)\{", text)
    assert len(selectors) > 20
    for selector in selectors:
        outside_brackets = re.sub(r"\([^()]*\)", "", selector)
        parts = [part.strip() for part in outside_brackets.split(",")]
        assert all(part.startswith((".lk-", "@media")) for part in parts), selector


def test_a_figure_of_an_unknown_kind_is_refused():
    with pytest.raises(ValueError, match="not one of form-chart"):
        Figure("poster", "", "", "")
