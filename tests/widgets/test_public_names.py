import subprocess
import sys

import pytest

import kit


def test_every_public_name_is_there():
    assert set(kit.__all__) <= set(dir(kit))
    for name in kit.__all__:
        assert getattr(kit, name)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'exerpt'"):
        kit.exerpt  # noqa: B018


def test_importing_the_package_loads_none_of_its_rooms():
    code = "import sys, kit; print(*(set(sys.argv[1:]) & set(sys.modules)))"
    heavy = ["anywidget", "verovio", "music21", "numpy", "IPython", "jinja2", "typst"]
    done = subprocess.run(
        [sys.executable, "-c", code, *heavy], capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == []


def test_the_version_is_that_of_the_distribution():
    import tomllib
    from pathlib import Path

    root = Path(kit.__file__).parents[1]
    with (root / "pyproject.toml").open("rb") as file:
        assert tomllib.load(file)["project"]["version"] == kit.__version__
