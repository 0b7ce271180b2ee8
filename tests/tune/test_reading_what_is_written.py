"""What our writer writes, our reader reads as the same tune."""

from __future__ import annotations

import pytest

from kit.tune.abc.read import read_abc
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import write_musicxml
from kit.tune.musicxml.write_marks import Layout

TUNES = {
    "everything on a lead sheet": (
        "X:1\nT:Round & <Trip>\nC:A. Person\nM:4/4\nL:1/8\nQ:1/4=132\nK:Cm\nP:A\n"
        '"^Medium swing"G2|:"Cm7"c>d!accent!e2 (3fga {/b}g2|"D7b9"^f4- f4|'
        '[1"G7alt"g6 z2:|[2"Cm(maj7)"c8||\n'
        'P:B\n!segno!"Ab13#11"(ab) c\'4 !mf!.e.f|"^rit."G5 F3|'
        '"N.C."z4 !fermata!G4 !D.S.!|]\n'
    ),
    "jig": "X:1\nM:6/8\nL:1/8\nK:Dmix\nA|dfd c2A|(2AB A3|d3-d2||A|d6|]\n",
    "changing meter and key": "X:1\nM:3/4\nL:1/4\nK:Bb\nBcd|[M:5/4][K:G]z5|[M:4/4]g4|]\n",
    "jumps to a coda": "X:1\nM:4/4\nL:1/1\nK:C\n!segno!c|!coda!d|e!D.S.!||!coda!f|]\n",
    "words below": (
        "X:1\nM:4/4\nL:1/4\nK:C\ncdef|g4|]\nw:Sing-ing a song|now\nw:La la la la la\n"
    ),
}


@pytest.mark.parametrize("name", sorted(TUNES))
def test_writing_and_reading_changes_nothing(name: str) -> None:
    tune = read_abc(TUNES[name], source="tune")
    text = write_musicxml(tune, layout=Layout(bars_per_line=None))
    again = read_musicxml(text.encode(), source="tune")
    assert again.bars == tune.bars
    assert (again.title, again.composer, again.feel, again.tempo_qpm) == (
        tune.title, tune.composer, tune.feel, tune.tempo_qpm,
    )  # fmt: skip
