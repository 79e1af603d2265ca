"""What a run shows to whoever watches it: the places once, then one moment after another."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from simulator.case.schema import Case

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

__all__ = ["BlockObserver", "FloatArray", "Geometry", "IntArray", "Moment", "Observer", "Rows"]


@dataclass(frozen=True, eq=False)
class Geometry:
    """Where everything is and when rows will come, known before the first step.

    Positions are in metres. `across` is measured from the middle line of the floor, `depth` is positive
    downwards from the finished floor, `x` runs along the ducts from the inlet. Ticks are whole milliseconds
    since the start of the case.

    Attributes
    ----------
    series_ticks : (T,) int
        Tick of every row of the series, strictly increasing. A run gives exactly one `Moment` for each.
    field_ticks : (K,) int
        Ticks at which a moment also carries the temperature of the ground; each one is in `series_ticks`.
    station_x, station_dx : (S,) float [m]
        Middle and length of the slice each station stands for.
    edges_x : (S + 1,) float [m]
        Station edges along a duct, where air temperatures belong.
    lane_across, lane_depth : (M,) float [m]
        Lanes that are computed.
    lane_ducts : (M,) float [1]
        Number of ducts each lane stands for.
    duct_across, duct_depth : (D,) float [m]
        Every duct that is there.
    duct_lane : (D,) int
        Index (from 0) of the lane that stands for the duct.
    floor_across, floor_width_cells : (F,) float [m]
        Middle and width of the floor surface cells over the whole floor width.
    map_across : (Y,) float [m]
    map_depth : (Z,) float [m]
        Cell middles of the section over its whole width, mirrored where only half is computed.
    map_across_edges : (Y + 1,) float [m]
    map_depth_edges : (Z + 1,) float [m]
    map_material : (Z, Y) int
        Index into `material_names`; -1 where there is no ground.
    material_names : tuple of str
    duct_radius : float [m]
        Inside radius of a duct.
    building_half_width : float [m]
    floor_thickness : float [m]
        Thickness of the layers of the floor itself.
    duct_inside_radius : (D,) float [m]
        Of every duct, the flue run's pipe (or its jacket) among them.
    branch_names : tuple of str
    branch_ducts, branch_length, branch_loss : (B,) float
        Ducts each branch stands for, its pipe in all [m], the sum of its loss coefficients.
    branch_group : (B,) int
        0 air through the fan, 1 combustion gas, 2 air in a jacket.
    segment_branch, segment_lane, segment_station, segment_run : (G,) int
        Pieces of the branches in the order of the air, each in one station; indices from 0.
    segment_direction : (G,) int
        +1 where the air goes with x, -1 where it comes back.
    segment_begin, segment_end : (G,) float [m]
        Distance from the branch's entrance along the air's way.
    parts : frozenset of str
        Parts of the catalogue that this run fills beside the common one: "moisture", "flue", "stove" ...
    names : mapping of str to tuple of str
        Names of the coils, tank layers ("layer"), surfaces and masses of the house, where there are any.
    """

    series_ticks: IntArray
    field_ticks: IntArray
    station_x: FloatArray
    station_dx: FloatArray
    edges_x: FloatArray
    lane_across: FloatArray
    lane_depth: FloatArray
    lane_ducts: FloatArray
    duct_across: FloatArray
    duct_depth: FloatArray
    duct_lane: IntArray
    floor_across: FloatArray
    floor_width_cells: FloatArray
    map_across: FloatArray
    map_depth: FloatArray
    map_across_edges: FloatArray
    map_depth_edges: FloatArray
    map_material: IntArray
    material_names: tuple[str, ...]
    duct_radius: float
    building_half_width: float
    floor_thickness: float = 0.0
    duct_inside_radius: FloatArray = field(default_factory=lambda: np.zeros(0))
    branch_names: tuple[str, ...] = ()
    branch_ducts: FloatArray = field(default_factory=lambda: np.zeros(0))
    branch_length: FloatArray = field(default_factory=lambda: np.zeros(0))
    branch_loss: FloatArray = field(default_factory=lambda: np.zeros(0))
    branch_group: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_branch: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_lane: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_station: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_run: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_direction: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    segment_begin: FloatArray = field(default_factory=lambda: np.zeros(0))
    segment_end: FloatArray = field(default_factory=lambda: np.zeros(0))
    parts: frozenset[str] = frozenset()
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Moment:
    """One row of the series and, now and then, the ground with it.

    Attributes
    ----------
    tick : int
        Milliseconds since the start of the case.
    values : mapping of str to float or ndarray
        One entry for each series of the catalogue, shaped like the dimensions after time; temperatures in
        kelvin. `floor_surface_temperature` (S, F) is needed only together with `field`.
    field : (S, Z, Y) float [K] or None
        Temperature of the ground, NaN where there is none.
    """

    tick: int
    values: Mapping[str, float | FloatArray]
    field: FloatArray | None = None


class Rows(Protocol):
    """Many rows of the series at once, in the order of time.

    What nobody asks for is not computed. Good only until the call it was given to returns; the arrays it
    hands out stay good.

    Attributes
    ----------
    ticks : (n,) int
    with_field : sequence of int
        Those of the n rows that carry the ground.
    """

    ticks: IntArray
    with_field: Sequence[int]

    def __len__(self) -> int:
        """Return the number of rows."""
        ...

    def values(self, name: str) -> FloatArray:
        """Return (n, ...) values of a series by its name in the catalogue; temperatures in kelvin.

        Raises
        ------
        KeyError
            If this run has no such series.
        """
        ...

    def names(self) -> Collection[str]:
        """Return the names of all series that this run has."""
        ...

    def ground(self, row: int) -> tuple[FloatArray, FloatArray]:
        """Return floor surface (S, F) and ground (S, Z, Y) [K] of one of the rows `with_field`."""
        ...

    def moments(self) -> Iterator[Moment]:
        """Give the rows one by one."""
        ...


@runtime_checkable
class BlockObserver(Protocol):
    """An observer that takes many rows at once; `record` is then not called."""

    def record_rows(self, rows: Rows) -> None:
        """Take the next rows."""
        ...


class Observer(Protocol):
    """Anything that wants to see a run: `start` once, `record` for each row, then `finish` or `abort`.

    An observer that needs something beyond the call has to copy it: a run may use its arrays again. One that
    has `record_rows` is given many rows at once instead; see `BlockObserver`. One that has an attribute
    `wants_maps` that is false gets no maps of the ground when no other observer wants them; one that takes
    many rows at once may name all the series it will ask for in an attribute `wanted_series`, which spares
    the run whatever only other series need.
    """

    def start(self, case: Case, geometry: Geometry) -> None:
        """Get ready before the first step."""
        ...

    def record(self, moment: Moment) -> None:
        """Take one row."""
        ...

    def finish(self, summary: Mapping[str, Any]) -> None:
        """Take the numbers that describe the run as a whole; no row follows."""
        ...

    def abort(self) -> None:
        """Leave nothing half done behind: the run stopped early. May be called at any time, also twice."""
        ...
