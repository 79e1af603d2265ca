"""Cases, single steps and an independent right-hand side for the tests of the plant."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import ht
import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from simulator.case.schema_stove import Coil, Hood, Stove
from simulator.case.schema_water import Water
from simulator.physics import air
from simulator.physics.internal_flow import local_nusselt_over
from simulator.plant import layout_kernels as layout
from simulator.plant.chain import Plant, plant_of, start
from simulator.plant.chain_kernels import advance_plant

SIGMA = 5.670374419e-8
WATER_HEAT = 4186.0
WATER_DENSITY = 997.0

STOVE = {"fuel": "pellets", "rate": "2.8 kg/h", "efficiency": 0.75, "mass": "110 kg", "surface": "1.8 m2"}
HOOD = {
    "wall_area": "3 m2",
    "cross_section": "0.08 m2",
    "hydraulic_diameter": "0.12 m",
    "wall_mass": "20 kg",
}
COIL = {
    "conductance": "150 W/K",
    "water_volume": "1.5 L",
    "metal_mass": "5 kg",
    "rated_air_flow": "0.15 kg/s",
    "rated_water_flow": "0.1 kg/s",
}
WATER = {
    "tank_volume": "1000 L",
    "temperature": "16 degC",
    "heat_loss": "5 W/K",
    "pump_flow": "5 L/min",
    "pump_power": "30 W",
    "make_up": "2 L/h",
    "make_up_temperature": "10 degC",
}


def case_of(
    coils: int | list[dict[str, Any]] = 0,
    *,
    room: float = 290.0,
    stove: dict[str, Any] | None = None,
    hood: dict[str, Any] | None = None,
    water: dict[str, Any] | None = None,
    steady: bool = True,
) -> Any:
    """What `plant_of` reads of a case; a tank is there when there are coils or `water` is given."""
    told = [COIL] * coils if isinstance(coils, int) else [{**COIL, **each} for each in coils]
    tank = None if water is None and not told else Water(**{**WATER, **(water or {})})
    fire = {key: value for key, value in STOVE.items() if steady or key not in ("fuel", "rate")}
    return SimpleNamespace(
        stove=Stove(**{**fire, **(stove or {})}),
        hood=Hood(**{**HOOD, **(hood or {})}),
        coils=[Coil(**each) for each in told],
        water=tank,
        room=SimpleNamespace(temperature=room),
    )


def inputs_of(**told: float) -> np.ndarray:
    """Inputs of a step by the names of their constants, lower case."""
    values = {
        "length": 300.0,
        "batch_rate": 0.0,
        "feed": 1.0,
        "overfeed": 1.0,
        "intake": 290.0,
        "room": 290.0,
        "air_flow": 0.15,
        "fan_power": 60.0,
        "pump": 1.0,
        "pressure": 101325.0,
        "air_capacity": math.nan,
        "batch_rise": 0.0,
        "intake_rise": 0.0,
        "room_rise": 0.0,
        "flow_rise": 0.0,
    }
    values.update(told)
    inputs = np.empty(layout.INPUTS)
    for name, value in values.items():
        inputs[getattr(layout, name.upper())] = value
    return inputs


@dataclass
class Ran:
    """State, summed flows and last temperatures after some steps."""

    state: np.ndarray
    flows: np.ndarray
    temperatures: np.ndarray
    status: int


def run(plant: Plant, state: np.ndarray | None = None, steps: int = 1, **told: float) -> Ran:
    """Advance by equal steps."""
    inputs = inputs_of(**told)
    old = start(plant) if state is None else np.array(state, dtype=np.float64)
    new = np.empty_like(old)
    flows, total = np.empty(plant.flow_size), np.zeros(plant.flow_size)
    temperatures = np.empty(plant.temperature_size)
    worst = 0
    for _ in range(steps):
        worst = max(worst, advance_plant(plant.fixed, old, inputs, new, flows, temperatures))
        old, new = new.copy(), old
        total += flows
    return Ran(old, total, temperatures, worst)


def residuals(flows: np.ndarray) -> tuple[float, float, float]:
    """What is left of the three accounts in `layout_kernels` [J]."""
    at = layout
    stove = flows[at.FUEL] - flows[at.FLUE_LOSS] - flows[at.STOVE_TO_ROOM] - flows[at.HOOD_TO_ROOM]
    stove -= flows[at.HOOD_TO_AIR] + flows[at.STORED_STOVE]
    stream = flows[at.HOOD_TO_AIR] - flows[at.AIR_NET] - flows[at.COILS]
    water = flows[at.COILS] + flows[at.PUMP_HEAT] + flows[at.MAKE_UP]
    water -= flows[at.TANK_LOSS] + flows[at.VENTED] + flows[at.STORED_WATER]
    return stove, stream, water


class Independent:
    """The same plant written anew in plain Python: one equation after the other, roots by bisection.

    Shared with the program are the properties of dry air and the Nusselt number of round ducts only; free
    convection and effectiveness come from the library `ht`. Fan on, or no coils; no boiling. Room, intake and
    batch_rate may be functions of time [s].
    """

    def __init__(self, case: Any, **told: float | Callable[[float], float]) -> None:
        self.case = case
        self.given = {"feed": 1.0, "intake": 290.0, "room": 290.0, "air_flow": 0.15, "pump": 1.0, **told}
        self.given = {"batch_rate": 0.0, **self.given}
        self.told = self.at(0.0)
        stove, hood = case.stove, case.hood
        self.hooded = stove.surface * (1.0 - stove.bare_share)
        self.bare = stove.surface * stove.bare_share
        self.shell_height = math.sqrt(stove.surface / (1.25 * math.pi))
        self.wall_height = math.sqrt(hood.wall_area / (1.25 * math.pi))
        specific = self.told.get("air_capacity") or float(air.heat_capacity(self.told["intake"]))
        self.capacity = self.told["air_flow"] * specific
        dry = stove.heating_value
        self.heating_value = dry * (1.0 - stove.moisture) - 2.443e6 * stove.moisture

    def at(self, time: float) -> dict[str, float]:
        """What is told, at a time [s]."""
        return {name: value(time) if callable(value) else value for name, value in self.given.items()}

    def free_film(self, surface: float, fluid: float, height: float) -> float:
        """Churchill and Chu by `ht`; the room's stir of half a kelvin as the program documents it."""
        mean = 0.5 * (surface + fluid)
        nu = float(air.viscosity(mean)) / float(air.density(mean, 101325.0))
        prandtl = float(air.prandtl(mean))
        drive = 9.80665 / mean * math.hypot(surface - fluid, 0.5)
        grashof = drive * height**3 / nu**2
        nusselt = ht.Nu_vertical_plate_Churchill(prandtl, grashof)
        return float(nusselt * air.conductivity(mean) / height)

    def forced_film(self, mean: float, inner: bool) -> float:
        """Round-duct equations with the factors of Petukhov and Roizen; turbulent flow only."""
        hood = self.case.hood
        flow = (1.0 - hood.bypass) * self.told["air_flow"]
        if flow <= 0.0:
            return 0.0
        hydraulic = hood.hydraulic_diameter
        reynolds = flow * hydraulic / (hood.cross_section * float(air.viscosity(mean)))
        if reynolds < 4000.0:
            raise ValueError("this check is for turbulent flow")
        length = hydraulic * (self.hooded + hood.wall_area) / (4.0 * hood.cross_section)
        ratio = self.hooded / hood.wall_area
        factor = 0.86 * ratio**-0.16 if inner else 1.0 - 0.14 * ratio**0.6
        pipe = local_nusselt_over(reynolds, float(air.prandtl(mean)), hydraulic, 0.0, length)
        return float(factor * pipe * air.conductivity(mean) / hydraulic)

    def hood_state(self, shell: float, wall: float) -> tuple[float, float, float]:
        """Heat from shell and wall to the air [W], and air leaving the hood [K]."""
        hood, intake = self.case.hood, self.told["intake"]
        stream = (1.0 - hood.bypass) * self.capacity

        def at(mean: float) -> tuple[float, float, float, float]:
            first = self.forced_film(mean, inner=True) ** 3
            first = (first + self.free_film(shell, mean, self.shell_height) ** 3) ** (1.0 / 3.0)
            second = self.forced_film(mean, inner=False) ** 3
            second = (second + self.free_film(wall, mean, self.wall_height) ** 3) ** (1.0 / 3.0)
            if hood.film is not None:
                first = second = hood.film
            one, two = first * self.hooded, second * hood.wall_area
            target = (one * shell + two * wall) / (one + two)
            if stream <= 0.0:
                return one * (shell - target), two * (wall - target), target, target - mean
            # The course along the way integrated by a fine rule instead of its closed form.
            x = (np.arange(2000) + 0.5) / 2000.0
            course = target + (intake - target) * np.exp(-(one + two) / stream * x)
            out = target + (intake - target) * math.exp(-(one + two) / stream)
            middle = float(course.mean())
            return one * (shell - middle), two * (wall - middle), out, middle - mean

        low, high = min(shell, wall, intake) - 1.0, max(shell, wall, intake) + 1.0
        mean = brentq(lambda m: at(m)[3], low, high, xtol=1e-10)
        return at(mean)[:3]

    def rates(self, time: float, y: np.ndarray) -> np.ndarray:
        """Rates of shell, hood wall, coils and layers [K/s]."""
        case = self.case
        told = self.told = self.at(time)
        stove, hood, water = case.stove, case.hood, case.water
        room, intake = told["room"], told["intake"]
        count = len(case.coils)
        shell, wall = y[0], y[1]
        coil, tank = y[2 : 2 + count], y[2 + count :]
        level = min(1.0, time / stove.start_up) * told["feed"]
        burning = (stove.rate or 0.0) * level + told["batch_rate"]
        fire = burning * stove.efficiency * self.heating_value
        to_air, from_wall, out = self.hood_state(shell, wall)
        ratio = self.hooded / hood.wall_area
        exchange = SIGMA * self.hooded * (shell**4 - wall**4)
        exchange /= 1.0 / stove.emissivity + ratio * (1.0 / hood.emissivity - 1.0)
        bare = self.free_film(shell, room, self.shell_height) * (shell - room)
        bare += SIGMA * stove.emissivity * (shell**4 - room**4)
        rates = np.zeros_like(y)
        rates[0] = fire - bare * self.bare - to_air - exchange
        rates[0] /= stove.mass * stove.specific_heat
        rates[1] = exchange - from_wall - hood.heat_loss * hood.wall_area * (wall - room)
        rates[1] /= hood.wall_mass * hood.wall_specific_heat
        if water is None:
            return rates
        flow = water.pump_flow * WATER_DENSITY * told["pump"]
        through = flow / count if water.coils == "parallel" else flow
        moved = through * WATER_HEAT
        drawn = tank[0] + (water.pump_power / (water.pump_flow * WATER_DENSITY * WATER_HEAT) if flow else 0.0)
        stream = (1.0 - hood.bypass) * out + hood.bypass * intake
        for k, each in enumerate(case.coils):
            share = each.air_side_share
            resistance = share * (told["air_flow"] / each.rated_air_flow) ** -0.6
            resistance += (1.0 - share) * max(through / each.rated_water_flow, 0.05) ** -0.8
            conductance = each.conductance / resistance
            settling = self.capacity * (1.0 - math.exp(-conductance / self.capacity))
            if flow:
                into = drawn if water.coils == "parallel" or k == count - 1 else coil[k + 1]
                smaller = min(self.capacity, moved)
                kind = {
                    "counter flow": "counterflow",
                    "parallel flow": "parallel",
                    "cross flow": "crossflow",
                    "cross flow, air mixed": "crossflow, mixed Cmin"
                    if self.capacity <= moved
                    else "crossflow, mixed Cmax",
                    "cross flow, water mixed": "crossflow, mixed Cmax"
                    if self.capacity <= moved
                    else "crossflow, mixed Cmin",
                }[each.arrangement]
                part = ht.effectiveness_from_NTU(
                    conductance / smaller, smaller / max(self.capacity, moved), subtype=kind
                )
                steady_heat = part * smaller * (stream - into)
                steady_out = into + steady_heat / moved
                settling *= 1.0 - part * smaller / self.capacity
            else:
                into, steady_heat, steady_out = coil[k], 0.0, stream
            heat = steady_heat + settling * (steady_out - coil[k])
            stream -= heat / self.capacity
            held = each.water_volume * WATER_DENSITY * WATER_HEAT + each.metal_mass * 385.0
            rates[2 + k] = (heat + moved * (into - coil[k])) / held
        back = float(np.mean(coil)) if water.coils == "parallel" else coil[0]
        make_up = water.make_up * WATER_DENSITY
        layers = tank.size
        for i in range(layers):
            # Each stream of its own, then the mixing of opposite streams taken back: only their net moves.
            net = (flow - make_up) * WATER_HEAT
            gain = -water.heat_loss / layers * (tank[i] - room)
            if i == layers - 1:
                gain += flow * WATER_HEAT * (back - tank[i])
            if i == 0:
                gain += make_up * WATER_HEAT * (water.make_up_temperature - tank[i])
            if i < layers - 1 and net > 0.0:
                gain += net * (tank[i + 1] - tank[i])
            if i > 0 and net < 0.0:
                gain -= net * (tank[i - 1] - tank[i])
            if layers > 1:
                slab = water.height / layers
                conduction = 0.6 * (water.tank_volume / water.height) / slab
                if i > 0:
                    gain += conduction * (tank[i - 1] - tank[i])
                if i < layers - 1:
                    gain += conduction * (tank[i + 1] - tank[i])
            rates[2 + count + i] = gain / (water.tank_volume / layers * WATER_DENSITY * WATER_HEAT)
        return rates

    def after(self, times: np.ndarray, corners: Iterable[float] = ()) -> np.ndarray:
        """Temperatures [K] at times [s] from the cold start, without the burning level; Radau, 1e-9.

        The integration stops and begins anew at `corners` [s] of what is told.
        """
        case = self.case
        begin = [case.room.temperature] * 2
        if case.water is not None:
            begin += [case.water.temperature] * (len(case.coils) + case.water.layers)
        stops = np.unique([0.0, case.stove.start_up, *corners, times[-1]])
        found = np.empty((times.size, len(begin)))
        y = np.array(begin)
        for first, last in pairwise(stops):
            wanted = (times > first) & (times <= last)
            answer = solve_ivp(
                self.rates,
                (first, last),
                y,
                method="Radau",
                rtol=1e-8,
                atol=1e-7,
                t_eval=np.unique(np.append(times[wanted], last)),
            )
            if not answer.success:
                raise ValueError(answer.message)
            found[wanted] = answer.y.T[: int(wanted.sum())]
            y = answer.y[:, -1]
        return found


def plant(case: Any) -> Plant:
    """Short for `plant_of`."""
    return plant_of(case)
