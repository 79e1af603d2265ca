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
from simulator.store.catalogue import CATALOGUE, PROGRAM, SCHEMA_VERSION
from simulator.store.table_html import table_html

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
_LONGEST_RUN = 1e10
"""Seconds; three hundred years."""
_COUNTS = {"time": "rows_written", "field_time": "field_rows_written"}


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

    def __init__(self, source: Path | str | h5py.File) -> None:
        if isinstance(source, str | Path):
            self.path: Path | None = Path(source)
            self._file = _open(self.path)
        else:
            self.path, self._file = None, source
        # Opened once: looking a name up takes longer than reading a short series.
        self._datasets: dict[str, Any] = {}
        try:
            self.attrs = {name: _plain(value) for name, value in self._file.attrs.items()}
            self._check_origin()
            self._check_form()
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
            (name, " x ".join(self.dims(name)), self.units(name), self._file[name].attrs["long_name"])
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
        return iter([name for name in self._file if name in CATALOGUE])

    def __getitem__(self, name: str) -> Series:
        """Read a whole dataset.

        Raises
        ------
        StoreError
            When the file has no such dataset.
        """
        dataset = self._dataset(name)
        long_name = str(dataset.attrs["long_name"])
        return Series(name, self.read(name), self.units(name), self.dims(name), long_name)

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
            return values
        except _DAMAGE as error:
            raise self._error(f"is damaged: {name} cannot be read", "run the case again") from error

    def dims(self, name: str) -> tuple[str, ...]:
        """Return the coordinate along each axis of a dataset."""
        self._dataset(name)
        return CATALOGUE[name].dims

    def units(self, name: str) -> str:
        """Return the unit of a dataset as stored; times are in seconds since the start of the case."""
        return "s" if name in _COUNTS else str(self._dataset(name).attrs["units"])

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

    def _check_form(self) -> None:
        """See that every dataset is one, fits its coordinates, and holds its values itself.

        Raises
        ------
        ValueError
            When one is not, also when it leads to another file.
        """
        dt.datetime.fromisoformat(self.attrs["start"])
        for name in ("case_text", "title", "complete"):
            if name not in self.attrs:
                raise ValueError(name)
        found = self._datasets
        for name in self:
            dataset = self._file.get(name) if _is_own(self._file, name) else None
            form = CATALOGUE[name]
            if (
                not isinstance(dataset, h5py.Dataset)
                or dataset.ndim != len(form.dims)
                or dataset.dtype.kind not in "iuf"
                or dataset.external
                or dataset.is_virtual
                or not isinstance(dataset.attrs["long_name"], str)
                or not isinstance(dataset.attrs["units"], str)
            ):
                raise ValueError(name)
            found[name] = dataset
        lengths = {name: each.shape[0] for name, each in found.items() if CATALOGUE[name].dims == (name,)}
        for name, each in found.items():
            for dim, length in zip(CATALOGUE[name].dims, each.shape, strict=True):
                if lengths.setdefault(dim, length) != length:
                    raise ValueError(name)
        for name, dim in _PLACES.items():
            if name in found:
                places = found[name][()]
                if not ((places >= 1) & (places <= lengths.get(dim, 0))).all():
                    raise ValueError(name)

    def _check_size(self, name: str, dataset: Any, rows: int) -> None:
        """Refuse what no machine could hold: a few bytes of a made-up file can stand for terabytes."""
        needed = rows * math.prod(int(size) for size in dataset.shape[1:]) * dataset.dtype.itemsize
        if needed > SHARE_OF_MEMORY * memory_of_this_machine():
            problem = f"is damaged, or too large to read: {name} alone would take {needed / 1e9:.0f} GB"
            raise self._error(problem, "run the case again")

    def _trusted_length(self, name: str, count: str) -> int:
        counted = int(self._file[count][()])
        if counted < 0:
            raise ValueError(count)
        return min(counted, int(self._file[name].shape[0]))

    def _dataset(self, name: str) -> Any:
        found = self._datasets.get(name)
        if found is not None:
            return found
        near = difflib.get_close_matches(name, list(self), n=1)
        raise self._error(f"has no dataset '{name}'", f"did you mean '{near[0]}'?" if near else None)

    def _dates(self, name: str) -> NDArray[np.datetime64]:
        milliseconds = np.rint(self.read(name) * 1000.0).astype("timedelta64[ms]")
        dates: NDArray[np.datetime64] = np.datetime64(self.start, "ms") + milliseconds
        return dates

    def _error(self, problem: str, fix: str | None) -> StoreError:
        return StoreError(problem, path=None if self.path is None else str(self.path), fix=fix)


def _open(path: Path) -> h5py.File:
    fix = "give a results file of a run"
    if not path.is_file():
        raise StoreError("there is no such file", path=str(path), fix=fix)
    try:
        if not h5py.is_hdf5(path):
            raise StoreError("is not a results file", path=str(path), fix=fix)
        return h5py.File(path, "r")
    except OSError as error:
        raise StoreError(f"cannot be opened: {error.strerror or error}", path=str(path)) from error


def _is_own(file: h5py.File, name: str) -> bool:
    """Whether a name stands for something in the file itself, not for a link elsewhere."""
    return isinstance(file.get(name, getlink=True), h5py.HardLink)


def _plain(value: Any) -> Any:
    return value.item() if isinstance(value, np.generic) else value
