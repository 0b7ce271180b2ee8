"""A real JupyterLab, started once; the browser itself is in tests/conftest.py."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from waiting import PATIENCE_S, until

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def lab_folder(tmp_path_factory) -> Path:
    """A copy of the lessons that JupyterLab serves and tests may change."""
    folder = tmp_path_factory.mktemp("lab") / "lessons"
    shutil.copytree(
        ROOT / "lessons", folder, ignore=shutil.ignore_patterns(".ipynb_checkpoints")
    )
    return folder


@pytest.fixture(scope="session")
def lab_url(lab_folder: Path, tmp_path_factory) -> Iterator[str]:
    """Address of a JupyterLab on `lab_folder`, with settings of its own."""
    home = tmp_path_factory.mktemp("jupyter")
    port = _free_port()
    places = {
        name: str(home / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR",
            "JUPYTER_DATA_DIR",
            "JUPYTER_RUNTIME_DIR",
            "IPYTHONDIR",
        )
    }
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH", "")]))
    log = home / "lab.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            [
                sys.executable, "-m", "jupyterlab", "--allow-root", "--no-browser",
                "--ip=127.0.0.1", f"--port={port}", "--IdentityProvider.token=",
                f"--ServerApp.root_dir={lab_folder}",
            ],
            env={**os.environ, **places, "PYTHONPATH": path},
            cwd=home,  # `python -m` puts the working folder on the path: keep it empty
            stdout=out,
            stderr=subprocess.STDOUT,
        )  # fmt: skip
        url = f"http://127.0.0.1:{port}"
        try:
            _wait_for(url, server, log)
            yield url
        finally:
            server.terminate()
            server.wait(PATIENCE_S)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def _wait_for(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    def answers() -> bool:
        if server.poll() is not None:
            said = log.read_text(errors="replace")[-3000:]
            pytest.fail(f"JupyterLab did not start:\n{said}")
        try:
            urllib.request.urlopen(f"{url}/api", timeout=2).close()
        except OSError:
            return False
        return True

    until(answers, why="JupyterLab answers")
