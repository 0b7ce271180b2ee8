"""kit build: the catalogue beside the lessons, and videos on request."""

import json
import shutil
import zipfile

import pytest


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
