"""Bundles: the same bytes from the same input, and nothing of the teacher's own."""

import io
import zipfile

from hypothesis import given
from hypothesis import strategies as st

from kit.publish.bundles import bundled, write_bundle, zip_bytes
from kit.publish.manifest import BuiltFile


@given(
    st.dictionaries(st.sampled_from(["a.pdf", "b.mp4", "c/d.txt", "e.html"]), st.binary())
)
def test_the_order_of_the_input_does_not_matter(files):
    backwards = dict(reversed(list(files.items())))
    assert zip_bytes(files) == zip_bytes(backwards)
    archive = zipfile.ZipFile(io.BytesIO(zip_bytes(files)))
    assert {name: archive.read(name) for name in archive.namelist()} == files


def test_no_date_and_no_machine_gets_in():
    (info,) = zipfile.ZipFile(io.BytesIO(zip_bytes({"a.txt": b"x" * 99}))).infolist()
    assert info.date_time == (1980, 1, 1, 0, 0, 0)
    assert (info.create_system, info.external_attr >> 16) == (3, 0o644)
    assert info.compress_size < 99


def test_what_is_packed_already_is_stored():
    (info,) = zipfile.ZipFile(io.BytesIO(zip_bytes({"a.mp3": b"x" * 99}))).infolist()
    assert info.compress_type == zipfile.ZIP_STORED


def test_recording_aids_go_into_no_bundle():
    page = BuiltFile("index.html", "page", "members", b"").entry()
    card = BuiltFile("recording/easy-cue-cards.pdf", "cue-cards", "members", b"").entry()
    assert bundled([page, card]) == [page]


def test_a_bundle_on_disk_has_the_bytes_of_one_in_memory(tmp_path):
    files = {"b/two.txt": b"two" * 50, "one.mp3": b"one"}
    sources = {}
    for number, (name, data) in enumerate(files.items()):
        sources[name] = tmp_path / str(number)
        sources[name].write_bytes(data)
    write_bundle(tmp_path / "all.zip", sources)
    assert (tmp_path / "all.zip").read_bytes() == zip_bytes(files)
