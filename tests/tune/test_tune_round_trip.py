"""Whatever tune there is, writing it as MusicXML and reading it again gives it back."""

from __future__ import annotations

from hypothesis import assume, given, settings
from tunes_at_random import tunes

from kit.tune._loose_ends import without_loose_ends
from kit.tune._notices import Notices
from kit.tune.model import Tune
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import Layout, write_musicxml


def read_again(tune: Tune) -> Tune:
    text = write_musicxml(tune, layout=Layout(bars_per_line=None))
    return read_musicxml(text.encode(), source=tune.source)


@settings(max_examples=60, deadline=None)
@given(tunes())
def test_a_written_tune_is_read_back_the_same(tune) -> None:
    assume(any(note.pitch for bar in tune.bars for note in bar.notes))
    assert read_again(tune) == tune


@settings(max_examples=20, deadline=None)
@given(tunes())
def test_settling_what_is_settled_changes_nothing(tune) -> None:
    notices = Notices()
    assert without_loose_ends(tune.bars, notices) == tune.bars
    assert notices.sentences() == ()
