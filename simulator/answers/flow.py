"""What the fan did: its operating point, how evenly the branches share the air, heat moved for its energy."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.course import hours, rows_within
from simulator.case.units import show
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["AirFlow", "air_flow"]

AIR = 0
"""Group of the branches that the fan blows through."""
JOULES_PER_KILOWATT_HOUR = 3.6e6


@dataclass(frozen=True)
class AirFlow(Displayed):
    """Flow through the ducts between two moments; means are over the time in which the fan ran.

    Attributes
    ----------
    running : float [h]
    volume_flow, lowest_volume_flow, highest_volume_flow : float [m3/s] or None
        At the fan. None, as all that follows, when it never ran.
    fan_pressure, duct_pressure : float [Pa] or None
        Rise of the fan, and the part of it over the branches.
    reynolds_number : float [1] or None
        At a duct's inlet.
    smallest_share, largest_share : float [1] or None
        Mass flow of the branch with least and most air, over the mean of all ducts.
    electric_power : float [W] or None
    fan_energy : float [J]
        Taken from the mains by fan and jacket blower, over the whole time.
    heat_moved : float [J]
        Given by the fan's air to the ground while warmer, and taken back while cooler.
    """

    running: float
    volume_flow: float | None
    lowest_volume_flow: float | None
    highest_volume_flow: float | None
    fan_pressure: float | None
    duct_pressure: float | None
    reynolds_number: float | None
    smallest_share: float | None
    largest_share: float | None
    electric_power: float | None
    fan_energy: float
    heat_moved: float

    @property
    def heat_per_fan_energy(self) -> float | None:
        """Heat moved for each unit of electric energy of the fan [1]; None when that is 0."""
        return self.heat_moved / self.fan_energy if self.fan_energy > 0.0 else None

    def as_dict(self) -> dict[str, Any]:
        """Return every number with its unit."""
        units = {
            "running": "h", "fan_pressure": "Pa", "duct_pressure": "Pa", "electric_power": "W",
            "fan_energy": "J", "heat_moved": "J", "volume_flow": "m3/s", "lowest_volume_flow": "m3/s",
            "highest_volume_flow": "m3/s",
        }  # fmt: skip
        numbers = {**asdict(self), "heat_per_fan_energy": self.heat_per_fan_energy}
        return {name: {"value": value, "unit": units.get(name, "1")} for name, value in numbers.items()}

    def as_rows(self, units: System) -> list[tuple[str, str]]:
        """Return lines to print: what, how much."""

        def shown(value: float | None, dimension: str) -> str:
            return "-" if value is None else show(value, dimension, units)

        if self.volume_flow is None or self.electric_power is None:
            return [("Fan", "did not run")]
        low, high = self.lowest_volume_flow, self.highest_volume_flow
        flow = shown(self.volume_flow, "volume flow")
        if low is not None and high is not None and high > low * 1.005:
            flow += f" ({shown(low, 'volume flow')} to {shown(high, 'volume flow')})"
        pressure = (
            f"{shown(self.fan_pressure, 'pressure')}, {shown(self.duct_pressure, 'pressure')} in the ducts"
        )
        found = [
            ("Fan ran", f"{self.running:.1f} h"),
            ("Air moved, mean while it ran", flow),
            ("Fan's pressure", pressure),
            ("Electric power", f"{self.electric_power:.0f} W"),
        ]
        if self.smallest_share is not None and self.largest_share is not None and self.largest_share > 1.005:
            text = f"{100.0 * self.smallest_share:.0f} to {100.0 * self.largest_share:.0f} % of the mean"
            found.append(("Air in the ducts, least to most", text))
        energy = self.fan_energy / JOULES_PER_KILOWATT_HOUR
        found.append(("Electric energy of fan and blower", f"{energy:.2f} kWh"))
        moved = show(self.heat_moved, "energy", units)
        share = self.heat_per_fan_energy
        if share is not None:
            moved += f", {share:.1f} times the fan's electric energy"
        found.append(("Heat the air moved into and out of the ground", moved))
        return found


def air_flow(results: Results, begin: float, end: float) -> AirFlow:
    """Sum up the flow between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case.

    Returns
    -------
    AirFlow
    """
    seconds = results["time"].values
    rows = rows_within(seconds, begin, end)
    runs = (results["fan_share"].values[rows.cut] > 0.0) & (results["mass_flow"].values[rows.cut] > 0.0)
    weight = rows.spans * runs
    ran = bool(np.any(weight > 0.0))
    volume = results["volume_flow"].values[rows.cut]

    def mean(name: str) -> float | None:
        return float(np.average(results[name].values[rows.cut], weights=weight)) if ran else None

    least, most = _shares(results, rows.cut, weight) if ran else (None, None)
    ledger = np.interp([begin, end], seconds, results["ledger_fan"].values)
    return AirFlow(
        running=hours(rows, runs),
        volume_flow=mean("volume_flow"),
        lowest_volume_flow=float(volume[runs].min()) if ran else None,
        highest_volume_flow=float(volume[runs].max()) if ran else None,
        fan_pressure=mean("fan_pressure"),
        duct_pressure=mean("duct_pressure"),
        reynolds_number=mean("reynolds_number"),
        smallest_share=least,
        largest_share=most,
        electric_power=mean("fan_power"),
        fan_energy=float(ledger[1] - ledger[0]),
        heat_moved=_heat_moved(results, seconds, begin, end),
    )


def _shares(results: Results, cut: slice, weight: FloatArray) -> tuple[float | None, float | None]:
    if "branch_group" not in results:
        return None, None
    air = results["branch_group"].values == AIR
    if not air.any():
        return None, None
    flows = np.average(results["branch_mass_flow"].values[cut][:, air], axis=0, weights=weight)
    ducts = results["branch_ducts"].values[air]
    mean = float(flows @ ducts / ducts.sum())
    return (float(flows.min()) / mean, float(flows.max()) / mean) if mean > 0.0 else (None, None)


def _heat_moved(results: Results, seconds: FloatArray, begin: float, end: float) -> float:
    """Heat between the fan's air and the ground, each way counted as positive [J]."""
    moments = np.concatenate(([begin], seconds[(seconds > begin) & (seconds < end)], [end]))
    course = np.interp(moments, seconds, results["ledger_duct"].values)
    into = np.diff(course)
    if "branch_group" in results and np.any(results["branch_group"].values != AIR):
        # The ledger also holds what the flue run gave to the ground: take that out by its own lane.
        lanes = results["segment_lane"].values - 1
        group = results["branch_group"].values[results["segment_branch"].values - 1]
        flue = sorted(set(lanes[group != AIR].tolist()))
        length, ducts = results["station_length"].values, results["lane_ducts"].values
        heat = results["duct_heat_per_length"].values[:, flue, :]
        power = np.nan_to_num(heat) @ length @ ducts[flue]
        # A row tells the state at its end: the step before it had nearly that power.
        steps = np.concatenate(([0.0], np.cumsum(power[1:] * np.diff(seconds))))
        into -= np.diff(np.interp(moments, seconds, steps))
    return float(np.abs(into).sum())
