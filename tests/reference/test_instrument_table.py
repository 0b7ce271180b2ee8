"""The instrument table against music21's instrument classes.

Source: music21.instrument (transposition, lowestNote, midiProgram), which follows common
orchestration tables. music21 has no class for the instruments left out here.
"""

import pytest
from music21 import instrument as m21

from kit.instruments.table import instrument
from kit.tune.pitch import Interval, Pitch

CLASSES = {
    "soprano-sax": m21.SopranoSaxophone,
    "alto-sax": m21.AltoSaxophone,
    "tenor-sax": m21.TenorSaxophone,
    "baritone-sax": m21.BaritoneSaxophone,
    "clarinet": m21.Clarinet,
    "bass-clarinet": m21.BassClarinet,
    "oboe": m21.Oboe,
    "bassoon": m21.Bassoon,
    "flute": m21.Flute,
    "piccolo": m21.Piccolo,
    "trumpet": m21.Trumpet,
    "horn": m21.Horn,
    "trombone": m21.Trombone,
    "tuba": m21.Tuba,
    "violin": m21.Violin,
    "viola": m21.Viola,
    "cello": m21.Violoncello,
    "double-bass": m21.Contrabass,
    "guitar": m21.Guitar,
    "alto-recorder": m21.Recorder,
    "voice": m21.Vocalist,
}

# music21 gives the guitar's low E as it sounds and no transposition; it is written an
# octave higher (common practice). Its horn begins at the C below the bass staff, which is
# the pedal range; ours ends at the F sharp of the harmonic series.
OTHERWISE = {"guitar"}
LOWEST_DIFFERS = {"horn"}


@pytest.mark.parametrize("slug", sorted(set(CLASSES) - OTHERWISE))
def test_transpositions(slug):
    sounding = CLASSES[slug]().transposition
    expected = Interval(0, 0)
    if sounding is not None:
        steps = sounding.generic.directed
        expected = -Interval(steps - 1 if steps > 0 else steps + 1, int(sounding.semitones))
    assert instrument(slug).written_above_concert == expected


@pytest.mark.parametrize("slug", sorted(set(CLASSES) - OTHERWISE - LOWEST_DIFFERS))
def test_lowest_notes(slug):
    lowest = CLASSES[slug]().lowestNote
    if lowest is None:
        assert slug == "voice"
        return
    ours = instrument(slug).range_written.low
    assert ours == Pitch.parse(lowest.nameWithOctave.replace("-", "b"))


def test_a_guitar_sounds_an_octave_below_its_notes():
    guitar = instrument("guitar")
    low = guitar.range_written.low + -guitar.written_above_concert
    assert low == Pitch.parse(m21.Guitar().lowestNote.nameWithOctave)


@pytest.mark.parametrize("slug", sorted(CLASSES))
def test_general_midi_programs(slug):
    assert instrument(slug).gm_program == CLASSES[slug]().midiProgram
