"""The state of an unfinished run, kept beside its unfinished results.

A checkpoint is written whole under another name, brought to the disk and then put in place, so that there is
always either the old one or the new one. It counts the rows that were on the disk before it was written.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import time
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.errors import StoreError
from simulator.store.archive import arrays_of
from simulator.store.destination import sync_folder
from simulator.store.provenance import identity

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.store.writer import ResultsWriter

__all__ = ["RunCheckpoints", "read_checkpoint", "write_checkpoint"]

SHORTEST_WAIT: Final = 2.0
"""Seconds between checkpoints."""
LARGEST_SHARE: Final = 0.03
"""Share of the run's time that checkpoints may take."""
_ABOUT: Final = "about"
_MARK: Final = b"ductfloor checkpoint 1\n"
_DIGEST_BYTES: Final = 32
_NAMES: Final = {
    "case": "the case file",
    "version": "the version of this program",
    "program": "the program's files",
    "section": "the section's numbers (libraries or machine)",
}


def write_checkpoint(path: Path, about: Mapping[str, Any], arrays: Mapping[str, NDArray[Any]]) -> None:
    """Put a checkpoint in place, all of it or nothing.

    Raises
    ------
    OSError
        When the system refuses; a checkpoint that was there is still there.
    """
    buffer = io.BytesIO()
    named: dict[str, Any] = {_ABOUT: np.array(json.dumps(about)), **arrays}
    np.savez(buffer, allow_pickle=False, **named)
    content = buffer.getbuffer()
    fresh = path.with_name(path.name + ".new")
    try:
        with fresh.open("wb") as file:
            file.write(_MARK)
            file.write(hashlib.sha256(content).digest())
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise
    sync_folder(path.parent)


def read_checkpoint(path: Path) -> tuple[dict[str, Any], dict[str, NDArray[Any]]]:
    """Read what `write_checkpoint` wrote.

    Raises
    ------
    StoreError
        When the file is not a whole checkpoint.
    """
    fix = "start the run anew with --no-resume"
    try:
        content = path.read_bytes()
    except OSError as error:
        raise StoreError(f"cannot be read: {error.strerror or error}", path=path, fix=fix) from error
    body = content[len(_MARK) + _DIGEST_BYTES :]
    digest = content[len(_MARK) : len(_MARK) + _DIGEST_BYTES]
    if not content.startswith(_MARK) or hashlib.sha256(body).digest() != digest:
        raise StoreError("is damaged", path=path, fix=fix)
    try:
        arrays = arrays_of(io.BytesIO(body), len(body))
        about = json.loads(str(arrays.pop(_ABOUT)))
    except Exception as error:  # whatever a made-up file makes the library raise
        raise StoreError("is damaged", path=path, fix=fix) from error
    if not isinstance(about, dict):
        raise StoreError("is damaged", path=path, fix=fix)
    return about, arrays


class RunCheckpoints:
    """Keeps the state of a run beside the results that its writer writes.

    Parameters
    ----------
    case : Case
    writer : ResultsWriter
        Writes into a file.
    resume : bool or None
        True: an unfinished run must fit, if there is one. None: where it does not, the run starts anew.
        False: it always starts anew.
    say : callable
        Told in one line what is done about an unfinished run.
    """

    def __init__(
        self,
        case: Case,
        writer: ResultsWriter,
        *,
        resume: bool | None = None,
        say: Callable[[str], None] | None = None,
    ) -> None:
        self._case, self._writer, self._resume = case, writer, resume
        self._say = say or (lambda _: None)
        self._identity: dict[str, Any] = {}
        self._next = float("inf")

    def begin(self, section: str) -> Mapping[str, NDArray[Any]] | None:
        """Return the arrays of the unfinished run to go on with, or None to start at the beginning.

        Raises
        ------
        StoreError
            When an unfinished run has to be gone on with and cannot, or another run is writing.
        """
        destination = self._writer.take_destination()
        self._identity = {**identity(self._case), "section": section}
        self._next = time.monotonic() + SHORTEST_WAIT
        if self._resume is False:
            return None
        if not (destination.checkpoint.is_file() and destination.part.is_file()):
            if self._resume:
                self._say("there is no unfinished run to go on with; starting at the beginning")
            return None
        try:
            about, arrays = read_checkpoint(destination.checkpoint)
            self._compare(about.get("identity"), destination.checkpoint)
            self._writer.go_on(arrays)
        except StoreError as error:
            if self._resume:
                raise
            self._say(f"the unfinished run is not gone on with: {error.problem}; starting at the beginning")
            return None
        self._say(f"going on with the unfinished run, {_share(about)} done")
        return arrays

    def due(self) -> bool:
        """See run.checkpoint.Checkpoints."""
        return time.monotonic() >= self._next

    def save(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """See run.checkpoint.Checkpoints.

        A checkpoint that cannot be written costs only itself: the run goes on, and the one before stays.
        """
        began = time.monotonic()
        about = {"identity": self._identity, "rows": self._writer.progress()}
        kept = {**arrays, **self._writer.secure()}
        with contextlib.suppress(OSError):
            write_checkpoint(self._writer.take_destination().checkpoint, about, kept)
            self._writer.resumable = True
        now = time.monotonic()
        self._next = now + max(SHORTEST_WAIT, (now - began) / LARGEST_SHARE)

    def _compare(self, kept: Any, path: Path) -> None:
        if not isinstance(kept, dict):
            raise StoreError("is damaged", path=path, fix="start the run anew with --no-resume")
        changed = [_NAMES[name] for name in _NAMES if kept.get(name) != self._identity[name]]
        files = kept.get("files")
        before = files if isinstance(files, dict) else {}
        now = self._identity["files"]
        changed += [f"'{name}'" for name in sorted(before.keys() | now.keys())
                    if before.get(name) != now.get(name)]  # fmt: skip
        if changed:
            problem = f"changed since the unfinished run began: {', '.join(changed)}"
            fix = "put back what it began with, or start anew with --no-resume"
            raise StoreError(problem, path=path, fix=fix)


def _share(about: Mapping[str, Any]) -> str:
    try:
        done, rows = about["rows"]
        return f"{100.0 * float(done) / float(rows):.0f} %"
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return "partly"
