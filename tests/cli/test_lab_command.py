"""kit lab: JupyterLab on lessons/, at the page that lists them."""

import json
import socket
import subprocess
import sys
import time
import urllib.request

import pytest


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def fetched(url, process, seconds=90):
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        assert process.poll() is None, "kit lab ended"
        try:
            with urllib.request.urlopen(url, timeout=5) as answer:
                return answer.geturl(), answer.read()
        except OSError:
            time.sleep(0.2)
    pytest.fail("JupyterLab did not answer")


def test_it_makes_lessons_and_opens_on_the_start_page(tmp_path, command_environment):
    port = free_port()
    own = {
        name: str(tmp_path / name.lower())
        for name in ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")
    }
    process = subprocess.Popen(
        [
            sys.executable, "-m", "kit", "lab", "--no-browser", "--allow-root",
            f"--port={port}", "--ip=127.0.0.1", "--IdentityProvider.token=",
        ],
        cwd=tmp_path, env=command_environment | own,
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        where, _ = fetched(f"http://127.0.0.1:{port}/", process)
        assert where.endswith("/lab/tree/Start%20here.ipynb")
        _, listing = fetched(f"http://127.0.0.1:{port}/api/contents/", process)
        names = [entry["name"] for entry in json.loads(listing)["content"]]
        assert names == ["Start here.ipynb"]
    finally:
        process.terminate()
        process.wait(timeout=30)


def test_the_start_page_is_no_lesson(workplace, kit_command):
    from kit.authoring.start_page import write_start_page

    write_start_page(workplace / "lessons")
    done = kit_command("build", cwd=workplace)
    assert done.returncode == 0
    assert "small-tune is up to date" in done.stdout
