"""Crews end when they should, whatever became of their workers."""

import os
import time
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context

import pytest

from kit.publish.crew import LocalCrew


def within(seconds, met):
    until = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < until, "it takes too long"
        time.sleep(0.05)


def test_calls_are_done_by_other_processes():
    with LocalCrew(2) as crew:
        assert crew.submit(os.getpid).result() != os.getpid()


def test_a_crew_that_was_given_nothing_to_do_starts_nothing():
    crew = LocalCrew(2)
    with crew:
        pass
    assert crew._pool is None


def test_a_lesson_after_a_breakdown_is_built_by_new_processes():
    with LocalCrew(1) as crew:
        with pytest.raises(BrokenProcessPool):
            crew.submit(os._exit, 1).result()
        assert crew.submit(os.getpid).result() != os.getpid()


def test_a_process_that_was_starting_when_another_died_holds_nobody_up():
    late = get_context("spawn").Process(target=time.sleep, args=(600,))
    with LocalCrew(1) as crew:
        crew.prepare()
        pool = crew._pool
        late.start()
        # What Python's own end of a broken pool does not see: it has gone through its
        # processes before this one is among them.
        with pytest.raises(BrokenProcessPool):
            crew.submit(os._exit, 1).result()
        pool._processes[late.pid] = late
    within(20, lambda: not late.is_alive())
    late.join()
