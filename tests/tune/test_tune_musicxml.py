from __future__ import annotations

from fractions import Fraction

import pytest

from kit.errors import NotationError
from kit.tune.chord import Degree
from kit.tune.model import Meter, Tune
from kit.tune.musicxml.read import read_musicxml
from kit.tune.pitch import Key
from kit.tune.unfold import playing_order

WORDS = "<direction><direction-type><words>{}</words></direction-type>{}</direction>"


def read(data: bytes, **options) -> Tune:
    return read_musicxml(data, source="tune.musicxml", **options)


def pitches(tune: Tune) -> list[str]:
    return [str(n.pitch) for bar in tune.bars for n in bar.notes if n.pitch]


def test_header_is_read(score, whole_bar) -> None:
    header = (
        "<work><work-title>Blue Cellar</work-title></work><identification>"
        '<creator type="composer">A. Person</creator>'
        '<creator type="lyricist">B. Poet</creator>'
        '<creator type="arranger">C. Hand</creator><rights>CC0</rights></identification>'
    )
    tune = read(score(whole_bar, header=header))
    assert tune.title == "Blue Cellar"
    assert (tune.composer, tune.lyricist, tune.arranger) == (
        "A. Person",
        "B. Poet",
        "C. Hand",
    )
    assert (tune.rights, tune.part_name) == ("CC0", "Voice")


def test_doctype_of_musicxml_is_accepted(score, whole_bar) -> None:
    doctype = (
        '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
        '"http://www.musicxml.org/dtds/partwise.dtd">'
    )
    assert pitches(read(score(whole_bar, doctype=doctype))) == ["C4"]


def test_pickup_ties_tuplets_and_rests(score, note) -> None:
    triplet = (
        "<type>eighth</type><time-modification><actual-notes>3</actual-notes>"
        "<normal-notes>2</normal-notes></time-modification>"
    )
    # Divisions of 4 cannot hold a triplet eighth; programs then round to 1, 1, 2.
    data = score(
        note("G", 4),
        note("C", 1, after=triplet) + note("D", 1, after=triplet)
        + note("E", 2, after=triplet)
        + note("F", 12, after='<tie type="start"/>'),
        note("F", 8, after='<tie type="stop"/>')
        + "<note><rest/><duration>8</duration></note>",
    )  # fmt: skip
    tune = read(data)
    assert [bar.number for bar in tune.bars] == [0, 1, 2]
    assert tune.bars[0].pickup
    assert [n.duration for n in tune.bars[1].notes] == [Fraction(1, 3)] * 3 + [3]
    assert tune.bars[1].notes[0].tuplet == (3, 2)
    assert tune.bars[1].notes[3].tied
    assert tune.bars[2].notes[1].is_rest


def test_marks_graces_slurs_and_ghost_notes(score, note) -> None:
    grace = (
        '<note><grace slash="yes"/><pitch><step>B</step><octave>3</octave></pitch></note>'
    )
    notations = (
        '<notehead parentheses="yes">normal</notehead><notations><slur type="start"/>'
        "<articulations><accent/><scoop/></articulations><fermata/></notations>"
    )
    end = '<notations><slur type="stop"/><ornaments><trill-mark/></ornaments></notations>'
    tune = read(score(grace + note("C", 8, after=notations) + note("D", 8, after=end)))
    first, second = tune.bars[0].notes
    assert first.graces[0].slash
    assert str(first.graces[0].pitch) == "B3"
    assert first.marks == ("accent", "scoop", "fermata", "ghost")
    assert (first.slurs_started, second.slurs_ended) == (1, 1)
    assert second.marks == ("trill-mark",)


def test_lyrics_of_several_verses(score, note) -> None:
    lyric = (
        '<lyric number="1"><syllabic>begin</syllabic><text>Moon</text></lyric>'
        '<lyric number="2"><text>Sun</text></lyric>'
    )
    tune = read(score(note("C", 8, after=lyric) + note("D", 8)))
    assert tune.bars[0].notes[0].lyrics == ("Moon-", "Sun")


def test_first_voice_and_highest_note_are_kept_and_told(score, note) -> None:
    chord = note("E", 8, before="<chord/>", after="<voice>1</voice>")
    data = score(
        note("C", 8, after="<voice>1</voice>") + chord
        + note("D", 8, after="<voice>1</voice>")
        + "<backup><duration>16</duration></backup>"
        + note("G", 16, octave=3, after="<voice>2</voice>")
    )  # fmt: skip
    tune = read(data)
    assert pitches(tune) == ["E4", "D4"]
    told = " ".join(tune.notices)
    assert "several voices" in told
    assert "highest" in told


def test_forward_leaves_a_rest(score, note) -> None:
    tune = read(score("<forward><duration>4</duration></forward>" + note("C", 12)))
    assert [(n.is_rest, n.duration) for n in tune.bars[0].notes] == [(True, 1), (False, 3)]


def test_whole_bar_rests_fill_their_meter(score, note) -> None:
    time = "<attributes><time><beats>3</beats><beat-type>4</beat-type></time></attributes>"
    rest = '<note><rest measure="yes"/><duration>16</duration></note>'
    tune = read(score(note("C", 16), time + rest))
    assert (tune.bars[1].meter, tune.bars[1].length) == (Meter(3, 4), 3)


def test_transposing_part_is_read_at_concert_pitch(score, note) -> None:
    tenor = (
        "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic>"
        "<octave-change>-1</octave-change></transpose>"
    )
    harmony = (
        "<harmony><root><root-step>D</root-step></root><kind>minor-seventh</kind></harmony>"
    )
    tune = read(score(harmony + note("D", 16), attributes=tenor))
    assert pitches(tune) == ["C3"]
    assert tune.key == Key(-2)
    assert str(tune.bars[0].chords[0].symbol) == "Cm7"


def test_a_transposition_only_in_semitones_is_spelled(score, note) -> None:
    alto = "<transpose><chromatic>-9</chromatic></transpose>"
    assert pitches(read(score(note("F", 16, alter=1), attributes=alto))) == ["A3"]


def test_keys_beyond_seven_accidentals_are_respelled(score, note) -> None:
    alto = "<transpose><diatonic>-5</diatonic><chromatic>-9</chromatic></transpose>"
    data = score(note("C", 16), attributes=alto).replace(b"<fifths>0<", b"<fifths>-6<")
    tune = read(data)
    assert tune.key.fifths == 3
    assert tune.bars[0].notes[0].pitch is not None
    assert tune.bars[0].notes[0].pitch.midi == 60 - 9


def test_harmony_of_all_parts_and_places(score, note) -> None:
    harmony = (
        "<harmony><root><root-step>B</root-step><root-alter>-1</root-alter></root>"
        "<kind>dominant</kind><bass><bass-step>D</bass-step></bass><degree>"
        "<degree-value>9</degree-value><degree-alter>-1</degree-alter>"
        "<degree-type>add</degree-type></degree></harmony>"
        "<harmony><root><root-step>E</root-step></root><kind>minor</kind>"
        "<offset>8</offset></harmony>"
    )
    none = "<harmony><kind>none</kind></harmony>"
    tune = read(score(harmony + note("C", 16), none + note("C", 16)))
    first, second = tune.bars[0].chords
    assert str(first.symbol) == "B♭7♭9/D"
    assert first.symbol.degrees == (Degree(9, -1, "add"),)
    assert (second.onset, str(second.symbol)) == (2, "Em")
    assert str(tune.bars[1].chords[0].symbol) == "N.C."


def test_a_chord_that_is_only_printed_is_understood(score, whole_bar) -> None:
    harmony = (
        "<harmony><root><root-step>G</root-step></root>"
        '<kind text="7alt">other</kind></harmony>'
    )
    assert str(read(score(harmony + whole_bar)).bars[0].chords[0].symbol) == "G7alt"


def test_words_dynamics_sections_feel_and_tempo(score, whole_bar) -> None:
    directions = (
        "<direction><direction-type><rehearsal>A</rehearsal></direction-type></direction>"
        + WORDS.format("Medium swing", "")
        + "<direction><direction-type><metronome><beat-unit>half</beat-unit>"
        "<per-minute>90</per-minute></metronome></direction-type>"
        "<sound tempo='180'/></direction>"
        "<direction><direction-type><dynamics><mf/></dynamics></direction-type></direction>"
        + WORDS.format("freely", "")
    )
    tune = read(score(directions + whole_bar))
    assert (tune.feel, tune.tempo_qpm, tune.bars[0].section) == ("Medium swing", 180, "A")
    assert [(w.text, w.kind) for w in tune.bars[0].words] == [
        ("mf", "dynamics"), ("freely", "words"),
    ]  # fmt: skip


def test_repeats_and_endings(score, whole_bar) -> None:
    start = '<barline location="left"><repeat direction="forward"/></barline>'
    first = '<barline location="left"><ending number="1" type="start"/></barline>'
    back = (
        '<barline location="right"><ending number="1" type="stop"/>'
        '<repeat direction="backward"/></barline>'
    )
    second = '<barline location="left"><ending number="2" type="start"/></barline>'
    stop = (
        '<barline location="right"><bar-style>light-heavy</bar-style>'
        '<ending number="2" type="stop"/></barline>'
    )
    data = score(start + whole_bar, first + whole_bar + back, second + whole_bar + stop)
    tune = read(data)
    assert [bar.endings for bar in tune.bars] == [(), (1,), (2,)]
    assert tune.bars[2].barline == "final"
    assert playing_order(tune) == (0, 1, 0, 2)


def test_jumps_in_words_alone_and_in_sound_alone(score, whole_bar) -> None:
    segno = "<direction><direction-type><segno/></direction-type></direction>"
    coda = "<direction><direction-type><coda/></direction-type></direction>"
    by_words = read(
        score(
            segno + whole_bar, whole_bar + coda,
            whole_bar + WORDS.format("D.S. al Coda", ""),
            coda + whole_bar,
        )
    )  # fmt: skip
    by_sound = read(
        score(
            '<sound segno="s"/>' + whole_bar, whole_bar + '<sound tocoda="c"/>',
            whole_bar + '<sound dalsegno="s"/>', '<sound coda="c"/>' + whole_bar,
        )
    )  # fmt: skip
    assert playing_order(by_words) == playing_order(by_sound) == (0, 1, 2, 0, 1, 3)


def test_words_cut_into_runs_are_one_text(score, whole_bar) -> None:
    runs = (
        "<direction><direction-type><words>D.C. al</words><words>Fine</words>"
        "</direction-type>"
        '<sound dacapo="yes"/></direction>'
    )
    fine = WORDS.format("Fine", '<sound fine="yes"/>')
    tune = read(score(whole_bar + fine, whole_bar + runs))
    assert [bar.jumps for bar in tune.bars] == [("fine",), ("D.C. al fine",)]


def test_double_bars_and_line_breaks(score, whole_bar) -> None:
    double = '<barline location="right"><bar-style>light-light</bar-style></barline>'
    tune = read(score(whole_bar + double, '<print new-system="yes"/>' + whole_bar))
    assert (tune.bars[0].barline, tune.bars[1].line_break) == ("double", True)


def test_scores_ordered_by_bars_are_turned(note) -> None:
    data = (
        '<score-timewise><part-list><score-part id="P1"><part-name>V</part-name>'
        '</score-part></part-list><measure number="1"><part id="P1">'
        "<attributes><divisions>4</divisions>"
        f"</attributes>{note('C', 16)}</part></measure></score-timewise>"
    )
    assert pitches(read(data.encode())) == ["C4"]


def two_parts(note) -> bytes:
    lead = note("C", 16, octave=5)
    piano = (
        note("C", 16) + note("E", 16, before="<chord/>") + note("G", 16, before="<chord/>")
    )
    harmony = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
    start = "<attributes><divisions>4</divisions></attributes>"
    return (
        '<score-partwise><part-list><score-part id="P1"><part-name>Piano</part-name>'
        '</score-part><score-part id="P2"><part-name>Lead</part-name>'
        "</score-part></part-list>"
        f'<part id="P1"><measure number="1">{start}{harmony}{piano}</measure></part>'
        f'<part id="P2"><measure number="1">{start}{lead}</measure></part></score-partwise>'
    ).encode()


def test_single_line_part_is_the_melody_and_borrows_the_changes(note) -> None:
    tune = read(two_parts(note))
    assert (tune.part_name, pitches(tune)) == ("Lead", ["C5"])
    assert str(tune.bars[0].chords[0].symbol) == "C"
    assert any("left out: Piano" in notice for notice in tune.notices)


def test_part_can_be_named(note) -> None:
    assert pitches(read(two_parts(note), part="piano")) == ["G4"]
    with pytest.raises(NotationError, match="name one of its parts: Piano, Lead"):
        read(two_parts(note), part="Flute")


@pytest.mark.parametrize(
    ("inner", "message"),
    [
        ("<note><rest/><duration>18</duration></note>", "bar 2: 9 eighths in a bar of 4/4"),
        ("<note><rest/><duration>12</duration></note>", "bar 2: only 3 quarters in a bar"),
        ("<note><rest/></note>", "bar 2: the duration of a note is"),
        ("<note><rest/><duration>1e9</duration></note>", "bar 2: the duration"),
        ("<backup><duration>4</duration></backup>", "bar 2: a backup reaches back"),
        ("<note><pitch><step>H</step><octave>4</octave></pitch><duration>16</duration></note>",
         "bar 2: a note has the letter"),
        ("<attributes><divisions>0</divisions></attributes>", "the number of divisions"),
        ("<attributes><key><fifths>99</fifths></key></attributes>", "the key signature"),
        ("<harmony><root><root-step>C</root-step></root><kind>funny</kind></harmony>",
         'bar 2: a chord symbol has the unknown kind "funny"'),
        ("<sound tempo='0.5'/>", "bar 2: the tempo"),
    ],
)  # fmt: skip
def test_wrong_bars_are_one_sentence_with_their_number(
    score, whole_bar, inner, message
) -> None:
    with pytest.raises(NotationError, match=message) as caught:
        read(score(whole_bar, inner, whole_bar))
    assert str(caught.value).startswith("tune.musicxml, bar 2: ")
    assert "\n" not in str(caught.value)


def test_uneven_bars_can_be_kept(score, note, whole_bar) -> None:
    tune = read(score(whole_bar, note("C", 20), whole_bar), keep_uneven=True)
    assert str(tune.bars[1].meter) == "5/4"


def test_what_is_left_out_is_told(score, note) -> None:
    wedge = (
        '<direction><direction-type><wedge type="crescendo"/></direction-type></direction>'
    )
    tune = read(score(wedge + note("C", 16, after="<notations><arpeggiate/></notations>")))
    told = " ".join(tune.notices)
    assert "hairpin" in told
    assert "arpeggiate" in told
