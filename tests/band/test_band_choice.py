"""Which feel is chosen: printings as they stand above tunes, meters as the fallback.

The table was written with the names of dances and styles; the printings judged here are
spelled otherwise, in other languages or in longer phrases. What they mean is common
practice, from memory.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest

from kit.band.choice import feel_for, feels_by_fit, fits_meter, tempi_in
from kit.band.feel import feel_names, load_feel
from kit.tune._score_words import is_feel
from kit.tune.model import Meter

ROWS = tomllib.loads((files("kit.band") / "feel_words.toml").read_text("utf-8"))["row"]


@pytest.mark.parametrize(
    ("text", "meter", "feel"),
    [
        ("Medium-Up Tempo Swing", "4/4", "medium-swing"),
        ("Moderately, with a swing", "4/4", "medium-swing"),
        ("SWING!", "2/2", "medium-swing"),
        ("Swing", "3/4", "medium-swing"),
        ("Bright Bossa-Nova", "4/4", "bossa-nova"),
        ("Bossa Nova (not too fast)", "2/2", "bossa-nova"),
        ("Lively Samba", "2/4", "samba"),
        ("Cha-Cha-Chá", "4/4", "cha-cha"),
        ("Mambo", "4/4", "son-montuno"),
        ("Hard Funk groove", "4/4", "funk"),
        ("Slow Shuffle", "4/4", "shuffle-blues"),
        ("Boogie-Woogie", "4/4", "shuffle-blues"),
        ("Tempo di marcia", "2/4", "march"),
        ("Marche militaire", "4/4", "march"),
        ("Marsch", "6/8", "march"),
        ("Tempo di Valse", "3/4", "waltz"),
        ("Wälzer; Ländlers", "3/4", "waltz"),
        ("Slip Jigs", "9/8", "jig"),
        ("Double Jig", "6/8", "jig"),
        ("Slide", "12/8", "jig"),
        ("Reels", "2/2", "reel"),
        ("Sailors' Hornpipe", "4/4", "hornpipe"),
        ("Barn-Dance", "4/4", "hornpipe"),
        ("Strathspeys", "4/4", "strathspey"),
        ("Polkas", "2/4", "polka"),
        ("Tango Milonga", "2/4", "habanera"),
        ("Habañera", "2/4", "habanera"),
        ("Rock 'n' Roll", "4/4", "rock"),
        ("Power ballad", "4/4", "pop"),
        ("Slow Ballad", "4/4", "ballad"),
        ("Jazz Waltz", "3/4", "jazz-waltz"),
        ("Reggae (one-drop)", "4/4", "reggae"),
        ("Even 8ths, no swing", "4/4", "straight-eighths"),
        ("Straight 8ths", "4/4", "straight-eighths"),
        ("New Orleans Second-Line", "4/4", "second-line"),
        ("Doo-wop, 12/8 feel", "12/8", "gospel-twelve-eight"),
        ("Psalm tune", "3/2", "hymn"),
        ("Slow Air", "6/8", "six-eight"),
        ("Calypsos", "2/2", "calypso"),
        ("Foxtrot", "2/2", "two-beat"),
    ],
)
def test_printings(text: str, meter: str, feel: str) -> None:
    assert feel_for([text], Meter.parse(meter)) == feel


def test_a_word_inside_another_says_nothing() -> None:
    assert feel_for(["Swinging doors; a rocky road; the fairest"], Meter()) == (
        "straight-eighths"
    )


def test_the_weightiest_text_decides_and_one_that_does_not_fit_is_passed_over() -> None:
    assert feel_for(["Samba", "waltz"], Meter(4, 4)) == "samba"
    assert feel_for(["Samba", "waltz"], Meter(3, 4)) == "waltz"


def test_sevenths_make_a_waltz_a_jazz_waltz() -> None:
    assert feel_for(["Waltz"], Meter(3, 4), sevenths=True) == "jazz-waltz"


@pytest.mark.parametrize(
    ("tempo", "feel"), [(120, "medium-swing"), (260, "fast-swing"), (500, "medium-swing")]
)
def test_the_tempo_chooses_among_alike_feels(tempo: float, feel: str) -> None:
    assert feel_for(["Swing"], Meter(4, 4), tempo_qpm=tempo) == feel


@pytest.mark.parametrize(
    ("meter", "sevenths", "feel"),
    [
        ("4/4", False, "straight-eighths"),
        ("4/4", True, "medium-swing"),
        ("3/4", True, "jazz-waltz"),
        ("5/4", True, "medium-swing"),
        ("6/8", True, "six-eight"),
        ("12/8", False, "six-eight"),
        ("7/8", True, "straight-eighths"),
        ("3/2", False, "straight-eighths"),
    ],
)
def test_without_words_the_meter_decides(meter: str, sevenths: bool, feel: str) -> None:
    assert feel_for(["", "Allegro"], Meter.parse(meter), sevenths=sevenths) == feel


@pytest.mark.parametrize("row", ROWS, ids=lambda row: (row["words"] or ["nothing"])[0])
def test_rows_name_feels_and_words_that_readers_take_for_feels(row: dict) -> None:
    named = {*row["feels"], *row.get("sevenths", ())}
    assert named <= set(feel_names())
    # Everyday words and names of towns stay words above the staff, and are asked there.
    everyday = {
        "jazz", "big band", "medium up", "trad jazz", "torch song", "mardi gras", "surf",
        "new orleans", "son cubano", "song", "slide",
    }  # fmt: skip
    # In the table hyphens, slashes and accents are left out.
    plain = {"doo wop", "12 8 feel", "slow 12 8", "marschmassig"}
    unread = {word for word in row["words"] if not is_feel(word)}
    assert unread <= everyday | plain


def test_no_phrase_stands_in_two_rows() -> None:
    words = [word for row in ROWS for word in row["words"]]
    assert len(words) == len(set(words))


def test_every_feel_can_be_chosen() -> None:
    chosen = {name for row in ROWS for name in (*row["feels"], *row.get("sevenths", ()))}
    assert chosen == set(feel_names())


@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "7/8", "2/2"])
def test_feels_come_in_two_groups(meter: str) -> None:
    fitting, others = feels_by_fit(Meter.parse(meter))
    assert {feel.name for feel in (*fitting, *others)} == set(feel_names())
    assert fitting
    assert all(fits_meter(feel, Meter.parse(meter)) for feel in fitting)
    assert not any(tempi_in(feel, Meter.parse(meter)) for feel in others)
    assert [feel.title for feel in fitting] == sorted(
        (feel.title for feel in fitting), key=str.casefold
    )


def test_a_feel_fits_the_meters_it_names() -> None:
    for name in feel_names():
        feel = load_feel(name)
        assert all(fits_meter(feel, Meter.parse(meter)) for meter in feel.tempi)
