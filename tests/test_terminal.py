"""Nothing that a terminal obeys reaches it raw, whatever a name or a title holds."""

import io
import os
import subprocess
import sys
import unicodedata

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from kit.cli import main
from kit.terminal import echo, plain

OBEYED = "".join(
    char
    for char in map(chr, range(0x20000))
    if unicodedata.category(char) in {"Cc", "Cs", "Zl", "Zp"}
    or char in "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
)


def is_plain(text):
    return not set(text) & set(OBEYED)


@given(st.text(st.characters(), max_size=80))
def test_any_text_comes_out_on_one_line_of_plain_signs(text):
    shown = plain(text)
    assert is_plain(shown)
    assert plain(shown) == shown
    shown.encode("utf-8")


def test_every_sign_that_is_obeyed_is_shown_by_its_code():
    assert len(OBEYED) > 2048
    assert not [char for char in OBEYED if char in plain(f"a{char}b")]


@pytest.mark.parametrize(
    "text", ["Ωδή", "שיר ערב", "夕べ", "e\u0301", "B♭ Δ ♯", "👩‍🎤", "می‌خواهم", "a\u00a0b"]
)
def test_what_is_only_foreign_stays_as_it_is(text):
    assert plain(text) == text


def test_bytes_of_a_name_that_are_no_text_are_shown_as_bytes():
    assert plain(os.fsdecode(b"caf\xe9")) == "caf\\xe9"


def test_a_terminal_of_another_encoding_gets_the_code_of_a_sign(monkeypatch):
    stream = io.TextIOWrapper(io.BytesIO(), encoding="ascii", errors="strict")
    monkeypatch.setattr(sys, "stdout", stream)
    echo("B♭")
    stream.flush()
    assert stream.buffer.getvalue().splitlines() == [b"B\\u266d"]


@pytest.mark.parametrize(
    "arguments",
    [
        ["build", "--no\x1b[31msuch\u202e"],
        ["\x1b[31mnone\nkit: fine"],
        ["new", "no\x1b[31m\nsuch\u202e"],
        ["build", "--jobs", "\x1b]0;x\x07"],
        ["check", "none\x1b[31m\u2066\x85"],
        ["build", "none\x1b[31m\u2066\x85"],
        ["check", "no\x00ne"],
        ["new", "no\x00ne"],
        ["build", "--out", "no\x00ne", "x"],
        ["check", "no\ud800ne"],
    ],
)
def test_what_was_typed_is_quoted_plainly(arguments, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    told = CliRunner().invoke(main, arguments)
    assert told.exit_code in {1, 2}
    assert isinstance(told.exception, SystemExit)
    lines = (told.stdout + told.stderr).splitlines()
    assert lines
    assert all(map(is_plain, lines))
    assert all(len(line) <= 500 for line in lines)


def test_help_keeps_its_lines():
    told = CliRunner().invoke(main, ["--help"])
    assert told.exit_code == 0
    assert len(told.output.splitlines()) > 5
    assert len(CliRunner().invoke(main, []).output.splitlines()) > 5


def test_a_fault_of_the_kit_is_a_traceback_of_plain_lines():
    code = (
        "import sys, kit.terminal as t\n"
        "sys.excepthook = t.echo_fault\n"
        "raise RuntimeError('a\\x1b[31m\\u202e')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, check=False, encoding="utf-8"
    )
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1] == "RuntimeError: a\\x1b[31m\\u202e"


class Terminal(io.StringIO):
    encoding = "utf-8"

    def isatty(self):
        return True


def test_the_bar_shows_a_title_in_brackets_and_with_signs_as_it_is_written(monkeypatch):
    from kit.build.progress import shown_progress

    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "120")
    with shown_progress() as progress:
        shown = progress()
        shown.start("[red]Mill[/red] \x1b]0;title\x07\u202eLane", 2)
        shown.step("[/bold] step\x9b2J")
        shown._progress.refresh()  # it draws itself ten times a second
    said = screen.getvalue()
    assert "[red]Mill[/red]" in said
    assert "[/bold] step" in said
    assert "\x1b]0;" not in said
    assert not {"\x07", "\u202e", "\x9b"} & set(said)


def test_lines_of_progress_are_plain(capsys):
    from kit.build.progress import shown_progress

    with shown_progress() as progress:
        shown = progress()
        shown.start("[red]Mill\nkit: fine\x1b[31m", 1)
        shown.step("step\u202e")
    said = capsys.readouterr().err
    assert said.splitlines()[0] == "[red]Mill\\nkit: fine\\x1b[31m: 1 steps"
    assert all(map(is_plain, said.splitlines()))
