"""One run at a time for one results file, by a lock file that cannot go stale.

The system lets go of the lock when the process ends, however it ends; a file that a killed run left behind is
simply taken over.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from typing import TYPE_CHECKING, Final

from simulator.errors import BusyError

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["RunLock"]

_TRIES: Final = 20
_TAKEN: Final = {errno.EAGAIN, errno.EACCES, errno.EWOULDBLOCK}


class RunLock:
    """A lock beside a results file.

    Parameters
    ----------
    path : Path
        Lock file; made when needed, removed when let go.
    results : str
        Results file to name in messages.
    """

    def __init__(self, path: Path, results: str) -> None:
        self.path = path
        self._results = results
        self._handle: int | None = None

    def take(self) -> None:
        """Take the lock; nothing happens when it is held already by this object.

        Raises
        ------
        BusyError
            When another run holds it.
        OSError
            When the lock file cannot be made.
        """
        if self._handle is not None:
            return
        for _ in range(_TRIES):
            flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
            handle = os.open(self.path, flags, 0o666)
            try:
                held = _hold(handle)
                if not held:
                    raise self._busy(handle)
                if _is_still(handle, self.path):
                    os.ftruncate(handle, 0)
                    os.write(handle, f"run {os.getpid()} is writing this\n".encode())
                    self._handle, handle = handle, -1
                    return
            finally:
                if handle >= 0:
                    os.close(handle)
        raise self._busy(None)

    def release(self) -> None:
        """Let go, and remove the lock file."""
        if self._handle is None:
            return
        # Removed while still held, so that nobody's lock but ours can be meant.
        with contextlib.suppress(OSError):
            self.path.unlink()
        with contextlib.suppress(OSError):
            os.close(self._handle)
        self._handle = None

    def _busy(self, handle: int | None) -> BusyError:
        who = ""
        if handle is not None:
            with contextlib.suppress(OSError):
                text = os.pread(handle, 60, 0).decode("ascii", "replace")
                who = text.strip().removesuffix(" is writing this")
        problem = f"another run is writing it{f' ({who})' if who.startswith('run ') else ''}"
        return BusyError(problem, path=self._results, fix="wait for it or choose another name")


def _is_still(handle: int, path: Path) -> bool:
    """Whether the path still leads to the file that was opened: its last holder may have removed it since."""
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except OSError:
        return False


if sys.platform == "win32":

    def _hold(handle: int) -> bool:
        import msvcrt  # noqa: PLC0415

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:

    def _hold(handle: int) -> bool:
        import fcntl  # noqa: PLC0415

        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            # Some network folders know no locks: the file library's own lock is then what there is.
            return error.errno not in _TAKEN
        return True
