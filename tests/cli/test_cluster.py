"""kit build on a cluster: two real workers, one killed, another kit, nobody there."""

import contextlib
import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
import warnings

import pytest

from kit.build import _cluster as cluster_module
from kit.build._cluster import ClusterWorkers
from kit.build._jobs import Job
from kit.build._work import Assignment, run_job
from kit.build.workers import workers_for
from kit.errors import SetupError


def tree(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.fixture(scope="module")
def cluster(command_environment):
    """Two workers in processes of their own, each restarted when it is killed."""
    with warnings.catch_warnings():
        # distributed leaves sockets to the garbage collector when it ends.
        warnings.simplefilter("ignore", ResourceWarning)
        from distributed import LocalCluster

        workers = LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
        )
        yield workers
        workers.close()


@pytest.fixture
def clean_copy(workplace, tmp_path):
    """The small lesson with nothing built and nothing in the cache."""
    shutil.rmtree(workplace / "build")
    return workplace


def build(place, address, cache, environment):
    return subprocess.Popen(
        [sys.executable, "-m", "kit", "build", "--scheduler", address],
        cwd=place, env=environment | {"KIT_CACHE": str(cache)}, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


def test_a_cluster_gives_the_bytes_of_one_machine(
    cluster, clean_copy, built_workplace, command_environment, tmp_path
):
    run = build(clean_copy, cluster.scheduler_address, tmp_path / "c", command_environment)
    said, errors = run.communicate(timeout=240)
    assert run.returncode == 0, errors
    assert "small-tune built: " in said
    assert tree(clean_copy / "build/small-tune") == tree(
        built_workplace / "build/small-tune"
    )


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL there")
def test_a_worker_killed_with_a_job_in_its_hands_costs_time_only(
    cluster, clean_copy, built_workplace, command_environment, tmp_path
):
    from distributed import Client

    with Client(cluster.scheduler_address, set_as_default=False) as client:
        pids = client.run(os.getpid)
        run = build(
            clean_copy, cluster.scheduler_address, tmp_path / "c", command_environment
        )
        end = time.monotonic() + 120
        busy = []
        while not busy and time.monotonic() < end:
            busy = [worker for worker, held in client.processing().items() if held]
        os.kill(pids[busy[0]], signal.SIGKILL)
        said, errors = run.communicate(timeout=240)
    assert run.returncode == 0, errors
    assert "small-tune built: " in said
    assert tree(clean_copy / "build/small-tune") == tree(
        built_workplace / "build/small-tune"
    )


def test_no_scheduler_is_one_sentence(monkeypatch):
    monkeypatch.setattr(cluster_module, "CONNECT_S", 0.5)
    with pytest.raises(
        SetupError,
        match=r'^no scheduler answers at "tcp://127\.0\.0\.1:9"; start one with dask '
        r"scheduler, and workers with dask worker\.$",
    ):
        ClusterWorkers("tcp://127.0.0.1:9")


def test_a_scheduler_without_workers_is_one_sentence(monkeypatch):
    from distributed import LocalCluster

    monkeypatch.setattr(cluster_module, "CONNECT_S", 0.5)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        with (
            LocalCluster(n_workers=0, processes=True, dashboard_address=":0") as nobody,
            pytest.raises(SetupError, match=r"has no workers; start some with dask worker"),
        ):
            ClusterWorkers(nobody.scheduler_address)


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("music room", 'no scheduler answers at "music room"'),
        ("http://127.0.0.1:9", 'no scheduler answers at "http://127.0.0.1:9"'),
        ("tls://127.0.0.1:9", '"tls://127.0.0.1:9" asks for encryption'),
    ],
)
def test_an_address_that_is_none_is_one_sentence_and_leaves_nothing(
    monkeypatch, address, sentence
):
    monkeypatch.setattr(cluster_module, "CONNECT_S", 0.5)
    before = set(threading.enumerate())
    with pytest.raises(SetupError, match=sentence):
        ClusterWorkers(address)
    assert set(threading.enumerate()) <= before


def test_without_the_library_one_sentence_says_what_to_install(monkeypatch):
    monkeypatch.delitem(sys.modules, "kit.build._cluster")
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SetupError, match="run pip install distributed"):
        workers_for("tcp://127.0.0.1:9", None)


def test_a_worker_with_another_kit_is_one_sentence(cluster, built_workplace, tmp_path):
    folder = built_workplace / "lessons/small-tune"
    job = Job(folder, "timing", "plain")
    cache = str(tmp_path / "cache")
    assigned = Assignment(job, "0" * 64, "a hash", cache, environment="another")
    with ClusterWorkers(cluster.scheduler_address) as workers:
        future = workers.submit(run_job, assigned)
        with pytest.raises(SetupError, match="a worker has another version of the kit"):
            future.result(timeout=120)
    assert not list(tmp_path.glob("cache/??/*"))


@pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL there")
def test_a_scheduler_lost_in_mid_build_is_one_sentence(
    clean_copy, command_environment, tmp_path
):
    port_file = tmp_path / "scheduler.json"
    scheduler = subprocess.Popen(
        [sys.executable, "-m", "distributed.cli.dask_scheduler", "--no-dashboard",
         "--port", "0", "--host", "127.0.0.1", "--scheduler-file", str(port_file)],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        end = time.monotonic() + 60
        while not port_file.is_file() and time.monotonic() < end:
            time.sleep(0.05)
        time.sleep(0.2)
        address = json.loads(port_file.read_text(encoding="utf-8"))["address"]
        worker = subprocess.Popen(
            [sys.executable, "-m", "distributed.cli.dask_worker", address,
             "--no-dashboard", "--no-nanny", "--nthreads", "1",
             "--local-directory", str(tmp_path)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        run = build(clean_copy, address, tmp_path / "c", command_environment)
        assert "steps" in run.stderr.readline()
        time.sleep(0.5)
        scheduler.kill()
        _, errors = run.communicate(timeout=120)
    finally:
        with contextlib.suppress(ProcessLookupError):
            scheduler.kill()
        scheduler.wait()
        worker.kill()
        worker.wait()
    assert run.returncode == 1
    assert "Traceback" not in errors
    assert "kit: the scheduler or too many workers were lost while " in errors
    assert not (clean_copy / "build/small-tune").exists()
