"""The sign of a decoration is the one that an engraver draws for its MusicXML name.

Sources: SMuFL 1.4 (W3C) for the code points, and the package ``verovio``, which draws
MusicXML with a SMuFL font and names each glyph by its code point.
"""

from dataclasses import replace

import pytest
import verovio

from kit.tune.abc.read import read_abc
from kit.tune.marks import marks
from kit.tune.musicxml.write import write_musicxml

BELOW = {"E4A0": "E4A1", "E4A2": "E4A3", "E4A4": "E4A5", "E4AC": "E4AD",
                           "E4A8": "E4A9", "E4C0": "E4C1"}  # fmt: skip
"""Signs of which SMuFL has another form for below the note."""


@pytest.fixture(scope="module")
def engraver():
    toolkit = verovio.toolkit()
    toolkit.setOptions({"footer": "none", "header": "none"})
    return toolkit


@pytest.mark.parametrize("name", [name for name, mark in marks().items() if mark.sign])
def test_an_engraver_draws_the_sign_of_the_table(name, engraver):
    tune = read_abc("X:1\nT:Lamp\nM:4/4\nL:1/4\nK:C\nG G G G |]", source="lamp.abc")
    bar = tune.bars[0]
    notes = (replace(bar.notes[0], marks=(name,)), *bar.notes[1:])
    marked = replace(tune, bars=(replace(bar, notes=notes),))
    assert engraver.loadData(write_musicxml(marked))
    svg = engraver.renderToSVG(1)
    sign = marks()[name].sign
    drawn = {code for code in (sign, BELOW.get(sign)) if code}
    assert any(f'href="#{code}' in svg for code in drawn)
