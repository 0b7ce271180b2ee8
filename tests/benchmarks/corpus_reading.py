"""How much of a large public corpus do our readers read, and do they read it right?

Reads the corpus that music21 ships, writes each tune as MusicXML and reads it again, and
compares the readings with music21's own: sounding notes (MIDI number and exact duration,
ties joined, rests as gaps) and the number of bars.

    python tests/benchmarks/corpus_reading.py          every 9th ABC tune, 15th score
    python tests/benchmarks/corpus_reading.py --all    reads all, compares as above (5 min)
    python tests/benchmarks/corpus_reading.py --all --stride 1      compares all (an hour)

What is known to trip music21's ABC reader is taken out of its copy of the text: backquotes
and one-letter decorations (it loses the broken rhythm or the note behind them), and ``::``
is written as ``:||:``. Where the readings differ still, the text is mended further, one
thing at a time (`CAUSES`); the thing that makes them agree is the cause.

music21 joins accidentals to later notes of a bar only for files that say they are ABC 2.x,
so its input gets that first line; our reader follows ABC 2.1 anyway.

Source of the corpus: music21 (BSD licence; each collection under its own terms).
"""

from __future__ import annotations

import argparse
import re
import sys
import warnings
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from kit.errors import NotationError
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.musicxml.mxl import read_mxl
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import Layout, write_musicxml

ABC_FOLDERS = (
    "airdsAirs", "essenFolksong", "josquin", "miscFolk", "nottingham-dataset",
    "oneills1850", "ryansMammoth",
)  # fmt: skip
# Scores whose origin is known; those that reserve all rights, or come out of a modern
# edition, are not read (docs/sources.md).
SCORE_FOLDERS = ("bach", "beach", "ciconia", "corelli", "joplin", "liliuokalani", "luca")

Sound = tuple[int | None, Fraction]


@dataclass(frozen=True)
class Comparison:
    """What came of one tune: agrees, differs, uneven, refused, unreadable or voices."""

    name: str
    verdict: str
    detail: str = ""


def corpus_root() -> Path:
    import music21

    return Path(music21.__file__).parent / "corpus"


def abc_tunes() -> Iterator[tuple[str, str]]:
    """Yield name and text of every ABC tune."""
    for folder in ABC_FOLDERS:
        for path in sorted((corpus_root() / folder).glob("*.abc")):
            text = path.read_text(encoding="utf-8", errors="replace")
            blocks = re.split(r"(?m)^(?=X:)", text)[1:]
            for place, block in enumerate(blocks):
                yield f"{folder}/{path.name}#{place}", block


def scores() -> Iterator[Path]:
    """Yield every MusicXML file of the folders."""
    for folder in SCORE_FOLDERS:
        for path in sorted((corpus_root() / folder).rglob("*")):
            if path.suffix in (".mxl", ".xml", ".musicxml"):
                yield path


def our_sounds(tune: Tune) -> list[Sound]:
    """Give the sounds as we read them, ties joined and rests in a row added up."""
    symbols = [
        (None if note.pitch is None else note.pitch.midi, note.duration, note.tied)
        for bar in tune.bars
        for note in bar.notes
    ]
    return joined(symbols)


def joined(symbols: list[tuple[int | None, Fraction, bool]]) -> list[Sound]:
    sounds: list[Sound] = []
    held = False
    for key, length, tied in symbols:
        goes_on = bool(sounds) and sounds[-1][0] == key and (held or key is None)
        if goes_on:
            sounds[-1] = (key, sounds[-1][1] + length)
        else:
            sounds.append((key, length))
        held = tied
    return sounds


def their_sounds(part) -> list[Sound]:
    """Give the sounds of a music21 part; of a chord the highest note."""
    import music21

    symbols: list[tuple[int | None, Fraction, bool]] = []
    for element in part.flatten().notesAndRests:
        if isinstance(element, music21.harmony.ChordSymbol) or element.duration.isGrace:
            continue
        length = Fraction(element.quarterLength).limit_denominator(960)
        if not length:
            continue
        if element.isRest:
            symbols.append((None, length, False))
            continue
        top = max(element.pitches, key=lambda p: p.ps) if element.isChord else element.pitch
        ties = (
            [n.tie for n in element.notes if n.pitch == top]
            if element.isChord
            else [element.tie]
        )
        tied = any(t is not None and t.type in ("start", "continue") for t in ties)
        symbols.append((int(top.ps), length, tied))
    return joined(symbols)


def plain_for_music21(text: str) -> str:
    """Take out the signs that music21 10.5 reads wrongly."""
    lines = []
    for line in text.splitlines():
        if not re.match(r"[A-Za-z]:|%", line):
            pieces = re.split(r'("[^"]*")', line)
            pieces[::2] = [
                re.sub(r"::", ":||:", re.sub(r"[.~HLMOPSTuv`]", "", piece))
                for piece in pieces[::2]
            ]
            lines.append("".join(pieces))
        else:
            lines.append(line)
    return "%abc-2.1\n" + "\n".join(lines) + "\n"


def without_slurs_and_graces(text: str) -> str:
    """Take out what parts a broken rhythm: ``c>(d``, ``c>{e}d``, ``c->d``."""
    return "\n".join(
        re.sub(r"\{[^}]*\}|\((?!\d)|\)|-(?=[<>])|(?<=[<>])-", "", line)
        if is_music(line)
        else line
        for line in text.splitlines()
    )


def without_texts(text: str) -> str:
    """Take out texts above the notes, such as an accent written ``">"``."""
    return "\n".join(
        re.sub(r'"[^"]*"', "", line) if is_music(line) else line
        for line in text.splitlines()
    )


def with_plain_rests(text: str) -> str:
    """Write invisible rests as visible ones."""
    return "\n".join(
        re.sub(r"x(?![^\"]*\"[^\"]*$)", "z", line) if is_music(line) else line
        for line in text.splitlines()
    )


def without_chord_stacks(text: str) -> str:
    """Leave the highest-written note of ``[ceg]`` alone."""
    return "\n".join(
        re.sub(r"\[([^\]:|\d\"]+)\]", lambda m: last_note(m[1]), line)
        if is_music(line)
        else line
        for line in text.splitlines()
    )


def last_note(notes: str) -> str:
    found = re.findall(r"[=^_]*[A-Ga-g][,']*[\d/]*", notes)
    return found[-1] if found else ""


def without_spaces_in_broken_rhythm(text: str) -> str:
    """Write ``c > d`` as ``c>d``."""
    return "\n".join(
        re.sub(r"\s*([<>]+)\s*", r"\1", line) if is_music(line) else line
        for line in text.splitlines()
    )


def is_music(line: str) -> bool:
    return bool(line.strip()) and not re.match(r"[A-Za-z]:|%", line)


CAUSES = {
    "a broken rhythm parted by a slur, tie or grace note": without_slurs_and_graces,
    "a text between notes": without_texts,
    "a rest written x": with_plain_rests,
    "notes that sound together": without_chord_stacks,
    "blanks in a broken rhythm": without_spaces_in_broken_rhythm,
}


def only_accidentals_differ(text: str) -> bool:
    """Say whether bar lines were added, and the notes differ in their accidentals alone."""
    import music21

    ours = read_abc(text, source="")
    if not any("missing at the ends" in notice for notice in ours.notices):
        return False
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = music21.converter.parseData(plain_for_music21(text), format="abc")
        theirs = [
            note.pitch.diatonicNoteNum
            for note in next(iter(parsed.parts)).flatten().notes
            if isinstance(note, music21.note.Note) and not note.duration.isGrace
        ]
    # music21 counts C0 as 1, we as 0.
    found = [n.pitch.diatonic + 1 for bar in ours.bars for n in bar.notes if n.pitch]
    return found == theirs


def cause_of(name: str, text: str) -> str:
    """Say which mending of music21's copy makes the readings agree."""
    if "\nV:" in text or "[V:" in text:
        return "voices, of which music21 puts none or all first"
    if only_accidentals_differ(text):
        return "a bar line left out at a line's end, so that an accidental reaches on"
    for cause, mend in CAUSES.items():
        if compare_abc(name, text, mended=mend(text)).verdict == "agrees":
            return cause
    mended = text
    for mend in CAUSES.values():
        mended = mend(mended)
    if compare_abc(name, text, mended=mended).verdict == "agrees":
        return "several of these"
    return "not explained"


def without_last_rest(sounds: list[Sound]) -> list[Sound]:
    return sounds[:-1] if sounds and sounds[-1][0] is None else sounds


def compare_abc(name: str, text: str, *, mended: str | None = None) -> Comparison:
    """Compare our reading of a text with music21's of it, or of a mended copy."""
    import music21

    try:
        ours = read_abc(text, source=name)
    except NotationError as refusal:
        try:
            read_abc(text, source=name, keep_uneven=True)
        except NotationError as error:
            return Comparison(name, "refused", str(error))
        return Comparison(name, "uneven", str(refusal))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            parsed = music21.converter.parseData(
                plain_for_music21(mended or text), format="abc"
            )
        except (music21.exceptions21.Music21Exception, ValueError, TypeError, KeyError,
                IndexError, AttributeError) as error:  # fmt: skip
            return Comparison(name, "unreadable", f"{type(error).__name__}: {error}")
        theirs = next(iter(parsed.parts))
        return verdict(name, ours, theirs)


def verdict(name: str, ours: Tune, theirs) -> Comparison:
    # A rest at the very end is often only a "forward", which music21 passes over.
    expected, found = (
        without_last_rest(their_sounds(theirs)),
        without_last_rest(our_sounds(ours)),
    )
    bars = [m for m in theirs.getElementsByClass("Measure") if m.flatten().notesAndRests]
    if found != expected:
        place = next(
            (i for i, (a, b) in enumerate(zip(found, expected, strict=False)) if a != b),
            min(len(found), len(expected)),
        )
        detail = (
            f"sound {place}: {found[place : place + 3]} / {expected[place : place + 3]}"
        )
        return Comparison(name, "differs", detail)
    added = any("missing at the ends" in notice for notice in ours.notices)
    if bars and len(bars) != len(ours.bars) and not added:
        return Comparison(name, "differs", f"bars: {len(ours.bars)} / {len(bars)}")
    return Comparison(name, "agrees")


def compare_score(path: Path) -> Comparison:
    import music21

    name = str(path.relative_to(corpus_root()))
    data = path.read_bytes()
    try:
        if path.suffix == ".mxl":
            data = read_mxl(data, source=name)
        ours = read_musicxml(data, source=name)
    except NotationError as refusal:
        try:
            read_musicxml(data, source=name, keep_uneven=True)
        except NotationError as error:
            return Comparison(name, "refused", str(error))
        return Comparison(name, "uneven", str(refusal))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = music21.converter.parse(path)
        parts = list(parsed.parts)
        named = [p for p in parts if p.partName == ours.part_name] or parts
        theirs = named[0]
        if any(measure.voices for measure in theirs.getElementsByClass("Measure")):
            return Comparison(name, "voices")
        return verdict(name, ours, theirs.toSoundingPitch())


def sounds_agree(text: str) -> bool:
    """Say whether our sounds are music21's where a bar does not add up for us."""
    import music21

    ours = read_abc(text, source="uneven", keep_uneven=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parsed = music21.converter.parseData(plain_for_music21(text), format="abc")
        return our_sounds(ours) == their_sounds(next(iter(parsed.parts)))


def changes_of(path: Path) -> tuple[list, list]:
    """Give our changes and music21's as (bar index, onset, root, pitch classes)."""
    import music21

    tune = read_musicxml(path.read_bytes(), source=path.name)
    ours = [
        (index, event.onset, str(event.symbol.root), frozenset(event.symbol.pitch_classes))
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
    ]
    theirs = []
    signs = str.maketrans({"-": "♭", "#": "♯"})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = next(iter(music21.converter.parse(path).parts))
        for index, measure in enumerate(part.getElementsByClass("Measure")):
            for chord in measure.getElementsByClass(music21.harmony.ChordSymbol):
                onset = Fraction(chord.offset).limit_denominator(960)
                root = chord.root().name.translate(signs)
                sound = frozenset(pitch.pitchClass for pitch in chord.pitches)
                theirs.append((index, onset, root, sound))
    return ours, theirs


def report(title: str, results: list[Comparison]) -> None:
    counts = Counter(result.verdict for result in results)
    total = len(results)
    read = total - counts["refused"] - counts["uneven"]
    compared = counts["agrees"] + counts["differs"]
    print(f"{title}: {total} in all")
    print(f"  read as they are            {read:6} ({100 * read / total:.2f} %)")
    uneven = counts["uneven"]
    print(f"  read only with uneven bars  {uneven:6} ({100 * uneven / total:.2f} %)")
    print(f"  refused with one sentence   {counts['refused']:6}")
    print(f"  of several voices, not compared {counts['voices']:2}")
    print(f"  unreadable for music21      {counts['unreadable']:6}")
    share = 100 * counts["agrees"] / compared if compared else 0.0
    print(
        f"  agree with music21          {counts['agrees']:6} of {compared} ({share:.2f} %)"
    )
    for result in results:
        if result.verdict in ("differs", "refused", "unreadable"):
            print(f"    {result.verdict}: {result.name}: {result.detail[:160]}")


def report_causes(results: list[Comparison], texts: dict[str, str]) -> None:
    """Print why readings differ, with the names where no cause is found."""
    differing = [result.name for result in results if result.verdict == "differs"]
    causes = {name: cause_of(name, texts[name]) for name in differing}
    print("  where they differ, music21 (by mending its copy) trips over")
    for cause, count in Counter(causes.values()).most_common():
        names = [name for name in differing if causes[name] == cause]
        shown = f": {', '.join(names)}" if cause == "not explained" else ""
        print(f"    {count:4} {cause}{shown}")


def read_once(name: str, source: str | Path, *, keep_uneven: bool) -> Tune:
    if isinstance(source, str):
        return read_abc(source, source=name, keep_uneven=keep_uneven)
    data = source.read_bytes()
    if source.suffix == ".mxl":
        data = read_mxl(data, source=name)
    return read_musicxml(data, source=name, keep_uneven=keep_uneven)


def comes_back(tune: Tune) -> bool:
    """Say whether a tune, written and read again, is the same."""
    text = write_musicxml(tune, layout=Layout(bars_per_line=None))
    return read_musicxml(text.encode(), source=tune.source, keep_uneven=True) == tune


def report_reading(title: str, items: list[tuple[str, str | Path]]) -> None:
    """Read, write and read again; an exception that is no sentence ends the program."""
    counts: Counter[str] = Counter()
    for name, source in items:
        try:
            tune = read_once(name, source, keep_uneven=False)
            counts["strict"] += 1
        except NotationError:
            try:
                tune = read_once(name, source, keep_uneven=True)
                counts["uneven"] += 1
            except NotationError as error:
                counts["refused"] += 1
                print(f"    refused: {error}")
                continue
        counts["same" if comes_back(tune) else "changed"] += 1
        if not comes_back(tune):
            print(f"    comes back changed: {name}")
    total, read = len(items), counts["strict"] + counts["uneven"]
    print(f"{title}: {total} in all")
    for label, count in (
        ("read as they are", counts["strict"]),
        ("read with keep_uneven", counts["uneven"]),
        ("read in all", read),
        ("refused in one sentence", counts["refused"]),
        ("written and read again the same", counts["same"]),
    ):
        print(f"  {label:32} {count:6} ({100 * count / total:.2f} %)")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--all", action="store_true", help="read the whole corpus first")
    parser.add_argument("--stride", type=int, default=9, help="compare every n-th ABC tune")
    options = parser.parse_args()
    tunes, files = list(abc_tunes()), list(scores())
    if options.all:
        report_reading("Reading ABC", list(tunes))
        report_reading("Reading MusicXML", [(path.name, path) for path in files])
    results = [compare_abc(*item) for item in tunes[:: options.stride]]
    report("Comparing ABC", results)
    report_causes(results, dict(tunes))
    files = files[:: 1 if options.stride == 1 else 15]
    report("Comparing MusicXML", [compare_score(path) for path in files])
    return 0


if __name__ == "__main__":
    sys.exit(main())
