"""Where the heat of the fuel went between two moments of a run, and what tank and house did with theirs."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.course import mounted, summed
from simulator.case.units import show
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["ChainAccount", "TankCourse", "chain_account"]

KELVIN_AT_0_DEGC: Final = 273.15
_SOURCES: Final = ("fuel", "heater", "sun", "fan", "pump", "gain")


@dataclass(frozen=True)
class TankCourse:
    """Mean temperature of the tank's water [K]."""

    begin: float
    end: float
    lowest: float
    highest: float


@dataclass(frozen=True)
class ChainAccount(Displayed):
    """Heat moved between two moments [J], and the fuel for it.

    The heat of the fuel is what goes up the flue, to the room, into the water, into the duct air, and what
    stove and hood keep.

    Attributes
    ----------
    burnt : float [kg]
        Fuel as fired.
    fuel : float
        Its lower heating value.
    flue : float
        With the gas that leaves the stove.
    stove_to_room : float
        From the stove's bare part and through the hood's wall.
    coils : float
        From the air into the water.
    duct_air : float
        What the air takes on past the coils, without the fan's own heat.
    stove_change : float
        Change of what stove and hood keep.
    tank_loss, make_up, pump, vented, water_change : float
        Of tank and coils: to the room, brought by fresh water less overflow, from the pump, gone with steam,
        change of what the water keeps.
    sun_let_in, surfaces, leaks : float
        Of the house: through its glazing, lost by its surfaces less the sun they take up, lost with leaking
        air and the air that the fire draws.
    residual : float
        What the account of the whole cannot place.
    put_in : float
        Fuel, heater, sun, fan, pump and other gains: the measure for the residual.
    tank : TankCourse or None
    house : bool
        Whether the room is a house, so that sun and surfaces are known.
    """

    burnt: float
    fuel: float
    flue: float
    stove_to_room: float
    coils: float
    duct_air: float
    stove_change: float
    tank_loss: float
    make_up: float
    pump: float
    vented: float
    water_change: float
    sun_let_in: float
    surfaces: float
    leaks: float
    residual: float
    put_in: float
    tank: TankCourse | None
    house: bool

    @property
    def title(self) -> str:
        """What it is about."""
        parts = []
        if self.fuel > 0.0:
            parts.append("fire")
        if self.tank is not None:
            parts.append("tank")
        if self.house:
            parts.append("house")
        words = " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts) or "heat"
        return words[:1].upper() + words[1:]

    def as_dict(self) -> dict[str, Any]:
        """Return every number with its unit."""
        left = ("burnt", "tank", "house")
        found: dict[str, Any] = {"burnt": {"value": self.burnt, "unit": "kg"}}
        for field in fields(self):
            if field.name not in left:
                found[field.name] = {"value": getattr(self, field.name), "unit": "J"}
        if self.tank is not None:
            found["tank"] = {
                field.name: {"value": getattr(self.tank, field.name) - KELVIN_AT_0_DEGC, "unit": "degC"}
                for field in fields(self.tank)
            }
        return found

    def as_rows(self, units: System) -> list[tuple[str, str]]:
        """Return lines to print: what, how much."""

        def heat(value: float) -> str:
            return show(value, "energy", units)

        def part(value: float) -> str:
            return f"{heat(value)} ({100.0 * value / self.fuel:.1f} %)" if self.fuel > 0.0 else heat(value)

        rows = []
        if self.burnt > 0.0 or self.fuel > 0.0:
            rows += [
                ("Fuel burnt", f"{show(self.burnt, 'mass', units)}, {heat(self.fuel)}"),
                ("Of it up the flue", part(self.flue)),
                ("Of it from stove and hood to the room", part(self.stove_to_room)),
                ("Of it into the water, by the coils", part(self.coils)),
                ("Of it into the ducts, with the air", part(self.duct_air)),
                ("Of it kept in stove and hood", part(self.stove_change)),
            ]
        if self.tank is not None:
            rows += self._tank_rows(self.tank, units)
        if self.house:
            rows += [
                ("Sun let in", heat(self.sun_let_in)),
                ("Lost through walls and glass, less sun on them", heat(self.surfaces)),
                ("Lost with leaking air", heat(self.leaks)),
            ]
        share = abs(self.residual) / self.put_in if self.put_in > 0.0 else 0.0
        left = f"{heat(self.residual)} ({100.0 * share:.2g} % of the heat put in)"
        return [*rows, ("Left over in the account of the whole", left)]

    def _tank_rows(self, tank: TankCourse, units: System) -> list[tuple[str, str]]:
        def degrees(kelvin: float) -> str:
            return show(kelvin, "temperature", units)

        def heat(value: float) -> str:
            return show(value, "energy", units)

        reach = f"lowest {degrees(tank.lowest)}, highest {degrees(tank.highest)}"
        rows = [
            ("Tank, mean", f"{degrees(tank.begin)} to {degrees(tank.end)}, {reach}"),
            ("Tank's gain", heat(self.water_change)),
            ("From the tank to the room", heat(self.tank_loss)),
        ]
        if self.make_up:
            rows.append(("Brought by make-up water, less overflow", heat(self.make_up)))
        if self.vented:
            rows.append(("Gone with steam", heat(self.vented)))
        return rows


def chain_account(results: Results, begin: float, end: float) -> ChainAccount | None:
    """Sum up stove, tank and house between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case.

    Returns
    -------
    ChainAccount or None
        None for a run that has none of them.
    """
    if "whole_fuel" not in results:
        return None
    times = results["time"].values

    def moved(name: str) -> float:
        return mounted(times, results[f"whole_{name}"].values, begin, end)

    def passed(name: str) -> float:
        return summed(times, results[name].values, begin, end) if name in results else 0.0

    house = "sun_let_in" in results
    let_in = passed("sun_let_in")
    faces = passed("cover_loss") + passed("sky_loss") - passed("sun_on_surfaces")
    coils = passed("heat_to_coil")
    return ChainAccount(
        burnt=mounted(times, results["fuel_burnt"].values, begin, end) if "fuel_burnt" in results else 0.0,
        fuel=moved("fuel"),
        flue=passed("flue_loss"),
        stove_to_room=passed("stove_to_room") + passed("hood_to_room"),
        coils=coils,
        duct_air=passed("hood_to_air") - coils,
        stove_change=moved("stored_stove"),
        tank_loss=passed("tank_loss"),
        make_up=moved("make_up"),
        pump=moved("pump"),
        vented=moved("vented"),
        water_change=moved("stored_water"),
        sun_let_in=let_in if house else moved("sun"),
        surfaces=faces if house else 0.0,
        leaks=moved("envelope") - faces if house else 0.0,
        residual=moved("residual"),
        put_in=sum(moved(name) for name in _SOURCES),
        tank=_tank(results, times, begin, end),
        house=house,
    )


def _tank(results: Results, times: FloatArray, begin: float, end: float) -> TankCourse | None:
    if "tank_temperature" not in results:
        return None
    kelvin = results["tank_temperature"].values + KELVIN_AT_0_DEGC
    ends = np.interp([begin, end], times, kelvin)
    course = np.concatenate(([ends[0]], kelvin[(times > begin) & (times < end)], [ends[1]]))
    return TankCourse(float(ends[0]), float(ends[1]), float(course.min()), float(course.max()))
