"""Where a results file goes: refused early when it cannot go there, moved into place only when whole."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

import h5py

from simulator.errors import NoRoomError, StoreError
from simulator.store.lock import RunLock

__all__ = ["Destination", "readable_size", "sync_folder"]

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
            self.checkpoint = self._beside(".checkpoint")
            self.copy = self._beside(".part.copy")
            self._lock = RunLock(self._beside(".lock"), str(self.path))
            self._beside(".checkpoint.new").exists()  # raises when the longest name is too long
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

    def _beside(self, ending: str) -> Path:
        return self._target.with_name(self._target.name + ending)

    @property
    def _belongings(self) -> tuple[Path, ...]:
        """What lies beside an unfinished file; its lock apart."""
        return self.checkpoint, self._beside(".checkpoint.new"), self.copy

    def take(self) -> None:
        """Keep other runs away from this file until `release`.

        Raises
        ------
        BusyError
            When another run is writing it.
        StoreError
            When the folder does not let anything be made.
        """
        try:
            self._lock.take()
        except OSError as error:
            problem = f"nothing can be written there: {_reason(error)}"
            raise self._error(problem, "choose another place") from error

    def release(self) -> None:
        """Let other runs in."""
        self._lock.release()

    def claim(self) -> None:
        """Clear away what an unfinished run that was killed left behind.

        Raises
        ------
        StoreError
            When another run is writing it.
        """
        self.take()
        self._clear(*self._belongings)
        if not self.part.exists():
            return
        if not self.part.is_file():
            raise self._error(f"'{self.part.name}' is in the way", "move it or choose another name")
        self._clear(self.part)

    def _clear(self, *paths: Path) -> None:
        for path in paths:
            try:
                path.unlink(missing_ok=True)
            except OSError as error:
                raise self._error(f"'{path.name}' cannot be removed: {_reason(error)}", None) from error

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
        raise NoRoomError(problem, path=str(self.path), fix=fix)

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
            problem, fix = f"cannot be put there: {_reason(error)}", "choose another name"
            raise NoRoomError(problem, path=str(self.path), fix=fix) from error
        sync_folder(self._target.parent)

    def move_copy(self) -> None:
        """Let the copy of an unfinished file, closed, take its place.

        Raises
        ------
        OSError
            When the system refuses; the unfinished file is still there.
        """
        with self.copy.open("rb+") as whole:
            os.fsync(whole.fileno())
        self.copy.replace(self.part)
        sync_folder(self.part.parent)

    def discard(self, *, finished: bool = False) -> None:
        """Remove the unfinished file and what belongs to it, as far as they are there; let other runs in."""
        for path in (*self._belongings, *([] if finished else [self.part])):
            with contextlib.suppress(OSError):
                path.unlink()
        self.release()

    def tidy(self) -> None:
        """Remove what a run left that was killed after its results were in place, unless one is at work."""
        if any(path.exists() for path in (*self._belongings, self._lock.path)):
            with contextlib.suppress(StoreError):
                self.take()
                self.discard(finished=True)

    def _error(self, problem: str, fix: str | None) -> StoreError:
        return StoreError(problem, path=str(self.path), fix=fix)


def sync_folder(folder: Path) -> None:
    """Bring a change of names in a folder to the disk, on systems that can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def readable_size(count: float) -> str:
    """Say a number of bytes in words, for example '1.4 GB'."""
    for unit in ("bytes", "kB", "MB", "GB"):
        if count < 1000.0:
            return f"{count:.0f} {unit}" if unit == "bytes" else f"{count:.1f} {unit}"
        count /= 1000.0
    return f"{count:.1f} TB"


def _reason(error: OSError | ValueError) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
