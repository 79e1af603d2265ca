"""One call that runs a case and keeps what came out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from simulator.errors import NoRoomError, StoreError
from simulator.run.loop import simulate
from simulator.store.checkpoint import RunCheckpoints
from simulator.store.destination import Destination
from simulator.store.kept_reductions import KeptReductions
from simulator.store.provenance import input_hash
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter
from simulator.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from simulator.case.schema import Case
    from simulator.run.observers import Observer

__all__ = ["record"]


def record(
    case: Case,
    path: Path | str | None = None,
    *,
    progress: Callable[..., None] | None = None,
    overwrite: bool = True,
    watchers: Sequence[Observer] = (),
    resume: bool | None = None,
    say: Callable[[str], None] | None = None,
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
        Further observers of the run; where it goes on after a stop, they are told the rows that follow only.
    resume : bool or None
        What to do about a run of this case into this file that was stopped. True: go on with it, or fail when
        it does not fit; finished results of the same case are opened as they are. None: go on where it
        fits exactly, else start anew. False: start anew. The outcome is the same to the last bit.
    say : callable, optional
        Told in one line what is done about a stopped run.

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
    KeyboardInterrupt
        When the run is stopped from the keyboard; its message says whether it can be gone on with.
    """
    if resume and path is not None:
        finished = _finished(case, Path(path))
        if finished is not None:
            return finished
    writer = ResultsWriter(path, overwrite=overwrite)
    checkpoints = None if path is None else RunCheckpoints(case, writer, resume=resume, say=say)
    try:
        simulate(
            case,
            [writer, *watchers],
            progress=progress,
            keeper=KeptReductions(),
            meshes=KeptReductions(kind="meshes"),
            checkpoints=checkpoints,
            check=True,
        )
        return writer.results()
    except BaseException as error:
        kept = writer.resumable and isinstance(error, KeyboardInterrupt | MemoryError | NoRoomError)
        writer.resumable = kept
        writer.abort()
        if kept and isinstance(error, KeyboardInterrupt):
            message = "stopped; the same command goes on from there"
            raise KeyboardInterrupt(message) from None
        if kept and isinstance(error, NoRoomError):
            error.fix = f"{error.fix or 'mend that'}; the same command then goes on from there"
        raise


def _finished(case: Case, path: Path) -> Results | None:
    """Open whole results of the same case by the same version, if they are there."""
    try:
        results = Results(path)
    except StoreError:
        return None
    attributes = results.attrs
    same = attributes.get("input_hash") == input_hash(case) and attributes.get("program_version") == VERSION
    if same and results.complete:
        destination = Destination(path)
        if not destination.part.exists():
            destination.tidy()
            return results
    results.close()
    return None
