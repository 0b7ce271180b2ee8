"""kit build: the catalogue beside the lessons, and videos on request."""

import json
import shutil
import zipfile

import pytest

from tests.cli.conftest import write_lesson


@pytest.fixture
def out(workplace):
    return workplace / "build"


def paths(out):
    text = (out / "small-tune/manifest.json").read_text(encoding="utf-8")
    return {file["path"]: file for file in json.loads(text)["files"]}


def test_a_build_writes_the_catalogue_of_what_it_built(out):
    page = (out / "index.html").read_text(encoding="utf-8")
    assert 'href="small-tune/index.html"' in page
    public = (out / "public/index.html").read_text(encoding="utf-8")
    assert 'href="../small-tune/public/index.html"' in public
    assert (out / "public" / "../small-tune/public/index.html").is_file()
    assert zipfile.ZipFile(out / "free-site.zip").namelist() == ["index.html"]


def test_recording_aids_are_there_and_in_no_bundle(out):
    aids = {path for path in paths(out) if path.startswith("recording/")}
    assert aids == {
        "recording/plain-running-order.html", "recording/plain-cue-cards.pdf",
        "recording/plain-description.txt", "recording/plain-still.png",
    }  # fmt: skip
    for name in ("free.zip", "members.zip"):
        names = zipfile.ZipFile(out / "small-tune" / name).namelist()
        assert not any(entry.startswith("recording") for entry in names)
    assert "timing/plain-captions.vtt" in paths(out)


def test_a_video_is_made_on_request_and_stays(workplace, out, kit_command):
    done = kit_command("build", "--video", "plain:tenor-sax", cwd=workplace)
    assert done.returncode == 0, done.stderr
    video = paths(out)["video/plain-tenor-sax.mp4"]
    assert (video["kind"], video["tier"]) == ("video", "members")
    assert video["seconds"] == paths(out)["audio/plain-demo.mp3"]["seconds"]
    again = kit_command("build", cwd=workplace)
    assert "is up to date" in again.stdout
    assert "video/plain-tenor-sax.mp4" in paths(out)


def test_a_video_of_what_the_lesson_has_not_is_refused(workplace, kit_command):
    done = kit_command("build", "--video", "plain:tuba", cwd=workplace)
    assert done.returncode == 1
    assert 'there is no video "plain:tuba" to make; write level:instrument' in done.stderr


def test_a_lesson_may_not_take_the_catalogues_name(workplace, kit_command):
    shutil.copytree(workplace / "lessons/small-tune", workplace / "lessons/public")
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 1
    assert 'a lesson cannot be called "public"' in done.stderr
    assert "small-tune is up to date" in done.stdout


def test_a_page_of_the_teachers_is_refused_while_lessons_are_built(workplace, kit_command):
    page = workplace / "build/index.html"
    mine = page.read_text(encoding="utf-8").replace("Small Tune", "My Tune")
    page.write_text(mine, encoding="utf-8")
    write_lesson(workplace / "lessons/new-tune")
    others = {
        name: (workplace / "build" / name).read_bytes()
        for name in ("public/index.html", "free-site.zip")
    }
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 1
    assert "build/index.html: the kit did not write this, or somebody has" in done.stderr
    assert "move it away or rename it, and build again" in done.stderr
    assert "Traceback" not in done.stderr
    assert "new-tune built" in done.stdout
    assert page.read_text(encoding="utf-8") == mine
    for name, data in others.items():
        assert (workplace / "build" / name).read_bytes() == data
    page.rename(page.with_name("mine.html"))
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0, done.stderr
    assert "new-tune" in page.read_text(encoding="utf-8")
