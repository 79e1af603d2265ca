"""How wet the ducts were: water settled, dried and standing, and how long it stayed damp."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.course import Rows, held, longest_hours, mounted, rows_within
from simulator.case.units import show
from simulator.physics import air, moist_air
from simulator.physics.moist_air_kernels import MOLAR_RATIO
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["DuctMoisture", "duct_moisture"]

WET_FILM: Final = 1e-3
"""Water on the wall [kg/m2] from which a duct counts as wet: a film of a thousandth of a millimetre."""
STANDING_FILM: Final = 0.3
"""Water [kg/m2] from which it stands rather than clings: a film of 0.3 mm (common practice, no source)."""
MOULD_HUMIDITY: Final = 0.8
"""Relative humidity at a surface from which mould grows (ISO 13788, value from memory)."""
_KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True)
class DuctMoisture(Displayed):
    """Moisture in the ducts between two moments.

    Attributes
    ----------
    settled, dried, drained : float [kg]
        Water in all ducts.
    most_standing, standing_at_end : float [kg]
        In all ducts together.
    wet_hours : float [h]
        At the place that was wet for longest.
    longest_wet_hours : float [h]
        Without a break, at any place.
    wet_share : float [1]
        Of the ducts' length, ever wet.
    longest_damp_hours : float [h]
        Without a break at one place with 80 % relative humidity or more at the wall.
    deepest_film : float [kg/m2]
        Most water on any wall.
    latent_heat : float [J]
        Set free by settling less taken by drying.
    lowest_room_humidity, highest_room_humidity : float [1]
    """

    settled: float
    dried: float
    drained: float
    most_standing: float
    standing_at_end: float
    wet_hours: float
    longest_wet_hours: float
    wet_share: float
    longest_damp_hours: float
    deepest_film: float
    latent_heat: float
    lowest_room_humidity: float
    highest_room_humidity: float

    @property
    def stands(self) -> bool:
        """Whether water stood in a duct rather than clung to its wall."""
        return self.deepest_film >= STANDING_FILM

    def as_dict(self) -> dict[str, Any]:
        """Return every number with its unit."""
        ends = {"hours": "h", "film": "kg/m2", "heat": "J", "share": "1", "humidity": "1"}
        return {
            name: {"value": value, "unit": ends.get(name.rpartition("_")[2], "kg")}
            for name, value in asdict(self).items()
        }

    def as_rows(self, units: System) -> list[tuple[str, str]]:
        """Return lines to print: what, how much."""

        def mass(value: float) -> str:
            return show(value, "mass", units)

        humidity = f"{100.0 * self.lowest_room_humidity:.0f} to {100.0 * self.highest_room_humidity:.0f} %"
        found = [
            ("Room's relative humidity", humidity),
            ("Water settled in the ducts", mass(self.settled)),
            ("Water dried off again", mass(self.dried)),
            ("Water run off", mass(self.drained)),
            ("Water in the ducts, most", mass(self.most_standing)),
            ("Water in the ducts, at the end", mass(self.standing_at_end)),
            ("Heat set free by settling less drying", show(self.latent_heat, "energy", units)),
        ]
        if self.wet_share > 0.0:
            text = (
                f"{self.wet_hours:.1f} h at the wettest place, {self.longest_wet_hours:.1f} h without a break"
            )
            found.append(("Duct wet", text))
            found.append(("Length of the ducts that was ever wet", f"{100.0 * self.wet_share:.0f} %"))
        else:
            found.append(("Duct wet", "never"))
        found.append(
            ("80 % relative humidity or more at a wall", f"{self.longest_damp_hours:.1f} h at a stretch")
        )
        return found


def duct_moisture(results: Results, begin: float, end: float) -> DuctMoisture | None:
    """Sum up the moisture between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case.

    Returns
    -------
    DuctMoisture or None
        None for a run with dry air.
    """
    if "water_held" not in results:
        return None
    seconds = results["time"].values
    rows = rows_within(seconds, begin, end)
    places = _air_places(results)
    film = results["water_held"].values[rows.cut][:, places] / _perimeter(results)
    wet = film >= WET_FILM
    length = np.broadcast_to(results["station_length"].values, places.shape)[places]
    ducts = np.broadcast_to(results["lane_ducts"].values[:, np.newaxis], places.shape)[places]
    weight = length * ducts
    standing = results["water_standing"].values[rows.cut]
    room = results["room_relative_humidity"].values[rows.cut]

    def moved(name: str) -> float:
        return mounted(seconds, results[name].values, begin, end)

    return DuctMoisture(
        settled=moved("water_condensed"),
        dried=moved("water_dried"),
        drained=moved("water_drained"),
        most_standing=float(standing.max()),
        standing_at_end=float(standing[-1]),
        wet_hours=float(held(rows, wet).max(initial=0.0)) / 3600.0,
        longest_wet_hours=longest_hours(rows, wet),
        wet_share=float(weight[wet.any(axis=0)].sum() / weight.sum()) if weight.size else 0.0,
        longest_damp_hours=longest_hours(rows, _wall_humidity(results, rows, places) >= MOULD_HUMIDITY),
        deepest_film=float(film.max(initial=0.0)),
        latent_heat=moved("ledger_latent"),
        lowest_room_humidity=float(room.min()),
        highest_room_humidity=float(room.max()),
    )


def _air_places(results: Results) -> NDArray[np.bool_]:
    """(M, S) lanes and stations through which the fan's air goes."""
    shape = (results["lane"].values.size, results["station"].values.size)
    if "branch_group" not in results:
        return np.ones(shape, dtype=bool)
    places = np.zeros(shape, dtype=bool)
    air_goes = results["branch_group"].values[results["segment_branch"].values - 1] == 0
    places[results["segment_lane"].values[air_goes] - 1, results["segment_station"].values[air_goes] - 1] = (
        True
    )
    return places


def _perimeter(results: Results) -> float:
    """Inside perimeter of a duct of the fan's air [m]."""
    lanes = np.flatnonzero(_air_places(results).any(axis=1)) + 1
    of_air = np.isin(results["duct_lane"].values, lanes)
    return float(2.0 * np.pi * results["duct_inside_radius"].values[of_air].min(initial=np.inf))


def _wall_humidity(results: Results, rows: Rows, places: NDArray[np.bool_]) -> FloatArray:
    """Relative humidity of the air beside the wall, at the wall's temperature (T, places)."""
    edges = results["humidity_ratio"].values[rows.cut]
    ratio = 0.5 * (edges[:, :, :-1] + edges[:, :, 1:])[:, places]
    celsius = results["duct_surface_temperature"].values[rows.cut][:, places]
    # Logarithm of the saturation pressure on a fine table: 1e-5 off, and a hundred times as fast.
    table = np.linspace(200.0, 400.0, 2001)
    logs = np.log(moist_air.saturation_pressure(table))
    full = np.exp(np.interp(celsius + _KELVIN_AT_0_DEGC, table, logs))
    vapour = _air_pressure(results, rows, table, logs) * ratio / (MOLAR_RATIO + ratio)
    share: FloatArray = np.nan_to_num(vapour / full)
    return share


def _air_pressure(results: Results, rows: Rows, table: FloatArray, logs: FloatArray) -> float:
    """Air pressure of the site [Pa], from the room's humidity told in two ways."""
    share = results["room_relative_humidity"].values[rows.cut]
    ratio = results["room_humidity_ratio"].values[rows.cut]
    celsius = results["room_temperature"].values[rows.cut]
    known = (ratio > 1e-6) & (share > 0.0)
    if not known.any():
        return float(air.pressure_at(0.0))
    vapour = share * np.exp(np.interp(celsius + _KELVIN_AT_0_DEGC, table, logs))
    return float(np.median(vapour[known] * (MOLAR_RATIO + ratio[known]) / ratio[known]))
