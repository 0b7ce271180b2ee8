"""Many lessons with one workers: what becomes of the others when one goes wrong."""

from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from kit.build import lessons as builds
from kit.build.lesson import BuildResult
from kit.cli import main
from kit.errors import LessonError
from kit.publish.catalogue import site as catalogue

FOLDERS = [Path("lessons") / name for name in ("air", "bell", "cove", "dune")]


class Workers:
    count = 2
    stopped = False

    def prepare(self):
        return

    def stop(self):
        self.stopped = True


@pytest.fixture
def goes_wrong(monkeypatch):
    """Let building some lessons raise what the test says, and the others go well."""

    def let(**errors):
        def build(folder, out_root, **_):
            if folder.name in errors:
                raise errors[folder.name]
            return BuildResult(out_root / folder.name, files=3, was_current=False)

        monkeypatch.setattr(builds, "unchanged_result", lambda *_: None)
        monkeypatch.setattr(builds, "build_lesson", build)

    return let


def built(workers):
    return list(
        builds.build_lessons(
            FOLDERS, Path("out"), progress=SimpleNamespace, workers=workers
        )
    )


def test_a_fault_of_the_kit_costs_no_other_lesson(goes_wrong):
    wrong, fault = LessonError("there is no tune"), KeyError("no such thing")
    goes_wrong(bell=wrong, cove=fault)
    air, bell, cove, dune = built(Workers())
    assert (air.folder.name, dune.folder.name) == ("air", "dune")
    assert bell is wrong
    assert cove is fault
    assert fault.__notes__ == [f"This happened while {FOLDERS[2]} was built."]


def test_a_full_disk_ends_the_work_on_every_lesson(goes_wrong):
    goes_wrong(bell=OSError(28, "No space left on device"))
    workers = Workers()
    with pytest.raises(OSError, match="No space left"):
        built(workers)
    assert workers.stopped


def test_the_command_shows_a_fault_when_all_else_is_done(goes_wrong, monkeypatch, tmp_path):
    goes_wrong(bell=KeyError("no such thing"))
    out = tmp_path / "out"
    catalogues = []
    monkeypatch.setattr(
        catalogue, "write_catalogue", lambda place: catalogues.append(place) or []
    )
    told = CliRunner().invoke(main, ["build", "--out", str(out), *map(str, FOLDERS)])
    assert [line.split()[0] for line in told.stdout.splitlines()] == ["air", "cove", "dune"]
    assert isinstance(told.exception, ExceptionGroup)
    assert str(told.exception.exceptions) == "(KeyError('no such thing'),)"
    assert catalogues == [out]
