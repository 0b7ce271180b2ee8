"""lesson.toml and edit lists with anything anywhere: findings, and never an exception."""

import copy
import tomllib

import pytest
import tomlkit
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.check.lesson import check_lesson
from kit.levels.edits import OPERATIONS

TUNE = 'X:1\nT:Lamp\nM:4/4\nL:1/4\nK:F\n"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]\n'
FULL = tomllib.loads("""
title = "Lamp"
composer = "Nobody"
instruments = ["tenor-sax", "lamp-horn"]
sections = [{ label = "A", bars = "1-2" }, { label = "B", bars = "3-4" }]
summary = "Words"
[rights]
basis = "own work"
[spelling]
tenor-sax = "sharps"
[audio]
tempos = [100, 85]
a4 = 440.0
[recording]
talk = [{ say = "Hello", seconds = 5 }]
[catalogue]
course = "First"
order = 3
published = 2026-01-31
[tiers]
free_levels = ["plain"]
[[instrument]]
slug = "lamp-horn"
name = "Lamp horn"
written = "P8"
range = ["C4", "C6"]
breath_s = { beginner = 4 }
breaks = [["B4", "C5", "why"]]
[[levels]]
name = "plain"
tempo = 120
edits = "levels/plain.toml"
section_feels = { A = "medium-swing" }
route = [{ play = "head", sections = "AB", tag = { bars = 2, times = 3 } }]
""")
ODD = st.recursive(
    st.sampled_from(
        [
            True, 0, -1, 1, 10**9, 2**63 - 1, -(2**63), 0.5, float("nan"), float("inf"),
            "", "\0", "\x1b[31m", "\u202e", "../..", "/", "a/" * 3000, "9" * 5000, "1-4",
            "²", "é" * 300, "con", "P8", "C4", "tenor-sax", "plain", [], {}, "x" * 5000,
        ]
    )
    | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["bars", "name", "x", "\x1b"]), inner, max_size=3)
    ),
    max_leaves=4,
)  # fmt: skip


def places(value, path=()):
    """List the paths to everything in a table."""
    yield path
    inner = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    for key, one in inner:
        yield from places(one, (*path, key))


PLACES = [path for path in places(FULL) if path]


def changed(table, path, value):
    table = copy.deepcopy(table)
    at = table
    for key in path[:-1]:
        at = at[key]
    at[path[-1]] = value
    return table


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "lamp"
    (folder / "levels").mkdir(parents=True)
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "lesson.toml").write_text(tomlkit.dumps(FULL), encoding="utf-8")
    (folder / "levels/plain.toml").write_text("edits = []\n", encoding="utf-8")
    return folder


def require_sentences(folder):
    for finding in check_lesson(folder):
        said = str(finding)
        assert len(said) <= 500
        assert len(said.splitlines()) == 1
        said.encode("utf-8")
        if finding.severity == "error":
            assert finding.file


# The folder is the same for all examples: each writes the file anew.
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=st.sampled_from(PLACES), value=ODD)
def test_anything_in_any_place_of_lesson_toml_is_told(folder, path, value):
    text = tomlkit.dumps(changed(FULL, path, value))
    (folder / "lesson.toml").write_text(text, encoding="utf-8")
    require_sentences(folder)


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    data=st.data(),
    do=st.sampled_from(sorted(OPERATIONS)),
    bar=st.sampled_from([0, 1, 2, 4, 5, 2**63 - 1]) | ODD,
    beat=st.sampled_from([1, 2.5, "2 1/3", "9" * 400, "1 1/0", 4]) | ODD,
)
def test_anything_in_an_edit_is_told(folder, data, do, bar, beat):
    names = st.sampled_from([*OPERATIONS[do].options, "other"])
    more = data.draw(st.dictionaries(names, ODD, max_size=3))
    row = {"bar": bar, "beat": beat, "do": do, **more}
    text = tomlkit.dumps({"edits": [row]})
    (folder / "levels/plain.toml").write_text(text, encoding="utf-8")
    require_sentences(folder)
