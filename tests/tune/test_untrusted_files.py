"""Files from strangers: one sentence, quickly, and never a traceback."""

from __future__ import annotations

import random
import struct
import time
import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.errors import NotationError
from kit.tune.abc.read import read_abc
from kit.tune.midi.read import read_midi
from kit.tune.musicxml.mxl import read_mxl
from kit.tune.musicxml.read import read_musicxml
from kit.tune.read import SUFFIXES, read_tune

BILLION_LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]>'
    b"<score-partwise>&b;</score-partwise>"
)
OUTSIDE = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]>'
    b"<score-partwise>&a;</score-partwise>"
)


@pytest.mark.parametrize("data", [BILLION_LAUGHS, OUTSIDE])
def test_entities_are_refused(data: bytes) -> None:
    with pytest.raises(NotationError, match=r"bad\.xml: the XML declares entities"):
        read_musicxml(data, source="bad.xml")


@pytest.mark.parametrize(
    "data",
    [
        b"<score-partwise><part>",
        b"<html><body>no music</body></html>",
        b"<opus/>",
        b"<score-partwise/>",
        b'<?xml version="1.0" encoding="no-such"?><score-partwise/>',
        b'<?xml version="1.0" encoding="UTF-16"?><score-partwise/>',
        b"\xff\xfe\x00<",
        b"<a>" * 5000,
        b"<score-partwise><part id='P1'>"
        + b"<measure/>" * 6000
        + b"</part></score-partwise>",
    ],
)
def test_what_is_no_score_is_one_sentence(data: bytes) -> None:
    with pytest.raises(NotationError) as caught:
        read_musicxml(data, source="bad.xml")
    assert str(caught.value).startswith("bad.xml: ")
    assert "\n" not in str(caught.value)


def test_compressed_score_is_read(score, mxl, whole_bar) -> None:
    data = read_mxl(mxl(score(whole_bar)), source="a.mxl")
    assert len(read_musicxml(data, source="a.mxl").bars) == 1


def test_zip_bombs_are_refused(mxl) -> None:
    with pytest.raises(NotationError, match="far more than a score needs"):
        read_mxl(mxl(b" " * 20_000_000), source="bomb.mxl")


@pytest.mark.parametrize("packing", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_packing_that_no_score_has_is_refused(packing) -> None:
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", packing) as archive:
        archive.writestr("META-INF/container.xml", b"<container/>" * 100)
    data = bytearray(buffer.getvalue())
    for place in range(60, 90):
        data[place] ^= 0xFF
    with pytest.raises(NotationError, match="packed in a way that no notation program"):
        read_mxl(bytes(data), source="odd.mxl")


def test_a_member_that_lies_about_its_size_is_bounded(mxl) -> None:
    data = bytearray(mxl(b"<x>" + b" " * 100_000 + b"</x>"))
    place = data.find(b"PK\x01\x02", data.find(b"PK\x01\x02") + 1)
    struct.pack_into("<I", data, place + 24, 10)
    with pytest.raises(NotationError):
        read_musicxml(read_mxl(bytes(data), source="liar.mxl"), source="liar.mxl")


@pytest.mark.parametrize(
    "name", ["../evil.xml", "/etc/evil.xml", "a/../../evil.xml", "C:x.xml"]
)
def test_names_that_leave_the_archive_are_refused(mxl, name: str) -> None:
    with pytest.raises(NotationError, match="points outside"):
        read_mxl(mxl(b"<x/>", name=name), source="evil.mxl")


def test_too_many_members_are_refused(mxl) -> None:
    many = {f"f{number}": b"" for number in range(300)}
    with pytest.raises(NotationError, match="holds 302 files"):
        read_mxl(mxl(b"<x/>", **many), source="many.mxl")


def test_archives_without_a_score_are_refused() -> None:
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("readme.txt", "nothing here")
    with pytest.raises(NotationError, match=r"no META-INF/container\.xml"):
        read_mxl(buffer.getvalue(), source="empty.mxl")


@pytest.mark.parametrize("cut", [10, 60, 200])
def test_truncated_archives_are_damaged(score, mxl, whole_bar, cut: int) -> None:
    with pytest.raises(NotationError, match=r"damaged|cannot be opened"):
        read_mxl(mxl(score(whole_bar))[:-cut], source="cut.mxl")


def test_kind_of_file_follows_from_its_content(
    tmp_path: Path, score, mxl, whole_bar
) -> None:
    plain = tmp_path / "tune.xml"
    plain.write_bytes(score(whole_bar))
    packed = tmp_path / "tune.musicxml"
    packed.write_bytes(mxl(score(whole_bar)))
    assert read_tune(plain).bars == read_tune(packed).bars
    assert (
        read_tune(packed, name="lessons/x/tune.musicxml").source
        == "lessons/x/tune.musicxml"
    )


def test_utf_16_scores_are_read(tmp_path: Path, score, whole_bar) -> None:
    path = tmp_path / "tune.xml"
    text = score(whole_bar).decode().replace("UTF-8", "UTF-16")
    path.write_bytes(text.encode("utf-16"))
    assert len(read_tune(path).bars) == 1


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("tune.abc", b"", "the file is empty"),
        ("tune.abc", b"just words", "not ABC notation"),
        ("tune.pdf", b"%PDF", "not the suffix of a notation file"),
        ("tune.mid", b"not midi", "not what its suffix .mid says"),
        ("tune.xml", b"X:1\nK:C\n", "not what its suffix .xml says"),
        ("tune.mid", b"MThd\x00\x00", "damaged"),
    ],
)
def test_wrong_files_are_named(
    tmp_path: Path, name: str, data: bytes, message: str
) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(NotationError, match=message):
        read_tune(path)


def test_missing_and_oversized_files(tmp_path: Path) -> None:
    with pytest.raises(NotationError, match=r"gone\.abc: there is no such file"):
        read_tune(tmp_path / "gone.abc")
    with pytest.raises(NotationError, match="no such file"):
        read_tune(tmp_path.with_suffix(".abc"))
    big = tmp_path / "big.abc"
    with big.open("wb") as file:
        file.truncate(30_000_000)
    with pytest.raises(NotationError, match="larger than 20 megabytes"):
        read_tune(big)


def test_suffixes_are_those_of_the_lesson_contract() -> None:
    assert set(SUFFIXES) >= {".musicxml", ".mxl", ".abc", ".mid"}


@pytest.mark.parametrize(
    "body",
    [
        "+:x\n" * 1_000_000,
        "".join(f"V:{n}\nQ:1\n" for n in range(15_000)),
        "\x00" * 5_000_000,
        '["1-999999999"c4 d4|',
        "c" * 150_000,
        "c4|" * 60_000,
        "(9:9:99" * 20_000,
        '"' * 100_000,
    ],
)
def test_absurd_abc_is_over_within_seconds(body: str) -> None:
    begin = time.monotonic()
    sentence_of(lambda: read_abc(f"X:1\nM:4/4\nK:C\n{body}", source="big.abc"))
    assert time.monotonic() - begin < 5


def sentence_of(read: Callable[[], object]) -> str:
    """Give the error's sentence; a file that can be read has nothing to say."""
    try:
        read()
    except NotationError as error:
        return str(error)
    return "fuzz: "


SEED_ABC = (
    'X:1\nT:Seed\nM:6/8\nL:1/8\nQ:3/8=90\nK:Dmix\nV:1\n|:"D"d>ef {/g}(3abc|'
    '[1"G7b9"[Bd]3 z3:|'
    "[2!trill!c6|]\nw:la-la * _ la\n"
)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.text(
        alphabet="XTMLQKPVw:[]|(){}\"!+-<>/~^_=,'.0123456789ABCDEFGabcdefgzZx &\n\\%",
        max_size=200,
    )
)
def test_any_abc_is_a_tune_or_one_sentence(body: str) -> None:
    assert sentence_of(
        lambda: read_abc(f"X:1\nM:4/4\nK:C\n{body}", source="fuzz.abc")
    ).startswith(("fuzz.abc: ", "fuzz.abc, bar ", "fuzz: "))


@settings(max_examples=150, deadline=None)
@given(st.randoms(use_true_random=False))
def test_mutated_abc_is_a_tune_or_one_sentence(rng: random.Random) -> None:
    text = list(SEED_ABC)
    for _ in range(rng.randint(1, 8)):
        place = rng.randrange(len(text))
        text[place] = chr(rng.choice([rng.randrange(32, 127), rng.randrange(0x110000)]))
    safe = "".join(char for char in text if not 0xD800 <= ord(char) < 0xE000)
    assert sentence_of(lambda: read_abc(safe, source="fuzz.abc")).startswith(
        ("fuzz.abc: ", "fuzz.abc, bar ", "fuzz: ")
    )


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Change, drop, double and cut some bytes."""
    changed = bytearray(data)
    for _ in range(rng.randint(1, 10)):
        place = rng.randrange(len(changed))
        what = rng.randrange(4)
        if what == 0:
            changed[place] = rng.randrange(256)
        elif what == 1:
            del changed[place : place + rng.randint(1, 20)]
        elif what == 2:
            changed[place:place] = changed[place : place + rng.randint(1, 60)]
        else:
            changed[place : place + 1] = rng.choice(
                [b"0", b"-1", b"<", b">", b"&", b"999999"]
            )
        if not changed:
            return b""
    return bytes(changed)


SEED_XML = b"""<?xml version="1.0"?>
<score-partwise><part-list><score-part id="P1"><part-name>V
</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes>
<divisions>4
</divisions><key><fifths>-3</fifths><mode>minor</mode></key><time><beats>4</beats><beat-type>4
</beat-type></time><transpose><chromatic>-2</chromatic></transpose></attributes><harmony><root>
<root-step>C</root-step></root><kind>minor-seventh</kind><degree><degree-value>9</degree-value>
<degree-alter>0</degree-alter><degree-type>add</degree-type></degree></harmony><direction>
<direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>120</per-minute></metronome>
</direction-type><sound tempo="120"/></direction><note><pitch><step>C</step><alter>1</alter>
<octave>5</octave></pitch><duration>8</duration><voice>1</voice><type>half</type><notations>
<slur type="start" number="1"/><tied type="start"/></notations><lyric number="1">
<text>la</text>
</lyric></note><note><rest/><duration>8</duration></note><barline location="right"><ending
number="1" type="stop"/><repeat direction="backward" times="2"/></barline></measure></part>
</score-partwise>"""


@settings(max_examples=300, deadline=None)
@given(st.randoms(use_true_random=False))
def test_mutated_musicxml_is_a_tune_or_one_sentence(rng: random.Random) -> None:
    assert sentence_of(
        lambda: read_musicxml(mutated(SEED_XML, rng), source="fuzz.xml")
    ).startswith(("fuzz.xml: ", "fuzz.xml, bar ", "fuzz: "))


@settings(
    max_examples=150,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(rng=st.randoms(use_true_random=False))
def test_mutated_archives_are_a_score_or_one_sentence(mxl, rng: random.Random) -> None:
    data = mutated(mxl(SEED_XML), rng)
    assert sentence_of(
        lambda: read_musicxml(read_mxl(data, source="fuzz.mxl"), source="fuzz.mxl")
    ).startswith(("fuzz.mxl: ", "fuzz.mxl, bar ", "fuzz: "))


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=120))
def test_any_midi_is_a_tune_or_one_sentence(data: bytes) -> None:
    track = struct.pack(">I", len(data)) + data
    midi = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk" + track
    assert sentence_of(lambda: read_midi(midi, source="fuzz.mid")).startswith(
        ("fuzz.mid: ", "fuzz.mid, bar ", "fuzz: ")
    )


def test_a_damaged_stream_inside_an_archive_is_damaged(mxl) -> None:
    data = bytearray(mxl(zlib.compress(random.Random(1).randbytes(4000))))
    data[200:400] = b"\x00" * 200
    with pytest.raises(NotationError):
        read_mxl(bytes(data), source="hurt.mxl")
