"""kit restore: a teacher takes back a build that went to the students too early."""

import hashlib


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file() and ".earlier" not in path.parts
    }


def change(school, old, new):
    path = school / "lessons/small-tune/tune.abc"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_the_last_build_is_back_with_its_catalogue(workplace, kit_command):
    (workplace / "build/.recipes/small-tune.json").unlink()
    before = tree(workplace / "build")
    change(workplace, "T:Small Tune", "T:Other Name")
    change(workplace, "F A c A", "F A c d")
    assert kit_command("build", cwd=workplace).returncode == 0
    source = tree(workplace / "lessons")
    listed = kit_command("restore", "small-tune", "--list", cwd=workplace)
    assert listed.stdout.startswith("small-tune 1: ")
    done = kit_command("restore", "lessons/small-tune", cwd=workplace)
    assert done.returncode == 0, done.stderr
    (workplace / "build/.recipes/small-tune.json").unlink()
    assert tree(workplace / "build") == before
    assert tree(workplace / "lessons") == source
    again = kit_command("build", cwd=workplace)
    assert "small-tune built" in again.stdout


def test_a_lesson_without_earlier_builds_is_a_sentence(workplace, kit_command):
    done = kit_command("restore", "small-tune", cwd=workplace)
    assert done.returncode == 1
    assert done.stderr == (
        "kit: small-tune: no earlier build of this lesson is kept in build; name the "
        "folder that it was built to with --out.\n"
    )


def test_a_lesson_has_to_be_named(workplace, kit_command):
    assert kit_command("restore", cwd=workplace).returncode == 2
