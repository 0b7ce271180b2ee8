"""The program that tries hostile files counts what a broken kit would do with them.

What a broken kit would do is planted at the door through which cases go.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pikepdf
import psutil
import pytest

if sys.platform == "win32":
    pytest.skip("the programs fork, which Windows cannot", allow_module_level=True)

# Last: the programs have names that other packages may have too.
sys.path.append(str(Path(__file__).parent / "benchmarks"))

from fuzz import FAMILIES, FIRST_BUILD, Tally, case_of
from fuzz_case import Case, Limits
from fuzz_leaks import free_parts
from fuzz_run import run_case, the_command

SOURCE = b"lesson/lesson.toml"
MORE_BYTES = 150_000_000


def little() -> Limits:
    """Limit a case that does nothing: a fork may count what its parent holds as its own."""
    held = psutil.Process().memory_info().rss
    return Limits(slow_s=0.1, large_bytes=held + MORE_BYTES)


def case() -> Case:
    return Case("planted", {SOURCE: b"x = 1\n"}, [[b"check", b"lesson"]], (b"lesson",))


def kinds(door: Callable[[list[bytes]], int], place: Path) -> set[str]:
    report = run_case(case, place / "case", door=door, limits=little())
    return {kind for kind, _ in report["broken"]}


def says(*lines: str, code: int = 1) -> Callable[[list[bytes]], int]:
    def door(_: list[bytes]) -> int:
        os.write(2, "".join(f"{line}\n" for line in lines).encode("utf-8", "surrogatepass"))
        return code

    return door


def test_a_sentence_with_its_file_breaks_nothing(tmp_path):
    sentence = "error: lesson/lesson.toml: the key x means nothing here; leave it out."
    assert kinds(says(sentence), tmp_path) == set()


def test_a_planted_traceback_is_counted_with_its_cause(tmp_path):
    def door(_: list[bytes]) -> int:
        raise RecursionError("planted")

    report = run_case(case, tmp_path / "case", door=door, limits=little())
    tally = Tally()
    tally.add(7, report)
    assert [kind for kind, _ in tally.broken] == ["traceback"]
    assert "RecursionError" in next(iter(tally.broken))[1]
    assert list(tally.broken.values()) == [[7]]


def test_a_planted_crash_is_counted(tmp_path):
    assert kinds(lambda _: os.kill(os.getpid(), signal.SIGKILL) or 0, tmp_path) == {
        "traceback"
    }


def test_a_planted_slow_case_is_counted(tmp_path):
    def door(_: list[bytes]) -> int:
        begun = time.process_time()
        while time.process_time() < begun + 0.2:
            pass
        return 0

    assert kinds(door, tmp_path) == {"slow"}


def test_a_planted_large_case_is_counted(tmp_path):
    # As much as the limit by itself: what a fork counts of its parent is not all it holds.
    much = little().large_bytes + MORE_BYTES

    def door(_: list[bytes]) -> int:
        return len(b"x" * much) * 0

    assert "large" in kinds(door, tmp_path)


def test_a_source_that_is_changed_is_counted(tmp_path):
    def door(_: list[bytes]) -> int:
        Path(os.fsdecode(SOURCE)).write_bytes(b"x = 2\n")
        return 0

    assert kinds(door, tmp_path) == {"source changed"}


@pytest.mark.parametrize(
    ("lines", "kind"),
    [
        (["error: something is wrong with the lesson."], "no file named"),
        (["error: it is wrong: the lesson."], "no file named"),
        (["error: lesson.toml: " + "x" * 500], "long message"),
        (["error: lesson.toml: \x1b[31m is wrong."], "raw control sign"),
        (["error: lesson.toml: \u202ea is wrong."], "raw direction sign"),
        (["place.py:7: UserWarning: planted", "error: lesson.toml: x"], "no sentence"),
        ([], "refused without a word"),
    ],
)
def test_a_planted_message_is_counted(lines, kind, tmp_path):
    assert kinds(says(*lines), tmp_path) == {kind}


def test_the_real_command_is_what_is_behind_the_door(tmp_path):
    report = run_case(case, tmp_path / "case", door=the_command)
    assert report["outcomes"][0]["code"] == 1
    assert "lesson.toml" in report["outcomes"][0]["err"]


def base(tmp_path: Path) -> str:
    """Give what cases of earlier outputs and caches begin with, in the small."""
    manifest = {"lesson": "small", "files": [{"path": "index.html"}], "catalogue": {}}
    for name, text in {
        "lessons/small/lesson.toml": 'title = "Small"\n',
        "out/small/manifest.json": json.dumps(manifest),
        "out/.recipes/small.json": json.dumps({"page": {"the notes": "1"}}),
        "cache/ab/abcd": "0\nbody",
        "cache/ab/abce": "0\nother body",
    }.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return str(tmp_path)


def digest(folder: str) -> str:
    """Hash the cases of some seeds of every family, and of one whole build."""
    made = hashlib.sha256()
    for family in FAMILIES:
        for seed in range(3):
            made.update(repr(case_of(seed, folder, family).files).encode())
    made.update(repr(case_of(FIRST_BUILD, folder).files).encode())
    return made.hexdigest()


def test_a_seed_gives_the_same_files_in_every_process(tmp_path):
    folder = base(tmp_path)
    program = f"import test_fuzzing; print(test_fuzzing.digest({folder!r}))"
    run = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONHASHSEED": "7"}, cwd=Path(__file__).parent,
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert run.stdout.strip() == digest(folder)


def test_another_seed_gives_other_files(tmp_path):
    folder = base(tmp_path)
    for family in FAMILIES:
        made = {repr(case_of(seed, folder, family).files) for seed in range(5)}
        assert len(made) > 2, family


def paper() -> bytes:
    """Give a PDF that says something in its title, another thing in an attachment."""
    written = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.docinfo["/Title"] = "kobazulami"
        pdf.attachments["part"] = b"kobazulami"
        pdf.save(written)
    return written.getvalue()


def archive() -> bytes:
    written = io.BytesIO()
    with zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("inner.zip", b"")
        packed.writestr("handout.pdf", paper())
    return written.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "times"),
    [
        ("public/index.html", b"<p>koba&#122;ulami", 1),
        ("audio/easy.mp3", b"ID3\xff" + "kobazulami".encode("utf-16"), 1),
        ("handouts/easy.pdf", paper(), 2),
        ("free.zip", archive(), 2),
    ],
)
def test_a_sentence_is_found_wherever_strangers_may_look(name, data, times, tmp_path):
    path = tmp_path / "small" / name
    path.parent.mkdir(parents=True)
    path.write_bytes(data)
    manifest = {"files": [{"path": name, "tier": "free"}]}
    (tmp_path / "small/manifest.json").write_text(json.dumps(manifest), encoding="utf-8")
    found = {place for place, said in free_parts(tmp_path) if "kobazulami" in said}
    assert len(found) >= times
