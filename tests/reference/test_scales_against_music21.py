"""Scales, guide tones and chord scales against music21 and textbook examples.

Scales: music21.scale (BSD library, from the package index). Guide tones and chord scales:
worked examples as common jazz textbooks print them (from memory).
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from music21 import roman
from music21 import scale as m21scale

from kit.form.harmony import Change, cadences
from kit.solo._scales import chord_scale, scale_names, scale_on
from kit.solo.guide_tones import guide_tone_line, guide_tones
from kit.tune.abc.read import read_abc
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Key, NoteName

TONICS = ["C", "G", "D", "Bb", "Eb", "F#", "A"]
SAME = {
    "major": m21scale.MajorScale,
    "natural minor": m21scale.MinorScale,
    "harmonic minor": m21scale.HarmonicMinorScale,
    "dorian": m21scale.DorianScale,
    "mixolydian": m21scale.MixolydianScale,
    "phrygian": m21scale.PhrygianScale,
    "lydian": m21scale.LydianScale,
    "locrian": m21scale.LocrianScale,
    "whole tone": m21scale.WholeToneScale,
    "half-whole diminished": None,
}


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("name", [name for name, cls in SAME.items() if cls])
def test_scales_have_the_notes_music21_gives_them(name, tonic):
    theirs = SAME[name](tonic.replace("b", "-")).getPitches()
    ours = scale_on(name, NoteName.parse(tonic))
    assert {p.pitchClass for p in theirs} == set(ours.pitch_classes)
    # Scales with double signs stand on the enharmonic tonic.
    if name != "whole tone" and ours.tonic == NoteName.parse(tonic):
        spelled = {p.name.replace("-", "♭").replace("#", "♯") for p in theirs}
        assert {str(n) for n in ours.notes} == spelled


@pytest.mark.parametrize("tonic", TONICS)
def test_ascending_melodic_minor_and_octatonic(tonic):
    minor = m21scale.MelodicMinorScale(tonic.replace("b", "-"))
    theirs = minor.getPitches("A3", "A5", direction=m21scale.Direction.ASCENDING)
    root = NoteName.parse(tonic)
    assert {p.pitchClass for p in theirs} == set(
        scale_on("melodic minor", root).pitch_classes
    )
    eight = m21scale.OctatonicScale(tonic.replace("b", "-"), "m2").getPitches()
    ours = scale_on("half-whole diminished", root)
    assert {p.pitchClass for p in eight} == set(ours.pitch_classes)


def test_every_scale_starts_on_its_tonic_and_names_each_sound_once():
    for name in scale_names():
        scale = scale_on(name, NoteName("C"))
        assert scale.notes[0] == NoteName("C")
        assert len(scale.pitch_classes) == len(scale.notes)


def test_an_unknown_scale_lists_those_there_are():
    with pytest.raises(ValueError, match="minor pentatonic, blues"):
        scale_on("purple", NoteName("C"))


@pytest.mark.parametrize(
    ("chord", "expected"),
    [
        ("Dm7", "F C"), ("G7", "B F"), ("Cmaj7", "E B"), ("C6", "E A"), ("Am7b5", "C G"),
        ("Bdim7", "D A♭"), ("G7sus4", "C F"), ("C", "E G"),
    ],
)  # fmt: skip
def test_guide_tones_are_third_and_seventh(chord, expected):
    assert " ".join(map(str, guide_tones(parse_chord(chord)))) == expected


@pytest.mark.parametrize(
    ("chord", "key", "expected"),
    [
        ("Dm7", "C major", "D dorian"),
        ("G7", "C major", "G mixolydian"),
        ("Cmaj7", "C major", "C major"),
        ("Fmaj7", "C major", "F lydian"),
        ("Bm7b5", "C major", "B locrian"),
        ("Dm7b5", "C minor", "D locrian"),
        ("G7", "C minor", "G mixolydian ♭9♭13"),
        ("G7alt", "C minor", "G altered"),
        ("Fm7", "C minor", "F dorian"),
        ("Bdim7", "C major", "B whole-half diminished"),
    ],
)
def test_chord_scales_as_textbooks_teach_them(chord, key, expected):
    assert str(chord_scale(parse_chord(chord), Key.parse(key))) == expected


TWO_FIVE_ONES = [
    ("Dm7 G7 Cmaj7", "C", "ii7 V7 I7"),
    ("Gm7 C7 Fmaj7", "F", "ii7 V7 I7"),
    ("Fm7 Bb7 Ebmaj7", "E-", "ii7 V7 I7"),
    ("F#m7 B7 Emaj7", "E", "ii7 V7 I7"),
]


@pytest.mark.parametrize(("chords", "key", "numerals"), TWO_FIVE_ONES)
def test_two_five_ones_are_those_music21_numbers_so(chords, key, numerals):
    """music21.roman gives the notes of each numeral in the key; ours finds the cadence."""
    figures = [roman.RomanNumeral(numeral, key) for numeral in numerals.split()]
    symbols = [parse_chord(text) for text in chords.split()]
    for figure, symbol in zip(figures, symbols, strict=True):
        assert set(figure.pitchClasses) == set(symbol.pitch_classes)
    row = [Change(k, Fraction(0), Fraction(4), s) for k, s in enumerate(symbols)]
    (found,) = cadences(row)
    assert found.kind == "ii–V–I"
    assert found.goal.tonic.pitch_class == figures[-1].root().pitchClass


@pytest.mark.parametrize(
    ("chords", "expected"),
    [
        ("Dm7 G7 Cmaj7", "F F E"),
        ("Gm7 C7 Fmaj7", "B♭ B♭ A"),
        ("Dm7b5 G7 Cm7", "F F E♭"),
        ("Fm7 Bb7 Ebmaj7", "A♭ A♭ G"),
    ],
)
def test_the_guide_tone_line_of_a_two_five_one_moves_by_step(chords, expected):
    """The third stays as the seventh, which falls to the third: textbooks (from memory)."""
    bars = "|".join(f'"{chord}"c4' for chord in chords.split())
    tune = read_abc(f"X:1\nT:t\nM:4/4\nL:1/4\nK:C\n{bars}|]", source="t")
    line = guide_tone_line(tune)
    assert " ".join(str(bar.notes[0].pitch.name) for bar in line.bars) == expected
