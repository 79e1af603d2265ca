"""How hot and how cold things get after an upset, against the same run without it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Extreme", "extremes"]

KELVIN_AT_0_DEGC: Final = 273.15
WATCHED: Final = (
    ("coil water", ("coil_water_temperature",)),
    ("air at the fan", ("fan_air_temperature",)),
    ("air into the ducts", ("supply_temperature",)),
    ("duct wall", ("wall_temperature",)),
    ("stove's shell", ("shell_temperature",)),
    ("floor surface", ("floor_highest_temperature", "floor_lowest_temperature")),
    ("tank", ("tank_layer_temperature",)),
    ("room", ("room_temperature",)),
)
"""Name, and the series that the hottest and the coldest of it are taken from."""


@dataclass(frozen=True)
class Extreme:
    """The hottest and the coldest of one thing from the upset to the end of the run [K].

    Attributes
    ----------
    what : str
    highest, lowest : float
        With the upset.
    highest_at, lowest_at : datetime
    usual_highest, usual_lowest : float
        Without it, over the same time.
    """

    what: str
    highest: float
    highest_at: dt.datetime
    usual_highest: float
    lowest: float
    lowest_at: dt.datetime
    usual_lowest: float

    def as_dict(self) -> dict[str, Any]:
        """Hand over the numbers for other programs, in degrees Celsius."""

        def celsius(kelvin: float) -> float:
            return round(kelvin - KELVIN_AT_0_DEGC, 6)

        return {
            "what": self.what,
            "highest_degC": celsius(self.highest),
            "highest_at": self.highest_at.isoformat(" ", "minutes"),
            "highest_without_upset_degC": celsius(self.usual_highest),
            "lowest_degC": celsius(self.lowest),
            "lowest_at": self.lowest_at.isoformat(" ", "minutes"),
            "lowest_without_upset_degC": celsius(self.usual_lowest),
        }


def extremes(usual: Results, results: Results, begin: float) -> tuple[Extreme, ...]:
    """Read the hottest and coldest of everything that both runs have.

    Parameters
    ----------
    usual, results : Results
        Without and with the upset, with the same rows.
    begin : float [s]
        When the upset happens.

    Returns
    -------
    tuple of Extreme
    """
    times = results["time"].values
    rows = np.flatnonzero(times >= begin)
    found = []
    for what, names in WATCHED:
        if any(name not in results or name not in usual for name in names):
            continue
        above = [_of_each_row(run, names[0], highest=True)[rows] for run in (results, usual)]
        below = [_of_each_row(run, names[-1], highest=False)[rows] for run in (results, usual)]
        if not all(np.isfinite(course).any() for course in (*above, *below)):
            continue
        hot, cold = int(np.nanargmax(above[0])), int(np.nanargmin(below[0]))

        def moment(row: int) -> dt.datetime:
            return results.start + dt.timedelta(seconds=float(times[rows[row]]))

        found.append(
            Extreme(
                what,
                float(above[0][hot]),
                moment(hot),
                float(np.nanmax(above[1])),
                float(below[0][cold]),
                moment(cold),
                float(np.nanmin(below[1])),
            )
        )
    return tuple(found)


def _of_each_row(results: Results, name: str, *, highest: bool) -> FloatArray:
    """Return the highest or lowest place of every row [K], NaN where there is none."""
    values = np.asarray(results[name].values, dtype=float)
    values = values.reshape(values.shape[0], -1) + KELVIN_AT_0_DEGC
    if name == "supply_temperature":
        # Without a flow the temperature of the entering air means nothing.
        values = np.where((results["mass_flow"].values > 0.0)[:, None], values, np.nan)
    away = -np.inf if highest else np.inf
    course = np.where(np.isnan(values), away, values)
    course = course.max(axis=1) if highest else course.min(axis=1)
    return np.where(np.isfinite(course), course, np.nan)
