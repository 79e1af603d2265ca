"""Rows gathered in memory and handed to the file as whole compressed chunks.

A chunk that holds rows is never touched again, so a file that was cut off is sound up to the last chunk that
counts, and writing costs a few microseconds a row.
"""

from __future__ import annotations

import sys
import zlib
from functools import lru_cache
from operator import itemgetter
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from simulator.errors import StoreError
from simulator.store.catalogue import KELVIN_AT_0_DEGC

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from simulator.run.observers import FloatArray
    from simulator.store.catalogue import Entry

__all__ = [
    "COMPRESSION_LEVEL",
    "PackedChunk",
    "SeriesBlock",
    "copy_chunks",
    "lay_out_chunks",
    "packed_chunk",
    "rounded_field",
    "rows_per_block",
    "write_packed",
]

COMPRESSION_LEVEL = 1
_STEPS_PER_KELVIN = 1024.0
_SMALLEST_BLOCK, _LARGEST_BLOCK = 64, 512
_LARGEST_BYTES = 4 * 2**20
_SCALARS = "scalars"
_WORTH_CHOOSING = 2**16
_PLANE_OF_MATCHES = 2 if sys.byteorder == "little" else 1
_ZLIB_HEADER = b"\x78\x01"


def rows_per_block(rows: int, largest_row_bytes: int) -> int:
    """Length of a chunk along time: long for speed, but a run has several and none is huge."""
    wanted = min(max(rows // 8, _SMALLEST_BLOCK), _LARGEST_BLOCK)
    return max(1, min(wanted, rows, _LARGEST_BYTES // max(largest_row_bytes, 1)))


class PackedChunk(NamedTuple):
    """A whole chunk as it lies in the file.

    Attributes
    ----------
    content : bytes
    rank : int
        Number of its dimensions.
    """

    content: bytes
    rank: int


def packed_chunk(chunk: np.ndarray[Any, Any]) -> PackedChunk:
    """Compress one whole chunk here rather than by the file library, which takes four times longer.

    Parameters
    ----------
    chunk : ndarray
        All of the chunk, also where it sticks out beyond the last row, in the numbers of the file.
    """
    return PackedChunk(_packed(np.ascontiguousarray(chunk)), chunk.ndim)


def write_packed(dataset: Any, row: int, chunk: PackedChunk) -> None:
    """Write one whole chunk.

    Parameters
    ----------
    dataset : h5py.Dataset
        Made with the shuffle and gzip filters, one chunk along every dimension but the first.
    row : int
        First row of the chunk.
    chunk : PackedChunk
    """
    dataset.id.write_direct_chunk((row,) + (0,) * (chunk.rank - 1), chunk.content)


def copy_chunks(source: Any, dataset: Any, rows: int) -> None:
    """Copy the chunks that hold the first rows from one dataset to another, as they are.

    Raises
    ------
    ValueError
        When the datasets are not laid out alike, or the source holds too little.
    """
    if (source.shape, source.dtype, source.chunks) != (dataset.shape, dataset.dtype, dataset.chunks):
        message = f"{dataset.name} is laid out otherwise"
        raise ValueError(message)
    others = (0,) * (dataset.ndim - 1)
    for row in range(0, rows, dataset.chunks[0]):
        _, chunk = source.id.read_direct_chunk((row, *others))
        dataset.id.write_direct_chunk((row, *others), chunk)


def lay_out_chunks(dataset: Any, rows: int, chunk: tuple[int, ...], dtype: str) -> None:
    """Give every chunk of so many rows its entry in the file's index, holding NaN.

    The index then keeps its shape during the run: later chunks change single entries of it. An index that
    still grows is unreadable, also in its older parts, when the run is killed while it is being written.
    """
    empty = _empty_chunk(chunk, dtype)
    for row in range(0, rows, chunk[0]):
        write_packed(dataset, row, empty)


@lru_cache(maxsize=8)
def _empty_chunk(shape: tuple[int, ...], dtype: str) -> PackedChunk:
    return packed_chunk(np.full(shape, np.nan, dtype=dtype))


def _packed(contiguous: np.ndarray[Any, Any]) -> bytes:
    """Shuffle bytes into planes as the file library does, and deflate them."""
    planes = contiguous.reshape(-1).view(np.uint8).reshape(-1, contiguous.itemsize).T
    if contiguous.nbytes < _WORTH_CHOOSING or contiguous.dtype != np.float32:
        return zlib.compress(planes.tobytes(), COMPRESSION_LEVEL)
    return _deflated_by_plane(np.ascontiguousarray(planes))


def _deflated_by_plane(planes: np.ndarray[Any, np.dtype[np.uint8]]) -> bytes:
    """One zlib stream of the planes of single-precision maps, each sought through as suits it.

    Neighbouring temperatures repeat themselves in the third plane only, where looking for matches pays; in
    the others runs of one value are nearly all there is to find. This takes two thirds of the time of looking
    everywhere; maps come out between a twentieth smaller and a sixth larger. A stream may be made in parts
    (RFC 1950 and 1951): header, blocks, Adler-32.
    """
    parts, check = [_ZLIB_HEADER], 1
    for number, plane in enumerate(planes):
        strategy = zlib.Z_DEFAULT_STRATEGY if number == _PLANE_OF_MATCHES else zlib.Z_RLE
        packer = zlib.compressobj(COMPRESSION_LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS, strategy=strategy)
        last = number == len(planes) - 1
        parts += [packer.compress(plane), packer.flush(zlib.Z_FINISH if last else zlib.Z_SYNC_FLUSH)]
        check = zlib.adler32(plane, check)
    return b"".join([*parts, check.to_bytes(4, "big")])


def rounded_field(field: FloatArray) -> np.ndarray[Any, np.dtype[np.float32]]:
    """Ground temperature for the file: degrees Celsius in steps of 1/1024 K, which packs twice as well.

    Parameters
    ----------
    field : (S, Z, Y) float [K]

    Returns
    -------
    (S, Z, Y) float32 [degC]
    """
    steps = field - KELVIN_AT_0_DEGC
    steps *= _STEPS_PER_KELVIN
    np.rint(steps, out=steps)
    # A power of two: rounding to single precision before or after it is the same.
    rounded = steps.astype(np.float32)
    rounded /= np.float32(_STEPS_PER_KELVIN)
    return rounded


class SeriesBlock:
    """The rows since the last chunk.

    Parameters
    ----------
    entries : sequence of Entry
        Series to gather.
    shapes : mapping of str to tuple of int
        Shape of one row of each.
    length : int
        Rows in a block.
    """

    def __init__(self, entries: Sequence[Entry], shapes: Mapping[str, tuple[int, ...]], length: int) -> None:
        self.length = length
        self.filled = 0
        self._scalars = [entry for entry in entries if not shapes[entry.name]]
        self._arrays = {entry.name: np.empty((length, *shapes[entry.name])) for entry in entries
                        if shapes[entry.name]}  # fmt: skip
        self._entries = {entry.name: entry for entry in entries}
        self._scalar_rows = np.empty((length, len(self._scalars)))
        self._pick_scalars = itemgetter(*(entry.name for entry in self._scalars))

    def add(self, values: Mapping[str, float | FloatArray]) -> None:
        """Take one row.

        Raises
        ------
        StoreError
            When a series is missing or has another shape than the catalogue says.
        """
        row = self.filled
        try:
            self._scalar_rows[row] = self._pick_scalars(values)
            for name, rows in self._arrays.items():
                value = values[name]
                if np.shape(value) != rows.shape[1:]:
                    message = f"{name} has shape {np.shape(value)}, not {rows.shape[1:]}"
                    raise ValueError(message)
                rows[row] = value
        except (KeyError, TypeError, ValueError) as error:
            raise self._explain(values, error) from error
        self.filled = row + 1

    def snapshot(self) -> dict[str, FloatArray]:
        """Rows gathered so far, for a run that goes on later."""
        rows = {name: values[: self.filled] for name, values in self._arrays.items()}
        return {**rows, _SCALARS: self._scalar_rows[: self.filled]}

    def restore(self, rows: Mapping[str, FloatArray]) -> None:
        """Take up what `snapshot` gave.

        Raises
        ------
        StoreError
            When the rows do not fit.
        """
        try:
            self.filled = len(rows[_SCALARS])
            self._scalar_rows[: self.filled] = rows[_SCALARS]
            for name, values in self._arrays.items():
                values[: self.filled] = rows[name]
        except (KeyError, TypeError, ValueError) as error:
            raise StoreError(f"the unfinished run does not fit this case: {error}") from error

    def add_rows(self, columns: Mapping[str, FloatArray], first: int, count: int) -> None:
        """Take `count` rows from row `first` of columns (n, ...); no more than there is room for.

        Raises
        ------
        StoreError
            When a series is missing or has another shape than the catalogue says.
        """
        here, there = slice(self.filled, self.filled + count), slice(first, first + count)
        try:
            for place, entry in enumerate(self._scalars):
                if columns[entry.name].ndim != 1:
                    message = f"{entry.name} is not one number"
                    raise ValueError(message)
                self._scalar_rows[here, place] = columns[entry.name][there]
            for name, rows in self._arrays.items():
                if columns[name].shape[1:] != rows.shape[1:]:
                    message = f"{name} has shape {columns[name].shape[1:]}, not {rows.shape[1:]}"
                    raise ValueError(message)
                rows[here] = columns[name][there]
        except (KeyError, TypeError, ValueError) as error:
            raise self._explain({name: column[0] for name, column in columns.items()}, error) from error
        self.filled += count

    def take(self) -> dict[str, FloatArray]:
        """Hand over the block in the units of the file, padded with NaN, and begin the next.

        Returns
        -------
        dict of str to (length, ...) float
        """
        self._scalar_rows[self.filled :] = np.nan
        columns = np.ascontiguousarray(self._scalar_rows.T)
        block: dict[str, FloatArray] = {
            entry.name: column for entry, column in zip(self._scalars, columns, strict=True)
        }
        for name, rows in self._arrays.items():
            rows[self.filled :] = np.nan
            block[name] = rows
        self.filled = 0
        return {
            name: rows - KELVIN_AT_0_DEGC if self._entries[name].is_temperature else rows.copy()
            for name, rows in block.items()
        }

    def _explain(self, values: Mapping[str, float | FloatArray], error: Exception) -> StoreError:
        missing = sorted(self._entries.keys() - values.keys())
        if missing:
            return StoreError(f"a row came without {', '.join(missing)}")
        for entry in self._scalars:
            if np.ndim(values[entry.name]):
                return StoreError(f"a row cannot be stored: {entry.name} is not one number")
        return StoreError(f"a row cannot be stored: {error}")
