"""Written MusicXML as other programs read it: music21 and Verovio.

Sources: music21.converter and Verovio's importer, both reading MusicXML 4.0.
"""

from dataclasses import replace
from fractions import Fraction

import pytest
import verovio
from music21 import converter

from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.model import Bar, ChordEvent, Grace, Meter, Note, Tune, Word
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.pitch import Key, NoteName, Pitch

THREE = (3, 2)


def notes(text):
    """Build notes from ``C5:1/2``; ``~`` ties, ``t`` makes a triplet, ``r`` rests."""
    onset, made = Fraction(0), []
    for word in text.split():
        name, length = word.split(":")
        tied, triplet = "~" in length, "t" in length
        quarters = Fraction(length.strip("~t")) * (Fraction(2, 3) if triplet else 1)
        pitch = None if name == "r" else Pitch.parse(name)
        made.append(
            Note(onset, quarters, pitch, tied=tied, tuplet=THREE if triplet else None)
        )
        onset += quarters
    return tuple(made)


@pytest.fixture
def sheet():
    """A tune with everything a lead sheet shows, in C minor."""
    key = Key.parse("C minor")
    texts = (
        "G4:1/2 B4:1/2",
        "C5:3/2 Eb5:1/2 D5:1/2 C5:1/2 G4:1",
        "Ab4:1t G4:1t F#4:1t G4:1/2t Bb4:1/2t C5:1/2t Eb5:1~",
        "Eb5:3/4 D5:1/4 C5:1/2 r:1/2 B4:2",
        "F5:7/2 E5:1/2",
        "C5:4",
        "C5:3",
    )
    bars = [Bar(n, notes(text), key=key) for n, text in enumerate(texts)]
    bars[0] = replace(bars[0], pickup=True)
    first = replace(
        bars[1].notes[0],
        graces=(Grace(Pitch.parse("Bb4")), Grace(Pitch.parse("B4"), slash=False)),
        marks=("accent", "scoop"),
        slurs_started=1,
        lyrics=("moon-", "night"),
    )
    second = replace(bars[1].notes[1], slurs_ended=1, lyrics=("light",), marks=("ghost",))
    bars[1] = replace(
        bars[1],
        notes=(first, second, *bars[1].notes[2:]),
        section="A",
        repeat_start=True,
        jumps=("segno",),
        words=(Word(Fraction(0), "smoothly"), Word(Fraction(2), "mf", "dynamics")),
        chords=(
            ChordEvent(Fraction(0), ChordSymbol(NoteName("C"), "minor-sixth")),
            ChordEvent(
                Fraction(5, 2),
                ChordSymbol(NoteName("G"), "dominant", (Degree(9, -1),), NoteName("B")),
            ),
        ),
    )
    bars[4] = replace(bars[4], endings=(1,), repeat_times=2)
    bars[5] = replace(bars[5], endings=(2,), barline="double")
    bars[6] = replace(
        bars[6],
        meter=Meter(3, 4),
        key=Key.parse("Eb major"),
        barline="final",
        jumps=("D.S.",),
    )
    return Tune("Moonlight", tuple(bars), composer="Nobody", feel="Swing", tempo_qpm=132.0)


def reread(tune, **options):
    return converter.parseData(write_musicxml(tune, **options), format="musicxml")


@pytest.mark.parametrize("slug", ["concert", "alto-sax", "baritone-sax", "trombone"])
def test_music21_reads_the_same_notes(sheet, slug):
    part = write_part(sheet, instrument(slug))
    score = reread(part.tune, clef=part.instrument.clef, transpose=part.sounding_interval)
    measures = list(score.parts[0].getElementsByClass("Measure"))
    assert len(measures) == len(part.tune.bars)
    for measure, bar in zip(measures, part.tune.bars, strict=True):
        theirs = [
            (n.offset, n.quarterLength, None if n.isRest else n.pitch.nameWithOctave)
            for n in measure.notesAndRests
            if "ChordSymbol" not in n.classes and not n.duration.isGrace
        ]
        ours = [(n.onset, n.duration, n.pitch and _name(n.pitch)) for n in bar.notes]
        assert theirs == ours
        graces = [n for n in measure.notes if n.duration.isGrace]
        assert [_name(g.pitch) for n in bar.notes for g in n.graces] == [
            n.pitch.nameWithOctave for n in graces
        ]


def _name(pitch):
    return (
        f"{pitch.step}{('-' if pitch.alter < 0 else '#') * abs(pitch.alter)}{pitch.octave}"
    )


def test_music21_reads_keys_meters_ties_and_signs(sheet):
    part = reread(sheet).parts[0]
    keys = [k.sharps for k in part.recurse().getElementsByClass("KeySignature")]
    assert keys == [-3, -3]
    assert [k.mode for k in part.recurse().getElementsByClass("Key")] == ["minor", "major"]
    meters = [m.ratioString for m in part.recurse().getElementsByClass("TimeSignature")]
    assert meters == ["4/4", "3/4"]
    ties = [n.tie.type for n in part.recurse().notes if getattr(n, "tie", None)]
    assert ties == ["start", "stop"]
    assert (
        len(part.recurse().getElementsByClass("RepeatBracket"))
        + len(part.getElementsByClass("RepeatBracket"))
        >= 2
    )
    marks = [m.content for m in part.recurse().getElementsByClass("RehearsalMark")]
    assert marks == ["A"]
    assert len(part.recurse().getElementsByClass("Segno")) == 1
    (tempo,) = part.recurse().getElementsByClass("MetronomeMark")
    assert tempo.number == 132
    lyrics = [(lyr.number, lyr.text) for n in part.recurse().notes for lyr in n.lyrics]
    assert lyrics == [(1, "moon"), (2, "night"), (1, "light")]
    assert [
        len(s.getSpannedElements()) for s in part.recurse().getElementsByClass("Slur")
    ] == [2]


def test_music21_knows_what_the_part_sounds_like(sheet):
    part = write_part(sheet, instrument("tenor-sax"), level="advanced")
    score = reread(part.tune, transpose=part.sounding_interval)
    sounding = [
        n.pitch.midi
        for n in score.toSoundingPitch().recurse().notes
        if "ChordSymbol" not in n.classes and not n.duration.isGrace
    ]
    concert = [n.pitch.midi for bar in sheet.bars for n in bar.notes if n.pitch]
    assert sounding == [note + 12 * part.octave_shift for note in concert]


@pytest.mark.parametrize("slug", ["concert", "alto-sax", "trombone"])
def test_our_own_reader_reads_the_sheet_back_whole(sheet, slug):
    part = write_part(sheet, instrument(slug))
    text = write_musicxml(part.tune, layout=Layout(bars_per_line=None))
    assert read_musicxml(text.encode(), source="") == replace(part.tune, source="")


# music21 has no such kinds, so it reads no chord.
UNKNOWN_TO_MUSIC21 = {"other", "none", "pedal"}


@pytest.mark.parametrize("kind", sorted(set(KINDS) - UNKNOWN_TO_MUSIC21))
def test_music21_reads_every_chord_kind(kind):
    symbol = ChordSymbol(NoteName("E", -1), kind)
    bar = Bar(1, notes("C5:4"), (ChordEvent(Fraction(2), symbol),))
    (read,) = reread(Tune("", (bar,))).recurse().getElementsByClass("ChordSymbol")
    assert read.root().name == "E-"
    assert read.offset == 2


def verovio_drawing(musicxml):
    verovio.enableLog(verovio.LOG_WARNING)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"breaks": "encoded"})
    assert toolkit.loadData(musicxml)
    drawn = toolkit.renderToSVG(1)
    verovio.enableLog(verovio.LOG_ERROR)
    return drawn


@pytest.mark.parametrize("slug", ["concert", "e-flat-clarinet", "viola", "guitar"])
def test_verovio_has_no_complaint(sheet, slug, capfd):
    part = write_part(sheet, instrument(slug))
    text = write_musicxml(
        part.tune,
        clef=part.instrument.clef,
        transpose=part.sounding_interval,
        layout=Layout(bars_per_line=3),
    )
    drawn = verovio_drawing(text)
    assert capfd.readouterr().err == ""
    for place, bar in enumerate(part.tune.bars):
        for position in range(len(bar.notes)):
            assert f'id="b{place}n{position}"' in drawn


def test_the_check_for_complaints_hears_one(capfd):
    broken = write_musicxml(Tune("", (Bar(1, notes("C5:4~")), Bar(2, notes("C5:4")))))
    verovio_drawing(broken.replace('type="stop"', 'type="continue"'))
    assert "Warning" in capfd.readouterr().err
