"""What a run with a heat chain tells beside the rest, by the names of the results catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.house import house_kernels as indoors
from simulator.plant import layout_kernels as fireside
from simulator.run.whole_account import whole_account

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.run.chain import Chain
    from simulator.run.chain_state import ChainState
    from simulator.run.state import RunState

Values = dict[str, "float | NDArray[Any]"]


@dataclass
class ChainNarrator:
    """Turns the chain's state into series; heat flows are means since the row before."""

    chain: Chain
    _tick: int = 0

    def __post_init__(self) -> None:
        flows = 0 if self.chain.plant is None else self.chain.plant.flow_size
        self._plant, self._house = np.zeros(flows), np.zeros(indoors.FLOWS)

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """See `checkpoint.Part`."""
        return {"tick": np.array(self._tick), "plant": self._plant, "house": self._house}

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """See `checkpoint.Part`."""
        self._tick = int(arrays["tick"])
        self._plant, self._house = arrays["plant"].copy(), arrays["house"].copy()

    def values(self, state: RunState, held: ChainState, begin: bool) -> Values:
        """Series of the row at the state's tick; `begin` opens the books."""
        if begin:
            self._plant, self._house = held.plant_totals.copy(), held.house_totals.copy()
        seconds = (state.tick - self._tick) / TICKS_PER_SECOND
        rate = 1.0 / seconds if seconds > 0.0 else 0.0
        plant, house = (held.plant_totals - self._plant) * rate, (held.house_totals - self._house) * rate
        self._tick = state.tick
        self._plant, self._house = held.plant_totals.copy(), held.house_totals.copy()
        values: Values = {}
        if self.chain.plant is not None:
            values |= self._stove(held, plant)
            if self.chain.plant.fixed.layers:
                values |= self._water(held, plant)
        if self.chain.house is not None:
            values |= self._rooms(held, house)
        settings = held.settings or self.chain.settings(state.tick, held.rules)
        values |= {
            "fan_setting": settings.fan,
            "feed_setting": settings.feed,
            "pump_setting": settings.pump,
            "cover_setting": settings.cover,
        }
        account = whole_account(self.chain, state, held)
        values |= {f"whole_{name}": value for name, value in account.items()}
        return values

    def _stove(self, held: ChainState, rates: NDArray[np.float64]) -> Values:
        now = held.plant_now
        return {
            "shell_temperature": float(now[fireside.END_SHELL]),
            "hood_wall_temperature": float(now[fireside.END_HOOD_WALL]),
            "hood_air_temperature": float(now[fireside.HOOD_AIR]),
            "fan_air_temperature": float(now[fireside.FAN_AIR]),
            "stove_gas_temperature": float(now[fireside.FLUE]) if held.gas_now[0] > 0.0 else math.nan,
            "stove_gas_flow": float(held.gas_now[0]),
            "fuel_rate": float(held.gas_now[1]),
            "fuel_burnt": float(held.plant_totals[fireside.BURNT]),
            "fuel_power": float(rates[fireside.FUEL]),
            "flue_loss": float(rates[fireside.FLUE_LOSS]),
            "stove_to_room": float(rates[fireside.STOVE_TO_ROOM]),
            "hood_to_room": float(rates[fireside.HOOD_TO_ROOM]),
            "hood_to_air": float(rates[fireside.HOOD_TO_AIR]),
        }

    def _water(self, held: ChainState, rates: NDArray[np.float64]) -> Values:
        now, plant = held.plant_now, self.chain.plant
        if plant is None:
            return {}
        places = plant.places
        layers = now[places.tank]
        settings = held.settings
        pump = 0.0 if settings is None else settings.pump
        values: Values = {
            "tank_temperature": float(np.mean(layers)),
            "tank_layer_temperature": layers.copy(),
            "pump_flow": pump * plant.fixed.pump_flow,
            "tank_loss": float(rates[fireside.TANK_LOSS]),
            "make_up_heat": float(rates[fireside.MAKE_UP]),
            "steam_vented": float(held.plant_totals[fireside.STEAM]),
        }
        if plant.fixed.coils:
            values["coil_water_temperature"] = now[places.coil_water].copy()
            values["coil_air_temperature"] = now[places.coil_air].copy()
            values["heat_to_coil"] = rates[places.coil_heat].copy()
        return values

    def _rooms(self, held: ChainState, rates: NDArray[np.float64]) -> Values:
        house = self.chain.house
        if house is None:
            return {}
        surfaces, masses = house.fixed.area.size, held.masses.size
        values: Values = {
            "cover_temperature": held.house_now[1 : 1 + surfaces].copy(),
            "sky_temperature": held.sky,
            "sun_let_in": float(rates[indoors.SUN_LET_IN]),
            "cover_loss": float(rates[indoors.COVER_LOSS]),
            "sky_loss": float(rates[indoors.SKY_LOSS]),
            "air_leak_loss": float(rates[indoors.AIR_LEAK]),
            "sun_on_surfaces": float(rates[indoors.SUN] - rates[indoors.SUN_LET_IN]),
            "cover_condensation": float(rates[indoors.CONDENSED]),
            "evaporation": float(rates[indoors.EVAPORATED]),
        }
        if masses:
            values["mass_temperature"] = held.masses.copy()
        return values
