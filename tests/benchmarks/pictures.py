"""What does the dearest picture cost that is let in, and do damaged ones ever cost more?

    python tests/benchmarks/pictures.py [--damaged 20000] [--seed 1]

The largest pictures of each kind (16 million pixels) are cleaned, each in a process of its
own; its peak is its resident memory with the interpreter and Pillow in it. Then pictures
full of metadata are cut or damaged at random and cleaned: anything but a sentence or a
clean picture ends the program. The baseline is a process that loads the kit's pictures
and cleans a small one.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from PIL import Image, ImageCms

from kit.errors import LessonError
from kit.pictures.clean import clean_picture

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "benchmarks"), str(ROOT / "pictures")]

from machine import describe  # noqa: E402 - beside this file
from planted import chunk, exif, jpeg_with, planted, png_with, segment  # noqa: E402

SIDE = 4000


def _noise(bits: int, *shape: int) -> np.ndarray:
    """Give numbers that pack badly: only the lowest bits differ."""
    return np.random.default_rng(1).integers(0, 2**bits, shape, dtype=np.uint8)


def _png(picture: Image.Image, **options: object) -> bytes:
    packed = io.BytesIO()
    picture.save(packed, "PNG", compress_level=1, **options)
    return png_with(chunk(b"eXIf", exif(6)), picture=packed.getvalue())


def _jpeg(picture: Image.Image, **options: object) -> bytes:
    packed = io.BytesIO()
    picture.save(packed, "JPEG", **options)
    return jpeg_with(segment(0xE1, b"Exif\0\0" + exif(6)), picture=packed.getvalue())


def _profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


LARGEST: dict[str, Callable[[], bytes]] = {
    "small": lambda: _png(Image.new("RGB", (40, 24))),
    "grey": lambda: _png(Image.fromarray(_noise(3, SIDE, SIDE))),
    "16 bits": lambda: _png(Image.fromarray(_noise(2, SIDE, SIDE).astype(np.uint16) << 8)),
    "palette, clear": lambda: _png(
        Image.fromarray(_noise(2, SIDE, SIDE), "P"), transparency=0, icc_profile=_profile()
    ),
    "RGB, flat": lambda: _png(Image.new("RGB", (SIDE, SIDE)), icc_profile=_profile()),
    "RGB, 9.9 MB": lambda: _png(
        Image.fromarray(_noise(3, 2400, 2400, 3)), icc_profile=_profile()
    ),
    "RGBA": lambda: _png(Image.new("RGBA", (SIDE, SIDE)), icc_profile=_profile()),
    "JPEG": lambda: _jpeg(
        Image.fromarray(_noise(6, SIDE, SIDE, 3)), quality=60, icc_profile=_profile()
    ),
    "JPEG, progressive": lambda: _jpeg(
        Image.fromarray(_noise(5, SIDE, SIDE, 3)), quality=60, progressive=True
    ),
    "JPEG, CMYK": lambda: _jpeg(Image.fromarray(_noise(4, SIDE, SIDE, 4), "CMYK")),
}


def _peak_mb() -> float:
    kb_or_bytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return kb_or_bytes / (1e6 if sys.platform == "darwin" else 1e3)


def _clean(path: str) -> None:
    data = Path(path).read_bytes()
    before = time.process_time()
    try:
        made = clean_picture(data, "picture")
        end = f"{len(made.data) / 1e6:5.1f} MB out"
    except LessonError as error:
        end = str(error)
    used_s = time.process_time() - before
    print(f"{len(data) / 1e6:5.1f} MB in, {end}, {used_s:.2f} s, peak {_peak_mb():.0f} MB")


def _largest(place: Path) -> None:
    for name, make in LARGEST.items():
        path = place / "picture"
        path.write_bytes(make())
        done = subprocess.run(
            [sys.executable, __file__, "--clean", str(path)],
            capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONPATH": str(ROOT.parent)},
        )  # fmt: skip
        print(f"{name:18} {done.stdout.strip()}")


def _damaged(count: int, seed: int) -> None:
    chance = random.Random(seed)
    files = [data for _, _, data in planted()]
    cleaned = longest = 0
    slowest = 0.0
    for _ in range(count):
        data = bytearray(chance.choice(files))
        for _ in range(chance.randrange(4)):
            data[chance.randrange(len(data))] = chance.randrange(256)
        if chance.random() < 0.3:
            del data[chance.randrange(len(data)) :]
        before = time.process_time()
        try:
            clean_picture(bytes(data), "picture")
            cleaned += 1
        except LessonError as error:
            longest = max(longest, len(str(error)))
        slowest = max(slowest, time.process_time() - before)
    print(
        f"{count} damaged files, seed {seed}: {cleaned} clean pictures, the others a "
        f"sentence of at most {longest} characters each; slowest {slowest:.3f} s, "
        f"peak {_peak_mb():.0f} MB"
    )


def main() -> None:
    """Print a line for each kind of picture, and one for all damaged ones."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--damaged", type=int, default=20_000)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--clean", help=argparse.SUPPRESS)
    given = options.parse_args()
    if given.clean:
        _clean(given.clean)
        return
    print(describe(["pillow", "numpy"]))
    with tempfile.TemporaryDirectory() as place:
        _largest(Path(place))
    _damaged(given.damaged, given.seed)


if __name__ == "__main__":
    main()
