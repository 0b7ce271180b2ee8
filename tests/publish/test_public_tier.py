"""Nothing of the members' reaches what is given away: both demo lessons, built for real.

Looked for in the public page (source, opened packs, sound beside it), in free.zip and in
every file whose tier is free: the members' words, notes, changes, edits and sound.
"""

from __future__ import annotations

import base64
import gzip
import html
import io
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pikepdf
import pypdf
import pytest

from kit.engrave.words import describe_bars
from kit.lesson.lesson import Lesson, open_lesson
from kit.tracks.stems import BAND, level_stems

LESSONS = Path(__file__).resolve().parents[2] / "lessons"
HORNS = ("alto-sax", "trombone")


@dataclass(frozen=True)
class Built:
    lesson: Lesson
    out: Path
    public: str
    """All text that is given away, packs and PDFs opened."""
    members: str
    public_bytes: bytes
    """All sound that is given away, taken out of its wrappings."""

    @property
    def paid_levels(self) -> list[str]:
        free = self.lesson.settings.tiers.free_levels
        return [name for name in self.lesson.level_names if name not in free]


@pytest.fixture(scope="module", params=["lamplighters-detour", "the-girl-i-left-behind-me"])
def built(request, tmp_path_factory) -> Built:
    """Build a demo lesson with two instruments, in a process of its own."""
    place = tmp_path_factory.mktemp("tiers")
    folder = shutil.copytree(
        LESSONS / request.param,
        place / "lessons" / request.param,
        ignore=shutil.ignore_patterns(".*", "__pycache__"),
    )
    toml = folder / "lesson.toml"
    text = toml.read_text(encoding="utf-8")
    text = re.sub(
        r"(?s)^instruments = \[.*?\]", f"instruments = {list(HORNS)}", text, flags=re.M
    )
    text = re.sub(
        r"^default_instrument = .*$", f'default_instrument = "{HORNS[0]}"', text, flags=re.M
    )
    # Other tempos are the same notes once more: they would only take time.
    text = re.sub(r"(?ms)^\[audio\].*?(?=^\[)", "", text)
    toml.write_text(text, encoding="utf-8")
    out = place / "out"
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build", str(folder), "--out", str(out)],
        capture_output=True, text=True, check=False,
        env={**os.environ, "KIT_CACHE": str(place / "cache")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    out = out / request.param
    free = list(given_away(out))
    paid = [("index.html", (out / "index.html").read_bytes())]
    paid += [(f"page/{p.name}", p.read_bytes()) for p in out.glob("page/*.js")]
    paid += [(str(p.relative_to(out)), p.read_bytes()) for p in out.glob("parts/*")]
    return Built(
        open_lesson(folder),
        out,
        "\n".join(text for name, data in free for text in texts_of(name, data)),
        "\n".join(text for name, data in paid for text in texts_of(name, data)),
        b"\n".join(sound for name, data in free for sound in sounds_of(name, data)),
    )


def given_away(out: Path) -> Iterator[tuple[str, bytes]]:
    """Give every free file, and once more what free.zip holds."""
    files = json.loads((out / "manifest.json").read_text(encoding="utf-8"))["files"]
    free = [file["path"] for file in files if file["tier"] == "free"]
    assert {"public/index.html", "free.zip"} <= set(free)
    for path in free:
        if path != "free.zip":
            yield path, (out / path).read_bytes()
    with zipfile.ZipFile(out / "free.zip") as archive:
        for name in archive.namelist():
            yield name, archive.read(name)


def texts_of(name: str, data: bytes) -> Iterator[str]:
    yield name
    if name.endswith(".html"):
        source = data.decode()
        yield source
        spoken = re.sub(r"(?s)<(script|style).*?</\1>", "", source)
        yield html.unescape(re.sub(r"<[^>]+>", "", spoken))
        for packed in re.findall(r'data-pack="[^"]+">([^<]+)<', source):
            contents = json.loads(gzip.decompress(base64.b64decode(packed)))
            yield json.dumps(contents, ensure_ascii=False).replace('\\"', '"')
    elif name.startswith(("page/", "public/page/")):
        for packed in re.findall(r'put\("[^"]+","([^"]+)"', data.decode()):
            text = gzip.decompress(base64.b64decode(packed)).decode()
            yield text.replace('\\"', '"')
    elif name.endswith(".pdf"):
        for page in pypdf.PdfReader(io.BytesIO(data)).pages:
            yield " ".join(page.extract_text().split())
        with pikepdf.open(io.BytesIO(data)) as pdf:
            yield from (
                str(item.Alt)
                for item in pdf.objects
                if isinstance(item, pikepdf.Dictionary) and "/Alt" in item
            )
            for attached in pdf.attachments.values():
                yield attached.get_file().read_bytes().decode()
    elif name.endswith((".json", ".vtt", ".musicxml", ".txt", ".md", ".xml")):
        yield data.decode()


def sounds_of(name: str, data: bytes) -> Iterator[bytes]:
    if name.startswith("audio/") and name.endswith(".js"):
        lines = re.findall(r'put\("[^"]+","([^"]+)"', data.decode())
        yield from (base64.b64decode(text) for text in lines)
    elif name.endswith((".mp3", ".flac", ".mp4", ".mid")):
        yield data


def sentences(text: str) -> list[str]:
    """Cut prose into pieces long enough to be nobody else's."""
    plain = re.sub(r"[*_`#>\[\]]|\(http[^)]*\)", "", text)
    return [one.strip() for one in re.split(r"[.\n:;]", plain) if len(one.strip()) > 40]


def test_no_words_of_members_cells(built):
    notebook = json.loads(
        (built.lesson.folder / "lesson.ipynb").read_text(encoding="utf-8")
    )
    paid = {f"level:{name}" for name in built.paid_levels} | {"members"}
    free = {f"level:{name}" for name in built.lesson.settings.tiers.free_levels}
    secret = [
        sentence
        for cell in notebook["cells"]
        if cell["cell_type"] == "markdown"
        and (tags := set(cell["metadata"].get("tags", ()))) & paid
        and not tags & free
        for sentence in sentences("".join(cell["source"]))
    ]
    assert len(secret) >= 3
    assert [one for one in secret if one in built.public] == []
    assert all(one in built.members for one in secret)


def test_no_notes_of_members_levels(built):
    """Bars in words, as packs and PDF alternatives say them, that no free level has."""
    known = {
        line
        for horn in HORNS
        for level in built.lesson.settings.tiers.free_levels
        for line in describe_bars(built.lesson.part(level, horn))
    }
    for horn in HORNS:
        for level in built.paid_levels:
            # A free bar may say the same and a word more, such as an octave sign's end.
            secret = {
                line
                for line in describe_bars(built.lesson.part(level, horn))
                if not any(free.startswith(line) for free in known)
            }
            assert len(secret) >= 8
            assert [line for line in secret if line in built.public] == []
            assert all(line in built.members for line in secret)


def test_no_changes_of_members_levels(built):
    """Chord symbols of the written keys and at concert pitch that no free level has."""

    def symbols(levels) -> set[str]:
        return {
            str(event.symbol)
            for level in levels
            for horn in HORNS
            for bar in built.lesson.part(level, horn).tune.bars
            for event in bar.chords
        }

    secret = symbols(built.paid_levels) - symbols(built.lesson.settings.tiers.free_levels)
    for symbol in secret:
        whole = re.compile(rf"(?<![\w♭♯]){re.escape(symbol)}(?![\w♭♯])")
        assert not whole.search(built.public), symbol
        assert whole.search(built.members), symbol
    if built.lesson.slug == "lamplighters-detour":
        assert len(secret) >= 5, "its advanced level has harmony of its own"


def test_no_edits_of_members_levels(built):
    written = [
        line.strip()
        for path in (built.lesson.folder / "levels").glob("*.toml")
        for line in path.read_text(encoding="utf-8").splitlines()
        if len(line.strip()) > 20
    ]
    assert len(written) >= 4
    assert [line for line in written if line in built.public] == []


def test_no_file_or_tempo_of_members_levels_is_named(built):
    page = (built.out / "public/index.html").read_text(encoding="utf-8")
    (packed,) = re.findall(r'data-pack="lesson">([^<]+)<', page)
    facts = json.loads(gzip.decompress(base64.b64decode(packed)))
    names = [level["name"] for level in facts["levels"]]
    assert names == list(built.lesson.settings.tiers.free_levels)
    free_tempos = {built.lesson.level(name).settings.tempo for name in names}
    for level in built.paid_levels:
        assert not re.search(rf"(?:/|\"){level}(?:[-/.\"])", built.public)
        tempo = built.lesson.level(level).settings.tempo
        if tempo not in free_tempos:
            assert f"{tempo:g} beats" not in built.public


def test_no_sound_of_members_levels(built):
    """Pieces from inside every members' sound, past the tags and the common count-in."""
    paid = [
        path
        for level in built.paid_levels
        for path in (built.out / "audio").glob(f"{level}-*")
    ]
    assert {path.suffix for path in paid} == {".mp3", ".js"}
    played_free = b"".join(
        piece
        for level in built.lesson.settings.tiers.free_levels
        for stem in level_stems(built.lesson, level, BAND)
        for piece in stem.pieces
    )
    for path in paid:
        data = b"".join(sounds_of(f"audio/{path.name}", path.read_bytes()))
        pieces = [data[place : place + 400] for place in range(0, len(data) - 400, 4000)]
        # Silence is the same in every MP3; what sounds has nearly every value of a byte.
        sounding = [piece for piece in pieces[len(pieces) // 5 :] if len(set(piece)) > 150]
        # Two levels at one tempo may have the same bass for a while: that is no secret.
        sounding = [piece for piece in sounding if piece not in played_free]
        assert len(sounding) > 20
        assert not any(piece in built.public_bytes for piece in sounding), path.name
    free = built.lesson.settings.tiers.free_levels[0]
    sound = (built.out / f"audio/{free}-demo.mp3").read_bytes()
    middle = len(sound) // 2
    assert sound[middle : middle + 400] in built.public_bytes, "free sound must be found"


def test_what_the_public_page_fetches_is_the_free_levels_only(built):
    free = set(built.lesson.settings.tiers.free_levels)
    files = json.loads((built.out / "manifest.json").read_text(encoding="utf-8"))["files"]
    given = [f for f in files if f["kind"] in ("stems", "notation") and f["tier"] == "free"]
    assert {f["level"] for f in given} == free
    beside = {p.name for p in (built.out / "public/page").iterdir()} - {"stretch.js"}
    assert beside == {f"{level}-{horn}.js" for level in free for horn in HORNS}
    with zipfile.ZipFile(built.out / "free.zip") as archive:
        scripts = {name for name in archive.namelist() if name.endswith(".js")}
    assert scripts == {
        "page/stretch.js",
        *(f"page/{name}" for name in beside),
        *(f["path"] for f in given if f["kind"] == "stems"),
    }
