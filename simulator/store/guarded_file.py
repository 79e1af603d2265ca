"""A file for the file library that never fails inside it.

A write that fails inside the file library leaves it in a state in which closing the file, or ending the
program, can crash. So a failure is noted here and told when the library has returned; what is written after
it is dropped.
"""

from __future__ import annotations

import contextlib
import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["GuardedFile"]


class GuardedFile:
    """What the file library calls instead of the system.

    Parameters
    ----------
    path : Path
    fresh : bool
        Make the file, which must not be there; otherwise open it as it is.

    Attributes
    ----------
    failure : BaseException or None
        The first thing that went wrong.

    Raises
    ------
    OSError
        When the file cannot be made or opened.
    """

    def __init__(self, path: Path, *, fresh: bool) -> None:
        self._raw = path.open("x+b" if fresh else "r+b", buffering=0)
        self.failure: BaseException | None = None

    def check(self) -> None:
        """Raise what went wrong, if anything did."""
        if self.failure is not None:
            raise self.failure

    def sync(self) -> None:
        """Bring what was written to the disk."""
        os.fsync(self._raw.fileno())

    def close(self) -> None:
        """Let go of the file, whatever happened."""
        with contextlib.suppress(OSError):
            self._raw.close()

    def seek(self, place: int, origin: int = 0) -> int:
        """Go to a place; after a failure the places are as good as any."""
        try:
            return self._raw.seek(place, origin)
        except BaseException as error:  # noqa: BLE001
            self._note(error)
            return place

    def tell(self) -> int:
        """Return the place."""
        return self._raw.tell()

    def read(self, size: int = -1) -> bytes:
        """Read up to `size` bytes."""
        return self._raw.read(size) or b""

    def readinto(self, buffer: memoryview) -> int:
        """Fill a buffer; what is not there reads as zeros."""
        view = memoryview(buffer).cast("B")
        done = 0
        try:
            while done < len(view):
                count = self._raw.readinto(view[done:])
                if not count:
                    break
                done += count
        except BaseException as error:  # noqa: BLE001
            self._note(error)
        view[done:] = bytes(len(view) - done)
        return len(view)

    def write(self, content: memoryview) -> int:
        """Write all of it, or note why not."""
        view = memoryview(content).cast("B")
        done = 0
        try:
            while self.failure is None and done < len(view):
                done += self._raw.write(view[done:]) or 0
        except BaseException as error:  # noqa: BLE001
            self._note(error)
        return len(view)

    def truncate(self, size: int) -> int:
        """Cut or stretch the file."""
        try:
            if self.failure is None:
                self._raw.truncate(size)
        except BaseException as error:  # noqa: BLE001
            self._note(error)
        return size

    def flush(self) -> None:
        """Do nothing: nothing is held back."""

    def _note(self, error: BaseException) -> None:
        if self.failure is None:
            self.failure = error
