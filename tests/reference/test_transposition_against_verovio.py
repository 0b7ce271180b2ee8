"""Parts against Verovio's own transposition, note by note.

Source: Verovio (its ``transpose`` option, on the MusicXML of the concert sheet). Notes that
we respell on purpose must sound the same; all others must have the same name. The tunes
are traditional ones of music21's corpus.
"""

import re
import xml.etree.ElementTree as ET

import pytest
import verovio
from music21 import corpus

from kit.errors import NotationError
from kit.instruments import instrument, to_concert, write_part
from kit.tune.abc_read import read_abc
from kit.tune.model import note_id
from kit.tune.musicxml_write import Layout, write_musicxml
from kit.tune.pitch import Pitch

HORNS = ("alto-sax", "tenor-sax", "baritone-sax", "trumpet", "trombone")
FOLDERS = ("oneills1850", "airdsAirs", "ryansMammoth", "essenFolksong")
FILES_PER_FOLDER = 5
TUNES_PER_FILE = 3
MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
ALTERS = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2}


def corpus_sheets():
    """Read the first tunes of some files of each folder; give them and the refused ones."""
    paths = sorted(corpus.getCorePaths(fileExtensions=["abc"]))
    sheets, refused = {}, []
    for folder in FOLDERS:
        inside = [path for path in paths if folder in path.parts]
        for path in inside[:: max(1, len(inside) // FILES_PER_FOLDER)][:FILES_PER_FOLDER]:
            book = path.read_text(encoding="utf-8", errors="replace")
            single = [
                text for text in re.split(r"(?m)^(?=X:)", book) if text.startswith("X:")
            ]
            for place, text in enumerate(single[:TUNES_PER_FILE]):
                name = f"{folder}-{path.stem}-{place}"
                try:
                    sheets[name] = read_abc(text, source=name)
                except NotationError:
                    refused.append(name)
    return sheets, refused


SHEETS, REFUSED = corpus_sheets()


def verovio_pitches(musicxml, interval):
    """Give each note as Verovio transposes it, by id."""
    toolkit = verovio.toolkit()
    toolkit.setOptions({"transpose": interval.name})
    assert toolkit.loadData(musicxml)
    found = {}
    for note in ET.fromstring(toolkit.getMEI({"removeIds": False})).iter(f"{MEI}note"):
        holders = [note, *note.iter(f"{MEI}accid")]
        written = [h.get(name) for h in holders for name in ("accid", "accid.ges")]
        alter = ALTERS[next(filter(None, written), "n")]
        found[note.get(XML_ID)] = Pitch(
            note.get("pname").upper(), alter, int(note.get("oct"))
        )
    return found


@pytest.mark.parametrize("name", SHEETS)
def test_parts_equal_verovios_transposition(name):
    sheet = SHEETS[name]
    musicxml = write_musicxml(sheet, layout=Layout(chord_degrees=False))
    for slug in HORNS:
        part = write_part(sheet, instrument(slug))
        theirs = verovio_pitches(musicxml, part.interval)
        respelled = {(r.bar, r.position): r.was for r in part.respelled if r.grace is None}
        for index, bar in enumerate(part.tune.bars):
            for position, note in enumerate(bar.notes):
                if note.pitch is None:
                    continue
                plain = respelled.get((index, position), note.pitch)
                assert plain.midi == note.pitch.midi
                expected = theirs.pop(note_id(index, position))
                octaves = sum(
                    m.octaves for m in part.moves if m.first <= (index, position) <= m.last
                )
                assert plain == Pitch(
                    expected.step, expected.alter, expected.octave + octaves
                )
        assert all("g" in name for name in theirs)
        assert to_concert(part) == sheet


def test_enough_tunes_are_compared():
    # Some of the corpus have bars that do not add up, which the reader rightly refuses.
    assert len(SHEETS) >= 40
    assert len(REFUSED) <= len(SHEETS) / 8
