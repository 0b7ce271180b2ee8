"""Do the lowest versions that pyproject.toml allows still build a lesson?

    python tests/lowest_versions.py          install them in a new environment, build a demo
    python tests/lowest_versions.py --list   print them, as constraints for pip

The environment lies in a temporary folder and is deleted. Python 3.11 is used if there is
one, because old versions of libraries have no wheels for new ones. Takes two to three
minutes; `.ci/run` does it once.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
LESSON = "the-girl-i-left-behind-me"
_REQUIREMENT = re.compile(
    r"(?P<name>[A-Za-z0-9._-]+)>=(?P<lowest>[0-9.]+)(?P<marker>; .+)?"
)


def constraints(project: dict) -> list[str]:
    """Give each dependency at its lower bound: ``typst==0.15``.

    Raises
    ------
    ValueError
        If one has no lower bound, or more than that.
    """
    lines = []
    for requirement in project["dependencies"]:
        match = _REQUIREMENT.fullmatch(requirement)
        if match is None:
            raise ValueError(f"{requirement!r} is not a name with a lower bound alone")
        lines.append(f"{match['name']}=={match['lowest']}{match['marker'] or ''}")
    return lines


def project_table() -> dict:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def lowest_python() -> str:
    """Give Python 3.11 if it runs here, else the one that runs this."""
    found = shutil.which("python3.11")
    works = found and subprocess.run([found, "-c", ""], check=False).returncode == 0
    return found if works else sys.executable


def build_with_lowest(folder: Path) -> None:
    """Install in an environment below a folder, and build a demo lesson there.

    Raises
    ------
    subprocess.CalledProcessError
        If pip finds no such set of versions, or the build fails.
    """
    pins = folder / "constraints.txt"
    pins.write_text("\n".join(constraints(project_table())) + "\n", encoding="utf-8")
    shutil.copytree(ROOT / "lessons" / LESSON, folder / "lessons" / LESSON)
    subprocess.run([lowest_python(), "-m", "venv", folder / "venv"], check=True)
    programs = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run(
        [programs / "python", "-m", "pip", "install", "--quiet", "-c", pins, ROOT],
        check=True,
    )
    # Neither the tree this stands in nor anything built before may help.
    alone = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    alone["KIT_CACHE"] = str(folder / "cache")
    subprocess.run([programs / "kit", "build"], cwd=folder, env=alone, check=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--list", action="store_true")
    if parser.parse_args().list:
        print(*constraints(project_table()), sep="\n")
        return
    with tempfile.TemporaryDirectory(prefix="kit-lowest-") as folder:
        build_with_lowest(Path(folder))


if __name__ == "__main__":
    main()
