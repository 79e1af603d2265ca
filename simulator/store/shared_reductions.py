"""Kept reductions for many runs at once: one process reduces a section, the others wait for it."""

from __future__ import annotations

import os
import platform
import time
from collections import OrderedDict
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.store.kept_reductions import KeptReductions

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

__all__ = ["SharedReductions"]

IN_MEMORY: Final = 3
"""Reductions that a process holds, so that runs of one section after another need not read them."""
LONGEST_WAIT: Final = 120.0
"""Seconds after which a process no longer believes that another one is still at work."""
LOOK_EVERY: Final = 0.02


class SharedReductions:
    """Keeper of reductions for several processes.

    Parameters
    ----------
    folder : Path, optional
        Of the marks that say which section is being reduced; default: that of the reductions.
    kept : KeptReductions, optional
        Where they are kept.

    Attributes
    ----------
    reused : int
        Reductions handed out.
    made : int
        Reductions taken in.
    """

    def __init__(self, kept: KeptReductions | None = None, folder: Path | None = None) -> None:
        self._kept = KeptReductions() if kept is None else kept
        self._folder = folder
        self._memory: OrderedDict[str, Mapping[str, NDArray[np.float64]]] = OrderedDict()
        self._marks: dict[str, Path] = {}
        self.reused = self.made = 0

    def get(self, fingerprint: str) -> dict[str, NDArray[np.float64]] | None:
        """Return the arrays kept under a fingerprint; None when the caller is the one to make them."""
        if fingerprint in self._memory:
            self._memory.move_to_end(fingerprint)
            self.reused += 1
            return dict(self._memory[fingerprint])
        waited = time.monotonic() + LONGEST_WAIT
        while True:
            found = self._kept.get(fingerprint)
            if found is not None:
                self._remember(fingerprint, found)
                self.reused += 1
                return found
            if self._claim(fingerprint) or time.monotonic() > waited:
                return None
            time.sleep(LOOK_EVERY)

    def put(self, fingerprint: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        """Keep arrays under a fingerprint."""
        self._remember(fingerprint, arrays)
        self.made += 1
        self._kept.put(fingerprint, arrays)
        self.release()

    def release(self) -> None:
        """Take away the marks of this process, also of reductions that came to nothing."""
        for mark in self._marks.values():
            with suppress(OSError):
                mark.unlink()
        self._marks.clear()

    def _remember(self, fingerprint: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        self._memory[fingerprint] = arrays
        while len(self._memory) > IN_MEMORY:
            self._memory.popitem(last=False)

    def _claim(self, fingerprint: str) -> bool:
        """Mark a section as being reduced here; False when another process has marked it lately."""
        folder = self._folder if self._folder is not None else self._kept.folder()
        if folder is None:
            return True
        mark = folder / f"{fingerprint}.making"
        try:
            with mark.open("x", encoding="utf-8") as file:
                file.write(f"{platform.node()} {os.getpid()}")
        except FileExistsError:
            with suppress(OSError):
                if time.time() - mark.stat().st_mtime > LONGEST_WAIT or _left_behind(mark):
                    mark.unlink()
            return False
        except OSError:
            return True
        self._marks[fingerprint] = mark
        return True


def _left_behind(mark: Path) -> bool:
    """Whether the process that made a mark is no more."""
    node, _, number = mark.read_text(encoding="utf-8").rpartition(" ")
    if os.name != "posix" or node != platform.node() or not number.isdigit():
        return False
    try:
        os.kill(int(number), 0)
    except ProcessLookupError:
        return True
    except OSError:
        return False
    return False
