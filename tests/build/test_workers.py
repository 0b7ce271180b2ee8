"""Crews end when they should, whatever became of their workers."""

import os
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context

import psutil
import pytest

from kit.build.workers import LocalWorkers


def within(seconds, met):
    until = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < until, "it takes too long"
        time.sleep(0.05)


def slow_pid():
    time.sleep(1)
    return os.getpid()


def test_calls_are_done_by_other_processes():
    with LocalWorkers(2) as workers:
        assert workers.submit(os.getpid).result() != os.getpid()


def test_processes_are_told_to_give_memory_back_and_nobody_else_is():
    before = dict(os.environ)
    with LocalWorkers(1) as workers:
        told = workers.submit(os.getenv, "MALLOC_MMAP_THRESHOLD_").result(timeout=60)
    assert told == "8000000"
    assert dict(os.environ) == before


def test_processes_give_way_to_fresh_ones_and_nothing_is_lost(monkeypatch):
    monkeypatch.setattr("kit.build.workers.CALLS_A_POOL", 3)
    with LocalWorkers(1) as workers:
        slow = workers.submit(slow_pid)
        others = [workers.submit(os.getpid) for _ in range(2)]
        fresh = workers.submit(os.getpid)
        old = {one.result(timeout=60) for one in (slow, *others)}
        assert len(old) == 1
        assert fresh.result(timeout=60) not in old
        # The old one ends when it has done what it was given.
        within(20, lambda: not psutil.pid_exists(min(old)))


def test_fresh_processes_are_started_by_the_main_thread_only(monkeypatch):
    monkeypatch.setattr("kit.build.workers.CALLS_A_POOL", 1)
    with LocalWorkers(1) as workers, ThreadPoolExecutor(1) as thread:
        first = workers.submit(os.getpid).result(timeout=60)
        there = thread.submit(lambda: workers.submit(os.getpid).result(timeout=60)).result()
        assert there == first


def test_a_crew_that_was_given_nothing_to_do_starts_nothing():
    workers = LocalWorkers(2)
    with workers:
        pass
    assert workers._pool is None


def test_a_lesson_after_a_breakdown_is_built_by_new_processes():
    with LocalWorkers(1) as workers:
        with pytest.raises(BrokenProcessPool):
            workers.submit(os._exit, 1).result()
        assert workers.submit(os.getpid).result() != os.getpid()


def test_a_process_that_was_starting_when_another_died_holds_nobody_up():
    late = get_context("spawn").Process(target=time.sleep, args=(600,))
    with LocalWorkers(1) as workers:
        workers.prepare()
        pool, manager = workers._pool, workers._pool._executor_manager_thread
        late.start()
        # What Python's own end of a broken pool does not see: it has gone through its
        # processes before this one is among them.
        with pytest.raises(BrokenProcessPool):
            workers.submit(os._exit, 1).result()
        manager.join(20)
        pool._processes[late.pid] = late
    within(20, lambda: not late.is_alive())
    late.join()


def test_whoever_waits_hears_of_a_breakdown_also_after_a_new_start():
    with LocalWorkers(1) as workers:
        broken = workers.submit(os._exit, 1)
        behind = [workers.submit(time.sleep, 0) for _ in range(20)]
        with pytest.raises(BrokenProcessPool):
            broken.result()
        assert workers.submit(os.getpid).result() != os.getpid()
        heard = list(as_completed(behind, timeout=20))
        assert len(heard) == 20
        assert all(isinstance(one.exception(), BrokenProcessPool) for one in heard)


def test_a_stopped_crew_ends_all_waiting_and_starts_nothing_more():
    workers = LocalWorkers(1)
    waiting = [workers.submit(time.sleep, 600) for _ in range(3)]
    workers.stop()
    for future in as_completed(waiting, timeout=20):
        assert isinstance(future.exception(), BrokenProcessPool)
    with pytest.raises(BrokenProcessPool):
        workers.submit(os.getpid)
