"""A run gathered in plain memory: what answers need of it, without a file and without packing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.store.blocks import SeriesBlock
from simulator.store.catalogue import COORDINATES, PROGRAM, SCHEMA_VERSION, STATIC
from simulator.store.contents import coordinates_of, series_of, static_of
from simulator.store.provenance import describe
from simulator.store.reader import Results

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from simulator.case.schema import Case
    from simulator.run.observers import Geometry, Moment, Rows
    from simulator.store.catalogue import Entry

__all__ = ["Gatherer"]

LEFT_OUT: Final = frozenset({"air_temperature"})
"""Series that no answer reads and that would take much room."""


class _Dataset:
    """An array that is read like a dataset of a file."""

    def __init__(self, values: np.ndarray[Any, Any], entry: Entry) -> None:
        self._values = values
        self.attrs: dict[str, Any] = {"units": entry.unit, "long_name": entry.long_name}
        self.shape, self.dtype = values.shape, values.dtype

    def __getitem__(self, selection: Any) -> Any:
        return self._values[selection]


class _Count:
    """A number that is read like a dataset without dimensions."""

    shape = ()

    def __init__(self, number: int) -> None:
        self._number = number

    def __getitem__(self, selection: Any) -> int:
        return self._number


class _Memory:
    """What stands in for an open results file."""

    def __init__(self, attributes: dict[str, Any], datasets: Mapping[str, _Dataset | _Count]) -> None:
        self.attrs = attributes
        self._datasets = datasets

    def __getitem__(self, name: str) -> _Dataset | _Count:
        return self._datasets[name]

    def __contains__(self, name: object) -> bool:
        return name in self._datasets

    def __iter__(self) -> Iterator[str]:
        return iter(self._datasets)

    def close(self) -> None:
        """Nothing is open."""


class Gatherer:
    """Observer that gathers the series of a run, and no maps of the ground.

    Parameters
    ----------
    leave_out : frozenset of str
        Series that are not wanted.

    Attributes
    ----------
    wants_maps : bool
        False: no maps of the ground need to be made for it.
    wanted_series : frozenset of str
        All that it asks for; known once a run has started.
    """

    wants_maps = False

    def __init__(self, leave_out: frozenset[str] = LEFT_OUT) -> None:
        self._leave_out = leave_out
        self._results: Results | None = None

    def start(self, case: Case, geometry: Geometry) -> None:
        """Make room for every row."""
        self._results = None
        self._attributes: dict[str, Any] = {
            **describe(case), "program": PROGRAM, "schema_version": SCHEMA_VERSION, "complete": 0,
        }  # fmt: skip
        for name in ("duct_radius", "building_half_width", "floor_thickness"):
            self._attributes[f"{name}_m"] = float(getattr(geometry, name))
        coordinates = coordinates_of(geometry)
        coordinates["field_time"] = np.zeros(0)
        sizes = {name: values.size for name, values in coordinates.items()}
        self._still = {name: _Dataset(values, COORDINATES[name]) for name, values in coordinates.items()}
        for name, values in static_of(geometry).items():
            if np.size(values):
                self._still[name] = _Dataset(np.asarray(values), STATIC[name])
        self._still["section_material"].attrs["material_names"] = list(geometry.material_names)
        if geometry.branch_names:
            self._still["branch_ducts"].attrs["branch_names"] = list(geometry.branch_names)
        self._series = {
            name: entry for name, entry in series_of(geometry).items() if name not in self._leave_out
        }
        self.wanted_series = frozenset(self._series)
        shapes = {name: tuple(sizes[dim] for dim in entry.dims[1:]) for name, entry in self._series.items()}
        self._block = SeriesBlock(list(self._series.values()), shapes, geometry.series_ticks.size)

    def record(self, moment: Moment) -> None:
        """Take one row."""
        self._block.add(moment.values)

    def record_rows(self, rows: Rows) -> None:
        """Take many rows at once."""
        self._block.add_rows({name: rows.values(name) for name in self._series}, 0, len(rows))

    def finish(self, summary: Mapping[str, Any]) -> None:
        """Turn what was gathered into results."""
        rows = self._block.filled
        self._attributes["complete"] = 1
        self._attributes.update({f"summary_{name}": value for name, value in summary.items()})
        datasets: dict[str, _Dataset | _Count] = dict(self._still)
        for name, values in self._block.take().items():
            datasets[name] = _Dataset(values, self._series[name])
        datasets["rows_written"], datasets["field_rows_written"] = _Count(rows), _Count(0)
        memory: Any = _Memory(self._attributes, datasets)
        self._results = Results(memory, own=True)

    def abort(self) -> None:
        """Forget what was gathered."""
        self._results = None

    def results(self) -> Results:
        """Hand over the results of the run.

        Raises
        ------
        RuntimeError
            When the run did not finish.
        """
        if self._results is None:
            message = "the run did not finish, so there are no results"
            raise RuntimeError(message)
        return self._results
