"""Any tune becomes a lesson without errors, or one sentence and nothing else."""

from __future__ import annotations

import json
import zipfile

import mido
import pytest

from kit.authoring.first_look import TuneChoice, can_keep_uneven, first_look
from kit.authoring.start import slug_of, start_lesson
from kit.check.lesson import check_lesson
from kit.errors import LessonError, NotationError, UnevenBarError
from kit.lesson.lesson import open_lesson
from kit.tune.musicxml.write import write_musicxml
from kit.tune.read import read_tune

HEAD = "X:1\nT:{title}\nM:{meter}\nL:1/4\nQ:1/4=100\nK:F\n"
BODY = '"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |'


def abc(tmp_path, body=BODY, *, title="Plain Tune", meter="4/4", name="file.abc"):
    path = tmp_path / name
    path.write_text(HEAD.format(title=title, meter=meter) + body + "\n", encoding="utf-8")
    return path


def midi(tmp_path):
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("track_name", name="Lead"))
    for key in (60, 62, 64, 65, 67, 65, 64, 62) * 4:
        track.append(mido.Message("note_on", note=key, velocity=80, time=0))
        track.append(mido.Message("note_off", note=key, velocity=0, time=480))
    path = tmp_path / "played.mid"
    file.save(path)
    return path


def musicxml(tmp_path):
    path = tmp_path / "tune.musicxml"
    path.write_text(write_musicxml(read_tune(abc(tmp_path))), encoding="utf-8")
    return path


def mxl(tmp_path):
    path = tmp_path / "tune.mxl"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(
            "META-INF/container.xml",
            '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>',
        )
        archive.writestr("a.xml", musicxml(tmp_path).read_text(encoding="utf-8"))
    return path


FILES = {
    "ABC": abc,
    "MusicXML": musicxml,
    "compressed MusicXML": mxl,
    "MIDI": midi,
    "no changes": lambda t: abc(t, "F G A c | B G E2 | F A c A | F4 |"),
    "one bar": lambda t: abc(t, '"F"F G A c |]'),
    "one note": lambda t: abc(t, "F4 |]"),
    "5/4": lambda t: abc(t, '"F"F G A c d | "C7"B G E2 C | "F"F5 |', meter="5/4"),
    "6/8": lambda t: abc(t, '"F"F/G/A/ c/d/c/ | "C7"B/A/G/ E3/ |', meter="6/8"),
    "4/2": lambda t: abc(t, '"F"F2 G2 A2 c2 | "C7"B8 |', meter="4/2"),
    "pick-up": lambda t: abc(t, "C | " + BODY),
    "repeats": lambda t: abc(t, '|: "F"F G A c |1 "C7"B4 :|2 "F"F4 |]'),
    "title in another script": lambda t: abc(t, title="青い街灯"),
    "script in the title": lambda t: abc(t, title="<script>alert(1)</script>"),
    "title full of markup": lambda t: abc(
        t, title='*a* [b](javascript:x) `c` "d" \\ # $e$'
    ),
    "long title": lambda t: abc(t, title="very " * 100 + "long"),
    "no title": lambda t: abc(t, title="", name="my_own-tune.abc"),
}


@pytest.mark.parametrize("kind", FILES)
def test_a_new_lesson_has_no_errors_and_opens_at_every_level(tmp_path, kind):
    folder = start_lesson(FILES[kind](tmp_path), tmp_path / "lessons")
    found = [f for f in check_lesson(folder) if f.severity == "error"]
    # Whether another script can be printed is up to the fonts of the machine.
    told = {f.code for f in found}
    assert told <= ({"sign"} if kind == "title in another script" else set())
    lesson = open_lesson(folder)
    assert [level.seconds > 0 for level in lesson.levels] == [True] * 3
    notebook = json.loads((folder / "lesson.ipynb").read_text(encoding="utf-8"))
    assert notebook["nbformat"] == 4


@pytest.mark.parametrize("tempo", [1, 20000])
def test_a_tempo_nobody_can_play_is_brought_within_reach(tmp_path, tempo):
    file = abc(tmp_path)
    text = file.read_text(encoding="utf-8").replace("1/4=100", f"1/4={tempo}")
    file.write_text(text, encoding="utf-8")
    try:
        folder = start_lesson(file, tmp_path / "lessons")
    except NotationError:
        return  # the reader refuses it, which is as good
    assert not [f for f in check_lesson(folder) if f.severity == "error"]


def prose(folder):
    notebook = json.loads((folder / "lesson.ipynb").read_text(encoding="utf-8"))
    return ["".join(c["source"]) for c in notebook["cells"] if c["cell_type"] == "markdown"]


def test_markup_in_a_title_is_text(tmp_path):
    file = abc(tmp_path, title="<img src=x> *a* [b](javascript:alert)")
    folder = start_lesson(file, tmp_path / "lessons")
    first = prose(folder)[0].splitlines()[0]
    assert first == r"# \<img src=x\> \*a\* \[b\]\(javascript:alert\)"
    assert open_lesson(folder).title == "<img src=x> *a* [b](javascript:alert)"


AABA = (
    'P:A\n"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |\n'
    'P:A\n"F"F G A c | "C7"B G E2 | "F"F A c A | "F"c4 |\n'
    'P:B\n"Bb"d d d2 | "F"c c c2 | "Gm7"B B B2 | "C7"G4 |\n'
    'P:A\n"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |'
)


def test_the_first_words_are_what_the_music_says(tmp_path):
    folder = start_lesson(abc(tmp_path, AABA), tmp_path / "lessons")
    words = "\n".join(prose(folder))
    assert "The form is AABA: four sections of 4 bars, 16 bars in all." in words
    assert "you know 12 of the 16 bars: three quarters of the tune" in words
    assert "Mind bar 8, where a section comes back with a difference." in words
    assert "New here: " in words
    assert "One scale serves the whole tune" in words
    lesson = open_lesson(folder)
    tempos = [level.settings.tempo for level in lesson.levels]
    assert [f"{tempo:g} beats a minute" in words for tempo in tempos] == [True] * 3


def test_the_first_words_name_no_note_because_they_go_to_every_instrument(tmp_path):
    folder = start_lesson(abc(tmp_path, AABA), tmp_path / "lessons")
    words = "\n".join(prose(folder))
    assert "♭" not in words
    assert "♯" not in words
    assert " F major" not in words


def test_each_level_is_an_edit_list_over_the_one_below(tmp_path):
    lesson = open_lesson(start_lesson(abc(tmp_path, AABA), tmp_path / "lessons"))
    assert lesson.level_file("intermediate").over == "beginner"
    assert lesson.level_file("advanced").over == "intermediate"
    assert lesson.level_file("advanced").edits


def test_a_lesson_that_is_there_is_left_as_it_is(tmp_path):
    folder = start_lesson(abc(tmp_path), tmp_path / "lessons")
    (folder / "lesson.ipynb").write_text("mine", encoding="utf-8")
    with pytest.raises(LessonError, match='there is a lesson "plain-tune" already'):
        start_lesson(abc(tmp_path), tmp_path / "lessons")
    assert (folder / "lesson.ipynb").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    "content", [b"", b"not music", b"PK\x03\x04 broken", b"MThd\x00", b"<score-partwise>"]
)
def test_an_unreadable_file_leaves_nothing_behind(tmp_path, content):
    file = tmp_path / "file.musicxml"
    file.write_bytes(content)
    with pytest.raises(NotationError):
        start_lesson(file, tmp_path / "lessons")
    assert not (tmp_path / "lessons").exists()


TWO_VOICES = """<?xml version="1.0"?><score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Trumpet</part-name></score-part>
<score-part id="P2"><part-name>Trombone</part-name></score-part></part-list>
{parts}</score-partwise>"""
PART = """<part id="P{n}"><measure number="1"><attributes><divisions>1</divisions>
<key><fifths>0</fifths></key><time><beats>4</beats><beat-type>4</beat-type></time></attributes>
<note><pitch><step>{step}</step><octave>4</octave></pitch><duration>4</duration></note>
</measure></part>"""


def test_the_part_chosen_is_the_melody_of_the_lesson(tmp_path):
    file = tmp_path / "two.musicxml"
    parts = PART.format(n=1, step="G") + PART.format(n=2, step="C")
    file.write_text(TWO_VOICES.format(parts=parts), encoding="utf-8")
    by_itself = open_lesson(start_lesson(file, tmp_path / "a"))
    chosen = open_lesson(start_lesson(file, tmp_path / "b", choice=TuneChoice("Trombone")))
    assert str(by_itself.tune.bars[0].notes[0].pitch.name) == "G"
    assert str(chosen.tune.bars[0].notes[0].pitch.name) == "C"


UNEVEN = '"F"F G A c | "C7"B G E2 A | "F"F A c | "F"F4 |'


def test_uneven_bars_that_are_kept_are_the_tune_of_a_lesson_read_strictly(tmp_path):
    file = abc(tmp_path, UNEVEN)
    with pytest.raises(UnevenBarError, match="bar 2: 5 quarters in a bar of 4/4"):
        start_lesson(file, tmp_path / "lessons")
    kept = TuneChoice(keep_uneven=True)
    look = first_look(file, choice=kept)
    folder = start_lesson(file, tmp_path / "lessons", choice=kept)
    lesson = open_lesson(folder)
    assert lesson.tune.bars == look.tune.bars
    assert [str(bar.meter) for bar in lesson.tune.bars] == ["4/4", "5/4", "3/4", "4/4"]
    assert [level.seconds > 0 for level in lesson.levels] == [True] * 3
    assert not [f for f in check_lesson(folder) if f.severity == "error"]


def test_a_new_slip_in_a_lesson_with_kept_bars_is_told(tmp_path):
    kept = TuneChoice(keep_uneven=True)
    folder = start_lesson(abc(tmp_path, UNEVEN), tmp_path / "lessons", choice=kept)
    score = folder / "tune.musicxml"
    text = score.read_text(encoding="utf-8")
    assert text.count("<beats>5</beats>") == 1
    score.write_text(text.replace("<beats>5</beats>", "<beats>4</beats>"), encoding="utf-8")
    (error,) = [str(f) for f in check_lesson(folder) if f.severity == "error"]
    assert "tune.musicxml, bar 2: 5 quarters in a bar of 4/4" in error


def test_keeping_is_possible_only_where_a_bar_fills_a_meter(tmp_path):
    # Nine sevenths of a quarter fill none.
    file = abc(tmp_path, UNEVEN.replace("G E2 A", "G9/7 E2"))
    assert can_keep_uneven(abc(tmp_path, UNEVEN, name="a.abc"), TuneChoice())
    assert not can_keep_uneven(file, TuneChoice())


def test_a_lesson_of_a_book_has_the_one_tune_and_its_notation(tmp_path):
    one, two = (
        HEAD.format(title=title, meter="4/4").replace("X:1", f"X:{number}") + BODY
        for number, title in ((4, "Four"), (6, "Six"))
    )
    file = tmp_path / "book.abc"
    file.write_text(f"{one}\n\n{two}\nZ:written down by a neighbour\n", encoding="utf-8")
    with pytest.raises(NotationError, match="a book of 2 tunes") as caught:
        start_lesson(file, tmp_path / "lessons")
    assert caught.value.more == (
        'book.abc: tune 4 is "Four".',
        'book.abc: tune 6 is "Six".',
    )
    folder = start_lesson(file, tmp_path / "lessons", choice=TuneChoice(number=6))
    lesson = open_lesson(folder)
    assert (lesson.title, lesson.tune.notices) == ("Six", ())
    kept = (folder / "tune.abc").read_text(encoding="utf-8")
    assert "Four" not in kept
    assert "neighbour" in kept


def test_what_was_guessed_is_said(tmp_path):
    look = first_look(abc(tmp_path, "F G A c | B G E2 |", title=""))
    said = " ".join(look.doubts)
    assert "no title" in said
    assert "no chord symbols" in said
    assert "marks no sections" in said
    marked = first_look(abc(tmp_path, AABA))
    assert marked.doubts == ()
    assert dict(marked.facts)["Form"].startswith("AABA: A (4 bars),")
    assert dict(marked.facts)["Concert key"] == "F major"


def test_two_titles_without_latin_letters_are_two_lessons():
    assert slug_of("青い街灯") != slug_of("赤い街灯")
    assert slug_of("青い街灯").startswith("lesson-")


LETTERED = (
    "X:1\nT:Lettered\nM:4/4\nL:1/4\nK:C\n"
    "P:A\n|:CDEF|G2E2|FEDC|D4|CDEF|G2c2|BAGF|E4:|\n"
    "P:B\ncBAG|A2F2|BAGF|G4|cBAG|A2d2|cABG|G4|\n"
    "P:C\nCDEF|G2E2|FEDC|D4|CDEF|G2c2|BAGF|E4|]\n"
)


def test_letters_that_only_count_are_told_and_the_form_is_written_down(tmp_path):
    file = tmp_path / "lettered.abc"
    file.write_text(LETTERED, encoding="utf-8")
    look = first_look(file)
    assert [one.form.pattern for one in look.proposals] == ["AABA", "AABC"]
    assert any("only count" in doubt for doubt in look.doubts)
    folder = start_lesson(file, tmp_path / "lessons", look=look)
    text = (folder / "lesson.toml").read_text(encoding="utf-8")
    assert "The letters of the notation only count" in text
    assert open_lesson(folder).form.pattern == "AABA"


def test_the_files_letters_can_be_chosen_instead(tmp_path):
    file = tmp_path / "lettered.abc"
    file.write_text(LETTERED, encoding="utf-8")
    look = first_look(file, choice=TuneChoice(file_letters=True))
    folder = start_lesson(file, tmp_path / "lessons", look=look)
    assert open_lesson(folder).form.pattern == "AABC"
