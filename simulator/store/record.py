"""One call that runs a case and keeps what came out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.run.loop import simulate
from simulator.store.kept_reductions import KeptReductions
from simulator.store.writer import ResultsWriter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from simulator.case.schema import Case
    from simulator.run.observers import Observer
    from simulator.store.reader import Results

__all__ = ["record"]


def record(
    case: Case,
    path: Path | str | None = None,
    *,
    progress: Callable[..., None] | None = None,
    overwrite: bool = True,
    watchers: Sequence[Observer] = (),
) -> Results:
    """Run a case and store it.

    Parameters
    ----------
    case : Case
    path : Path or str, optional
        Results file. Without it the results stay in memory and are gone with the object.
    progress : callable, optional
        Handed to the run, which calls it now and then.
    overwrite : bool
        Whether results already at `path` may be replaced. When the run fails or is broken off they are still
        there, and nothing half done lies beside them.
    watchers : sequence of Observer
        Further observers of the run.

    Returns
    -------
    Results
        Open; close it or use it in a `with` block.

    Raises
    ------
    StoreError
        When the results cannot be stored there; found before the run begins wherever possible.
    SolverError
        When the calculation cannot be carried through.
    """
    writer = ResultsWriter(path, overwrite=overwrite)
    try:
        simulate(case, [writer, *watchers], progress=progress, keeper=KeptReductions(), check=True)
        return writer.results()
    except BaseException:
        writer.abort()
        raise
