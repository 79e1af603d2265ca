"""Reductions kept on disk, so that no section is reduced twice; and the triangles of its mesh likewise.

One file per section, named by a fingerprint of everything the reduction was made from; the folder is named by
a fingerprint of the program's section sources, so that another version never meets them. A cache only:
whatever is wrong with a file, it is as if it were not there.
"""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from simulator.compiled import cache_homes
from simulator.store.archive import arrays_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

MOST_FILES = 40
LARGEST_FILE = 200e6
"""Bytes over which a reduction is not worth keeping."""


@cache
def source_fingerprint() -> str:
    """Sixteen letters that change with every source of the section folder."""
    digest = hashlib.sha256()
    for source in sorted((Path(__file__).parent.parent / "section").glob("*.py")):
        digest.update(source.name.encode())
        digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


class KeptReductions:
    """A folder of reductions.

    Parameters
    ----------
    folder : Path, optional
        Default: in the user's cache folder.
    kind : str
        A plain word: what is kept.
    """

    def __init__(self, folder: Path | None = None, kind: str = "reductions") -> None:
        self._chosen = folder
        self._kind = kind

    def folder(self) -> Path | None:
        """Folder that can be written, or None."""
        homes = [self._chosen] if self._chosen is not None else [home / "ductfloor" for home in cache_homes()]
        for home in homes:
            folder = home / f"{self._kind}-{source_fingerprint()}"
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError:
                continue
            if os.access(folder, os.W_OK):
                return folder
        return None

    def get(self, fingerprint: str) -> dict[str, NDArray[np.float64]] | None:
        """Return the arrays kept under a fingerprint, or None."""
        folder = self.folder()
        if folder is None:
            return None
        path = folder / f"{fingerprint}.npz"
        # A torn or foreign file raises one of many errors; none of them matters.
        with suppress(Exception):
            size = path.stat().st_size
            if path.is_file() and size <= 2 * LARGEST_FILE:
                with path.open("rb") as file:
                    kept = arrays_of(file, size)
                arrays = {name: np.asarray(array, dtype=np.float64) for name, array in kept.items()}
                os.utime(path)
                return arrays
        return None

    def put(self, fingerprint: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        """Keep arrays under a fingerprint; forget the ones longest unused when there are many."""
        folder = self.folder()
        if folder is None or sum(array.nbytes for array in arrays.values()) > LARGEST_FILE:
            return
        part = folder / f"{fingerprint}.{os.getpid()}.part.npz"
        try:
            np.savez(part, allow_pickle=False, **arrays)
            part.replace(folder / f"{fingerprint}.npz")
        except OSError:
            with suppress(OSError):
                part.unlink()
            return
        with suppress(OSError):
            files = sorted(folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
            for old in files[MOST_FILES:]:
                old.unlink()
