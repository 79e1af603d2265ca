"""Who carries runs out: this process, all cores through processes of their own, or an existing cluster."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import Any

from simulator.errors import DuctfloorError
from simulator.store.kept_members import program_fingerprint

__all__ = ["Stopped", "cluster", "local_cores", "processes", "this_process"]

PATIENCE = "15s"
"""How long to look for a cluster."""


class Stopped(Exception):  # noqa: N818 - a wish, not an error
    """Raised inside a run that is to end early."""


def local_cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # no such call on this system
        return os.cpu_count() or 1


@contextmanager
def this_process() -> Iterator[Executor]:
    """Carry runs out one after another, in a thread beside the one that waits."""
    executor = ThreadPoolExecutor(max_workers=1, thread_name_prefix="run")
    try:
        yield executor
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


@contextmanager
def processes(count: int) -> Iterator[Executor]:
    """Carry runs out in so many processes; those that are still at work at the end are stopped."""
    before = {child.pid for child in multiprocessing.active_children()}
    executor = ProcessPoolExecutor(
        max_workers=count, mp_context=multiprocessing.get_context("spawn"), initializer=_get_ready
    )
    try:
        yield executor
    except BaseException:
        executor.shutdown(wait=False, cancel_futures=True)
        for child in multiprocessing.active_children():
            if child.pid not in before:
                child.terminate()
        raise
    else:
        executor.shutdown(wait=True, cancel_futures=True)


def _get_ready() -> None:
    """Leave ctrl-C to the process that waits."""
    with suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)


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
