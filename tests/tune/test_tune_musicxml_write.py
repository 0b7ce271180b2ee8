"""What a written MusicXML file says; re-reading it is checked in tests/reference."""

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest

from kit.tune.chord import ChordSymbol, Degree
from kit.tune.model import Bar, ChordEvent, Grace, Meter, Note, Tune, Word
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.pitch import Interval, Key, NoteName, Pitch

C5 = Pitch.parse("C5")


def tune(*bars, **more):
    return Tune(more.pop("title", "A tune"), bars, **more)


def whole(number=1, pitch=C5, **more):
    return Bar(number, (Note(Fraction(0), Fraction(4), pitch),), **more)


def quarters(*notes, **more):
    """Build a bar of quarter notes from the fields of each."""
    made = tuple(
        Note(Fraction(i), Fraction(1), C5, **fields) for i, fields in enumerate(notes)
    )
    return Bar(1, made, **more)


def read(written, **options):
    return ET.fromstring(write_musicxml(written, **options))


def texts(root, path):
    return [element.text for element in root.findall(path)]


def test_the_same_tune_gives_the_same_text():
    one = tune(whole(), composer="X")
    assert write_musicxml(one) == write_musicxml(tune(whole(), composer="X"))


def test_markup_in_texts_is_escaped_and_control_signs_are_dropped():
    evil = tune(
        whole(words=(Word(Fraction(0), "<script>&"),), section="<b>"),
        title='</work-title>"\x00\x07',
        composer="A & B",
    )
    root = read(evil)
    assert texts(root, ".//work-title") == ['</work-title>"']
    assert texts(root, ".//creator") == ["A & B"]
    assert texts(root, ".//words") == ["<script>&"]
    assert texts(root, ".//rehearsal") == ["<b>"]


def test_ids_say_where_a_symbol_stands():
    graced = Bar(2, (Note(Fraction(0), Fraction(4), C5, graces=(Grace(C5),)),))
    root = read(tune(whole(), graced))
    assert [m.get("id") for m in root.iter("measure")] == ["b0", "b1"]
    assert [n.get("id") for n in root.iter("note")] == ["b0n0", "b1n0g0", "b1n0"]


def test_an_excerpt_keeps_the_ids_of_its_sheet():
    root = read(tune(whole(9)), layout=Layout(first_index=8))
    assert root.find(".//measure").get("id") == "b8"
    assert root.find(".//note").get("id") == "b8n0"


@pytest.mark.parametrize(
    ("interval", "said"),
    [("-M6", ("-5", "-9", None)), ("-M9", ("-1", "-2", "-1")), ("P8", ("0", "0", "1")),
     ("-M13", ("-5", "-9", "-1")), ("m3", ("2", "3", None))],
)  # fmt: skip
def test_the_transposition_is_said_in_steps_semitones_and_octaves(interval, said):
    transpose = read(tune(whole()), transpose=Interval.parse(interval)).find(".//transpose")
    assert (
        tuple(map(transpose.findtext, ("diatonic", "chromatic", "octave-change"))) == said
    )


def test_concert_pitch_has_no_transposition():
    assert read(tune(whole()), transpose=Interval(0, 0)).find(".//transpose") is None


def test_attributes_come_in_the_order_of_the_schema():
    attributes = read(tune(whole()), transpose=Interval.parse("-M2")).find(".//attributes")
    assert [e.tag for e in attributes] == ["divisions", "key", "time", "clef", "transpose"]


def test_a_change_of_key_and_meter_is_written_where_it_happens():
    bars = (
        whole(),
        whole(2),
        Bar(
            3,
            (Note(Fraction(0), Fraction(3), C5),),
            meter=Meter(3, 4),
            key=Key.parse("Eb major"),
        ),
    )
    found = read(tune(*bars)).findall(".//measure/attributes")
    assert len(found) == 2
    assert found[1].findtext("key/fifths") == "-3"
    assert found[1].findtext("time/beats") == "3"


def test_a_pickup_is_implicit():
    pickup = Bar(0, (Note(Fraction(0), Fraction(1), C5),), pickup=True)
    measures = read(tune(pickup, whole())).findall(".//measure")
    assert [m.get("implicit") for m in measures] == ["yes", None]


def test_a_tie_without_its_other_end_is_left_out():
    tied = Bar(1, (Note(Fraction(0), Fraction(4), C5, tied=True),))
    assert [t.get("type") for t in read(tune(tied, whole(2))).iter("tied")] == [
        "start",
        "stop",
    ]
    assert list(read(tune(tied)).iter("tied")) == []
    assert list(read(tune(tied, whole(2, Pitch.parse("D5")))).iter("tied")) == []


def test_slurs_are_numbered_in_pairs():
    row = quarters(
        {"slurs_started": 2}, {"slurs_ended": 1}, {"slurs_started": 1}, {"slurs_ended": 2}
    )
    slurs = [(s.get("type"), s.get("number")) for s in read(tune(row)).iter("slur")]
    starts = sorted(n for kind, n in slurs if kind == "start")
    stops = sorted(n for kind, n in slurs if kind == "stop")
    assert starts == stops
    assert len(starts) == 3
    assert list(read(tune(quarters({}, {"slurs_started": 1}, {}, {}))).iter("slur")) == []


def test_marks_go_to_their_groups():
    row = quarters(
        {"marks": ("accent", "falloff", "ghost")}, {"marks": ("turn", "fermata")}, {}, {}
    )
    root = read(tune(row))
    assert [e.tag for e in root.find(".//articulations")] == ["accent", "falloff"]
    assert [e.tag for e in root.find(".//ornaments")] == ["turn"]
    assert root.find(".//fermata") is not None
    assert root.find(".//notehead").get("parentheses") == "yes"


def test_syllables_know_their_place_in_the_word():
    row = quarters(*({"lyrics": (text, "x")} for text in ("riv-", "er", "o-", "ver")))
    lyrics = [e for e in read(tune(row)).iter("lyric") if e.get("number") == "1"]
    assert [(e.findtext("syllabic"), e.findtext("text")) for e in lyrics] == [
        ("begin", "riv"), ("end", "er"), ("begin", "o"), ("end", "ver"),
    ]  # fmt: skip


def test_a_chord_between_notes_is_offset_from_the_note_before():
    b_flat = ChordSymbol(
        NoteName.parse("Bb"), "dominant", (Degree(9, -1),), NoteName.parse("D")
    )
    root = read(tune(whole(chords=(ChordEvent(Fraction(5, 2), b_flat),))))
    harmony = root.find(".//harmony")
    divisions = int(root.findtext(".//divisions"))
    assert int(harmony.findtext("offset")) == Fraction(5, 2) * divisions
    assert (harmony.findtext("root/root-step"), harmony.findtext("root/root-alter")) == (
        "B",
        "-1",
    )
    assert (harmony.find("kind").text, harmony.find("kind").get("text")) == (
        "dominant",
        "7♭9",
    )
    assert harmony.findtext("bass/bass-step") == "D"
    degree = harmony.find("degree")
    assert (degree.get("print-object"), degree.findtext("degree-alter")) == ("no", "-1")


def test_chord_degrees_can_be_left_to_the_text():
    altered = ChordSymbol(NoteName("G"), "dominant", (Degree(5, 1),))
    bar = whole(chords=(ChordEvent(Fraction(0), altered),))
    assert read(tune(bar), layout=Layout(chord_degrees=False)).find(".//degree") is None


def test_repeats_endings_and_jumps_are_printed_and_played():
    bars = (
        whole(1, repeat_start=True, jumps=("segno",)),
        whole(2, endings=(1,), repeat_times=3),
        whole(3, endings=(2,), jumps=("D.S. al coda",), barline="final"),
    )
    root = read(tune(*bars))
    assert [(r.get("direction"), r.get("times")) for r in root.iter("repeat")] == [
        ("forward", None),
        ("backward", "3"),
    ]
    assert [(e.get("number"), e.get("type")) for e in root.iter("ending")] == [
        ("1", "start"), ("1", "stop"), ("2", "start"), ("2", "stop"),
    ]  # fmt: skip
    sounds = [sound.attrib for sound in root.iter("sound")]
    assert sounds == [{"segno": "segno"}, {"dalsegno": "segno"}]
    assert texts(root, ".//words") == ["D.S. al Coda"]
    assert texts(root, ".//bar-style") == ["heavy-light", "light-heavy", "light-heavy"]


def test_the_tempo_is_counted_in_the_felt_beat():
    jig = Bar(1, (Note(Fraction(0), Fraction(3), C5),), meter=Meter(6, 8))
    root = read(tune(jig, feel="Lively", tempo_qpm=180.0))
    assert root.findtext(".//per-minute") == "120"
    assert root.find(".//beat-unit-dot") is not None
    assert root.find(".//sound").get("tempo") == "180"


def test_swing_is_said_to_playing_programs():
    swing = read(tune(whole(), feel="Medium swing", tempo_qpm=120.0)).find(".//swing")
    assert [e.text for e in swing] == ["2", "1", "eighth"]


def test_the_feel_is_not_printed_twice():
    again = whole(words=(Word(Fraction(0), "Swing"),))
    assert texts(read(tune(again, feel="Swing")), ".//words") == ["Swing"]


def test_lines_break_as_asked():
    bars = [whole(i + 1, line_break=i == 3) for i in range(8)]
    four = [
        m.get("number")
        for m in read(tune(*bars)).iter("measure")
        if m.find("print") is not None
    ]
    own = read(tune(*bars), layout=Layout(bars_per_line=None))
    kept = [m.get("number") for m in own.iter("measure") if m.find("print") is not None]
    assert (four, kept) == (["5"], ["4"])


def test_a_whole_bar_of_rest_has_no_value_of_its_own():
    root = read(tune(Bar(1, (Note(Fraction(0), Fraction(5), None),), meter=Meter(5, 4))))
    assert root.find(".//rest").get("measure") == "yes"
    assert root.find(".//note/type") is None


def test_what_cannot_be_written_is_refused():
    with pytest.raises(ValueError, match="no single note symbol"):
        write_musicxml(tune(Bar(1, (Note(Fraction(0), Fraction(5, 2), C5),))))
    with pytest.raises(ValueError, match="more than seven"):
        write_musicxml(tune(replace(whole(), key=Key(8))))
    with pytest.raises(ValueError, match="no clef"):
        write_musicxml(tune(whole()), clef="soprano")
