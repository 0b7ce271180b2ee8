"""kit new: prints the folder, says what it guessed, leaves nothing behind if it fails."""

import pytest

TUNE = """X:1
T:Corner Waltz
M:3/4
L:1/4
Q:1/4=120
K:G
P:A
"G"G B d | "C"e c A | "D7"F A c | "G"B3 |
P:B
"Em"B B B | "Am"c c c | "D7"A A F | "G"G3 |]
"""


@pytest.fixture
def tune(tmp_path):
    path = tmp_path / "corner.abc"
    path.write_text(TUNE, encoding="utf-8")
    return path


def test_the_folder_is_printed_and_passes_its_check(tmp_path, tune, kit_command):
    done = kit_command("new", tune, cwd=tmp_path)
    assert (done.returncode, done.stdout.strip()) == (0, "lessons/corner-waltz")
    assert done.stderr == ""
    assert kit_command("check", cwd=tmp_path).returncode == 0


def test_a_title_of_ones_own_names_the_folder(tmp_path, tune, kit_command):
    done = kit_command("new", tune, "--title", "My Waltz", "--lessons", "x", cwd=tmp_path)
    assert done.stdout.strip() == "x/my-waltz"


def test_what_was_guessed_goes_to_the_other_stream(tmp_path, kit_command):
    (tmp_path / "bare.abc").write_text("X:1\nK:C\nL:1/4\nM:4/4\nC D E F|\n", "utf-8")
    done = kit_command("new", "bare.abc", cwd=tmp_path)
    assert done.stdout.strip() == "lessons/bare"
    assert "no chord symbols" in done.stderr
    assert "no title" in done.stderr


def test_an_unreadable_file_is_one_sentence_and_nothing_is_made(tmp_path, kit_command):
    (tmp_path / "bad.musicxml").write_bytes(b"\x00\x01")
    done = kit_command("new", "bad.musicxml", cwd=tmp_path)
    assert done.returncode == 1
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
    assert [path.name for path in tmp_path.iterdir()] == ["bad.musicxml"]


def test_an_unknown_part_is_named_with_those_there_are(tmp_path, tune, kit_command):
    musicxml = tmp_path / "a.musicxml"
    from kit.tune.musicxml.write import write_musicxml
    from kit.tune.read import read_tune

    text = write_musicxml(read_tune(tune), part_name="Flute")
    musicxml.write_text(text, encoding="utf-8")
    done = kit_command("new", musicxml, "--part", "Tuba", cwd=tmp_path)
    assert done.returncode == 1
    assert 'there is no part "Tuba"; name one of its parts: Flute' in done.stderr


def test_a_new_lesson_builds_before_its_rights_are_stated(tmp_path, tune, kit_command):
    kit_command("new", tune, cwd=tmp_path)
    done = kit_command("build", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    public = (tmp_path / "build/corner-waltz/public/index.html").read_text("utf-8")
    assert "Corner Waltz" in public
    assert "<svg" not in public
