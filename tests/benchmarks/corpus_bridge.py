"""Does music21 say the same as we do, and what does it open for us that we do not read?

    python tests/benchmarks/corpus_bridge.py               every 20th file or tune
    python tests/benchmarks/corpus_bridge.py --stride 1    all (hours)

Three comparisons on the corpus that music21 ships:

* *Readers*: `from_music21` of music21's reading of a file against our own reading of it,
  bar by bar: keys, meters, repeats, endings, changes, and notes by onset, length, spelled
  pitch and tie. ABC is mended for music21 as in corpus_reading.py.
* *Round trip*: `from_music21(to_music21(tune))` against the tune, whole.
* *Foreign files*: kern files of the corpus against a reading of their spines by the few
  rules below (`spine_sounds`), which owe nothing to music21; MEI that Verovio has made of
  ABC tunes against the tunes.

Source of the corpus: music21 (BSD licence; each collection under its own terms).
"""

from __future__ import annotations

import argparse
import re
import sys
import warnings
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import corpus_reading as reading

from kit.errors import NotationError
from kit.tune._notices import Notices
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.music21._kern import read_kern
from kit.tune.music21._mei import read_mei
from kit.tune.music21._melody_score import melody_score
from kit.tune.music21._melody_tune import melody_tune
from kit.tune.music21.bridge import from_music21, to_music21
from kit.tune.musicxml.write import write_musicxml
from kit.tune.read import read_tune

FIELDS = ("key", "meter", "repeat_start", "repeat_times", "endings", "chords")


def differences(ours: Tune, theirs: Tune) -> set[str]:
    """Name what two readings of a tune differ in."""
    if len(ours.bars) != len(theirs.bars):
        return {"number of bars"}
    found = {
        name
        for name in FIELDS
        for a, b in zip(ours.bars, theirs.bars, strict=True)
        if getattr(a, name) != getattr(b, name)
    }
    if notes_of(ours) != notes_of(theirs):
        found.add("notes")
    return found


def notes_of(tune: Tune) -> list:
    """Give onset, length, pitch and tie of each note; rests at the very end left out.

    They are often only a "forward" in the file, which music21 passes over.
    """
    found = [
        (place, note.onset, note.duration, note.pitch, note.tied)
        for place, bar in enumerate(tune.bars)
        for note in bar.notes
    ]
    while found and found[-1][3] is None:
        found.pop()
    return found


def compare_score(path: Path) -> set[str] | None:
    """Compare the readings of a MusicXML file; None if we refuse it."""
    from music21 import converter

    try:
        ours = read_tune(path)
    except NotationError:
        return None
    parsed = converter.parse(path, forceSource=True, storePickle=False)
    theirs = from_music21(parsed)
    return differences(ours, theirs)


def compare_abc(name: str, text: str) -> set[str] | None:
    """Compare the readings of an ABC tune; None if one of us cannot read it."""
    from music21 import converter, exceptions21

    try:
        ours = read_abc(text, source=name)
    except NotationError:
        return None
    try:
        parsed = converter.parseData(reading.plain_for_music21(text), format="abc")
        theirs = from_music21(parsed)
    except (exceptions21.Music21Exception, ValueError, TypeError, KeyError, IndexError,
            AttributeError, NotationError):  # fmt: skip
        return {"music21 cannot read it, or not as a tune"}
    return differences(ours, theirs)


def comes_back(tune: Tune) -> set[str]:
    """Name what a round trip through music21 changes."""
    back = from_music21(to_music21(tune))
    sent = replace(tune, source="")
    if back == sent:
        return set()
    return differences(sent, back) or {"words, lines, slurs or names"}


# Foreign files

PITCH = re.compile(r"([a-gA-G])\1*(#+|-+|n)?")
LENGTH = re.compile(r"(\d+)(?:%(\d+))?(\.*)")


def spines(text: str) -> list[list[str]] | None:
    """Give the kern spines of a file as columns; None if they split or join."""
    columns: list[list[str]] = []
    kern: list[int] = []
    for line in text.splitlines():
        if not line or line.startswith("!!"):
            continue
        tokens = line.split("\t")
        if line.startswith("**"):
            kern = [place for place, token in enumerate(tokens) if token == "**kern"]
            columns = [[] for _ in kern]
        elif any(token in ("*^", "*v", "*+", "*x") for token in tokens):
            return None
        elif not line.startswith(("*", "!", "=")):
            for column, place in zip(columns, kern, strict=True):
                column.append(tokens[place])
    return columns


def spine_sounds(tokens: Iterable[str]) -> list:
    """Give (MIDI number or None, quarters), ties joined; of a chord the highest note."""
    symbols = []
    for token in tokens:
        if token == "." or "q" in token:
            continue
        notes = [one for one in token.split(" ") if one != "."]
        heads = [midi_of(one) for one in notes]
        sounding = [head for head in heads if head is not None]
        length = LENGTH.search(notes[0])
        assert length is not None, token
        tied = "[" in token or "_" in token
        symbols.append((max(sounding, default=None), quarters(length), tied))
    return reading.joined(symbols)


def midi_of(token: str) -> int | None:
    match = (
        None if "r" in token else PITCH.search(re.sub(r"[TtMmWwSsO$LJKk\\/;]", "", token))
    )
    if match is None:
        return None
    letters = re.match(r"[a-gA-G]+", match[0])[0]
    octave = 3 + len(letters) if letters[0].islower() else 4 - len(letters)
    sign = match[2] or ""
    alter = sign.count("#") - sign.count("-")
    return 12 * (octave + 1) + {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}[
        letters[0].lower()
    ] + alter  # fmt: skip


def quarters(match: re.Match) -> Fraction:
    digits, of, dots = match.groups()
    plain = (
        Fraction(4 * 2 ** len(digits)) if set(digits) == {"0"} else Fraction(4, int(digits))
    )
    return plain * int(of or 1) * (2 - Fraction(1, 2 ** len(dots)))


def read_by(stream, name: str) -> Tune:
    return melody_tune(
        melody_score(stream, None, source=name), source=name, keep_uneven=False
    )


def compare_kern(path: Path) -> str:
    """Say what came of a kern file: agrees, differs, splits or the refusal."""
    text = path.read_text(encoding="utf-8", errors="replace")
    try:
        tune = read_by(read_kern(text), path.name)
    except NotationError as error:
        return f"refused: {error}"
    columns = spines(text)
    if columns is None:
        return "read, not compared: its spines split"
    found = reading.without_last_rest(reading.our_sounds(tune))
    known = [reading.without_last_rest(spine_sounds(column)) for column in columns]
    return "agrees" if found in known else f"differs: {path.name}"


def compare_mei(name: str, text: str, toolkit) -> str | None:
    """Say what came of MEI that Verovio has made of an ABC tune."""
    try:
        tune = read_abc(text, source=name)
    except NotationError:
        return None
    toolkit.loadData(write_musicxml(tune))
    try:
        back = read_by(read_mei(toolkit.getMEI().encode(), Notices(), source=name), name)
    except NotationError as error:
        return f"refused: {error}"
    found = differences(tune, back) - {"chords"}
    same_sounds = reading.our_sounds(tune) == reading.our_sounds(back)
    if same_sounds and not found - {"notes"}:
        return "agrees"
    return f"differs in {', '.join(sorted(found))}"


def kern_files() -> list[Path]:
    return sorted(reading.corpus_root().rglob("*.krn"))


def report(title: str, results: list) -> None:
    counts = Counter(
        result if isinstance(result, str) else ", ".join(sorted(result)) or "agrees"
        for result in results
    )
    print(f"{title}: {sum(counts.values())}")
    for words, count in counts.most_common():
        print(f"  {count:5} ({100 * count / len(results):.1f} %) {words[:160]}")


def main() -> None:
    import verovio

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--stride", type=int, default=20)
    stride = parser.parse_args().stride
    warnings.simplefilter("ignore")
    verovio.enableLog(verovio.LOG_OFF)
    abc = list(reading.abc_tunes())
    compared = [compare_score(path) for path in list(reading.scores())[::stride]]
    report("MusicXML, our reader and music21's", [r for r in compared if r is not None])
    compared = [compare_abc(*item) for item in abc[:: 10 * stride]]
    report("ABC, our reader and music21's", [r for r in compared if r is not None])
    tunes = []
    for name, text in abc[:: 5 * stride]:
        try:
            tunes.append(read_abc(text, source=name))
        except NotationError:
            continue
    report("ABC tunes to music21 and back", [comes_back(tune) for tune in tunes])
    report("kern files", [compare_kern(path) for path in kern_files()[::stride]])
    toolkit = verovio.toolkit()
    made = [compare_mei(*item, toolkit) for item in abc[:: 10 * stride]]
    report("MEI by Verovio", [result for result in made if result is not None])


if __name__ == "__main__":
    main()
