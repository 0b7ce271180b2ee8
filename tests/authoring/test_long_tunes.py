"""A long tune asks for work in proportion to its length, and one too long for none."""

from __future__ import annotations

import importlib.util
import io
import sys
from dataclasses import replace
from pathlib import Path

import mido
import pytest

from kit.authoring.start import slug_of, start_lesson
from kit.build.progress import shown_steps
from kit.check.lesson import check_lesson
from kit.errors import KitError
from kit.form.find import find_form
from kit.levels.draft import draft_edits
from kit.levels.suggest import suggestions
from kit.tune._validate import MAX_BARS
from kit.tune.abc.read import read_abc
from kit.tune.musicxml.write import write_musicxml
from kit.tune.read import read_tune
from kit.tune.unfold import unfolded

_MAKER = Path(__file__).parents[1] / "benchmarks/long_tune_maker.py"
KINDS = ("repetitive", "ornamented", "bare", "set")
SHORT, LONG = 17, 68
SOME_MORE = 1.25
"""Beyond proportion: what is sorted, and what a longer tune has more kinds of."""


def _maker():
    spec = importlib.util.spec_from_file_location("long_tune_maker", _MAKER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MAKER = _maker()


def written(folder, kind, bars):
    path = folder / f"{kind}-{bars}.abc"
    path.write_text(MAKER.long_tune(kind, bars), encoding="utf-8")
    return path


def calls(work, *arguments):
    """Count the Python functions called: a measure of work that no other process moves."""
    count = 0

    def counted(frame, event, argument):
        nonlocal count
        count += event == "call"

    sys.setprofile(counted)
    try:
        work(*arguments)
    finally:
        sys.setprofile(None)
    return count


@pytest.fixture(scope="module", params=KINDS)
def lessons(request, tmp_path_factory):
    """Lessons of a tune of one kind, short and long, and the calls that each has taken."""
    folder = tmp_path_factory.mktemp("lessons")
    # What is read once, such as the tables, is not the question.
    check_lesson(start_lesson(written(folder, request.param, 8), folder))
    made = {}
    for bars in (SHORT, LONG):
        file = written(folder, request.param, bars)
        work = calls(start_lesson, file, folder)
        made[bars] = folder / slug_of(read_tune(file).title), work
    return made


def test_a_tune_four_times_as_long_takes_four_times_the_work(lessons):
    (_, short), (_, long) = lessons[SHORT], lessons[LONG]
    assert long <= SOME_MORE * LONG / SHORT * short


def test_checking_it_takes_four_times_the_work_too(lessons):
    short, long = (calls(check_lesson, folder) for folder, _ in lessons.values())
    assert long <= SOME_MORE * LONG / SHORT * short


def abc(folder, bars):
    path = folder / "long.abc"
    path.write_text("X:1\nT:Long\nM:2/4\nL:1/4\nK:C\n" + "cd|" * bars, encoding="utf-8")
    return path


def musicxml(folder, bars):
    tune = read_abc("X:1\nT:Long\nM:2/4\nL:1/4\nK:C\ncd|", source="one.abc")
    bar = tune.bars[0]
    every = tuple(replace(bar, number=number + 1) for number in range(bars))
    path = folder / "long.musicxml"
    path.write_text(write_musicxml(replace(tune, bars=every)), encoding="utf-8")
    return path


def midi(folder, bars):
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    for key in (60, 62, 64, 65) * bars:
        track.append(mido.Message("note_on", note=key, velocity=80, time=0))
        track.append(mido.Message("note_off", note=key, velocity=0, time=480))
    path = folder / "long.mid"
    file.save(path)
    return path


def repeated(folder, bars):
    path = folder / "long.abc"
    half = "cd|" * (bars // 2)
    path.write_text(f"X:1\nT:L\nM:2/4\nL:1/4\nK:C\n|:{half[:-1]}:|ef|", encoding="utf-8")
    return path


@pytest.mark.parametrize("file", [abc, musicxml, midi, repeated])
def test_a_tune_beyond_the_limit_is_one_sentence_before_any_work(tmp_path, file):
    path = file(tmp_path, MAX_BARS + 1)

    def refused():
        with pytest.raises(KitError, match=rf"{path.name}.* more than {MAX_BARS} bars"):
            start_lesson(path, tmp_path / "lessons")

    reading = calls(read_tune, file(tmp_path, MAX_BARS - 1))
    file(tmp_path, MAX_BARS + 1)
    assert calls(refused) <= 1.5 * reading
    assert not (tmp_path / "lessons").exists()


def test_a_lesson_whose_tune_has_grown_beyond_the_limit_is_one_error(tmp_path):
    lesson = start_lesson(abc(tmp_path, 12), tmp_path / "lessons")
    (lesson / "tune.abc").write_bytes(abc(tmp_path, MAX_BARS + 1).read_bytes())
    errors = [one for one in check_lesson(lesson) if one.severity == "error"]
    assert len(errors) == 1
    assert "long/tune.abc" in str(errors[0])
    assert f"more than {MAX_BARS} bars" in str(errors[0])


@pytest.mark.parametrize("draft", [draft_edits, suggestions])
def test_nothing_is_drafted_over_more_bars_than_the_limit(tmp_path, draft):
    tune = read_tune(abc(tmp_path, 12))
    form = find_form(unfolded(tune))
    endless = replace(tune, bars=tune.bars * (MAX_BARS // 12 + 1))
    with pytest.raises(KitError, match=f"more than {MAX_BARS} bars"):
        draft(endless, form, level="advanced")


@pytest.mark.parametrize(
    ("music", "solos"),
    [
        # Nobody improvises a chorus in a jig.
        ('R:jig\nM:6/8\nL:1/8\nK:G\n"G"GAB dBG|"C"cec "D"dBA|"G"GAB "D"dBA|"G"G6|]', []),
        (
            'R:swing\nM:4/4\nL:1/4\nK:F\n"F7"FGAc|"B7"BAGF|"C7"EGC2|"F7"F4|]',
            ["Writing a sample solo, intermediate", "Writing a sample solo, advanced"],
        ),
    ],
)
def test_the_steps_of_a_new_lesson_are_told_in_order(tmp_path, music, solos):
    file = tmp_path / "tune.abc"
    file.write_text(f"X:1\nT:Lamp\n{music}\n", encoding="utf-8")
    said = []
    start_lesson(file, tmp_path / "lessons", say=said.append)
    assert said == [
        "Drafting the intermediate level",
        "Drafting the advanced level",
        *solos,
        "Writing the notebook",
    ]


class Terminal(io.StringIO):
    """A screen that keeps all it was sent."""

    def isatty(self):
        return True


def test_steps_are_shown_on_a_terminal_and_nowhere_else(monkeypatch):
    shown = {}
    for screen in (Terminal(), io.StringIO()):
        monkeypatch.setattr("sys.stderr", screen)
        with shown_steps() as say:
            say("Drafting [the] level")
        shown[type(screen)] = screen.getvalue()
    assert "Drafting [the] level" in shown[Terminal]
    assert shown[io.StringIO] == ""
