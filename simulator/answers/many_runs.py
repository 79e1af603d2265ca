"""Many runs: each once, as many at a time as there is room for, kept as they finish."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from typing import Final

from simulator.answers.cores import local_cores
from simulator.answers.members import Outcome, Task, outcome_of, run_task
from simulator.answers.outputs import OUTPUTS
from simulator.answers.workers import Pool, Stopped, cluster, processes, this_process
from simulator.errors import DuctfloorError, StoreError
from simulator.store.kept_members import KeptMembers
from simulator.store.reader import Results

__all__ = ["Broken", "Runner"]

WORTH_A_POOL: Final = 8.0
"""Seconds of work from which on it pays to start processes, which takes some two seconds."""
WAITING_PER_WORKER: Final = 2
"""Tasks handed out ahead, so that memory stays bounded and little is lost when all is broken off."""
MOST_BREAKS: Final = 2
"""Times that a run may bring its process down before it counts as failed."""
LOOK_EVERY: Final = 0.5

Told = Callable[[int, int], None]


class Broken(KeyboardInterrupt):
    """Broken off from the keyboard, with runs done and runs in all."""

    def __init__(self, done: int, total: int) -> None:
        super().__init__()
        self.done, self.total = done, total


class Runner:
    """Carries tasks out.

    Parameters
    ----------
    kept : KeptMembers or None
        Where outcomes are kept; those found there are not computed again.
    jobs : int or None
        Processes; 1 for none beside this one, None for as many as there are cores, if there is enough to do.
    cluster : str or None
        Address of a cluster to use instead.
    pool : Pool, optional
        Processes that were started beforehand; they are used instead of new ones, and ended, by the first
        call of `run`.

    Attributes
    ----------
    computed, found : int
        Runs carried out so far, and outcomes that were there already.
    """

    def __init__(
        self,
        kept: KeptMembers | None = None,
        *,
        jobs: int | None = None,
        cluster: str | None = None,
        pool: Pool | None = None,
    ) -> None:
        if jobs is not None and jobs < 1:
            raise DuctfloorError(f"--jobs {jobs}: must be 1 or more")
        self._kept, self._jobs, self._cluster, self._pool = kept, jobs, cluster, pool
        self.computed = self.found = 0

    def run(self, tasks: Sequence[Task], told: Told | None = None) -> list[Outcome]:
        """Carry out tasks, equal ones only once.

        Parameters
        ----------
        tasks : sequence of Task
        told : callable, optional
            Called with runs done and runs in all, now and then.

        Returns
        -------
        list of Outcome
            In the order of the tasks.

        Raises
        ------
        Broken
            On ctrl-C; what is finished is kept.
        DuctfloorError
            When the cluster cannot be used.
        StoreError
            When outcomes cannot be kept.
        """
        outcomes: dict[str, Outcome] = {}
        waiting: list[Task] = []
        for task in {task.fingerprint: task for task in tasks}.values():
            outcome = self._found(task)
            if outcome is None:
                waiting.append(task)
            else:
                outcomes[task.fingerprint] = outcome
                self.found += 1
        total = len(waiting) + len(outcomes)
        report = told or (lambda done, all_of_them: None)
        report(len(outcomes), total)
        try:
            with closing(self._carried_out(waiting)) as coming:
                for task, outcome in coming:
                    outcomes[task.fingerprint] = outcome
                    self.computed += 1
                    self._keep(task, outcome)
                    report(len(outcomes), total)
        except KeyboardInterrupt:
            raise Broken(len(outcomes), total) from None
        finally:
            if self._pool is not None:
                self._pool.close(at_once=True)
                self._pool = None
        return [outcomes[task.fingerprint] for task in tasks]

    def _found(self, task: Task) -> Outcome | None:
        """Outcome kept earlier, if it has every answer that is wanted now."""
        kept = None if self._kept is None else self._kept.get(task.fingerprint)
        if kept is None or not _written(task):
            return None
        try:
            outcome = outcome_of(kept)
        except (KeyError, OverflowError, TypeError, ValueError):
            return None
        wanted = (*OUTPUTS, *task.outputs)
        return outcome if outcome.error or all(name in outcome.values for name in wanted) else None

    def _keep(self, task: Task, outcome: Outcome) -> None:
        """Keep an outcome; failures of the computation are tried again next time."""
        if self._kept is not None and (not outcome.error or outcome.bad_input):
            self._kept.put(task.fingerprint, outcome.as_dict())

    def _carried_out(self, tasks: list[Task]) -> Generator[tuple[Task, Outcome]]:
        if not tasks:
            return
        if self._cluster is not None:
            with cluster(self._cluster) as (executor, count):
                yield from _loop(executor, tasks, count)
            return
        if self._pool is not None:
            yield from _in_processes(tasks, self._pool)
            return
        wanted = self._jobs
        if wanted is None:
            # The first one tells how long the others will take, and leaves the compiled loops behind.
            began = time.perf_counter()
            yield from self._here(tasks[:1])
            expected = (time.perf_counter() - began) * (len(tasks) - 1)
            tasks = tasks[1:]
            wanted = min(local_cores(), len(tasks)) if expected > WORTH_A_POOL else 1
        if not tasks:
            return
        if wanted <= 1:
            yield from self._here(tasks)
        else:
            yield from _in_processes(tasks, Pool(wanted))

    @staticmethod
    def _here(tasks: list[Task]) -> Iterator[tuple[Task, Outcome]]:
        stop = threading.Event()

        def look(share: float) -> None:
            if stop.is_set():
                raise Stopped

        with this_process() as executor:
            try:
                for task in tasks:
                    future = executor.submit(run_task, task, None, look)
                    yield task, _outcome(_patient(future))
            finally:
                stop.set()


def _written(task: Task) -> bool:
    """Whether the results file that a task is to write is there already, or none is wanted."""
    if task.results is None:
        return True
    try:
        with Results(task.results) as results:
            return results.complete and results.case_text == task.text
    except StoreError:
        return False


def _patient(future: Future[Outcome]) -> Future[Outcome]:
    """Wait for a run so that ctrl-C is noticed."""
    while not future.done():
        wait([future], timeout=LOOK_EVERY)
    return future


def _in_processes(tasks: list[Task], pool: Pool) -> Iterator[tuple[Task, Outcome]]:
    """Use a pool; when one of its processes dies, start another one with what is left."""
    count = pool.count
    left = {task.fingerprint: task for task in tasks}
    breaks: dict[str, int] = {}
    while left:
        at_work: set[str] = set()
        try:
            with processes(pool) as executor:
                for task, outcome in _loop(executor, list(left.values()), pool.count, at_work):
                    del left[task.fingerprint]
                    breaks.pop(task.fingerprint, None)
                    yield task, outcome
        except BrokenProcessPool:
            for fingerprint in at_work & left.keys():
                breaks[fingerprint] = breaks.get(fingerprint, 0) + 1
                if breaks[fingerprint] >= MOST_BREAKS and len(at_work) == 1:
                    task = left.pop(fingerprint)
                    breaks.pop(fingerprint)
                    yield task, Outcome({}, "its process was ended from outside; is there enough memory?")
            # After a break one at a time, to find the run that brings its process down.
            pool = Pool(1 if breaks else count)


def _loop(
    executor: Executor, tasks: list[Task], count: int, at_work: set[str] | None = None
) -> Iterator[tuple[Task, Outcome]]:
    """Keep an executor busy without handing out everything at once."""
    queue = iter(tasks)
    ahead = 1 if count == 1 else WAITING_PER_WORKER * count
    futures: dict[Future[Outcome], Task] = {}
    try:
        while True:
            while len(futures) < ahead and (task := next(queue, None)) is not None:
                if at_work is not None:
                    at_work.add(task.fingerprint)
                futures[executor.submit(run_task, task)] = task
            if not futures:
                return
            done, _ = wait(futures, timeout=LOOK_EVERY, return_when=FIRST_COMPLETED)
            for future in done:
                outcome = _outcome(future)
                task = futures.pop(future)
                if at_work is not None:
                    at_work.discard(task.fingerprint)
                yield task, outcome
    finally:
        for future in futures:
            future.cancel()


def _outcome(future: Future[Outcome]) -> Outcome:
    """Outcome of a run; a defect of the program becomes a failure of that run alone."""
    error = future.exception()
    if error is None:
        return future.result()
    if isinstance(error, BrokenProcessPool) or not isinstance(error, Exception):
        raise error
    return Outcome({}, f"failed inside the program: {type(error).__name__}: {error}")
