"""Who carries runs out: this process, all cores through processes of their own, or an existing cluster."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from simulator.errors import DuctfloorError
from simulator.store.kept_members import program_fingerprint

__all__ = ["Pool", "Stopped", "cluster", "processes", "this_process"]

RUNS = "simulator.answers.members"
"""What every process has to load."""
PATIENCE = "15s"
"""How long to look for a cluster."""


class Stopped(Exception):  # noqa: N818 - a wish, not an error
    """Raised inside a run that is to end early."""


@contextmanager
def this_process() -> Iterator[Executor]:
    """Carry runs out one after another, in a thread beside the one that waits."""
    executor = ThreadPoolExecutor(max_workers=1, thread_name_prefix="run")
    try:
        yield executor
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


class Pool:
    """Processes that carry runs out; they begin to get ready at once.

    Parameters
    ----------
    count : int
        Processes.

    Attributes
    ----------
    executor : Executor
    count : int
    """

    def __init__(self, count: int) -> None:
        self.count = count
        self._before = {child.pid for child in multiprocessing.active_children()}
        self.executor: Executor = ProcessPoolExecutor(max_workers=count, mp_context=_context())
        with _deaf_children():
            # A process is started for each task that finds none idle.
            self._warm = [self.executor.submit(_warm_up) for _ in range(count)]

    def close(self, *, at_once: bool = False) -> None:
        """End the processes; `at_once` also those that are still at work."""
        self.executor.shutdown(wait=not at_once, cancel_futures=True)
        if at_once:
            for child in multiprocessing.active_children():
                if child.pid not in self._before:
                    child.terminate()


@contextmanager
def processes(pool: Pool) -> Iterator[Executor]:
    """Use a pool and end it; those of its processes that are still at work are stopped."""
    try:
        yield pool.executor
    except BaseException:
        pool.close(at_once=True)
        raise
    else:
        pool.close()


def _context() -> Any:
    """Choose how processes are started: always afresh, never as copies of this one with its threads.

    Where the system can, a helper process loads everything once and hands out copies of itself.
    """
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([RUNS])
    return context


@contextmanager
def _deaf_children() -> Iterator[None]:
    """Let processes that are started meanwhile leave ctrl-C to the one that waits."""
    try:
        before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    except ValueError:  # only the main thread may
        yield
        return
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _warm_up() -> None:
    """Load what runs need."""
    import_module(RUNS)


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """Carry runs out on an existing cluster of Dask workers.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``"tcp://10.0.0.5:8786"``.

    Yields
    ------
    executor : Executor
    count : int
        Threads of all its workers.

    Raises
    ------
    DuctfloorError
        When the library is not installed, nobody answers, or a worker has another version of this program.
    """
    try:
        distributed: Any = import_module("distributed")
    except ImportError as error:
        message = f'{error.name} is not installed; install it with pip install "ductfloor[cluster]"'
        raise DuctfloorError(message) from None
    try:
        client = distributed.Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        message = f"--cluster {address}: nobody answers there ({error}); is the scheduler running?"
        raise DuctfloorError(message) from None
    try:
        try:
            versions: dict[str, str] = client.run(program_fingerprint)
        except ImportError:
            message = f"--cluster {address}: a worker lacks ductfloor; install the same version there"
            raise DuctfloorError(message) from None
        others = sorted(name for name, version in versions.items() if version != program_fingerprint())
        if not versions:
            raise DuctfloorError(f"--cluster {address}: it has no workers")
        if others:
            message = f"--cluster {address}: {', '.join(others)}: another version of ductfloor than here"
            raise DuctfloorError(message)
        count = sum(client.nthreads().values())
        executor = client.get_executor(pure=False)
        try:
            yield executor, count
        finally:
            executor.shutdown(wait=False)
    finally:
        client.close()
