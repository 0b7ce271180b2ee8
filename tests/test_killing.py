"""The program that kills builds meets the moment it waits for, however short.

What a build does is planted: a stage, two renames, and a pause after each.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip(
        "the program stops processes, which Windows cannot", allow_module_level=True
    )

# Last: the programs have names that other packages may have too.
sys.path.append(str(Path(__file__).parent / "benchmarks"))

from kills_watch import Places, killed_at, moment_of

BUILD = """
import os, sys, time
stage, out = sys.argv[1:]
os.mkdir(stage)
time.sleep(0.05)
os.rename(out, stage.removesuffix(".stage") + ".old")
time.sleep(0.05)
os.rename(stage, out)
time.sleep(5)
"""


def test_a_build_is_killed_at_the_moment_waited_for(tmp_path):
    (tmp_path / "small").mkdir()
    at = Places(tmp_path, "small", tmp_path / "cache")
    at.begin()
    run = subprocess.Popen(
        [
            sys.executable, "-c", BUILD,
            tmp_path / ".small.abcdefgh.stage", tmp_path / "small",
        ],
        text=True, start_new_session=True,
    )  # fmt: skip
    assert killed_at(run, at, "between the two renames")
    assert run.wait() < 0
    assert moment_of(at) == "between the two renames"


def test_a_moment_that_never_comes_is_told(tmp_path):
    at = Places(tmp_path, "small", tmp_path / "cache")
    at.begin()
    program = f"import os, time; os.mkdir({str(tmp_path / '.small.abcdefgh.stage')!r})"
    run = subprocess.Popen([sys.executable, "-c", program], text=True)
    assert not killed_at(run, at, "between the two renames")
    assert run.wait() == 0
