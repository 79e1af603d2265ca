"""Results that a stopped run left behind: how much of them counts, and taking that over into a fresh file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import h5py
import numpy as np

from simulator.errors import StoreError
from simulator.store.blocks import copy_chunks

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from simulator.store.blocks import SeriesBlock

__all__ = ["check_counts", "copy_rows", "pack", "unpack"]

ROW_COUNTS: Final = ("rows_written", "field_rows_written")
_COUNTS: Final = "writer.counts"
_ROWS: Final = "writer.rows."
_FIX: Final = "start the run anew with --no-resume"


def pack(counts: tuple[int, int, int], block: SeriesBlock) -> dict[str, Any]:
    """Arrays that say what of a run is in its file, and what is not yet.

    Parameters
    ----------
    counts : tuple of int
        Rows taken, rows in the file, maps in the file.
    block : SeriesBlock
        Rows that are not in the file yet.
    """
    rows = {f"{_ROWS}{name}": values for name, values in block.snapshot().items()}
    return {_COUNTS: np.array(counts, dtype=np.int64), **rows}


def unpack(arrays: Mapping[str, Any], block: SeriesBlock) -> tuple[int, int, int]:
    """Fill a block from what `pack` gave, and return the counts.

    Raises
    ------
    StoreError
        When the rows do not fit.
    """
    block.restore({name[len(_ROWS) :]: rows for name, rows in arrays.items() if name.startswith(_ROWS)})
    taken, in_file, maps = _counts(arrays) or (-1, -1, -1)
    if taken < 0 or taken != in_file + block.filled:
        raise StoreError("the unfinished run does not fit together", fix=_FIX)
    return taken, in_file, maps


def check_counts(part: Path, arrays: Mapping[str, Any]) -> None:
    """See that an unfinished file holds what a checkpoint counts.

    Raises
    ------
    StoreError
        When it does not, or cannot be read.
    """
    try:
        with h5py.File(part, "r") as file:
            held = [int(file[name][()]) for name in ROW_COUNTS]
    except (OSError, KeyError, RuntimeError, TypeError, ValueError) as error:
        raise StoreError("is damaged", path=part, fix=_FIX) from error
    counts = _counts(arrays)
    if counts is None or held[0] < counts[1] or held[1] < counts[2]:
        raise StoreError("holds less than its checkpoint says", path=part, fix=_FIX)


def _counts(arrays: Mapping[str, Any]) -> tuple[int, int, int] | None:
    """Rows taken, rows in the file and maps in the file; None where a checkpoint does not say them."""
    counts = arrays.get(_COUNTS)
    if counts is None or counts.shape != (3,) or counts.dtype.kind != "i" or (counts < 0).any():
        return None
    taken, in_file, maps = (int(count) for count in counts)
    return taken, in_file, maps


def copy_rows(part: Path, wanted: Iterable[tuple[Mapping[str, Any], int]]) -> None:
    """Copy first rows out of an unfinished file.

    Going on inside a file whose writer was killed would trust its record of what space is free.

    Parameters
    ----------
    part : Path
    wanted : iterable of (mapping of str to h5py.Dataset, int)
        Datasets to fill, by name, and how many rows of each.

    Raises
    ------
    StoreError
        When the file is damaged or laid out otherwise.
    """
    try:
        with h5py.File(part, "r") as file:
            for datasets, rows in wanted:
                for name, dataset in datasets.items():
                    copy_chunks(file[name], dataset, rows)
    except (KeyError, ValueError) as error:
        raise StoreError(f"does not fit this case: {error}", path=part, fix=_FIX) from error
    except (OSError, RuntimeError) as error:
        raise StoreError("is damaged", path=part, fix=_FIX) from error
