"""Are the parts of a thousand tunes what Verovio's own transposition makes of them?

Writes each sheet out for five horns, lets Verovio transpose the concert sheet by the same
interval, and compares note by note: letter, alteration and octave. Notes that we respell
on purpose must have the same sound, and those that we move by octaves must be moved by
just these. Then each part is taken back to concert pitch and must be the sheet again.

    python tests/benchmarks/corpus_parts.py              every 12th ABC tune (about 2 min)
    python tests/benchmarks/corpus_parts.py --stride 1   all of them (about 25 min)

Source: Verovio, its ``transpose`` option (it changes what is written, as we do); the tunes
are those of music21's corpus.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
import xml.etree.ElementTree as ET
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from kit.errors import NotationError
from kit.instruments.part import Part
from kit.instruments.table import instrument
from kit.instruments.transposition import to_concert, write_part
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune, note_id
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.pitch import Interval, Pitch

HORNS = ("alto-sax", "tenor-sax", "baritone-sax", "trumpet", "trombone")
FOLDERS = (
    "airdsAirs", "essenFolksong", "miscFolk", "nottingham-dataset", "oneills1850",
    "ryansMammoth",
)  # fmt: skip
MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
ALTERS = {"s": 1, "f": -1, "n": 0, "x": 2, "ss": 2, "ff": -2}


def tune_texts() -> Iterator[tuple[str, str]]:
    """Yield name and text of every ABC tune of the corpus."""
    import music21

    root = Path(music21.__file__).parent / "corpus"
    for folder in FOLDERS:
        for path in sorted((root / folder).glob("*.abc")):
            book = path.read_text(encoding="utf-8", errors="replace")
            for place, text in enumerate(re.split(r"(?m)^(?=X:)", book)[1:]):
                yield f"{folder}/{path.name}#{place}", text


def sheets(stride: int, start: int = 0) -> Iterator[Tune]:
    """Yield every so many-th tune that can be read, uneven bars kept."""
    for name, text in list(tune_texts())[start::stride]:
        try:
            yield read_abc(text, source=name, keep_uneven=True)
        except NotationError:
            continue


def verovio_pitches(musicxml: str, interval: Interval) -> dict[str, Pitch]:
    """Give each note as Verovio transposes it, by id."""
    import verovio

    toolkit = verovio.toolkit()
    toolkit.setOptions({"transpose": interval.name})
    if not toolkit.loadData(musicxml):
        raise ValueError("Verovio cannot read the sheet")
    found = {}
    for note in ET.fromstring(toolkit.getMEI({"removeIds": False})).iter(f"{MEI}note"):
        holders = [note, *note.iter(f"{MEI}accid")]
        written = [h.get(name) for h in holders for name in ("accid", "accid.ges")]
        alter = ALTERS[next(filter(None, written), "n")]
        # Under an octave sign Verovio keeps the printed octave apart from the sounding one.
        octave = note.get("oct.ges") or note.get("oct")
        found[note.get(XML_ID)] = Pitch(note.get("pname").upper(), alter, int(octave))
    return found


def differences(part: Part, theirs: dict[str, Pitch]) -> list[str]:
    """Say which notes of a part are not what Verovio writes."""
    respelled = {(r.bar, r.position, r.grace): r.was for r in part.respelled}
    found = []
    for index, bar in enumerate(part.tune.bars):
        for position, note in enumerate(bar.notes):
            octaves = sum(
                move.octaves
                for move in part.moves
                if move.first <= (index, position) <= move.last
            )
            pitches = [(place, grace.pitch) for place, grace in enumerate(note.graces)]
            if note.pitch is not None:
                pitches.append((None, note.pitch))
            for grace, pitch in pitches:
                plain = respelled.get((index, position, grace), pitch)
                their = theirs.get(note_id(index, position, grace))
                moved = their and Pitch(their.step, their.alter, their.octave + octaves)
                if plain != moved or plain.midi != pitch.midi:
                    found.append(f"bar {bar.number}: {pitch} (plain {plain}) / {moved}")
    return found


def compare(sheet: Tune, slugs: tuple[str, ...] = HORNS) -> tuple[Counter[str], list[str]]:
    """Compare the parts of a sheet; give counts and what differs."""
    counts: Counter[str] = Counter(sheets=1)
    found: list[str] = []
    musicxml = write_musicxml(sheet, layout=Layout(chord_degrees=False))
    for slug in slugs:
        part = write_part(sheet, instrument(slug))
        if len(set(part.bar_intervals)) > 1:
            # A change of key that needs another spelling: Verovio knows one interval only.
            counts["parts in two spellings, not compared"] += 1
        else:
            found += [
                f"{sheet.source}, {slug}, {line}"
                for line in differences(part, verovio_pitches(musicxml, part.interval))
            ]
        if to_concert(part) != sheet:
            found.append(f"{sheet.source}, {slug}: does not go back to its sheet")
        counts["parts"] += 1
        counts["notes"] += sum(n.pitch is not None for b in part.tune.bars for n in b.notes)
        counts["notes respelled"] += len(part.respelled)
        counts["phrases or passages moved"] += len(part.moves)
        counts["notes out of range"] += len(part.out_of_range)
    return counts, found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--stride", type=int, default=12, help="every n-th tune")
    options = parser.parse_args()
    started = time.perf_counter()
    counts: Counter[str] = Counter()
    differing: list[str] = []
    for sheet in sheets(options.stride):
        more, found = compare(sheet)
        counts += more
        differing += found
    for name, count in counts.items():
        print(f"{name:40} {count:8}")
    print(f"{'differences':40} {len(differing):8}")
    print(f"{'seconds':40} {time.perf_counter() - started:8.0f}")
    for line in differing[:40]:
        print(f"    {line}")
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main())
