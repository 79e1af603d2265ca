"""Stove, hood, coils and tank of a case, as plain numbers for `chain_kernels.advance_plant`.

The layout of state, inputs, flows and temperatures is in `layout_kernels`; `Plant.places` gives the parts
whose place depends on the number of coils and layers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import CaseError
from simulator.physics.coils import ARRANGEMENTS
from simulator.physics.combustion import Burn, Fuel, burn
from simulator.physics.films import pair_emissivity
from simulator.physics.moist_air_kernels import WATER_HEAT_CAPACITY
from simulator.plant.fire import mean_rates
from simulator.plant.fire_kernels import flue_loss_of
from simulator.plant.layout_kernels import (
    FIRST_COIL,
    FIRST_COIL_HEAT,
    FIRST_COIL_WATER,
    FLOWS,
    GAS,
    LEVEL,
    MEAN_FLUE,
    PlantFixed,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    from simulator.case.schema import Case
    from simulator.case.schema_stove import Coil

WATER_DENSITY = 997.0
"""Of the water in tank, pump and coils [kg/m3], at 25 degC."""
WATER_CONDUCTIVITY = 0.6
"""Between the layers of the tank [W/(m.K)]."""
ROOM_OF_CHECK = 293.15
"""Combustion air [K] at which a case's flue temperature is checked."""


@dataclass(frozen=True)
class Places:
    """Slices of the arrays of `advance_plant`.

    Attributes
    ----------
    coils, layers : slice
        Of the state: water of each coil, layers of the tank from the bottom.
    coil_heat : slice
        Of the flows.
    coil_water, coil_air, tank : slice
        Of the temperatures: water in and air behind each coil, layers from the bottom.
    """

    coils: slice
    layers: slice
    coil_heat: slice
    coil_water: slice
    coil_air: slice
    tank: slice

    @classmethod
    def of(cls, coils: int, layers: int) -> Places:
        """Places for a number of coils and layers."""
        water = FIRST_COIL_WATER
        return cls(
            coils=slice(FIRST_COIL, FIRST_COIL + coils),
            layers=slice(FIRST_COIL + coils, FIRST_COIL + coils + layers),
            coil_heat=slice(FIRST_COIL_HEAT, FIRST_COIL_HEAT + coils),
            coil_water=slice(water, water + coils),
            coil_air=slice(water + coils, water + 2 * coils),
            tank=slice(water + 2 * coils, water + 2 * coils + layers),
        )


@dataclass(frozen=True, eq=False)
class Plant:
    """What burns, warms and carries off heat in a case.

    Attributes
    ----------
    fixed : PlantFixed
        For the kernels.
    names : tuple of str
        Of the coils, in the order of the air.
    made : Burn
        What a kilogram of the fuel turns into; `made.gas` is the flue gas.
    places : Places
    start_temperature, start_water : float [K]
        Of stove, hood and coils, and of the tank.
    batches : bool
        Whether loads are laid on; else a steady feed.
    burn_shape : str
    burn_time : float [s]
        Of a load.
    shell_service, fan_service : float [K]
    safe_low, safe_high : float [K]
        Of the tank; NaN where not given.
    dew_point : float [K]
        Of the flue gas, at the sea's pressure.
    """

    fixed: PlantFixed
    names: tuple[str, ...]
    made: Burn
    places: Places
    start_temperature: float
    start_water: float
    batches: bool
    burn_shape: str
    burn_time: float
    shell_service: float
    fan_service: float
    safe_low: float
    safe_high: float
    dew_point: float

    @property
    def state_size(self) -> int:
        """Numbers in the state."""
        return FIRST_COIL + self.fixed.coils + self.fixed.layers

    @property
    def flow_size(self) -> int:
        """Numbers in the flows of a step."""
        return FLOWS + self.fixed.coils

    @property
    def temperature_size(self) -> int:
        """Numbers in the temperatures of a step."""
        return FIRST_COIL_WATER + 2 * self.fixed.coils + self.fixed.layers


def start(plant: Plant) -> NDArray[np.float64]:
    """State at the start: stove and hood cold at the room's temperature, no fire, the tank as told.

    Coils with a tank start at its temperature.
    """
    state = np.full(plant.state_size, plant.start_temperature)
    state[LEVEL] = 0.0
    state[plant.places.coils] = plant.start_water
    state[plant.places.layers] = plant.start_water
    return state


def batch_rates(
    plant: Plant, loads: Iterable[tuple[int, float]], begins: ArrayLike, ends: ArrayLike
) -> NDArray[np.float64]:
    """Mean burning rate of the loads over steps [kg/s], exact; all 0 with a steady feed.

    Parameters
    ----------
    plant : Plant
    loads : iterable of (tick, mass [kg])
    begins, ends : (n,) array_like of int [ticks]

    Returns
    -------
    (n,) float [kg/s]
    """
    if not plant.batches:
        return np.zeros(np.shape(begins))
    return mean_rates(plant.burn_shape, plant.burn_time, loads, begins, ends)


def gas_of(
    flows: NDArray[np.float64], temperatures: NDArray[np.float64], length: float
) -> tuple[float, float]:
    """Mean flow [kg/s] and temperature [K] of the gas leaving the stove over a step of `length` [s].

    What a flue run under the floor takes in; its composition is `Plant.made`.
    """
    return float(flows[GAS]) / length, float(temperatures[MEAN_FLUE])


def plant_of(case: Case) -> Plant:
    """Collect what a case says about stove, hood, coils and tank.

    Raises
    ------
    CaseError
        If the case has no stove or hood, has coils without a tank, or its fuel cannot burn as told.
    """
    stove, hood, water = case.stove, case.hood, case.water
    if stove is None:
        raise CaseError("needs a stove", key="stove", fix="add [stove], or another heat.kind")
    if hood is None:
        raise CaseError("needs a hood over the stove", key="hood", fix="add [hood]")
    coils = list(case.coils)
    if coils and water is None:
        raise CaseError("needs a tank for the coils' water", key="water", fix="add [water]")
    made = _burn_of(stove.heating_value, stove.moisture, stove.air_ratio)
    nan = math.nan
    efficiency = nan if stove.efficiency is None else stove.efficiency
    flue_temperature = nan if stove.flue_temperature is None else stove.flue_temperature
    _check_flue(made, flue_temperature)
    hooded = (1.0 - stove.bare_share) * stove.surface
    ratio = hooded / hood.wall_area
    layers = 0 if water is None else water.layers
    capacity = WATER_DENSITY * WATER_HEAT_CAPACITY
    fixed = PlantFixed(
        coils=len(coils),
        layers=layers,
        steady_rate=stove.rate or 0.0,
        start_up=stove.start_up,
        burn_out=stove.burn_out,
        heating_value=made.heating_value,
        wet_gas=made.wet_gas,
        dry_air=made.dry_air,
        efficiency=efficiency,
        flue_temperature=flue_temperature,
        gas_low=made.gas.low,
        gas_high=made.gas.high,
        shell_capacity=stove.mass * stove.specific_heat,
        wall_capacity=hood.wall_mass * hood.wall_specific_heat,
        hooded_area=hooded,
        bare_area=stove.bare_share * stove.surface,
        shell_height=height_of(stove.surface),
        shell_emissivity=stove.emissivity,
        wall_area=hood.wall_area,
        wall_height=height_of(hood.wall_area),
        pair_emissivity=float(pair_emissivity(stove.emissivity, hood.emissivity, min(ratio, 1.0))),
        wall_to_room=hood.heat_loss * hood.wall_area,
        cross_section=hood.cross_section,
        hydraulic_diameter=hood.hydraulic_diameter,
        way_length=hood.hydraulic_diameter * (hooded + hood.wall_area) / (4.0 * hood.cross_section),
        radius_ratio=min(ratio, 1.0),
        bypass=hood.bypass,
        film=nan if hood.film is None else hood.film,
        fan_before_coils=hood.fan_place == "before coils",
        conductance=_of(coils, "conductance"),
        arrangement=np.array([ARRANGEMENTS[coil.arrangement] for coil in coils], dtype=np.int64),
        rated_air_flow=_of(coils, "rated_air_flow"),
        rated_water_flow=_of(coils, "rated_water_flow"),
        air_side_share=_of(coils, "air_side_share"),
        coil_capacity=np.array(
            [coil.water_volume * capacity + coil.metal_mass * coil.metal_specific_heat for coil in coils],
            dtype=np.float64,
        ),
        boiling=_of(coils, "boiling_temperature"),
        parallel=water is not None and water.coils == "parallel",
        layer_capacity=1.0 if water is None else water.tank_volume * capacity / layers,
        layer_conduction=0.0
        if water is None or layers == 1 or water.height is None
        else WATER_CONDUCTIVITY * water.tank_volume / water.height / (water.height / layers),
        layer_loss=0.0 if water is None else water.heat_loss / layers,
        make_up_capacity=0.0 if water is None else water.make_up * capacity,
        make_up_temperature=273.15 if water is None else water.make_up_temperature,
        pump_flow=0.0 if water is None else water.pump_flow * WATER_DENSITY,
        pump_power=0.0 if water is None else water.pump_power,
    )
    return Plant(
        fixed=fixed,
        names=tuple(coil.name or f"coil {number}" for number, coil in enumerate(coils, start=1)),
        made=made,
        places=Places.of(len(coils), layers),
        start_temperature=case.room.temperature,
        start_water=case.room.temperature if water is None else water.temperature,
        batches=stove.burn == "batches",
        burn_shape=stove.burn_shape,
        burn_time=stove.burn_time,
        shell_service=stove.service_temperature,
        fan_service=hood.fan_service_temperature,
        safe_low=nan if water is None or water.safe_low is None else water.safe_low,
        safe_high=nan if water is None or water.safe_high is None else water.safe_high,
        dew_point=made.gas.dew_point(),
    )


def height_of(area: float) -> float:
    """Height [m] of an upright can as high as it is wide, from its side and top [m2]: 5/4 pi H^2."""
    return math.sqrt(area / (1.25 * math.pi))


def _of(coils: list[Coil], key: str) -> NDArray[np.float64]:
    """One number of every coil; NaN where it is not given."""
    values = [getattr(coil, key) for coil in coils]
    return np.array([math.nan if value is None else value for value in values], dtype=np.float64)


def _burn_of(dry_heating_value: float, moisture: float, air_ratio: float) -> Burn:
    try:
        return burn(Fuel(dry_heating_value=dry_heating_value), moisture, air_ratio)
    except ValueError as error:
        raise CaseError(str(error), key="stove.moisture", value=moisture) from error


def _check_flue(made: Burn, flue_temperature: float) -> None:
    """Refuse gas that carries off more heat than the fuel gives."""
    if math.isnan(flue_temperature):
        return
    loss, _ = flue_loss_of(
        made.heating_value,
        made.wet_gas,
        math.nan,
        flue_temperature,
        ROOM_OF_CHECK,
        made.gas.low,
        made.gas.high,
    )
    share = 100.0 * loss / made.heating_value
    if share >= 98.0:
        raise CaseError(
            f"is so hot that the gas carries off {share:.0f} % of the fuel's heat",
            key="stove.flue_temperature",
            value=flue_temperature,
            fix="give a lower one, or a smaller air_ratio",
        )
