"""Where a results file goes: refused early when it cannot go there, moved into place only when whole."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from pathlib import Path

import h5py

from simulator.errors import StoreError

__all__ = ["Destination", "readable_size"]

_SPARE_BYTES = 16 * 2**20


class Destination:
    """A results file to be, and the unfinished file beside it.

    Parameters
    ----------
    path : Path or str
        Where the results shall be in the end. The unfinished file has the same name with `.part` added.
    overwrite : bool
        Whether results that are already there may be replaced, once the new ones are whole.

    Raises
    ------
    StoreError
        When nothing can be written there, or something is there that is not a results file.
    """

    def __init__(self, path: Path | str, *, overwrite: bool = True) -> None:
        self.path = Path(path)
        try:
            self._check(overwrite)
            self._target = Path(os.path.realpath(self.path))
            self.part = self._target.with_name(self._target.name + ".part")
            self.part.exists()  # raises when the longer name is too long
        except (OSError, ValueError) as error:
            # ValueError: the name holds a null character
            raise self._error(f"no file can go there: {_reason(error)}", "choose another name") from error

    def _check(self, overwrite: bool) -> None:
        # stat() and not is_dir() first: it tells names that no file can have
        with contextlib.suppress(FileNotFoundError, NotADirectoryError):
            self.path.stat()
        if self.path.is_dir():
            raise self._error("is a folder, not a file", "add a file name")
        folder = Path(os.path.realpath(self.path)).parent
        if not folder.is_dir():
            raise self._error(f"the folder '{folder}' does not exist", "make it or choose another place")
        if not os.access(folder, os.W_OK | os.X_OK):
            raise self._error(f"the folder '{folder}' does not allow writing", "choose another place")
        if not self.path.exists():
            return
        if not self.path.is_file():
            raise self._error("is a device, not a file", "choose another name")
        if not overwrite:
            raise self._error("exists already", "choose another name, or allow it to be replaced")
        if self.path.stat().st_size > 0 and not h5py.is_hdf5(self.path):
            raise self._error("exists and is not a results file, so it is left alone", "choose another name")

    def claim(self) -> None:
        """Clear away an unfinished file that a run which was killed left behind.

        Raises
        ------
        StoreError
            When another run is writing it.
        """
        if not self.part.exists():
            return
        if not self.part.is_file():
            raise self._error(f"'{self.part.name}' is in the way", "move it or choose another name")
        try:
            h5py.File(self.part, "r+").close()
        except OSError as error:
            if error.errno in {errno.EAGAIN, errno.EACCES, errno.EWOULDBLOCK}:
                problem = f"another run is writing '{self.part.name}'"
                raise self._error(problem, "wait for it or choose another name") from error
        try:
            self.part.unlink()
        except OSError as error:
            raise self._error(f"'{self.part.name}' cannot be removed: {_reason(error)}", None) from error

    def check_space(self, needed: int, *, at_start: bool = False) -> None:
        """See whether the disk holds what is about to be written.

        A full disk found by the file library itself can bring the whole interpreter down, so it is looked
        for beforehand.

        Parameters
        ----------
        needed : int
            Bytes still to write.
        at_start : bool
            Whether `needed` is the estimate for the whole file.

        Raises
        ------
        StoreError
        """
        free = shutil.disk_usage(self.part.parent).free
        if free >= needed + _SPARE_BYTES:
            return
        if at_start:
            problem = f"needs about {readable_size(needed)}, but only {readable_size(free)} are free"
            fix = "free some space, choose another disk, or make output.interval or output.fields longer"
        else:
            problem = f"the disk is full: only {readable_size(free)} are free"
            fix = "free some space and run again"
        raise self._error(problem, fix)

    def move_into_place(self) -> None:
        """Put the unfinished file, now whole and closed, where the results belong.

        Raises
        ------
        StoreError
            When the system refuses; results that were there before are still there.
        """
        try:
            with self.part.open("rb+") as whole:
                os.fsync(whole.fileno())
            self.part.replace(self._target)
        except OSError as error:
            raise self._error(f"cannot be put there: {_reason(error)}", "choose another name") from error

    def discard(self) -> None:
        """Remove the unfinished file, if there is one."""
        with contextlib.suppress(OSError):
            self.part.unlink()

    def _error(self, problem: str, fix: str | None) -> StoreError:
        return StoreError(problem, path=str(self.path), fix=fix)


def readable_size(count: float) -> str:
    """Say a number of bytes in words, for example '1.4 GB'."""
    for unit in ("bytes", "kB", "MB", "GB"):
        if count < 1000.0:
            return f"{count:.0f} {unit}" if unit == "bytes" else f"{count:.1f} {unit}"
        count /= 1000.0
    return f"{count:.1f} TB"


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
