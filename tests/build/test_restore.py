"""Earlier builds: kept by content, bounded, and put back whole by one command."""

import hashlib
import json
import shutil
from datetime import UTC, datetime

import pytest

from kit.build import earlier
from kit.build._staging import add_manifest, staged
from kit.build.earlier import EARLIER, KEPT, earlier_builds, trim_earlier
from kit.build.restore import choose_earlier, restore_earlier
from kit.errors import LessonError
from kit.output.place import OutputPlace

SLUG = "lamp"


def digest(data):
    return hashlib.sha256(data).hexdigest()


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def put(root, **files):
    """Put an output in place that holds these files, named with a dash for a slash."""
    place = OutputPlace(root, SLUG, root / SLUG)
    entries = []
    with staged(place) as stage:
        for name, text in files.items():
            path, data = name.replace("__", "/"), text.encode()
            target = stage.folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
            entries.append({"path": path, "sha256": digest(data), "bytes": len(data)})
        manifest = {
            "lesson": SLUG, "built_from": digest(repr(files).encode()),
            "kit_version": "0", "files": entries,
        }  # fmt: skip
        add_manifest(stage.folder, manifest)
    return tree(place.out)


@pytest.fixture(autouse=True)
def _own_cache(tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def root(tmp_path):
    return tmp_path / "out"


def kept_bytes(root):
    return sum(path.stat().st_size for path in (root / EARLIER).rglob("files/*"))


def test_the_last_build_comes_back_to_the_byte_and_goes_again(root):
    first = put(root, page="one", audio__demo="sound", same="x" * 1000)
    second = put(root, page="two", audio__demo="other sound", same="x" * 1000)
    restore_earlier(root, choose_earlier(root, SLUG))
    assert tree(root / SLUG) == first
    restore_earlier(root, choose_earlier(root, SLUG))
    assert tree(root / SLUG) == second


def test_any_of_the_kept_builds_comes_back(root):
    outputs = [
        put(root, page=f"page {n}", both="same", **{f"f{n % 3}": "x"}) for n in range(5)
    ]
    for number in (4, 2, 3, 1):
        build = choose_earlier(root, SLUG, number)
        wanted = next(
            o for o in outputs
            if json.loads(o["manifest.json"])["built_from"] == build.manifest["built_from"]
        )  # fmt: skip
        restore_earlier(root, build)
        assert tree(root / SLUG) == wanted


def test_what_the_output_in_place_holds_too_is_kept_once(root):
    put(root, page="one", sound="x" * 100_000)
    put(root, page="two", sound="x" * 100_000)
    assert kept_bytes(root) == len("one")


def test_only_so_many_builds_of_a_lesson_are_kept(root):
    for number in range(KEPT + 4):
        put(root, page=f"page {number}")
    assert len(earlier_builds(root, SLUG)) == KEPT
    assert len(list((root / EARLIER / SLUG / "files").iterdir())) == KEPT


def test_the_oldest_go_first_when_all_together_are_too_large(root, monkeypatch):
    for number in range(4):
        put(root, page=f"{number}" * 1_000_000)
    monkeypatch.setenv("KIT_EARLIER_GB", "0.0021")
    assert trim_earlier(root) == 1
    assert kept_bytes(root) == 2_000_000
    restore_earlier(root, choose_earlier(root, SLUG, 2))
    assert tree(root / SLUG)["page"] == b"1" * 1_000_000


def test_nothing_is_kept_where_nothing_is_wanted(root, monkeypatch):
    monkeypatch.setenv("KIT_EARLIER_GB", "0")
    put(root, page="one")
    put(root, page="two")
    assert earlier_builds(root, SLUG) == ()


def test_a_file_changed_by_hand_is_kept_whatever_the_limit(root, monkeypatch):
    monkeypatch.setenv("KIT_EARLIER_GB", "0")
    put(root, page="one", sound="first")
    (root / SLUG / "page").write_text("my words")
    put(root, page="two", sound="second")
    trim_earlier(root)
    (build,) = earlier_builds(root, SLUG)
    assert (build.changed / "page").read_text() == "my words"
    assert kept_bytes(root) == 0
    with pytest.raises(LessonError, match="no longer whole"):
        restore_earlier(root, build)


def test_the_same_output_again_is_no_earlier_build(root):
    put(root, page="one")
    put(root, page="one")
    assert earlier_builds(root, SLUG) == ()


def test_a_build_that_is_not_whole_is_refused_and_nothing_is_touched(root):
    put(root, page="one", audio__demo="sound")
    put(root, page="two")
    for path in (root / EARLIER / SLUG / "files").iterdir():
        path.write_bytes(b"damaged")
    before = tree(root / SLUG)
    with pytest.raises(LessonError, match=r"lamp: the build of .+ UTC is no longer whole"):
        restore_earlier(root, choose_earlier(root, SLUG))
    assert tree(root / SLUG) == before


def test_a_kept_manifest_cannot_write_outside_of_the_output(root, tmp_path):
    put(root, page="one")
    put(root, page="two")
    (build,) = earlier_builds(root, SLUG)
    path = build.folder / "manifest.json"
    path.write_text(path.read_text().replace('"page"', '"../../escaped"'))
    with pytest.raises(LessonError, match="no longer whole"):
        restore_earlier(root, build)
    assert not list(tmp_path.rglob("escaped"))


def test_a_number_that_is_not_there_is_told_with_those_that_are(root):
    with pytest.raises(LessonError, match=r"no earlier build of this lesson is kept in .+"):
        choose_earlier(root, SLUG)
    put(root, page="one")
    put(root, page="two")
    with pytest.raises(LessonError, match=r"no earlier build 2; choose one from 1 to 1"):
        choose_earlier(root, SLUG, 2)


def test_files_of_the_teachers_stay_through_builds_and_restores(root):
    put(root, page="one")
    (root / SLUG / "mine").mkdir()
    (root / SLUG / "mine/notes.txt").write_text("first")
    put(root, page="two")
    (root / SLUG / "mine/notes.txt").write_text("second")
    restore_earlier(root, choose_earlier(root, SLUG))
    assert (root / SLUG / "mine/notes.txt").read_text() == "second"


def test_a_file_changed_by_hand_is_not_swept_away_with_others(root):
    put(root, page="one")
    (root / SLUG / "page").write_text("my words")
    put(root, page="two")
    (build,) = earlier_builds(root, SLUG)
    assert (build.changed / "page").read_text() == "my words"
    with pytest.raises(LessonError, match="no longer whole"):
        restore_earlier(root, build)
    assert (build.changed / "page").read_text() == "my words"


def test_a_linked_output_on_another_disk_is_kept_too(root, tmp_path, monkeypatch):
    put(root, page="one")
    shutil.move(root / SLUG, tmp_path / "web")
    (root / SLUG).symlink_to(tmp_path / "web")
    linked = OutputPlace(root, SLUG, tmp_path / "web")
    replace = type(root).replace

    def not_across(self, target):
        if EARLIER in target.parts and EARLIER not in self.parts:
            raise OSError(18, "Invalid cross-device link")
        return replace(self, target)

    monkeypatch.setattr(type(root), "replace", not_across)
    with staged(linked) as stage:
        (stage.folder / "page").write_text("two")
        entry = {"path": "page", "sha256": digest(b"two"), "bytes": 3}
        add_manifest(
            stage.folder,
            {"lesson": SLUG, "built_from": "b", "kit_version": "0", "files": [entry]},
        )
    restore_earlier(root, choose_earlier(root, SLUG))
    assert (tmp_path / "web/page").read_text() == "one"
    assert (root / SLUG).is_symlink()


def test_two_builds_never_swap_at_once(root, monkeypatch):
    monkeypatch.setattr(earlier, "_LOCK_WAIT_S", 0.05)
    place = OutputPlace(root, SLUG, root / SLUG)
    put(root, page="one")
    with (
        earlier.alone(place),
        pytest.raises(LessonError, match="another build is putting this lesson's output"),
        staged(place),
    ):
        pass
    assert tree(root / SLUG)["page"] == b"one"
    assert [p.name for p in root.iterdir() if p.name.startswith(f".{SLUG}")] == []


def test_moments_are_those_of_the_clock(root):
    put(root, page="one")
    before = datetime.now(UTC)
    put(root, page="two")
    (build,) = earlier_builds(root, SLUG)
    assert before <= build.replaced <= datetime.now(UTC)
