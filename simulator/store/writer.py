"""Write a run into an HDF5 file while it goes on.

All dimensions have their final length from the start and the times are written up front; what counts is
`rows_written` and `field_rows_written`, raised only after the rows themselves are on their way to the disk.
"""

from __future__ import annotations

import contextlib
import time
import uuid
from typing import TYPE_CHECKING, Any

import h5py
import numpy as np
from h5py import h5ds

from simulator.errors import NoRoomError, StoreError
from simulator.store.blocks import (
    COMPRESSION_LEVEL,
    SeriesBlock,
    lay_out_chunks,
    rounded_field,
    rows_per_block,
)
from simulator.store.catalogue import (
    COORDINATES,
    FIELDS,
    KELVIN_AT_0_DEGC,
    PROGRAM,
    SCHEMA_VERSION,
    SERIES,
    STATIC,
)
from simulator.store.contents import coordinates_of, expected_bytes, series_of, static_of
from simulator.store.destination import Destination
from simulator.store.guarded_file import GuardedFile
from simulator.store.labels import label
from simulator.store.packing import Packer
from simulator.store.provenance import describe
from simulator.store.reader import Results
from simulator.store.unfinished import ROW_COUNTS, check_counts, copy_rows, pack, unpack

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping
    from pathlib import Path

    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray, Geometry, Moment, Rows
    from simulator.store.catalogue import Entry

__all__ = ["ResultsWriter"]

_SECONDS_BETWEEN_COMMITS = 1.0
# Old file format on purpose: the newer one needs a repair tool after a run was killed.
_OPTIONS: dict[str, Any] = {"libver": ("earliest", "v110")}


class ResultsWriter:
    """Observer that stores a run.

    Parameters
    ----------
    path : Path or str or None
        Results file; None keeps the results in memory.
    overwrite : bool
        Whether results that are already there may be replaced. They are, but only by a whole new file.

    Raises
    ------
    StoreError
        When nothing can be written there.
    """

    def __init__(self, path: Path | str | None, *, overwrite: bool = True) -> None:
        self._destination = None if path is None else Destination(path, overwrite=overwrite)
        self._file: Any = None
        self._guarded: GuardedFile | None = None
        self._results: Results | None = None
        self._unfinished: dict[str, Any] | None = None
        self._packer = Packer()
        self._owns = False
        self.resumable = False

    def start(self, case: Case, geometry: Geometry) -> None:
        """Make the file with all its dimensions, the times and everything that does not change.

        Raises
        ------
        StoreError
            When the disk is too full, or the file cannot be made.
        """
        attributes = describe(case)
        coordinates = coordinates_of(geometry)
        self._series_ticks = geometry.series_ticks.tolist()
        self._field_ticks = geometry.field_ticks.tolist()
        self._sizes = {name: values.size for name, values in coordinates.items()}
        if self._destination is not None:
            if self._unfinished is None:
                self._destination.claim()
            self._destination.check_space(expected_bytes(geometry), at_start=True)
        self._open()
        with self._explained():
            self._make_all(attributes, coordinates, geometry)

    def _make_all(
        self,
        attributes: Mapping[str, str],
        coordinates: Mapping[str, np.ndarray[Any, Any]],
        geometry: Geometry,
    ) -> None:
        for name, value in attributes.items():
            self._file.attrs[name] = value
        self._file.attrs.update(
            {"Conventions": "CF-1.10", "program": PROGRAM, "schema_version": SCHEMA_VERSION, "complete": 0}
        )
        self._scales: dict[str, Any] = {}
        self._make_coordinates(coordinates, attributes["start"])
        self._make_static(geometry)
        chosen = series_of(geometry)
        shapes = {name: self._shape(entry)[1:] for name, entry in chosen.items()}
        self._largest_row_bytes = 8 * max(int(np.prod(shape)) for shape in shapes.values())
        length = rows_per_block(len(self._series_ticks), self._largest_row_bytes)
        self._series = {entry.name: self._make_moving(entry, length) for entry in chosen.values()}
        self._fields = {
            entry.name: self._make_moving(entry, 1) for entry in FIELDS.values() if self._field_ticks
        }
        self._field_shapes = {name: dataset.shape[1:] for name, dataset in self._fields.items()}
        self._block = SeriesBlock(list(chosen.values()), shapes, length)
        self._rows = self._rows_in_file = self._field_rows = 0
        self._row_counts = [
            self._make_count("rows_written", "rows that can be trusted, counted from the first"),
            self._make_count("field_rows_written", "maps that can be trusted, counted from the first"),
        ]
        self._names_checked = False
        if self._unfinished is not None:
            self._take_over(self._unfinished)
        self._file.flush()
        self._last_commit = time.monotonic()

    def record(self, moment: Moment) -> None:
        """Take one row, and the ground when the moment carries it.

        Raises
        ------
        StoreError
            When the row is not the one expected next or does not fit the catalogue, or the disk is full.
        """
        if self._rows >= len(self._series_ticks) or moment.tick != self._series_ticks[self._rows]:
            message = f"row {self._rows} came for tick {moment.tick}, which is not the next one announced"
            raise StoreError(message)
        if not self._names_checked:
            self._check_names(moment.values.keys())
        self._block.add(moment.values)
        self._rows += 1
        if moment.field is not None:
            self._record_field(moment.tick, moment.values, moment.field)
        if self._block.filled == self._block.length:
            self._write_block()
        elif moment.field is None:
            return
        if time.monotonic() - self._last_commit > _SECONDS_BETWEEN_COMMITS:
            self._commit()

    def record_rows(self, rows: Rows) -> None:
        """Take the next rows, and the ground where they carry it.

        Raises
        ------
        StoreError
            When the rows are not those expected next or do not fit the catalogue, or the disk is full.
        """
        count = len(rows)
        expected = self._series_ticks[self._rows : self._rows + count]
        if rows.ticks.tolist() != expected:
            message = f"rows from row {self._rows} came for other ticks than those announced"
            raise StoreError(message)
        names = rows.names()
        if not self._names_checked:
            self._check_names(names)
        columns = {name: rows.values(name) for name in self._series if name in names}
        done = 0
        while done < count:
            taken = min(count - done, self._block.length - self._block.filled)
            self._block.add_rows(columns, done, taken)
            self._rows += taken
            for row in rows.with_field:
                if done <= row < done + taken:
                    surface, ground = rows.ground(row)
                    maps = {"floor_surface_temperature": surface}
                    self._record_field(int(rows.ticks[row]), maps, ground)
            done += taken
            if self._block.filled == self._block.length:
                self._write_block()
        if time.monotonic() - self._last_commit > _SECONDS_BETWEEN_COMMITS:
            self._commit()

    def finish(self, summary: Mapping[str, Any]) -> None:
        """Write what is left and put the file in its place.

        Raises
        ------
        StoreError
            When rows are missing or the file cannot be put there.
        """
        if self._rows != len(self._series_ticks) or self._field_rows != len(self._field_ticks):
            message = (
                f"the run ended after {self._rows} of {len(self._series_ticks)} rows "
                f"and {self._field_rows} of {len(self._field_ticks)} maps"
            )
            raise StoreError(message)
        if self._block.filled:
            self._write_block()
        with self._explained():
            self._commit()
            self._packer.close()
            for name, value in summary.items():
                self._file.attrs[f"summary_{name}"] = _attribute(value)
            self._file.attrs["complete"] = 1
            self._file.flush()
        if self._destination is None:
            self._results, self._file = Results(self._file), None
            return
        with self._explained():
            self._close()
        self._file = None
        self._destination.move_into_place()
        self.resumable = False
        self._destination.discard(finished=True)

    def abort(self) -> None:
        """Close and, unless it is resumable, remove the unfinished file; earlier results stay."""
        self._packer.close()
        if self._file is not None:
            with contextlib.suppress(RuntimeError, OSError, ValueError):
                self._close()
            self._file = None
        if self._destination is None:
            return
        if self._owns and not self.resumable:
            self._destination.discard()
        self._destination.release()

    def take_destination(self) -> Destination:
        """Keep other runs away and say where the results go.

        Raises
        ------
        StoreError
            When the results are kept in memory, or another run is writing them.
        """
        if self._destination is None:
            message = "results in memory have no place"
            raise StoreError(message)
        self._destination.take()
        return self._destination

    def go_on(self, arrays: Mapping[str, Any]) -> None:
        """Be ready to go on, from `start` on, where `secure` gave these arrays.

        Raises
        ------
        StoreError
            When the unfinished file does not hold what they count.
        """
        check_counts(self.take_destination().part, arrays)
        self._unfinished = dict(arrays)
        self.resumable = True

    def progress(self) -> tuple[int, int]:
        """Rows taken, and rows there will be."""
        return self._rows, len(self._series_ticks)

    def secure(self) -> dict[str, Any]:
        """Bring the file to the disk and give what is not in it yet.

        Returns
        -------
        dict of str to ndarray
            To be handed to `go_on` by a later run.

        Raises
        ------
        StoreError
            When the file cannot be written.
        """
        self._commit()
        return pack((self._rows, self._rows_in_file, self._field_rows), self._block)

    def _take_over(self, arrays: Mapping[str, Any]) -> None:
        """Copy the rows that count out of the unfinished file, and let the copy take its place."""
        destination = self.take_destination()
        self._rows, self._rows_in_file, self._field_rows = unpack(arrays, self._block)
        copy_rows(destination.part, ((self._series, self._rows_in_file), (self._fields, self._field_rows)))
        with self._explained():
            self._commit()
            self._close()
            destination.move_copy()
            self._owns = True
            self._guarded = GuardedFile(destination.part, fresh=False)
            self._file = h5py.File(self._guarded, "r+", **_OPTIONS)
        self._series = {name: self._file[name] for name in self._series}
        self._fields = {name: self._file[name] for name in self._fields}
        self._row_counts = [self._file[name] for name in ROW_COUNTS]

    def results(self) -> Results:
        """Open the finished results.

        Raises
        ------
        StoreError
            When the run did not finish.
        """
        if self._results is not None:
            return self._results
        if self._destination is None or self._file is not None:
            message = "the run did not finish, so there are no results"
            raise StoreError(message)
        return Results(self._destination.path, own=True)

    def _open(self) -> None:
        if self._destination is None:
            name = f"results-{uuid.uuid4().hex}"
            memory: dict[str, Any] = {"driver": "core", "backing_store": False}
            self._file = h5py.File(name, "w", track_order=True, **memory, **_OPTIONS)
            return
        try:
            if self._unfinished is not None:
                self._destination.copy.unlink(missing_ok=True)
            path = self._destination.part if self._unfinished is None else self._destination.copy
            self._guarded = GuardedFile(path, fresh=True)
            self._file = h5py.File(self._guarded, "w", track_order=True, **_OPTIONS)
            self._owns = self._unfinished is None
        except OSError as error:
            problem = f"cannot be written: {error.strerror or error}"
            raise StoreError(problem, path=str(self._destination.path), fix="choose another place") from error

    def _shape(self, entry: Entry) -> tuple[int, ...]:
        return tuple(self._sizes[name] for name in entry.dims)

    def _make_coordinates(self, coordinates: Mapping[str, np.ndarray[Any, Any]], start: str) -> None:
        for name, values in coordinates.items():
            if not values.size and name not in {"time", "field_time"}:
                continue
            entry = COORDINATES[name]
            dataset = self._file.create_dataset(name, data=values, dtype=f"<{entry.dtype}")
            dataset.make_scale(name)
            self._scales[name] = dataset.id
            label(dataset, entry)
            if name in {"time", "field_time"}:
                dataset.attrs["units"] = f"seconds since {start.replace('T', ' ')}"
                dataset.attrs["calendar"] = "standard"

    def _make_static(self, geometry: Geometry) -> None:
        values = static_of(geometry)
        for name, entry in STATIC.items():
            if not np.size(values[name]):
                continue
            dataset = self._file.create_dataset(name, data=values[name], dtype=f"<{entry.dtype}")
            self._describe(dataset, entry)
        self._file["section_material"].attrs["material_names"] = list(geometry.material_names)
        if geometry.branch_names:
            self._file["branch_ducts"].attrs["branch_names"] = list(geometry.branch_names)
        for dim, names in geometry.names.items():
            if names:
                self._file[dim].attrs["names"] = list(names)
        for name in ("duct_radius", "building_half_width", "floor_thickness"):
            self._file.attrs[f"{name}_m"] = float(getattr(geometry, name))

    def _make_moving(self, entry: Entry, length: int) -> Any:
        shape = self._shape(entry)
        dtype, chunk = f"<{entry.dtype}", (length, *shape[1:])
        dataset = self._file.create_dataset(
            entry.name, shape, dtype, chunks=chunk, fillvalue=np.nan,
            shuffle=True, compression="gzip", compression_opts=COMPRESSION_LEVEL,
        )  # fmt: skip
        self._describe(dataset, entry)
        lay_out_chunks(dataset, shape[0], chunk, dtype)
        return dataset

    def _make_count(self, name: str, long_name: str) -> Any:
        dataset = self._file.create_dataset(name, data=np.int64(0), dtype="<i8")
        dataset.attrs.update({"units": "1", "long_name": long_name})
        return dataset

    def _describe(self, dataset: Any, entry: Entry) -> None:
        for axis, name in enumerate(entry.dims):
            h5ds.attach_scale(dataset.id, self._scales[name], axis)
        label(dataset, entry)

    def _check_names(self, names: Collection[str]) -> None:
        unknown = sorted(set(names) - SERIES.keys() - {"floor_surface_temperature"})
        if unknown:
            message = f"the catalogue has no series called {', '.join(unknown)}"
            raise StoreError(message)
        self._names_checked = True

    def _record_field(self, tick: int, values: Mapping[str, float | FloatArray], ground: FloatArray) -> None:
        row = self._field_rows
        if row >= len(self._field_ticks) or tick != self._field_ticks[row]:
            message = f"map {row} came for tick {tick}, which is not the next one announced"
            raise StoreError(message)
        if "floor_surface_temperature" not in values:
            message = "a map came without floor_surface_temperature"
            raise StoreError(message)
        surface = np.asarray(values["floor_surface_temperature"]) - KELVIN_AT_0_DEGC
        for name, field in {"floor_surface_temperature": surface, "ground_temperature": ground}.items():
            if field.shape != self._field_shapes[name]:
                message = f"{name} has shape {field.shape}, not {self._field_shapes[name]}"
                raise StoreError(message)
        self._check_space(surface.nbytes + ground.nbytes)
        maps = [self._fields["floor_surface_temperature"], self._fields["ground_temperature"]]

        def chunks() -> list[np.ndarray[Any, Any]]:
            return [surface[np.newaxis], rounded_field(ground)[np.newaxis]]

        with self._explained():
            self._packer.put(maps, row, chunks, surface.nbytes + ground.nbytes)
        self._field_rows = row + 1

    def _write_block(self) -> None:
        filled = self._block.filled
        self._check_space(self._block.length * self._largest_row_bytes * len(self._series))
        block = self._block.take()

        def chunks() -> list[np.ndarray[Any, Any]]:
            return [rows.astype(f"<{SERIES[name].dtype}", copy=False) for name, rows in block.items()]

        datasets = [self._series[name] for name in block]
        size = sum(rows.nbytes for rows in block.values())
        with self._explained():
            self._packer.put(datasets, self._rows_in_file, chunks, size)
        self._rows_in_file += filled

    def _commit(self) -> None:
        with self._explained():
            self._packer.settle()
            self._file.flush()
            self._sync()
            for dataset, count in zip(self._row_counts, (self._rows_in_file, self._field_rows), strict=True):
                dataset[()] = count
            self._file.flush()
        self._last_commit = time.monotonic()

    def _sync(self) -> None:
        """Bring what was handed over to the disk before it counts, also through a power cut."""
        if self._guarded is not None:
            self._guarded.check()
            self._guarded.sync()

    def _close(self) -> None:
        self._file.close()
        if self._guarded is not None:
            self._guarded.close()

    def _check_space(self, needed: int) -> None:
        if self._destination is not None:
            self._destination.check_space(needed)

    @contextlib.contextmanager
    def _explained(self) -> Iterator[None]:
        try:
            yield
            if self._guarded is not None:
                self._guarded.check()
        except (OSError, RuntimeError) as error:
            # The library's own complaint is about what follows from the first failure.
            first = self._guarded.failure if self._guarded is not None else None
            if first is not None and not isinstance(first, OSError):
                raise first from None
            reason = (first.strerror if first is not None else None) or str(error)
            path = None if self._destination is None else str(self._destination.path)
            fix = "see that the disk has space"
            raise NoRoomError(f"cannot be written: {reason}", path=path, fix=fix) from error


def _attribute(value: Any) -> Any:
    if isinstance(value, bool | np.bool_):
        return int(value)
    if isinstance(value, int | float | np.integer | np.floating | str):
        return value
    if isinstance(value, list | tuple | np.ndarray) and np.asarray(value).dtype.kind in "iuf":
        return np.asarray(value)
    return str(value)
