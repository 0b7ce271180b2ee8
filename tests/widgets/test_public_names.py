import inspect
import subprocess
import sys

import pytest
from stub_of_kit import STUB, stub

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


def test_editors_and_type_checkers_are_told_of_the_calls_as_they_are():
    assert STUB.read_text(encoding="utf-8") == stub(), "run tests/widgets/stub_of_kit.py"


def test_the_call_of_a_figure_has_its_name_parameters_and_help():
    call = kit.excerpt
    assert (call.__name__, call.__module__) == ("excerpt", "kit")
    assert str(inspect.signature(call)) == (
        "(lesson: 'Lesson', level: 'str | None' = None, instrument: 'str | None' = None, "
        "section: 'str | None' = None, key: 'str | None' = None, *, "
        "bars: 'tuple[int, int] | None' = None, size: 'str | None' = None) -> 'ExcerptView'"
    )
    said = inspect.getdoc(call)
    assert said.startswith("Some bars of a level")
    assert "bars : tuple[int, int], optional\n    First and last printed bar" in said


@pytest.mark.parametrize(
    ("values", "options", "said"),
    [
        ((), {}, "missing a required argument: 'lesson'"),
        ((None, "a", "b", "c"), {}, "too many positional arguments"),
        ((None,), {"levl": "a"}, "unexpected keyword argument 'levl'"),
    ],
)
def test_a_call_with_values_it_does_not_take_says_which_call(values, options, said):
    with pytest.raises(TypeError, match=rf"practice_plan\(\): .*{said}"):
        kit.practice_plan(*values, **options)
