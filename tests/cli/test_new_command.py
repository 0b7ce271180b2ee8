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


def book_of(count):
    """An ABC book whose tunes are numbered 11, 12 and so on."""
    return "\n\n".join(
        f"X:{place}\nT:Tune No. {place}\nM:4/4\nL:1/4\nK:F\nF G A c | B G E2 |]"
        for place in range(11, 11 + count)
    )


def test_a_tune_of_a_book_is_chosen_by_its_number(tmp_path, kit_command):
    (tmp_path / "book.abc").write_text(book_of(3), encoding="utf-8")
    done = kit_command("new", "book.abc", "--tune", "12", cwd=tmp_path)
    assert (done.returncode, done.stdout.strip()) == (0, "lessons/tune-no-12")
    assert "3 tunes" not in done.stderr
    kept = (tmp_path / "lessons/tune-no-12/tune.abc").read_text(encoding="utf-8")
    assert [line for line in kept.splitlines() if line[:2] in ("X:", "T:")] == [
        "X:12",
        "T:Tune No. 12",
    ]
    assert kit_command("check", cwd=tmp_path).returncode == 0


def test_of_a_book_nothing_is_taken_unasked_and_its_tunes_are_listed(tmp_path, kit_command):
    (tmp_path / "book.abc").write_text(book_of(57), encoding="utf-8")
    done = kit_command("new", "book.abc", cwd=tmp_path)
    first, *listed = done.stderr.splitlines()
    assert (done.returncode, done.stdout) == (1, "")
    assert first == (
        "kit: book.abc: it is a book of 57 tunes; say which one by its number, such as "
        "--tune 11."
    )
    assert listed[0] == 'kit: book.abc: tune 11 is "Tune No. 11".'
    assert listed[19:] == [
        'kit: book.abc: tune 30 is "Tune No. 30".',
        "kit: book.abc: it has 37 more.",
    ]
    assert not (tmp_path / "lessons").exists()


def test_a_number_that_the_book_does_not_have_is_told_with_those_it_has(
    tmp_path, kit_command
):
    (tmp_path / "book.abc").write_text(book_of(2), encoding="utf-8")
    done = kit_command("new", "book.abc", "--tune", "5", cwd=tmp_path)
    assert done.returncode == 1
    assert done.stderr == (
        "kit: book.abc: there is no tune X:5 in it; give a number that it has: 11, 12.\n"
    )


def test_a_number_is_refused_where_a_file_is_no_book(tmp_path, tune, kit_command):
    from kit.tune.musicxml.write import write_musicxml
    from kit.tune.read import read_tune

    text = write_musicxml(read_tune(tune))
    (tmp_path / "a.musicxml").write_text(text, encoding="utf-8")
    done = kit_command("new", "a.musicxml", "--tune", "1", cwd=tmp_path)
    assert done.returncode == 1
    assert "leave the number out" in done.stderr


def test_an_uneven_bar_is_refused_with_the_way_to_keep_it(tmp_path, kit_command):
    uneven = TUNE.replace('"C"e c A', '"C"e c A F')
    (tmp_path / "old.abc").write_text(uneven, encoding="utf-8")
    done = kit_command("new", "old.abc", cwd=tmp_path)
    assert done.returncode == 1
    assert done.stderr == (
        "kit: old.abc, bar 2: 4 quarters in a bar of 3/4; take out 1 quarter, or tie the "
        "last note into the next bar, or keep uneven bars as they are with --keep-uneven.\n"
    )
    kept = kit_command("new", "old.abc", "--keep-uneven", cwd=tmp_path)
    assert (kept.returncode, kept.stdout.strip()) == (0, "lessons/corner-waltz")
    assert "given the meter they fill: 2." in kept.stderr
    assert kit_command("check", cwd=tmp_path).returncode == 0


def test_keeping_is_not_offered_where_it_would_not_help(tmp_path, kit_command):
    # Nine sevenths of a quarter fill no meter.
    (tmp_path / "odd.abc").write_text(TUNE.replace("e c A", "e9/7 c A"), encoding="utf-8")
    done = kit_command("new", "odd.abc", cwd=tmp_path)
    assert done.returncode == 1
    assert "bar 2" in done.stderr
    assert "--keep-uneven" not in done.stderr
    assert kit_command("new", "odd.abc", "--keep-uneven", cwd=tmp_path).returncode == 1


def test_changes_are_proposed_on_demand_and_the_lesson_passes_its_check(
    tmp_path, kit_command
):
    bare = "X:1\nT:Bare\nK:C\nL:1/4\nM:4/4\nCEGE|FAcA|GBdB|c4|\n"
    (tmp_path / "bare.abc").write_text(bare, "utf-8")
    done = kit_command("new", "bare.abc", "--propose-chords", cwd=tmp_path)
    assert done.stdout.strip() == "lessons/bare"
    assert "These changes are proposed" in done.stderr
    checked = kit_command("check", cwd=tmp_path)
    assert checked.returncode == 0
    assert "the changes are proposed by the kit" in checked.stdout


def test_changes_are_not_proposed_for_a_tune_that_has_some(tmp_path, tune, kit_command):
    done = kit_command("new", tune, "--propose-chords", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (1, "")
    assert "corner.abc: the tune has changes of its own" in done.stderr
