from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kit.tune.chord import KINDS, ChordSymbol
from kit.tune.chord_text import looks_like_chord, parse_chord
from kit.tune.pitch import NoteName

PRINTED = {
    "Cm7": "Cm7", "C-7": "Cm7", "Cmi7": "Cm7", "Cmin7": "Cm7", "CMI7": "Cm7",
    "CM7": "Cmaj7", "Cmaj7": "Cmaj7", "Cma7": "Cmaj7", "CΔ7": "Cmaj7", "CΔ": "Cmaj7",
    "Cm7b5": "Cm7♭5", "Cm7(b5)": "Cm7♭5", "C-7b5": "Cm7♭5", "Cø7": "Cm7♭5", "Cø": "Cm7♭5",
    "Cdim": "C°", "Co7": "C°7", "C°7": "C°7", "Cdim7": "C°7", "Cdim(maj7)": "C°maj7",
    "Caug": "C+", "C+": "C+", "C+7": "C+7", "C7#5": "C+7", "C7+": "C+7",
    "C7b9": "C7♭9", "C7-9": "C7♭9", "C7alt": "C7alt", "Calt": "C7alt",
    "C7#9#5": "C7(♯5,♯9)", "C7(b9,#5)": "C7(♯5,♭9)", "C7 (b9)": "C7♭9",
    "C6/9": "C6/9", "C69": "C6/9", "C6/9/E": "C6/9/E",
    "Csus": "Csus4", "C7sus": "C7sus4", "C13sus": "C13sus4", "C9sus4": "C9sus4",
    "C7susb9": "C7sus4♭9", "C/G": "C/G", "C7/Bb": "C7/B♭", "D/f#": "D/F♯", "D/f+": "D/F♯",
    "N.C.": "N.C.", "NC": "N.C.", "n.c.": "N.C.", "Cm6": "Cm6", "Cm69": "Cm6/9",
    "CmMaj7": "Cm(maj7)", "Cm(maj7)": "Cm(maj7)", "C-Δ7": "Cm(maj7)", "C-Δ": "Cm(maj7)",
    "C11": "C11", "C13": "C13", "C13#11": "C13♯11", "C13b9": "C13♭9",
    "Cadd9": "C(add9)", "C2": "C(add2)", "C5": "C5", "C(b5)": "C(♭5)",
    "F♯m7♭5": "F♯m7♭5", "E♭7": "E♭7", "(C7)": "C7", "Bbmaj7#11": "B♭maj7♯11",
    "C7no3": "C7no3", "C+maj7": "Cmaj7♯5", "C+9": "C+7add9",
}  # fmt: skip

SOUNDS = {
    "C7alt": {0, 4, 6, 8, 10, 1, 3}, "C7sus": {0, 5, 7, 10}, "Cø": {0, 3, 6, 10},
    "C+maj7": {0, 4, 8, 11}, "Cm(maj7)": {0, 3, 7, 11}, "C13#11": {0, 4, 7, 10, 2, 6, 9},
    "C7#9#5": {0, 4, 8, 10, 3}, "C6/9": {0, 4, 7, 9, 2}, "Cdim(maj7)": {0, 3, 6, 11},
    "C9sus4": {0, 5, 7, 10, 2}, "C7/Bb": {0, 4, 7, 10}, "Cadd9": {0, 2, 4, 7},
}  # fmt: skip


@pytest.mark.parametrize(("text", "printed"), PRINTED.items())
def test_usual_spellings_print_in_one_style(text: str, printed: str) -> None:
    assert str(parse_chord(text)) == printed


@pytest.mark.parametrize(("text", "sound"), SOUNDS.items())
def test_chords_sound_as_spelled(text: str, sound: set[int]) -> None:
    assert parse_chord(text).pitch_classes == sound


@pytest.mark.parametrize("text", sorted(PRINTED))
def test_what_is_printed_reads_as_the_same_chord(text: str) -> None:
    chord = parse_chord(text)
    assert parse_chord(str(chord)) == chord


@pytest.mark.parametrize("kind", [k for k in KINDS if k not in ("other", "none")])
@pytest.mark.parametrize("root", ["C", "Bb", "F#"])
def test_every_kind_survives_printing_and_reading(kind: str, root: str) -> None:
    chord = ChordSymbol(NoteName.parse(root), kind, bass=NoteName("D"))
    assert parse_chord(str(chord)) == chord


@given(
    st.sampled_from(list("ABCDEFG")),
    st.sampled_from(["", "b", "#", "♭", "♯"]),
    st.sampled_from(["", "m", "-", "maj", "M", "dim", "o", "+", "ø", "Δ"]),
    st.sampled_from(["", "6", "7", "9", "11", "13"]),
    st.lists(
        st.sampled_from(["b5", "#5", "b9", "#9", "#11", "b13", "add9", "sus"]), max_size=3
    ),
)
@example("A", "", "maj", "", ["#5", "b5"])
@example("A", "", "m", "", ["b5", "#5"])
def test_reading_is_stable_after_one_printing(root, sign, quality, number, changes) -> None:
    text = root + sign + quality + number + "".join(changes)
    try:
        chord = parse_chord(text)
    except ValueError:
        return
    assert parse_chord(str(chord)).pitch_classes == chord.pitch_classes


@pytest.mark.parametrize(
    "text", ["", "H7", "C7xyz", "Cm7b", "C7/", "Cseven", "C" * 200, "m7"]
)
def test_unreadable_text_is_named_in_the_error(text: str) -> None:
    with pytest.raises(ValueError, match="chord"):
        parse_chord(text)


@given(st.text(max_size=60))
def test_any_text_is_a_chord_or_a_value_error(text: str) -> None:
    try:
        parse_chord(text)
    except ValueError:
        return


@pytest.mark.parametrize("text", ["Dance", "Fine", "Chorus", "DANCE", "Gently", "A tempo"])
def test_words_are_not_taken_for_chords(text: str) -> None:
    assert not looks_like_chord(text)


@pytest.mark.parametrize("text", ["Am", "Bb7", "C7xyz", "F#m7b5", "Edim", "N.C.", "G/B"])
def test_misspelled_chords_still_look_like_chords(text: str) -> None:
    assert looks_like_chord(text)
