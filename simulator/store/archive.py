"""Named arrays out of an archive, as `numpy.savez` writes them: stored, never packed."""

from __future__ import annotations

import zipfile
from typing import IO, TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["arrays_of"]


def arrays_of(file: IO[bytes], size: int) -> dict[str, NDArray[Any]]:
    """Read an archive.

    Parameters
    ----------
    file : binary file
        That can be sought.
    size : int
        Its length [bytes].

    Returns
    -------
    dict of str to ndarray

    Raises
    ------
    Exception
        Of many kinds, when the file is no such archive. A packed one is refused unread: a few bytes of
        it can stand for gigabytes.
    """
    with zipfile.ZipFile(file) as archive:
        entries = archive.infolist()
    if any(entry.compress_type != zipfile.ZIP_STORED for entry in entries):
        message = "the archive is packed"
        raise ValueError(message)
    if sum(entry.file_size for entry in entries) > size:
        message = "the archive claims to hold more than it does"
        raise ValueError(message)
    file.seek(0)
    with np.load(file, allow_pickle=False) as kept:
        return {name: kept[name] for name in kept.files}
