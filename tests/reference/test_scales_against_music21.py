"""Scales, guide tones and chord scales against music21 and textbook examples.

Scales: music21.scale (BSD library, from the package index). Guide tones and chord scales:
worked examples as common jazz textbooks print them (from memory).
"""

from __future__ import annotations

import pytest
from music21 import scale as m21scale

from kit.solo.guide_tones import guide_tones
from kit.solo.scales import chord_scale, scale_names, scale_on
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Key, NoteName

TONICS = ["C", "G", "D", "Bb", "Eb", "F#", "A"]
SAME = {
    "major": m21scale.MajorScale,
    "natural minor": m21scale.MinorScale,
    "harmonic minor": m21scale.HarmonicMinorScale,
    "dorian": m21scale.DorianScale,
    "mixolydian": m21scale.MixolydianScale,
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
    if name != "whole tone":
        spelled = {p.name.replace("-", "♭").replace("#", "♯") for p in theirs}
        assert {str(n).replace("𝄪", "♯♯").replace("𝄫", "♭♭") for n in ours.notes} == spelled


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
        ("G7", "C minor", "G phrygian dominant"),
        ("G7alt", "C minor", "G altered"),
        ("Fm7", "C minor", "F dorian"),
        ("Bdim7", "C major", "B whole-half diminished"),
    ],
)
def test_chord_scales_as_textbooks_teach_them(chord, key, expected):
    assert str(chord_scale(parse_chord(chord), Key.parse(key))) == expected
