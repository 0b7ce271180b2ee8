"""Makes `kit/__init__.pyi`, by which editors and type checkers know the package.

The package loads its names on first use and makes the calls of figures from a table; both
are out of sight for who only reads the code. Run this after a change to either list.
"""

import inspect
import textwrap
from pathlib import Path
from typing import Any

import kit
from kit.lesson.figure_calls import FIGURES
from kit.widgets.figures import show

STUB = Path(kit.__file__).with_suffix(".pyi")
HEAD = '''\
"""Made by tests/widgets/stub_of_kit.py; not to be changed by hand."""
'''


def stub() -> str:
    """Give the text of the stub."""
    calls = [getattr(kit, row.name) for row in FIGURES]
    imports = [f"from {home} import {n} as {n}" for n, home in kit._HOMES.items()]
    views: dict[str, set[str]] = {}
    for call in calls:
        views.setdefault(_home_of(call), set()).add(_view_of(call))
    imports += [f"from {home} import {', '.join(sorted(views[home]))}" for home in views]
    public = "".join(f'    "{name}",\n' for name in sorted(kit.__all__))
    return "\n".join(
        (
            HEAD,
            *sorted(imports),
            "",
            f"__all__ = [\n{public}]",
            "",
            "__version__: str",
            "",
            *(_function(call) for call in calls),
        )
    )


def _view_of(call: Any) -> str:
    return inspect.signature(call).return_annotation


def _home_of(call: Any) -> str:
    return getattr(show, _view_of(call)).__module__


def _function(call: Any) -> str:
    said = inspect.signature(call)
    lines = []
    for name, one in said.parameters.items():
        if one.kind is one.KEYWORD_ONLY and "    *," not in lines:
            lines.append("    *,")
        default = "" if one.default is one.empty else f" = {one.default}"
        lines.append(f"    {name}: {one.annotation}{default},")
    words = textwrap.indent(f'"""{call.__doc__}"""', "    ")
    head = f"def {call.__name__}(\n" + "\n".join(lines)
    return f"{head}\n) -> {said.return_annotation}:\n{words}\n"


if __name__ == "__main__":
    STUB.write_text(stub(), encoding="utf-8")
