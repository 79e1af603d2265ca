"""Read a results file: series by name with their units, as far as they were written."""

from __future__ import annotations

import datetime as dt
import difflib
import io
import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import h5py
import numpy as np

from simulator.errors import StoreError
from simulator.run.sizes import SHARE_OF_MEMORY, memory_of_this_machine
from simulator.store.catalogue import CATALOGUE, COORDINATES, PROGRAM, SCHEMA_VERSION, STATIC
from simulator.store.table_html import table_html
from simulator.store.text_heaps import texts_are_sound

if TYPE_CHECKING:
    from collections.abc import Iterator
    from types import TracebackType

    import xarray
    from numpy.typing import NDArray

__all__ = ["Results", "Series"]

_DAMAGE = (
    AttributeError, IndexError, KeyError, MemoryError, OSError, OverflowError, RuntimeError, TypeError,
    ValueError,
)  # fmt: skip
"""What the file library, or a look at what it gave, raises on a damaged file."""
_PLACES = {
    "duct_lane": "lane",
    "segment_branch": "branch",
    "segment_lane": "lane",
    "segment_station": "station",
}
"""Datasets that count places along a coordinate, from 1."""
_EDGES = {"station": "edge", "section_across": "section_across_edges", "section_depth": "section_depth_edges"}
"""Coordinates whose cells have their edges in another one."""
_FARTHEST = 1e6
"""Metres; far beyond any floor."""
_LONGEST_RUN = 1e10
"""Seconds; three hundred years."""
_LARGEST_NUMBER = 1e30
"""Far above whatever a run gives in SI units; sums and squares of such numbers stay finite."""
_COUNTS = {"time": "rows_written", "field_time": "field_rows_written"}
_TEXTS = ("title", "case_name", "case_text", "program_version", "shown_in", "start", "input_hash")
"""Attributes that every results file has, as text."""
_LENGTHS = ("duct_radius_m", "building_half_width_m", "floor_thickness_m")
"""Attributes that every results file has, as one number."""
_SUMMARY = {
    "cells": 0, "states": 0, "stations": 0, "steps": 0, "reduction_error": 0, "largest_ledger_residual": 0,
    "spot_check_difference": 0, "spot_check_allowed": 0, "spot_check_hours": 1,
}  # fmt: skip
"""Numbers that a run may leave about itself, with their dimensions."""


@dataclass(frozen=True, eq=False)
class Series:
    """One dataset in memory.

    Attributes
    ----------
    name : str
    values : ndarray
        Temperatures in degrees Celsius, everything else in SI units.
    unit : str
    dims : tuple of str
        Coordinate along each axis.
    long_name : str
    """

    name: str
    values: NDArray[Any]
    unit: str
    dims: tuple[str, ...]
    long_name: str


class Results:
    """The outcome of a run.

    Parameters
    ----------
    source : Path or str or h5py.File
        A results file, or results held in memory.
    own : bool
        Take it for sound, because this program wrote it just now: the search for damage takes as long as half
        a picture.

    Attributes
    ----------
    path : Path or None
        None when the results are in memory only.
    attrs : dict
        What the file says about itself: title, case text, versions, summary numbers.
    rows, field_rows : int
        Rows of the series and maps of the ground that can be trusted.

    Raises
    ------
    StoreError
        When there is no such file, it was not written by this program, or by a version that stores otherwise.
    """

    def __init__(self, source: Path | str | h5py.File, *, own: bool = False) -> None:
        if isinstance(source, str | Path):
            self.path: Path | None = Path(source)
            self._file = _open(self.path, own=own)
        else:
            self.path, self._file = None, source
        try:
            self.attrs = {name: _plain(value) for name, value in self._file.attrs.items()}
            self._check_origin()
            self._datasets: dict[str, Any] = {}
            self._lengths: dict[str, int] = {}
            self._take_in(own=own)
            self._lengths = {name: self._trusted_length(name, count) for name, count in _COUNTS.items()}
        except StoreError:
            self.close()
            raise
        except _DAMAGE as error:
            self.close()
            raise self._error("is damaged", "run the case again") from error
        self.rows, self.field_rows = self._lengths["time"], self._lengths["field_time"]

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def __repr__(self) -> str:
        where = "in memory" if self.path is None else str(self.path)
        end = "complete" if self.complete else "broken off"
        return f"Results({where}: {self.attrs.get('title', '')!r}, {self.rows} rows, {end})"

    def _repr_html_(self) -> str:
        """Write what the results hold as a table for notebooks."""
        rows = [
            (name, " x ".join(self.dims(name)), self.units(name), CATALOGUE[name].long_name)
            for name in self
        ]
        end = "complete" if self.complete else "this run did not come to its end"
        title = f"{self.attrs.get('title', '')}: from {self.start}, {self.rows} rows, {end}"
        return table_html(title, ("dataset", "along", "unit", "what it is"), rows)

    def close(self) -> None:
        """Let go of the file; results in memory are gone after this."""
        self._file.close()

    def __contains__(self, name: object) -> bool:
        return name in self._datasets

    def __iter__(self) -> Iterator[str]:
        return iter(list(self._datasets))

    def __getitem__(self, name: str) -> Series:
        """Read a whole dataset.

        Raises
        ------
        StoreError
            When the file has no such dataset.
        """
        return Series(name, self.read(name), self.units(name), self.dims(name), CATALOGUE[name].long_name)

    def read(self, name: str, rows: int | slice = slice(None)) -> NDArray[Any]:
        """Read part of a dataset, for instance one map of the ground.

        Parameters
        ----------
        name : str
        rows : int or slice
            Along the first axis, counted within what can be trusted; negative counts from the end.

        Returns
        -------
        ndarray

        Raises
        ------
        StoreError
            When the file has no such dataset, or fewer rows, or is damaged.
        """
        dataset = self._dataset(name)
        length = self._lengths.get(self.dims(name)[0], dataset.shape[0])
        selection: int | slice
        if isinstance(rows, slice):
            first, stop, step = rows.indices(length)
            if step < 1:
                return self.read(name)[rows]
            selection = slice(first, max(first, stop), step)
        else:
            selection = rows + length if rows < 0 else rows
            if not 0 <= selection < length:
                raise self._error(f"{name} has {length} rows, so there is no row {rows}", None)
        if isinstance(selection, slice):
            self._check_size(name, dataset, len(range(selection.start, selection.stop, selection.step)))
        try:
            values = np.asarray(dataset[selection])
            if name in _COUNTS and not (
                (np.abs(values) < _LONGEST_RUN).all() and (values.ndim == 0 or (np.diff(values) > 0).all())
            ):
                raise ValueError(name)
            if values.dtype.kind == "f" and (np.abs(values) > _LARGEST_NUMBER).any():
                raise ValueError(name)
            return values
        except _DAMAGE as error:
            raise self._error(f"is damaged: {name} cannot be read", "run the case again") from error

    def dims(self, name: str) -> tuple[str, ...]:
        """Return the coordinate along each axis of a dataset."""
        self._dataset(name)
        return CATALOGUE[name].dims

    def units(self, name: str) -> str:
        """Return the unit of a dataset as stored; times are in seconds since the start of the case."""
        self._dataset(name)
        # Not out of the file: the form says them, and the file library can hang on a damaged label.
        return CATALOGUE[name].unit

    @property
    def complete(self) -> bool:
        """Whether the run came to its end."""
        return bool(self.attrs["complete"])

    @property
    def start(self) -> dt.datetime:
        """Local date and time at which the case starts."""
        return dt.datetime.fromisoformat(self.attrs["start"])

    @property
    def time(self) -> NDArray[np.datetime64]:
        """Local date and time of every row, to the millisecond."""
        return self._dates("time")

    @property
    def field_time(self) -> NDArray[np.datetime64]:
        """Local date and time of every map of the ground."""
        return self._dates("field_time")

    @property
    def case_text(self) -> str:
        """The case file as it was read."""
        return str(self.attrs["case_text"])

    @property
    def material_names(self) -> tuple[str, ...]:
        """Names that `section_material` counts."""
        try:
            names = self._dataset("section_material").attrs["material_names"]
            return tuple(str(name) for name in names)
        except _DAMAGE as error:
            raise self._error("is damaged: materials have no names", "run the case again") from error

    @property
    def summary(self) -> dict[str, Any]:
        """Numbers the run left about itself."""
        prefix = "summary_"
        return {name[len(prefix) :]: value for name, value in self.attrs.items() if name.startswith(prefix)}

    def to_xarray(self) -> xarray.Dataset:
        """Hand over everything as an `xarray.Dataset`, read only when used.

        Raises
        ------
        StoreError
            When xarray or h5netcdf is not installed.
        """
        try:
            import h5netcdf  # noqa: F401
            import xarray
        except ImportError as error:
            problem = f"'{error.name}' is not installed"
            raise StoreError(problem, fix="install ductfloor[xarray]") from error
        source = self.path if self.path is not None else io.BytesIO(self._file.id.get_file_image())
        dataset = xarray.open_dataset(source, engine="h5netcdf")
        return dataset.isel({name: slice(length) for name, length in self._lengths.items() if name in self})

    def _check_origin(self) -> None:
        if self.attrs.get("program") != PROGRAM:
            raise self._error("was not written by this program", "give a results file of a run")
        version = self.attrs.get("schema_version")
        if version != SCHEMA_VERSION:
            problem = f"stores results in form {version}, this program reads form {SCHEMA_VERSION}"
            raise self._error(problem, "run the case again")

    def _take_in(self, *, own: bool) -> None:
        """Look every dataset and attribute over, and know the datasets by name from now on.

        Raises
        ------
        Exception
            One of `_DAMAGE`, when something is not as a run leaves it.
        """
        if own:
            self._datasets = {name: self._file[name] for name in self._file if name in CATALOGUE}
            return
        self._check_attributes()
        self._datasets = self._sound_datasets()
        self._check_places()

    def _check_attributes(self) -> None:
        """See that the file says about itself what every results file says.

        Raises
        ------
        ValueError, KeyError, OverflowError
            When something is missing or of another kind, or the run does not fit into the calendar.
        """
        start = dt.datetime.fromisoformat(self.attrs["start"])
        wrong = [name for name in _TEXTS if not isinstance(self.attrs[name], str)]
        wrong += [name for name in _LENGTHS if not abs(self.attrs[name]) <= _FARTHEST]
        wrong += [] if self.attrs["complete"] in (0, 1) else ["complete"]
        for name, value in self.summary.items():
            held = np.asarray(value)
            sound = held.dtype.kind in "iuf" and held.ndim == _SUMMARY.get(name)
            whole = name in {"cells", "states", "stations"}
            if name in _SUMMARY and not (sound and (np.isfinite(held).all() or not whole)):
                wrong.append(name)
        # Years at the ends of the calendar leave no room for the run, or for the night before it.
        if wrong or start.tzinfo is not None or not 1000 <= start.year <= 9000:
            raise ValueError(wrong)

    def _sound_datasets(self) -> dict[str, Any]:
        """Datasets by name, each seen to be one, to fit its coordinates, and to hold its values itself.

        Raises
        ------
        ValueError
            When one is not, also when it leads to another file.
        """
        found: dict[str, Any] = {}
        lengths: dict[str, int] = {}
        for name in self._file:
            if name not in CATALOGUE:
                continue
            dataset = found[name] = self._file[name] if _is_own(self._file, name) else None
            form = CATALOGUE[name]
            if (
                not isinstance(dataset, h5py.Dataset)
                or dataset.ndim != len(form.dims)
                or dataset.dtype.kind != form.dtype[0]
                or dataset.dtype.itemsize > 8
                or dataset.external
                or dataset.is_virtual
            ):
                raise ValueError(name)
            for dim, length in zip(form.dims, dataset.shape, strict=True):
                # Only time may hold nothing: a run that was broken off at once.
                if lengths.setdefault(dim, length) != length or (length == 0 and dim not in _COUNTS):
                    raise ValueError(name)
        return found

    def _check_places(self) -> None:
        """See that whatever counts places or materials counts some that are there.

        Raises
        ------
        ValueError
        """
        for name, dim in _PLACES.items():
            if name in self:
                places = self.read(name)
                most = self._datasets[dim].shape[0] if dim in self else 0
                if not ((places >= 1) & (places <= most)).all():
                    raise ValueError(name)
        lengths = {
            name: self.read(name)
            for name, entry in (*COORDINATES.items(), *STATIC.items())
            if entry.unit == "m" and name in self
        }
        for name, values in lengths.items():
            rising = name not in COORDINATES or bool((np.diff(values) > 0.0).all())
            if not rising or not (np.abs(values) <= _FARTHEST).all():
                raise ValueError(name)
        for name, edges in _EDGES.items():
            if name in lengths and edges in lengths:
                middles, ends = lengths[name], lengths[edges]
                if ends.size != middles.size + 1 or not ((ends[:-1] < middles) & (middles < ends[1:])).all():
                    raise ValueError(edges)
        if "section_material" in self:
            materials = self._datasets["section_material"][()]
            if not ((materials >= -1) & (materials < len(self.material_names))).all():
                raise ValueError("section_material")

    def _check_size(self, name: str, dataset: Any, rows: int) -> None:
        """Refuse what no machine could hold: a few bytes of a made-up file can stand for terabytes."""
        needed = rows * math.prod(int(size) for size in dataset.shape[1:]) * dataset.dtype.itemsize
        if needed > SHARE_OF_MEMORY * memory_of_this_machine():
            problem = f"is damaged, or too large to read: {name} alone would take {needed / 1e9:.0f} GB"
            raise self._error(problem, "run the case again")

    def _trusted_length(self, name: str, count: str) -> int:
        held = self._file[count]
        counted = int(held[()]) if held.shape == () else -1
        if counted < 0:
            raise ValueError(count)
        return min(counted, int(self._file[name].shape[0]))

    def _dataset(self, name: str) -> Any:
        if name in self._datasets:
            return self._datasets[name]
        near = difflib.get_close_matches(name, list(self), n=1)
        raise self._error(f"has no dataset '{name}'", f"did you mean '{near[0]}'?" if near else None)

    def _dates(self, name: str) -> NDArray[np.datetime64]:
        milliseconds = np.rint(self.read(name) * 1000.0).astype("timedelta64[ms]")
        dates: NDArray[np.datetime64] = np.datetime64(self.start, "ms") + milliseconds
        return dates

    def _error(self, problem: str, fix: str | None) -> StoreError:
        return StoreError(problem, path=None if self.path is None else str(self.path), fix=fix)


def _open(path: Path, *, own: bool) -> h5py.File:
    fix = "give a results file of a run"
    if not path.is_file():
        raise StoreError("there is no such file", path=str(path), fix=fix)
    try:
        if not own and not h5py.is_hdf5(path):
            raise StoreError("is not a results file", path=str(path), fix=fix)
        if not own and not texts_are_sound(path):
            raise StoreError("is damaged", path=str(path), fix="run the case again")
        return h5py.File(path, "r")
    except OSError as error:
        raise StoreError(f"cannot be opened: {error.strerror or error}", path=str(path)) from error


def _is_own(file: h5py.File, name: str) -> bool:
    """Whether a name stands for something in the file itself, not for a link elsewhere."""
    return isinstance(file.get(name, getlink=True), h5py.HardLink)


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value
