"""The workers of a dask.distributed cluster do the jobs of a build.

Jobs share nothing but files: the lessons and the cache (``KIT_CACHE``) lie where every
worker sees them under the same path.

Source: the executor interface of dask.distributed (``Client.get_executor``).
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from concurrent.futures import CancelledError, Executor, Future
from typing import Any, ParamSpec, Self, TypeVar

from distributed import Client
from distributed.scheduler import KilledWorker

from kit.errors import SetupError

__all__ = ["ClusterWorkers"]

CONNECT_S = 20
P = ParamSpec("P")
T = TypeVar("T")


class ClusterWorkers:
    """The workers of a dask.distributed cluster.

    A job whose worker dies is given to another one. What the lost worker had put into the
    cache by then is whole or not there, so nothing is built from half of something.

    Parameters
    ----------
    address : str
        Of the scheduler, such as ``tcp://music-room:8786``.

    Raises
    ------
    SetupError
        If no scheduler answers, or it has no workers.
    """

    # Cancelled is what has not been done when the scheduler itself is lost.
    breakdowns: tuple[type[BaseException], ...] = (KilledWorker, CancelledError)

    def __init__(self, address: str) -> None:
        try:
            self._client: Any = _ClientThatEnds(
                address, timeout=CONNECT_S, set_as_default=False
            )
        except (OSError, ValueError) as error:
            raise SetupError(
                f'no scheduler answers at "{address}"',
                remedy="start one with dask scheduler, and workers with dask worker",
            ) from error
        except TypeError as error:
            raise SetupError(
                f'"{address}" asks for encryption, and no certificate is set',
                remedy="name the school's certificates in dask's own settings, under "
                "distributed.comm.tls",
            ) from error
        _keep_quiet("distributed")
        try:
            self._client.wait_for_workers(1, timeout=CONNECT_S)
        except TimeoutError as error:
            self._client.close()
            raise SetupError(
                f'the scheduler at "{address}" has no workers',
                remedy="start some with dask worker",
            ) from error
        threads = self._client.nthreads()
        self.count = max(1, sum(threads.values()))
        # Not "pure": the same job ordered again is to be done again.
        self._executor: Executor = self._client.get_executor(pure=False)

    def prepare(self) -> None:
        """Do nothing: the workers run already."""

    def submit(
        self, call: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs
    ) -> Future[T]:
        """Have a call done by one of the workers."""
        if self._client.status != "running":
            raise CancelledError
        return self._executor.submit(call, *args, **kwargs)

    def __enter__(self) -> Self:
        """Begin."""
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Let go of the cluster; what it has not begun is not begun."""
        if kind is not None:
            self.stop()
            return
        self._executor.shutdown(wait=self._client.status == "running")
        self._client.close()

    def loss(self, title: str) -> SetupError:
        """Say what became of the cluster, as far as can be told."""
        return SetupError(
            f"the scheduler or too many workers were lost while {title} was made",
            remedy="see to the cluster and build again; what is finished is kept",
        )

    def stop(self) -> None:
        """Let go of the cluster at once."""
        self._executor.shutdown(wait=False)
        self._client.close()


class _ClientThatEnds(Client):
    """A client that ends if it cannot start.

    The library's own stays half alive until Python collects it, and then waits for a lock
    that the next client may hold: that one fails after ten seconds, with an assertion.
    """

    def start(self, **kwargs: object) -> None:
        """Connect, or leave nothing behind."""
        try:
            super().start(**kwargs)
        except BaseException:
            self.close()
            raise


def _keep_quiet(library: str) -> None:
    """Let a library log nothing: what went wrong with it is told in our own sentence."""
    for name in [library, *logging.root.manager.loggerDict]:
        if name.split(".")[0] == library:
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
