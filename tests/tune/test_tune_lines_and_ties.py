"""Hairpins, octave signs, changes of tempo, loose ties: read, told and written."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest

from kit.tune.abc.read import read_abc
from kit.tune.model import Bar, Note, SpanEnd, Tune, Word
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import write_musicxml
from kit.tune.pitch import Pitch
from kit.tune.sounding import sounding
from kit.tune.unfold import unfolded

C5 = Pitch.parse("C5")


def direction(inner: str) -> str:
    return f"<direction><direction-type>{inner}</direction-type></direction>"


def read(data: bytes) -> Tune:
    return read_musicxml(data, source="tune.musicxml")


def read_text(text: str) -> Tune:
    return read_abc(text, source="tune.abc")


def whole(number: int = 1, **more) -> Bar:
    return Bar(number, (Note(Fraction(0), Fraction(4), C5),), **more)


# Hairpins and octave signs


def test_a_hairpin_is_read_from_its_first_note_to_the_end_of_its_last(score, note) -> None:
    tune = read(
        score(
            note("C", 8) + direction('<wedge type="crescendo"/>') + note("D", 8),
            note("E", 8) + direction('<wedge type="stop"/>') + note("F", 8),
        )
    )
    assert tune.bars[0].spans == (SpanEnd(Fraction(2), "crescendo", opens=True),)
    assert tune.bars[1].spans == (SpanEnd(Fraction(2), "crescendo", opens=False),)
    assert tune.notices == ()


@pytest.mark.parametrize(
    ("way", "size", "kind"),
    [
        ("down", "8", "8va"),
        ("up", "8", "8vb"),
        ("down", "15", "15ma"),
        ("up", "15", "15mb"),
    ],
)
def test_under_an_octave_sign_the_pitch_is_what_sounds(
    score, note, way, size, kind
) -> None:
    tune = read(
        score(
            direction(f'<octave-shift type="{way}" size="{size}"/>')
            + note("C", 16, octave=6)
            + direction(f'<octave-shift type="stop" size="{size}"/>')
        )
    )
    assert tune.bars[0].notes[0].pitch == Pitch.parse("C6")
    assert [(end.onset, end.kind, end.opens) for end in tune.bars[0].spans] == [
        (0, kind, True),
        (4, kind, False),
    ]


def test_a_line_without_its_other_end_is_left_out_and_told(score, whole_bar) -> None:
    tune = read(score(direction('<wedge type="diminuendo"/>') + whole_bar))
    assert tune.bars[0].spans == ()
    assert any("without the other" in notice for notice in tune.notices)


def test_a_line_that_opens_at_a_bars_end_opens_with_the_next(score, whole_bar) -> None:
    opening = direction('<wedge type="crescendo"/>')
    closing = direction('<wedge type="stop"/>')
    tune = read(score(whole_bar + opening, whole_bar + closing))
    assert tune.bars[0].spans == ()
    assert [(end.onset, end.opens) for end in tune.bars[1].spans] == [(0, True), (4, False)]


def test_dashes_of_other_kinds_are_told(score, whole_bar) -> None:
    tune = read(
        score(
            direction("<words>cresc.</words>")
            + direction('<dashes type="start"/>')
            + whole_bar
            + direction('<dashes type="stop"/>')
        )
    )
    assert [word.text for word in tune.bars[0].words] == ["cresc."]
    assert "Left out: a dashed line." in tune.notices


def test_hairpins_of_abc_close_behind_the_note_they_stand_before(abc) -> None:
    tune = read_text(abc("!<(!c2 d2 !<)!e2 f2 | !diminuendo(!c4 !diminuendo)!d4 |"))
    assert tune.bars[0].spans == (
        SpanEnd(Fraction(0), "crescendo", opens=True),
        SpanEnd(Fraction(3), "crescendo", opens=False),
    )
    assert [end.kind for end in tune.bars[1].spans] == ["diminuendo", "diminuendo"]


def test_an_optional_octave_is_words_and_dashes_and_moves_nothing() -> None:
    spans = (
        SpanEnd(Fraction(0), "optional 8vb", opens=True),
        SpanEnd(Fraction(4), "optional 8vb", opens=False),
    )
    text = write_musicxml(Tune("", (whole(spans=spans),)))
    root = ET.fromstring(text)
    assert root.findtext(".//words") == "8vb ad lib."
    assert [d.get("type") for d in root.iter("dashes")] == ["start", "stop"]
    assert root.find(".//octave-shift") is None
    assert read(text.encode()).bars[0].spans == spans


def test_an_excerpt_leaves_out_the_end_whose_other_is_cut_off() -> None:
    half = whole(spans=(SpanEnd(Fraction(4), "8va", opens=False),))
    assert "octave-shift" not in write_musicxml(Tune("", (half,)))


# Tempo


def metronome(beat: str, figure: str) -> str:
    return (
        f"<metronome><beat-unit>{beat}</beat-unit><per-minute>{figure}</per-minute>"
        "</metronome>"
    )


def test_a_change_of_tempo_keeps_its_words_and_figure(score, whole_bar) -> None:
    tune = read(
        score(
            direction(metronome("quarter", "120")) + whole_bar,
            "<direction><direction-type><words>Slower</words></direction-type>"
            f"<direction-type>{metronome('half', '40')}</direction-type></direction>"
            + whole_bar,
        )
    )
    assert tune.tempo_qpm == 120
    assert tune.bars[1].words == (Word(Fraction(0), "Slower", "tempo", 80.0),)
    assert any("Changes of tempo" in notice for notice in tune.notices)


def test_a_change_of_tempo_in_abc_is_kept(abc) -> None:
    tune = read_text(abc('[Q:1/4=100]c8|[Q:"Slower" 1/4=80]d8|'))
    assert tune.tempo_qpm == 100
    assert tune.bars[1].words == (Word(Fraction(0), "Slower", "tempo", 80.0),)


def test_a_tempo_that_is_only_played_is_told_and_not_printed(score, whole_bar) -> None:
    tune = read(
        score('<sound tempo="120"/>' + whole_bar, '<sound tempo="60"/>' + whole_bar)
    )
    assert all(not bar.words for bar in tune.bars)
    assert any("played and not printed" in notice for notice in tune.notices)


def test_a_printed_tempo_is_rounded_and_the_exact_one_comes_back() -> None:
    text = write_musicxml(Tune("", (whole(),), tempo_qpm=133.3333))
    assert ET.fromstring(text).findtext(".//per-minute") == "133.3"
    assert read(text.encode()).tempo_qpm == 133.3333


# Ties and slurs


def test_ties_between_different_pitches_are_read_as_one_slur(abc) -> None:
    tune = read_text(abc("c2-d2-e2 f2 |"))
    notes = tune.bars[0].notes
    assert [note.tied for note in notes] == [False] * 4
    assert [(n.slurs_started, n.slurs_ended) for n in notes] == [
        (1, 0), (0, 0), (0, 1), (0, 0),
    ]  # fmt: skip
    assert any("read as slurs" in notice for notice in tune.notices)


@pytest.mark.parametrize("music", ["c8- |z8|", "c4- z4|", "c8-|]"])
def test_a_tie_that_leads_to_no_note_is_left_out_and_told(abc, music) -> None:
    tune = read_text(abc(music))
    assert not any(note.tied for bar in tune.bars for note in bar.notes)
    assert any("a tie that leads to no note" in notice for notice in tune.notices)


def test_a_tie_into_a_repeat_stays_and_sounds_on(abc) -> None:
    tune = read_text(abc("|:c8|d4 c4-:|e8|"))
    assert tune.bars[1].notes[1].tied
    held = [s for s in sounding(unfolded(tune).bars) if s.duration == 6]
    assert len(held) == 1
    text = write_musicxml(tune)
    assert 'tied type="let-ring"' in text
    assert "<tie " not in text
    assert read(text.encode()).bars[1].notes[1].tied


def test_a_tie_joins_one_pitch_whatever_its_names(score, note) -> None:
    tune = read(
        score(
            note("G", 16, alter=1, after='<tie type="start"/>'),
            note("A", 16, alter=-1, after='<tie type="stop"/>'),
        )
    )
    assert [str(bar.notes[0].pitch) for bar in tune.bars] == ["G♯4", "G♯4"]
    assert [sound.duration for sound in sounding(tune.bars)] == [8]


@pytest.mark.parametrize("music", ["(c8|d8|", "c8)|d8|"])
def test_a_slur_without_its_other_end_is_left_out_and_told(abc, music) -> None:
    tune = read_text(abc(music))
    ends = [(n.slurs_started, n.slurs_ended) for bar in tune.bars for n in bar.notes]
    assert ends == [(0, 0), (0, 0)]
    assert any("slur" in notice for notice in tune.notices)


def test_a_slur_from_a_grace_note_to_its_note_goes_without_saying(abc) -> None:
    tune = read_text(abc("(c2({d}e2)f2)g2|"))
    assert [(n.slurs_started, n.slurs_ended) for n in tune.bars[0].notes] == [
        (1, 0), (0, 0), (0, 1), (0, 0),
    ]  # fmt: skip


# What has no place in the model


def test_a_quarter_tone_is_read_without_it_and_told(score) -> None:
    sharp = (
        "<note><pitch><step>C</step><alter>0.5</alter><octave>5</octave></pitch>"
        "<duration>16</duration></note>"
    )
    tune = read(score(sharp))
    assert tune.bars[0].notes[0].pitch == C5
    assert any("a part of a semitone" in notice for notice in tune.notices)


def test_marks_have_one_order(abc) -> None:
    (first, *_) = read_text(abc("!fermata!!trill!.c8|")).bars[0].notes
    assert first.marks == ("trill-mark", "staccato", "fermata")


def test_a_repeat_sign_needs_no_double_bar_besides(score, whole_bar) -> None:
    closing = (
        '<barline location="right"><bar-style>light-heavy</bar-style>'
        '<repeat direction="backward"/></barline>'
    )
    bar = read(score(whole_bar + closing)).bars[0]
    assert (bar.repeat_times, bar.barline) == (2, "single")
    assert read(
        write_musicxml(Tune("", (replace(bar, barline="final"),))).encode()
    ).bars == (bar,)


def test_a_tune_in_free_meter_of_the_essen_collection_is_read() -> None:
    tune = read_text("X:1\nM:FREI4/4\nL:1/4\nK:C\nccccc|cc|\n")
    assert [str(bar.meter) for bar in tune.bars] == ["5/4", "2/4"]


def test_a_natural_behind_a_mode_belongs_to_the_key() -> None:
    tune = read_text("X:1\nM:4/4\nL:1/4\nK:Dmix=c\ncfcf|\n")
    assert tune.key.name == "D mixolydian"
    assert [str(note.pitch) for note in tune.bars[0].notes] == ["C5", "F♯5"] * 2


def test_bowings_are_kept(abc) -> None:
    notes = read_text(abc("uc4 vd4|")).bars[0].notes
    assert [note.marks for note in notes] == [("up-bow",), ("down-bow",)]
