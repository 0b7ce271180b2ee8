"""Humdrum, MEI and MuseData files open through music21, and do no harm on the way."""

from __future__ import annotations

import os
import subprocess
import sys
import time

import pytest

from kit.authoring.start import start_lesson
from kit.errors import NotationError
from kit.lesson.lesson import open_lesson
from kit.tune.music21 import read as foreign
from kit.tune.part_names import part_names
from kit.tune.read import read_tune

KERN = """!!!OTL: Ferry Road
!!!COM: Nobody
**kern\t**kern
*I"Bass\t*I"Flute
*k[b-]\t*k[b-]
*M3/4\t*M3/4
4F\t4a
=1\t=1
2.FF\t8cc
.\t8dd
.\t4.ff
.\t8ee
=2:|!\t=2:|!
2.FF\t2.ff
==\t==
*-\t*-
"""

MEI = """<?xml version="1.0"?>
<mei xmlns="http://www.music-encoding.org/ns/mei"><meiHead><fileDesc><titleStmt>
<title>Ferry Road</title></titleStmt></fileDesc></meiHead><music><body><mdiv><score>
<scoreDef><staffGrp><staffDef n="1" lines="5"><keySig sig="2f"/>
<meterSig count="3" unit="4"/></staffDef></staffGrp></scoreDef><section>
<measure n="1" right="dbl"><staff n="1"><layer n="1">
<note pname="b" oct="4" accid.ges="f" dur="2"/><note pname="d" oct="5" dur="4">
<verse n="1"><syl wordpos="s">sail</syl></verse></note></layer></staff>
<reh>A</reh><harm tstamp="1">B♭maj7</harm><harm tstamp="3">E♭m7♭5/A</harm>
<dynam tstamp="1">f</dynam></measure>
<ending n="1"><measure n="2" right="rptend"><staff n="1"><layer n="1">
<note pname="c" oct="5" dur="2" dots="1"/></layer></staff></measure></ending>
<ending n="2"><measure n="3"><staff n="1"><layer n="1">
<note pname="b" oct="4" accid.ges="f" dur="2" dots="1"/></layer></staff></measure></ending>
</section></score></mdiv></body></music></mei>
"""

ANALYSIS = "Composer: Nobody\nTime Signature: 4/4\n\nm1 G: I b3 V7\nm2 I\n"


def tune_of(tmp_path, name: str, text: str, **how):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_tune(path, **how)


def bars_of(tune):
    return [[str(note.pitch) for note in bar.notes] for bar in tune.bars]


def test_a_kern_file_is_a_tune(tmp_path):
    tune = tune_of(tmp_path, "ferry.krn", KERN, part="Flute")
    assert (tune.title, tune.composer, tune.part_name) == ("Ferry Road", "Nobody", "Flute")
    assert (str(tune.key), str(tune.meter), tune.has_pickup) == ("F major", "3/4", True)
    assert bars_of(tune) == [["A4"], ["C5", "D5", "F5", "E5"], ["F5"]]
    assert [str(note.duration) for note in tune.bars[1].notes] == [
        "1/2",
        "1/2",
        "3/2",
        "1/2",
    ]
    assert [bar.repeat_times for bar in tune.bars] == [0, 2, 0]


def test_its_parts_are_named_for_the_choice(tmp_path):
    tune_of(tmp_path, "ferry.krn", KERN)
    assert set(part_names(tmp_path / "ferry.krn")) == {"Bass", "Flute"}


def test_an_mei_file_keeps_keys_changes_marks_and_endings(tmp_path):
    tune = tune_of(tmp_path, "ferry.mei", MEI)
    assert (tune.title, str(tune.key), str(tune.meter)) == ("Ferry Road", "B♭ major", "3/4")
    assert bars_of(tune) == [["B♭4", "D5"], ["C5"], ["B♭4"]]
    assert [bar.endings for bar in tune.bars] == [(), (1,), (2,)]
    assert [(str(e.onset), str(e.symbol)) for e in tune.bars[0].chords] == [
        ("0", "B♭maj7"),
        ("2", "E♭m7♭5/A"),
    ]
    assert tune.bars[0].section == "A"
    assert tune.bars[0].notes[1].lyrics == ("sail",)
    assert "Left out: a sign of the kind dynam." in tune.notices


def test_mei_under_the_name_of_another_xml_is_told_by_its_content(tmp_path):
    assert len(tune_of(tmp_path, "ferry.xml", MEI).bars) == 3


def test_a_lesson_of_such_a_file_holds_the_tune_as_musicxml(tmp_path):
    read = tune_of(tmp_path, "ferry.mei", MEI)
    folder = start_lesson(tmp_path / "ferry.mei", tmp_path / "lessons")
    assert (folder / "tune.musicxml").exists()
    assert open_lesson(folder).tune.bars == read.bars


# Refusals


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("a.rntxt", ANALYSIS, "RomanText, which has chords and no melody"),
        ("a.md", "# Shopping\n\nmeasure twice\n", r"not what its suffix \.md says"),
        ("a.krn", "K:C\nCDE\n", r"not what its suffix \.krn says"),
        ("a.krn", "**kern\n*-\n", "no notes"),
        ("a.krn", "**kern\n4zzz\n4\n=\n[[[\n*-\n", "cannot read it as Humdrum|no notes"),
        ("a.mei", MEI.replace("<mei ", "<mei <"), "XML is broken"),
        ("a.mei", MEI.replace("</score>", "</score><score/>"), "holds 2 scores"),
        ("a.mei", MEI.replace('unit="4"', 'unit="x"'), "cannot read it as MEI"),
        ("a.musedata", "WK#:1 MV#:1\nmeasure\n", "cannot read it as MuseData|no notes"),
    ],
)
def test_a_refusal_is_one_sentence_with_the_file(tmp_path, name, text, message):
    with pytest.raises(NotationError, match=message) as caught:
        tune_of(tmp_path, name, text)
    assert str(caught.value).startswith(name)
    assert "\n" not in str(caught.value)


ENTITIES = """<?xml version="1.0"?>
<!DOCTYPE mei [<!ENTITY secret SYSTEM "file:///etc/hostname">]>
<mei xmlns="http://www.music-encoding.org/ns/mei"><title>&secret;</title></mei>
"""


def test_mei_that_declares_entities_is_refused_before_music21_sees_it(tmp_path):
    with pytest.raises(NotationError, match="declares entities or refers to other files"):
        tune_of(tmp_path, "a.mei", ENTITIES)


def test_a_large_file_is_refused_unread(tmp_path):
    with pytest.raises(NotationError, match="larger than 4 megabytes"):
        tune_of(tmp_path, "a.krn", "**kern\n" + "4c\n" * 1_500_000)


def test_what_takes_too_long_is_ended(tmp_path, monkeypatch):
    monkeypatch.setattr(foreign, "_SECONDS", 0.05)
    begin = time.monotonic()
    with pytest.raises(NotationError, match="more time or memory"):
        tune_of(tmp_path, "slow.krn", KERN + "!! not in the cache\n")
    assert time.monotonic() - begin < 20


BOMBS = {
    "a note of a billion bars": "**kern\n*M4/4\n1%999999999c\n*-\n",
    "a bar of three thousand notes": "**kern\n*M4/4\n" + "4c\n" * 3000 + "*-\n",
    "spines that split": "**kern\n" + "".join(
        "\t".join(["*^"] * 2**n) + "\n" for n in range(12)
    ) + "*-\n",
}  # fmt: skip


@pytest.mark.parametrize("text", BOMBS.values(), ids=BOMBS)
def test_an_absurd_file_is_refused_within_its_limits(tmp_path, text, monkeypatch):
    monkeypatch.setattr(foreign, "_SECONDS", 20)
    begin = time.monotonic()
    with pytest.raises(NotationError, match=r"bomb\.krn"):
        tune_of(tmp_path, "bomb.krn", text)
    assert time.monotonic() - begin < 60


def test_music21_leaves_nothing_in_home_or_scratch_and_calls_nobody(tmp_path):
    """No settings, no pickles: its home and scratch folder are empty, and no network is."""
    home, scratch = tmp_path / "home", tmp_path / "scratch"
    home.mkdir()
    scratch.mkdir()
    (tmp_path / "ferry.krn").write_text(KERN, encoding="utf-8")
    (tmp_path / "sitecustomize.py").write_text(
        "import socket\n\n\ndef refused(*_a, **_k):\n    raise OSError('no network')\n\n\n"
        "socket.socket.connect = socket.getaddrinfo = refused\n",
        encoding="utf-8",
    )
    code = (
        "import sys; from pathlib import Path; from kit.tune.read import read_tune; "
        "print(read_tune(Path(sys.argv[1])).title)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "ferry.krn")],
        env={
            **os.environ,
            "HOME": str(home),
            "TMPDIR": str(scratch),
            "PYTHONPATH": os.pathsep.join(
                [str(tmp_path), os.environ.get("PYTHONPATH", "")]
            ),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "Ferry Road"
    assert [path.name for path in (*home.rglob("*"), *scratch.rglob("*"))] == []
