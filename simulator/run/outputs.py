"""What a run tells its observers, by the names of the results catalogue: many rows at a time."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.air.path import ROOM_AIR
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import within_fit
from simulator.physics.internal_flow_kernels import reynolds_number
from simulator.run.geometry import mirrored
from simulator.run.kept_rows import KeptRows
from simulator.run.ledger import NAMES
from simulator.run.observers import Moment
from simulator.run.outputs_of_parts import flue_values, moist_values
from simulator.run.row_kernels import floor_extremes
from simulator.run.stage_kernels import DUCT_PRESSURE, EXIT, FLOOR_LIFT, MASS_FLOW, ROOM, SUPPLY
from simulator.section.kept_map import kept_map_weights

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.run.coupling import Coupling
    from simulator.run.plan import RunPlan
    from simulator.section.map_weights import MapWeights

    Values = dict[str, NDArray[np.float64]]

FLOW_NAMES = {
    "heater": "heater_power",
    "fan": "fan_power",
    "duct": "duct_heat",
    "floor": "floor_heat",
    "return": "return_heat",
    "envelope": "envelope_loss",
    "infiltration": "infiltration_loss",
    "sun": "sun_gain",
    "other_gain": "other_gain",
    "outside_ground": "outside_ground_loss",
    "bottom": "bottom_heat",
    "sides": "sides_heat",
    "exhaust": "exhaust_loss",
    "latent": "latent_heat",
    "flue": "flue_heat",
}
"""Account of the ledger -> series with its heat flow."""
LEDGER_NAMES = tuple(f"ledger_{name}" for name in NAMES)
FLOWS = tuple(FLOW_NAMES[name] for name in NAMES)
FLOOR, STORED, UNDER = range(3)
"""Places in `Narrator.columns`: mean of the floor cells, heat stored in the ground, and under the floor."""
AT_ONCE = 64
"""Rows whose floor cells are held at once."""


@dataclass
class Narrator:
    """Turns kept states into rows.

    Attributes
    ----------
    plan : RunPlan
    coupling : Coupling
    columns : (R, 3) float or None
        Linear looks at a state that nearly every row needs, of a section in modal form.
    """

    plan: RunPlan
    coupling: Coupling

    def __post_init__(self) -> None:
        solver = self.coupling.solver
        operators = solver.operators
        widths = operators.floor_widths
        self.floor_weight = widths / widths.sum() if widths.size else widths
        self.heat = float(
            operators.capacity.sum() * self.coupling.copies * self.coupling.station_length.sum()
        )
        self._map: MapWeights | None = None
        self._meshes = self.plan.meshes
        self.last_tick = 0
        self.under_at_start = 0.0
        self.last_totals = np.zeros(len(NAMES))
        lanes = operators.lanes
        path = self.plan.path
        air = path.branch_group == ROOM_AIR
        self.air_ducts = float(path.branch_ducts[air].sum())
        self.air_segments = int(path.branch_begin[int(np.count_nonzero(air))])
        # Segments come in the order of the air; of several at one edge of a lane the last shows, so of jacket
        # and gas in one lane the jacket's air.
        entry = path.segment_station + (path.direction < 0)
        leaving = path.segment_station + (path.direction > 0)
        shown: dict[tuple[int, int], tuple[int, bool]] = {}
        for segment in range(path.segment_lane.size):
            lane = int(path.segment_lane[segment])
            shown[lane, int(entry[segment])] = (segment, False)
            shown[lane, int(leaving[segment])] = (segment, True)
        self.shown = tuple(
            (
                np.array([lane for (lane, _), (_, out) in shown.items() if out is side], dtype=np.int64),
                np.array([edge for (_, edge), (_, out) in shown.items() if out is side], dtype=np.int64),
                np.array(
                    [path.segment_station[segment] for segment, out in shown.values() if out is side],
                    dtype=np.int64,
                ),
            )
            for side in (False, True)
        )
        # The last piece of each lane in the order of the air.
        last = np.zeros(lanes, dtype=np.int64)
        last[path.segment_lane] = np.arange(path.segment_lane.size)
        self.lane_end_station = path.segment_station[last]
        share = operators.surface_share
        self.share_behind = float(self.floor_weight @ (1.0 - share)) if widths.size else 0.0
        self.columns: NDArray[np.float64] | None = None
        if solver.modal is not None:
            states = np.eye(solver.size)
            self.columns = np.column_stack(
                (
                    solver.floor(states) @ (self.floor_weight * share),
                    solver.stored(states),
                    solver.stored_under_floor(states),
                )
            )

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """Return what the next row is compared with, for a run that goes on later."""
        return {
            "last_tick": np.array(self.last_tick),
            "under_at_start": np.array(self.under_at_start),
            "last_totals": self.last_totals,
        }

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Take up what `snapshot` gave."""
        self.last_tick = int(arrays["last_tick"])
        self.under_at_start = float(arrays["under_at_start"])
        self.last_totals = arrays["last_totals"].copy()

    def rows(
        self,
        kept: KeptRows,
        ticks: NDArray[np.int64],
        outside: NDArray[np.float64],
        fan_share: NDArray[np.float64],
        with_field: list[int],
        more: Mapping[str, float | NDArray[np.float64]],
    ) -> StateRows:
        """Describe the first n of the states kept.

        Parameters
        ----------
        kept : KeptRows
        ticks : (n,) int
        outside : (n,) float [K]
        fan_share : (n,) float
            Share of full flow during the step that ended at each tick.
        with_field : list of int
            Rows that carry the temperatures of the ground.
        more : mapping of str to float or ndarray
            Further series of a single row.
        """
        rows = StateRows(self, kept, ticks, outside, fan_share, with_field)
        rows.add(more)
        self.last_tick, self.last_totals = int(ticks[-1]), kept.totals[ticks.size - 1].copy()
        return rows

    def ground_map(self, section: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, Z, Y) temperature of the ground [K] of one state (S, R), NaN where there is none."""
        operators = self.coupling.solver.operators
        if self._map is None:
            self._map = kept_map_weights(self._meshes, operators)
        cells = self.coupling.solver.field(section) + self.coupling.reference
        return self._map.draw(cells, operators.mesh.solid.shape, mirrored=operators.layout.mirrored)


class StateRows:
    """Rows of the series, each group of them computed when it is first asked for; see `observers.Rows`."""

    def __init__(
        self,
        narrator: Narrator,
        kept: KeptRows,
        ticks: NDArray[np.int64],
        outside: NDArray[np.float64],
        fan_share: NDArray[np.float64],
        with_field: list[int],
    ) -> None:
        self.ticks = ticks
        self.with_field: Sequence[int] = with_field
        self._narrator, self._kept = narrator, kept
        self._outside, self._fan_share = outside, fan_share
        self._before = (narrator.last_tick, narrator.last_totals)
        self._section = kept.section[: ticks.size]
        self._scalars = kept.moving.scalars[: ticks.size]
        self._reference = narrator.coupling.reference
        self._known: Values = {}
        self._parts: Values | None = None
        self._more: Values = {}
        if ticks[0] == 0:
            narrator.under_at_start = float(self._under()[0])

    def __len__(self) -> int:
        """Return the number of rows."""
        return self.ticks.size

    def names(self) -> Collection[str]:
        """See `observers.Rows`."""
        return [*_GROUP_OF, *self._of_parts(), *self._more]

    def add(self, more: Mapping[str, float | NDArray[np.float64]]) -> None:
        """Add further series of a single row; of two of one name these hold."""
        self._more = {name: np.array([value]) for name, value in more.items()}

    def values(self, name: str) -> NDArray[np.float64]:
        """See `observers.Rows`."""
        found = self._more.get(name)
        if found is None:
            found = self._known.get(name)
        if found is None:
            group = _GROUP_OF.get(name)
            self._known.update(self._of_parts() if group is None else group(self))
            found = self._known[name]
        return found

    def ground(self, row: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """See `observers.Rows`."""
        operators = self._narrator.coupling.solver.operators
        share = operators.surface_share
        cells = self._narrator.coupling.solver.floor(self._section[row])
        surface = share * cells + (1.0 - share) * self._behind[row] + self._reference
        return mirrored(surface, operators), self._narrator.ground_map(self._section[row])

    def moments(self) -> Iterator[Moment]:
        """See `observers.Rows`."""
        columns = {name: self.values(name) for name in self.names()}
        plain = {name: column.tolist() for name, column in columns.items() if column.ndim == 1}
        for row, tick in enumerate(self.ticks.tolist()):
            values = {
                name: plain[name][row] if name in plain else column[row] for name, column in columns.items()
            }
            if row in self.with_field:
                values["floor_surface_temperature"], ground = self.ground(row)
                yield Moment(tick, values, ground)
            else:
                yield Moment(tick, values)

    @property
    def _behind(self) -> NDArray[np.float64]:
        """(n,) what is behind the floor's film [K above reference]."""
        behind: NDArray[np.float64] = self._scalars[:, ROOM] + self._scalars[:, FLOOR_LIFT]
        return behind

    def _each(
        self, column: int, look: Callable[[NDArray[np.float64]], NDArray[np.float64]]
    ) -> NDArray[np.float64]:
        """(n, S) what every state has of something linear: as looked up on the way, or else by `look`."""
        if self._narrator.columns is None:
            return np.stack([look(section) for section in self._section])
        return self._kept.looks[: len(self), :, column]

    def _along(self, by_station: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n,) sums of (n, S) values over the stations, each times its length."""
        total: NDArray[np.float64] = (by_station * self._narrator.coupling.station_length).sum(axis=1)
        return total

    def _under(self) -> NDArray[np.float64]:
        """(n,) heat stored under the floor [J]."""
        coupling = self._narrator.coupling
        return coupling.copies * self._along(self._each(UNDER, coupling.solver.stored_under_floor))

    def _plain(self) -> Values:
        scalars, reference = self._scalars, self._reference
        return {
            "outside_temperature": self._outside,
            "room_temperature": scalars[:, ROOM] + reference,
            "supply_temperature": scalars[:, SUPPLY] + reference,
            "exit_temperature": scalars[:, EXIT] + reference,
            "fan_share": self._fan_share,
            "mass_flow": scalars[:, MASS_FLOW].copy(),
        }

    def _floor_means(self) -> Values:
        narrator, solver = self._narrator, self._narrator.coupling.solver
        weight = narrator.floor_weight * solver.operators.surface_share
        cells = self._each(FLOOR, lambda section: solver.floor(section) @ weight)
        means = cells + (narrator.share_behind * self._behind + self._reference)[:, None]
        return {
            "floor_mean_temperature": self._along(means) / narrator.coupling.station_length.sum(),
            "floor_station_temperature": means,
        }

    def _floor_extremes(self) -> Values:
        solver = self._narrator.coupling.solver
        lowest, highest = np.empty(len(self)), np.empty(len(self))
        for first in range(0, len(self), AT_ONCE):
            part = slice(first, first + AT_ONCE)
            cells = np.stack([solver.floor(section) for section in self._section[part]])
            floor_extremes(
                cells, solver.operators.surface_share, self._behind[part], lowest[part], highest[part]
            )
        return {
            "floor_lowest_temperature": lowest + self._reference,
            "floor_highest_temperature": highest + self._reference,
        }

    def _ground(self) -> Values:
        narrator, coupling = self._narrator, self._narrator.coupling
        stored = self._along(self._each(STORED, coupling.solver.stored))
        return {
            "ground_mean_temperature": self._reference + coupling.copies * stored / narrator.heat,
            "ledger_stored_under_floor": self._under() - narrator.under_at_start,
        }

    def _air(self) -> Values:
        narrator, coupling = self._narrator, self._narrator.coupling
        path, moving, reference = narrator.plan.path, self._kept.moving, self._reference
        count, stations, lanes = len(self), coupling.station_length.size, moving.wall.shape[2]
        air = np.full((count, lanes, stations + 1), math.nan)
        for values, (lane, edge, station) in zip(
            (moving.air_in, moving.air_out), narrator.shown, strict=True
        ):
            air[:, lane, edge] = values[:count, station, lane] + reference
        segments = slice(0, narrator.air_segments)
        film = moving.film[:count, path.segment_station[segments], path.segment_lane[segments]]
        leaving = moving.air_out[:count, narrator.lane_end_station, np.arange(lanes)]
        supply = (self._scalars[:, SUPPLY] + reference).tolist()
        flow = (self._scalars[:, MASS_FLOW] / narrator.air_ducts).tolist()
        return {
            "reynolds_number": np.array(
                [
                    reynolds_number(one, within_fit(kelvin), coupling.diameter)
                    for one, kelvin in zip(flow, supply, strict=True)
                ]
            ),
            "film_coefficient": film.mean(axis=1),
            "lane_exit_temperature": leaving + reference,
            "air_temperature": air,
            "wall_temperature": moving.wall[:count].transpose(0, 2, 1) + reference,
            "duct_heat_per_length": self._heat_per_length().transpose(0, 2, 1),
        }

    def _heat_per_length(self) -> NDArray[np.float64]:
        """(n, S, M) heat from one duct of each lane into the ground [W/m]."""
        narrator, coupling = self._narrator, self._narrator.coupling
        path, moving, count = narrator.plan.path, self._kept.moving, len(self)
        if coupling.wide:
            return moving.heat[:count].copy()
        mass_flow = self._scalars[:, MASS_FLOW]
        heat_capacity = np.array(
            [
                coupling.mover.air_heat_capacity(kelvin)
                for kelvin in (self._scalars[:, SUPPLY] + self._reference).tolist()
            ]
        )
        drop = moving.air_in[:count] - moving.air_out[:count]
        if coupling.even_split:
            flow = np.broadcast_to((mass_flow / narrator.air_ducts)[:, None, None], drop.shape)
        else:
            flow = np.zeros_like(drop)
            flow[:, path.segment_station, path.segment_lane] = moving.branch_flow[:count, path.segment_branch]
        flow = np.where(mass_flow[:, None, None] > 0.0, flow, 0.0)
        heat: NDArray[np.float64] = (
            flow * heat_capacity[:, None, None] * drop / coupling.station_length[:, None]
        )
        return heat

    def _flows(self) -> Values:
        """Flow of every branch and the pressures that go with it."""
        coupling, moving, count = self._narrator.coupling, self._kept.moving, len(self)
        mover, mass_flow = coupling.mover, self._scalars[:, MASS_FLOW]
        density = np.full(count, mover.density)
        if math.isnan(mover.density):
            room = self._scalars[:, ROOM] + self._reference
            intake = room if coupling.intake_is_room else self._outside
            density = np.array([dry_air_density(within_fit(one), mover.pressure) for one in intake.tolist()])
        volume = mass_flow / density
        pressure = np.where(mass_flow > 0.0, self._scalars[:, DUCT_PRESSURE], 0.0)
        return {
            "volume_flow": volume,
            "duct_pressure": pressure,
            "fan_pressure": np.where(
                self._fan_share > 0.0, pressure + mover.series_resistance * density * volume * volume, 0.0
            ),
            "branch_mass_flow": moving.branch_flow[:count].copy(),
            "branch_exit_temperature": moving.branch_exit[:count] + self._reference,
        }

    def _books(self) -> Values:
        count = len(self)
        totals, sums = self._kept.totals[:count], self._kept.sums[:count]
        tick, before = self._before
        seconds = np.diff(self.ticks, prepend=tick) / 1000.0
        rises = np.diff(totals, axis=0, prepend=before[None, :])
        divisor = np.where(seconds > 0.0, seconds, 1.0)
        values = {
            "ledger_stored_ground": sums[:, 0].copy(),
            "ledger_stored_room": sums[:, 1].copy(),
            "ledger_residual": sums[:, 2].copy(),
            "ledger_handled": sums[:, 3].copy(),
        }
        for place, (name, flow) in enumerate(zip(LEDGER_NAMES, FLOWS, strict=True)):
            values[name] = totals[:, place].copy()
            values[flow] = np.where(seconds > 0.0, rises[:, place] / divisor, 0.0)
        return values

    def _of_parts(self) -> Values:
        """Give what only a run with moisture or a flue run tells."""
        if self._parts is None:
            narrator = self._narrator
            plan, coupling = narrator.plan, narrator.coupling
            told: list[dict[str, float | NDArray[np.float64]]] = []
            for row, outside in enumerate(self._outside.tolist()):
                state = self._kept.state(row)
                told.append(
                    (moist_values(plan, coupling, state) if plan.moist.there else {})
                    | (flue_values(plan, coupling, state, outside) if plan.flue.there else {})
                )
            self._parts = {name: np.array([values[name] for values in told]) for name in told[0]}
        return self._parts


_GROUPS: tuple[tuple[Callable[[StateRows], Values], tuple[str, ...]], ...] = (
    (
        StateRows._plain,
        ("outside_temperature", "room_temperature", "supply_temperature", "exit_temperature", "fan_share",
         "mass_flow"),
    ),
    (StateRows._floor_means, ("floor_mean_temperature", "floor_station_temperature")),
    (StateRows._floor_extremes, ("floor_lowest_temperature", "floor_highest_temperature")),
    (StateRows._ground, ("ground_mean_temperature", "ledger_stored_under_floor")),
    (
        StateRows._air,
        ("reynolds_number", "film_coefficient", "lane_exit_temperature", "air_temperature",
         "wall_temperature", "duct_heat_per_length"),
    ),
    (
        StateRows._flows,
        ("volume_flow", "duct_pressure", "fan_pressure", "branch_mass_flow", "branch_exit_temperature"),
    ),
    (
        StateRows._books,
        ("ledger_stored_ground", "ledger_stored_room", "ledger_residual", "ledger_handled", *LEDGER_NAMES,
         *FLOWS),
    ),
)  # fmt: skip
_GROUP_OF = {name: group for group, names in _GROUPS for name in names}


def need_whole_states(names: Collection[str]) -> bool:
    """Whether any of these series is more than what rows keep of a state anyway."""
    return any(_GROUP_OF.get(name, StateRows._floor_extremes) is StateRows._floor_extremes for name in names)
