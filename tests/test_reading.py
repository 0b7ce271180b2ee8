"""The one door for files of others: what comes through is bounded, or it is refused."""

import copy
import json
import os
import re
import threading
import tomllib

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import LessonError, NotationError
from kit.reading import (
    MAX_DEPTH,
    UnusableError,
    from_os_error,
    json_of,
    read_bytes,
    read_json,
    text_of,
    told,
    toml_of,
)

DEEP = 100_000
PLAIN = (
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats()
    | st.text(st.characters(), max_size=8)
)
NESTED = st.recursive(
    PLAIN,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(max_size=4), inner, max_size=4)
    ),
    max_leaves=20,
)


def wrapped(value, depth, *, in_lists):
    for _ in range(depth):
        value = [value] if in_lists else {"a": value}
    return value


def depth_of(value):
    layer, depth = [value], -1
    while layer:
        layer = [
            inner
            for one in layer
            if isinstance(one, list | dict)
            for inner in (one.values() if isinstance(one, dict) else one)
        ]
        depth += 1
    return depth


@given(NESTED, st.integers(0, 100), st.booleans())
def test_json_of_any_depth_is_refused_or_may_be_copied_and_written(value, more, in_lists):
    value = wrapped(value, more, in_lists=in_lists)
    try:
        read = json_of(json.dumps(value))
    except UnusableError:
        assert (
            depth_of(value) > MAX_DEPTH or "\\ud" in json.dumps(value) or has_large(value)
        )
    else:
        assert depth_of(value) <= MAX_DEPTH
        json.dumps(copy.deepcopy(read), ensure_ascii=False).encode("utf-8")


def has_large(value):
    return any(len(run) > 18 for run in "".join(
        char if char.isdigit() else " " for char in json.dumps(value)
    ).split())  # fmt: skip


@given(st.text(st.sampled_from("[]{}=\"'.,#\n\\ \tab01_-:eTxZ"), max_size=200))
def test_any_toml_is_read_or_refused(text):
    try:
        read = toml_of(text)
    except UnusableError:
        with pytest.raises((ValueError, RecursionError)):
            require_plain(tomllib.loads(text))
    else:
        assert depth_of(read) <= MAX_DEPTH
        assert repr(copy.deepcopy(read))


def require_plain(table):
    if depth_of(table) > MAX_DEPTH or max(map(len, re.findall(r"\d+", f"0{table}"))) > 18:
        raise ValueError("too deep, or too large a number")


TOML_VALUES = st.recursive(
    st.booleans() | st.integers(-(2**63), 2**63) | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(max_size=4), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(st.dictionaries(st.text(max_size=5), TOML_VALUES, max_size=5), st.integers(0, 90))
def test_what_one_program_writes_as_toml_is_read_up_to_the_depth(table, more):
    table = wrapped(table, more, in_lists=False)
    text = tomlkit.dumps(table)
    if depth_of(table) > MAX_DEPTH:
        with pytest.raises(UnusableError, match="deep in one another"):
            toml_of(text)
    else:
        assert repr(toml_of(text)) == repr(tomllib.loads(text))


@pytest.mark.parametrize(
    "text",
    [
        "x=" + "[" * DEEP,
        "x=" + "{a=" * DEEP,
        ".".join("a" * DEEP) + "=1",
        " . ".join(['"a"'] * DEEP) + "=1",
        f"[{'.'.join('a' * DEEP)}]",
        f"[{'.'.join('a' * 60)}]\n{'.'.join('a' * 60)} = 1",
    ],
)
def test_toml_nested_thousands_deep_is_refused_by_its_depth(text):
    with pytest.raises(UnusableError, match="64 deep in one another"):
        toml_of(text)


@pytest.mark.parametrize(
    "text",
    ['a = """[[[[{{{{"""', "a = '[[[['", "# [[[[ . . .", 'a = "\\"[[["', "a = '''.'''"],
)
def test_what_stands_in_texts_and_comments_is_not_nested(text):
    filled = text.replace("[[[[", "[" * 200).replace(".", "." * 200)
    assert toml_of(filled) is not None


@pytest.mark.parametrize(
    "number", ["9" * 5000, "9" * 20, "-" + "9" * 20, "0x" + "f" * 5000]
)
def test_a_number_of_more_than_64_bits_is_refused(number):
    with pytest.raises(UnusableError, match="64 bits"):
        toml_of(f"x = {number}")
    if "x" not in number:
        with pytest.raises(UnusableError, match="64 bits"):
            json_of(f"[{number}]")


@pytest.mark.parametrize(
    ("text", "clause"),
    [
        ("[" * DEEP, "deep"),
        ('{"a":' * DEEP, "deep"),
        ('["\\ud800"]', r"half a sign \(\\ud800\)"),
        ('{"\\udc00": 1}', r"half a sign"),
        ("{", r"not valid JSON: .* \(line 1, column 2\)"),
        ("", r"not valid JSON"),
    ],
)
def test_json_that_harms_is_refused(text, clause):
    with pytest.raises(UnusableError, match=clause):
        json_of(text)


def test_bytes_that_are_no_text_are_refused():
    with pytest.raises(UnusableError, match="not UTF-8"):
        text_of(b"caf\xe9")
    with pytest.raises(UnusableError, match="not UTF-8"):
        json_of(b'["\xff"]')


def test_a_pipe_does_not_hang(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(UnusableError, match="a pipe or a device"):
        read_bytes(tmp_path / "pipe", limit_bytes=10)
    # Nor does one that someone writes into.
    writer = threading.Thread(target=lambda: (tmp_path / "pipe").write_bytes(b"x"))
    writer.start()
    with pytest.raises(UnusableError, match="a pipe or a device"):
        read_bytes(tmp_path / "pipe", limit_bytes=10)
    (tmp_path / "pipe").read_bytes()
    writer.join()


def test_a_device_does_not_fill_the_memory(tmp_path):
    (tmp_path / "endless").symlink_to("/dev/zero")
    with pytest.raises(UnusableError, match="a pipe or a device"):
        read_json(tmp_path / "endless")


def test_a_file_may_be_as_large_as_the_limit_and_no_larger(tmp_path):
    (tmp_path / "file").write_bytes(b"12345")
    assert read_bytes(tmp_path / "file", limit_bytes=5) == b"12345"
    with pytest.raises(UnusableError, match="larger than"):
        read_bytes(tmp_path / "file", limit_bytes=4)


@pytest.mark.parametrize("name", ["a\0b", "a\ud800b"])
def test_a_name_that_no_file_can_have_is_refused(tmp_path, name):
    with pytest.raises(UnusableError, match="no file name can have"):
        read_bytes(tmp_path / name, limit_bytes=5)


def test_what_goes_wrong_becomes_one_sentence_with_the_file(tmp_path):
    missing = pytest.raises(NotationError, match=r"^a/b\.abc: there is no such file\.$")
    with missing, told("a/b.abc", NotationError):
        read_bytes(tmp_path / "none", limit_bytes=5)
    folder = pytest.raises(LessonError, match=r"^a/b: the file cannot be read \(is a dir")
    with folder, told("a/b"):
        read_bytes(tmp_path, limit_bytes=5)
    no_text = pytest.raises(LessonError, match=r"^a/b: .*UTF-8 text; save it as UTF-8\.$")
    with no_text, told("a/b"):
        text_of(b"\xff")


def test_an_error_of_the_system_names_its_own_file():
    error = from_os_error(OSError(28, "No space left on device", "/out/x"))
    assert str(error) == "/out/x: No space left on device."
