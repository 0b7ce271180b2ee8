"""What a picture's file says beside its pixels is in nothing that a build makes."""

from __future__ import annotations

import base64
import gzip
import io
import json
import os
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pikepdf
import planted
import pytest
from PIL import Image

TUNE = """X:1
T:Small Tune
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""
SETTINGS = """
title = "Small Tune"
instruments = ["tenor-sax"]
sections = [{ label = "A", bars = "1-2" }, { label = "B", bars = "3-4" }]
[rights]
basis = "own work"
[tiers]
free_levels = ["plain"]
free_kinds = ["handout", "audio"]
[audio]
cover = "pictures/cover.png"
[[levels]]
name = "plain"
tempo = 200
feel = "straight-eighths"
count_in_bars = 1
"""
ALT = 'The mill "by" the <canal>'


def code(source: str) -> dict[str, object]:
    return {
        "cell_type": "code", "id": f"c{abs(hash(source))}", "metadata": {}, "outputs": [],
        "execution_count": None, "source": source,
    }  # fmt: skip


def write_lesson(folder: Path, *cells: dict[str, object]) -> Path:
    (folder / "pictures").mkdir(parents=True)
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "pictures/cover.png").write_bytes(planted.png())
    notebook = {"cells": list(cells), "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    (folder / "lesson.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    return folder


def build(folder: Path, cache: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "kit", "build", str(folder), "--out", str(cache / "out")],
        capture_output=True, text=True, check=False,
        env={**os.environ, "KIT_CACHE": str(cache / "cache")},
    )  # fmt: skip


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> Path:
    """A lesson whose cover, outputs and attachments carry the secret in every place."""
    place = tmp_path_factory.mktemp("school")
    everything = {where: data for where, _, data in planted.planted()}
    folder = place / "lessons/small-tune"
    attached = base64.b64encode(everything["PNG all"]).decode()
    secret = planted.SECRET
    shown = f"<p>{secret}</p><img src='data:image/png;base64,{attached}'>"
    svg = f"<svg xmlns='http://www.w3.org/2000/svg'><title>{secret}</title></svg>"
    write_lesson(
        folder,
        {
            "cell_type": "markdown", "id": "a", "metadata": {},
            "source": "# Small Tune\n\n![the mill](attachment:mill.png) and "
            "![the door](pictures/PNG-all.png)",
            "attachments": {"mill.png": {"image/png": attached}},
        },
        code(
            "from pathlib import Path\n"
            "from IPython.display import HTML, SVG, Image, display\n"
            "for path in sorted(Path('pictures').glob('[JP][PN]*')):\n"
            f"    display(Image(filename=path, alt={ALT!r}))"
        ),
        code(f"display(HTML({shown!r}))"),
        code(f"display(SVG({svg!r}))"),
        code(
            f"display({{'image/svg+xml': {svg!r}, 'text/html': {shown!r}, "
            f"'image/gif': {attached!r}, 'application/pdf': {attached!r}}}, raw=True)"
        ),
        code(f"print({secret!r})\n{secret!r}"),
    )  # fmt: skip
    for where, data in everything.items():
        name = re.sub(r"\W+", "-", where)
        ending = "png" if where.startswith("PNG") else "jpg"
        (folder / f"pictures/{name}.{ending}").write_bytes(data)
    (folder / "pictures/cover.png").write_bytes(everything["PNG all"])
    done = build(folder, place)
    assert done.returncode == 0, done.stderr
    return place / "out"


def opened(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    """Give a file's bytes and, once more, all that is packed or written in them."""
    yield name, data
    if name.endswith(".zip"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for inside in archive.namelist():
                yield from opened(f"{name}/{inside}", archive.read(inside))
    elif name.endswith(".html"):
        for kind, text in re.findall(rb'data:([\w/+]+);base64,([^"\')\s]+)', data):
            yield f"{name} {kind.decode()}", base64.b64decode(text)
        for text in re.findall(rb'data-audio="[^"]+"[^>]*>([^<]+)<', data):
            yield f"{name} sound.mp3", base64.b64decode(text)
        for text in re.findall(rb'data-pack="[^"]+">([^<]+)<', data):
            yield f"{name} pack", gzip.decompress(base64.b64decode(text))
    elif name.endswith(".pdf"):
        with pikepdf.open(io.BytesIO(data)) as pdf:
            for number, item in enumerate(pdf.objects):
                yield f"{name} {number}", str(item).encode()
                if isinstance(item, pikepdf.Stream):
                    yield f"{name} {number} raw", item.read_raw_bytes()
                    if item.get("/Subtype") != "/Image":
                        yield f"{name} {number} open", item.read_bytes()


def everything_of(out: Path) -> list[tuple[str, bytes]]:
    return [
        piece
        for path in sorted(out.rglob("*"))
        if path.is_file()
        for piece in opened(path.relative_to(out).as_posix(), path.read_bytes())
    ]


def test_the_secret_is_in_no_output(built):
    pieces = everything_of(built)
    kinds = {name.split(" ")[0].rsplit(".", 1)[-1] for name, _ in pieces}
    assert {"html", "pdf", "mp3", "zip", "json", "musicxml", "mid", "png"} <= kinds
    assert sum("image/png" in name for name, _ in pieces) >= 10
    found = [
        name for name, data in pieces if any(trace in data for trace in planted.traces())
    ]
    assert found == []


@pytest.mark.parametrize("page", ["index.html", "public/index.html"])
def test_the_pictures_are_on_the_page_with_their_size_and_words(built, page):
    source = (built / "small-tune" / page).read_text(encoding="utf-8")
    shown = re.findall(
        r'<img alt="([^"]*)" width="(\d+)" height="(\d+)" '
        r'src="data:(image/\w+);base64,([^"]+)">',
        source,
    )
    wanted = [mime for _, mime, _ in planted.planted()]
    assert sorted(mime for *_, mime, _ in shown) == sorted(wanted)
    for alt, width, height, mime, text in shown:
        assert alt == "The mill &#34;by&#34; the &lt;canal&gt;"
        with Image.open(io.BytesIO(base64.b64decode(text))) as picture:
            assert picture.size == (int(width), int(height)) == planted.SIZE
            assert picture.get_format_mimetype() == mime
            assert not {"icc_profile", "exif", "comment"} & set(picture.info)


def test_the_cover_is_in_the_mp3_and_shows_what_it_showed(built):
    data = (built / "small-tune/audio/plain-demo.mp3").read_bytes()
    start = data.index(b"\x89PNG\r\n\x1a\n")
    cover = data[start : data.index(b"IEND\xaeB`\x82", start) + 8]
    with Image.open(io.BytesIO(cover)) as picture:
        assert picture.convert("RGB").tobytes() == planted.dots().tobytes()


FAULTY = {
    "no picture": (b"a note for myself", "this is no PNG picture"),
    "SVG": (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "the picture is SVG, not PNG"),
    "JPEG": (planted.jpeg(), "the picture is JPEG, not PNG"),
    "cut short": (planted.png()[:70], "the picture is cut short"),
    "two in one": (
        planted.png() + planted.archive(),
        "the file is a picture and a ZIP archive at once",
    ),
}


@pytest.mark.parametrize("name", FAULTY)
def test_a_cover_that_is_none_stops_the_build_with_one_sentence(name, tmp_path):
    data, words = FAULTY[name]
    folder = write_lesson(tmp_path / "small-tune")
    (folder / "pictures/cover.png").write_bytes(data)
    done = build(folder, tmp_path)
    assert done.returncode == 1
    assert f"small-tune/pictures/cover.png: {words}" in sentence(done)


def test_a_picture_that_is_none_stops_the_build_with_file_and_cell(tmp_path):
    cell = code(
        "import base64\nfrom IPython.display import display\n"
        "display({'image/png': base64.b64encode(b'GIF89a').decode()}, raw=True)"
    )
    folder = write_lesson(tmp_path / "small-tune", code("1 + 1"), cell)
    done = build(folder, tmp_path)
    assert done.returncode == 1
    assert "small-tune/lesson.ipynb, cell 2: the picture is GIF, not PNG" in sentence(done)


def sentence(done: subprocess.CompletedProcess[str]) -> str:
    assert "Traceback" not in done.stderr
    words = " ".join(done.stderr.split())
    assert len(words) <= 500
    return words
