"""A book of tunes: what it lists, and one tune by itself."""

from pathlib import Path

import pytest

from kit.errors import NotationError
from kit.tune.musicxml.write import write_musicxml
from kit.tune.read import read_tune
from kit.tune.tune_book import BookTune, tune_alone, tunes_in

BOOK = """%abc-2.1
M:3/4
R:Waltz
%%propagate-accidentals not

X:3
T:Caf\\'e Waltz % the first
L:1/4
K:G
G B d | e c A |]

X:8
M:2/4
L:1/4
K:C
c d | e f |]
T:No title of the head
"""


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.abc"
    path.write_text(BOOK, encoding="utf-8")
    return path


def test_tunes_are_listed_by_number_and_title(book: Path) -> None:
    assert tunes_in(book) == (BookTune(3, "Café Waltz"), BookTune(8, ""))


@pytest.mark.parametrize("number", [3, 8])
def test_a_tune_by_itself_is_the_tune_it_was_in_the_book(book: Path, number: int) -> None:
    alone = book.with_name("alone.abc")
    alone.write_text(tune_alone(book, number), encoding="utf-8")
    assert read_tune(alone, name="x") == read_tune(book, name="x", tune_number=number)
    assert [one.number for one in tunes_in(alone)] == [number]


def test_a_tune_by_itself_keeps_what_was_said_for_all(book: Path) -> None:
    assert "R:Waltz" in tune_alone(book, 8)
    assert "Caf" not in tune_alone(book, 8)


@pytest.mark.parametrize("numbers", [("1", "1", "2"), ("1", "", "2")])
def test_where_numbers_repeat_or_are_missing_the_tunes_are_counted(
    tmp_path: Path, numbers: tuple[str, ...]
) -> None:
    path = tmp_path / "joined.abc"
    titles = ("First", "Second", "Third")
    path.write_text(
        "\n\n".join(
            f"X:{number}\nT:{title}\nM:4/4\nL:1/1\nK:C\nC|"
            for number, title in zip(numbers, titles, strict=True)
        ),
        encoding="utf-8",
    )
    assert [(one.number, one.title) for one in tunes_in(path)] == [
        (1, "First"),
        (2, "Second"),
        (3, "Third"),
    ]
    assert read_tune(path, tune_number=2).title == "Second"
    assert "Third" in tune_alone(path, 3)


def test_an_old_book_keeps_its_letters(tmp_path: Path) -> None:
    path = tmp_path / "old.abc"
    path.write_bytes("X:1\nT:Für Zwei\nK:C\nC8|\n".encode("latin-1"))
    assert tunes_in(path)[0].title == "Für Zwei"
    assert "T:Für Zwei" in tune_alone(path, 1)


def test_other_notations_are_no_books(book: Path) -> None:
    score = write_musicxml(read_tune(book, tune_number=3))
    for name in ("score.musicxml", "misnamed.abc"):
        path = book.with_name(name)
        path.write_text(score, encoding="utf-8")
        assert tunes_in(path) == ()


def test_a_tune_that_is_not_there_is_one_sentence(book: Path) -> None:
    with pytest.raises(NotationError, match=r"book\.abc: .* no tune X:4 in it; .*3, 8"):
        tune_alone(book, 4)
