"""A whole lesson checked: each cause told once, in order, with file, bar and remedy."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from kit.check.finding import SEVERITIES
from kit.check.lesson import check_lesson, findings_beside, lesson_findings
from kit.cli import main
from kit.lesson.lesson import open_lesson
from kit.tune.pitch import Key

LESSONS = Path(__file__).resolve().parents[2] / "lessons"
CLASH = '"C"c2 e2 g2 z2 | "F"a2 f2 c2 z2 | "G"g2 d2 B2 z2 | "Cmaj7"f6 z2 |'
EDITED = """
[[levels]]
name = "intermediate"
tempo = 120
feel = "straight-eighths"
edits = "levels/intermediate.toml"
"""
HARDER = """
[[levels]]
name = "advanced"
tempo = 140
feel = "straight-eighths"
edits = "levels/advanced.toml"
"""
SOLO = """
[[levels]]
name = "solo"
tempo = 120
feel = "straight-eighths"
edits = "levels/intermediate.toml"
solo = "levels/solo.abc"
route = [{ play = "head" }, { play = "solo" }]
"""
ACCENTS = 'edits = [{ bar = 1, beat = 1, do = "accent" }]\n'
SOLO_ABC = "X:1\nT:Solo\nM:4/4\nL:1/8\nK:C\n" + CLASH + "\n"


def codes(lesson):
    return [finding.code for finding in lesson_findings(lesson)]


def test_a_quiet_lesson_has_nothing_to_mend(make_lesson):
    assert lesson_findings(make_lesson()) == ()


def test_findings_of_an_open_lesson_are_found_once(make_lesson):
    lesson = make_lesson(CLASH)
    assert lesson_findings(lesson) is lesson_findings(lesson)
    beside = findings_beside(lesson, "beginner", "trumpet")
    assert findings_beside(lesson, "beginner", "trumpet") is beside
    (lesson.folder / "tune.abc").write_text(SOLO_ABC.replace("f6", "e6"))
    lesson.reread()
    assert findings_beside(lesson, "beginner", "trumpet") == ()
    assert lesson_findings(lesson) == ()


def test_a_bar_that_does_not_add_up_is_one_error_with_file_bar_and_remedy(make_lesson):
    lesson = make_lesson('"C"c8 | "F"c8 | "G"c4 c2 c2 c2 | "C"c8 |', more=EDITED,
                         files={"levels/intermediate.toml": ACCENTS})  # fmt: skip
    (finding,) = lesson_findings(lesson)
    assert (finding.severity, finding.code) == ("error", "notation")
    assert str(finding).startswith("error: test-lesson/tune.abc, bar 3: ")
    assert finding.remedy


def test_every_edit_that_does_not_apply_is_told_and_the_level_above_is_not(make_lesson):
    lesson = make_lesson(
        more=EDITED + HARDER,
        files={
            "levels/intermediate.toml": (
                "edits = [\n"
                '  { bar = 9, beat = 1, do = "accent" },\n'
                '  { bar = 1, beat = 4, do = "accent" },\n'
                '  { bar = 2, beat = 1, do = "accent" },\n]\n'
            ),
            "levels/advanced.toml": 'over = "intermediate"\n' + ACCENTS,
        },
    )
    found = lesson_findings(lesson)
    assert [(finding.code, finding.bar) for finding in found] == [("edit", 1), ("edit", 9)]
    assert {finding.severity for finding in found} == {"error"}
    assert {finding.level for finding in found} == {"intermediate"}
    assert {finding.file for finding in found} == {"test-lesson/levels/intermediate.toml"}


def test_a_level_file_that_cannot_be_read_is_one_error(make_lesson):
    edits = 'edits = [{ bar = 1, beat = 1, do = "acent" }]\n'
    lesson = make_lesson(
        more=EDITED + HARDER,
        files={
            "levels/intermediate.toml": edits,
            "levels/advanced.toml": 'over = "intermediate"\n' + ACCENTS,
        },
    )
    (finding,) = lesson_findings(lesson)
    assert "acent" in finding.text
    assert finding.file == "test-lesson/levels/intermediate.toml"


def test_a_clash_of_the_tune_is_told_once_for_all_levels(make_lesson):
    lesson = make_lesson(CLASH, more=EDITED, files={"levels/intermediate.toml": ACCENTS})
    (finding,) = (f for f in lesson_findings(lesson) if f.code == "melody-clash")
    assert finding.file == "test-lesson/tune.abc"
    assert finding.level is None
    assert finding.bar == 4


def test_a_clash_that_an_edit_brings_names_the_edit_list(make_lesson):
    edit = 'edits = [{ bar = 4, beat = 1, do = "chord", to = "Bmaj7" }]\n'
    lesson = make_lesson(more=EDITED, files={"levels/intermediate.toml": edit})
    (finding,) = (f for f in lesson_findings(lesson) if f.code == "melody-clash")
    assert str(finding).startswith(
        "hint: test-lesson/levels/intermediate.toml, intermediate, bar 4: C over Bmaj7 "
    )


def test_a_finding_in_a_solo_gives_the_bar_of_its_file_and_of_the_sheet(make_lesson):
    lesson = make_lesson(
        more=SOLO, files={"levels/intermediate.toml": ACCENTS, "levels/solo.abc": SOLO_ABC}
    )
    (finding,) = (f for f in lesson_findings(lesson) if f.code == "melody-clash")
    assert finding.place == "test-lesson/levels/solo.abc, solo, bar 4 (bar 8 on the sheet)"
    assert finding.bar == 4
    assert finding.bars == (7,)
    assert finding.notes == ("b7n0",)
    assert lesson.level("solo").sheet.bars[7].number == 8


def test_levels_that_come_out_in_the_wrong_order_are_a_warning(make_lesson):
    slow = EDITED.replace("tempo = 120", "tempo = 40")
    lesson = make_lesson(more=slow, files={"levels/intermediate.toml": ACCENTS})
    (finding,) = (f for f in lesson_findings(lesson) if f.code == "level-order")
    assert finding.severity == "warning"
    assert "intermediate comes out easier" in finding.text


def test_in_another_key_the_range_is_judged_anew(make_lesson):
    lesson = make_lesson()
    assert findings_beside(lesson, "beginner", "trumpet") == ()
    high = findings_beside(lesson, "beginner", "trumpet", concert_key=Key.parse("F major"))
    low = findings_beside(lesson, "beginner", "trumpet", concert_key=Key.parse("A major"))
    assert high != low


def test_kit_check_prints_every_finding_and_a_count_and_fails_on_errors(make_lesson):
    folder = make_lesson(CLASH).folder
    fine = CliRunner().invoke(main, ["check", str(folder)])
    assert fine.exit_code == 0
    *lines, count = fine.stdout.splitlines()
    assert lines == [str(finding) for finding in check_lesson(folder)]
    assert count == "test-lesson: 1 hint."
    (folder / "lesson.ipynb").unlink()
    broken = CliRunner().invoke(main, ["check", str(folder)])
    assert broken.exit_code == 1
    assert broken.stderr.startswith("error: test-lesson/lesson.ipynb: the lesson has no")
    assert broken.stdout.splitlines()[-1] == "test-lesson: 1 error and 1 hint."


def test_without_settings_there_is_one_error(tmp_path):
    (finding,) = check_lesson(tmp_path)
    assert (finding.severity, finding.code) == ("error", "settings")


@pytest.mark.parametrize(
    "slug", sorted(p.parent.name for p in LESSONS.glob("*/lesson.toml"))
)
def test_a_shipped_lesson_has_no_error_or_warning_and_a_handful_of_hints(slug):
    lesson = open_lesson(LESSONS / slug)
    found = lesson_findings(lesson)
    assert [str(finding) for finding in found if finding.severity != "hint"] == []
    assert 0 < len(found) <= 10
    for finding in found:
        assert finding.file
        assert finding.remedy
        assert finding.code
        assert finding.bar is not None
    order = [(SEVERITIES.index(f.severity), f.file, f.bar) for f in found]
    assert order == sorted(order)
