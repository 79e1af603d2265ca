"""What rules can measure: temperatures [K] at one instant, by the names that conditions use."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.plant import layout_kernels as fireside
from simulator.run.stage_kernels import FLOOR_LIFT

if TYPE_CHECKING:
    from simulator.run.chain import Chain
    from simulator.run.chain_state import ChainState
    from simulator.run.state import RunState


def measure(chain: Chain, state: RunState, held: ChainState, outside: float) -> dict[str, float]:
    """Temperatures [K] that the chain's rules look at.

    Parameters
    ----------
    chain : Chain
    state : RunState
    held : ChainState
    outside : float [K]

    Notes
    -----
    With the fan off, "supply" is the still air behind the coils, and "exit" the air in the ducts' ends.
    """
    coupling = chain.coupling
    reference = coupling.reference
    wanted = held.rules.quantities
    moves = state.mass_flow > 0.0
    found = {
        "room": state.room + reference,
        "outside": outside,
        "supply": state.supply + reference,
        "exit": state.exit + reference,
    }
    if "duct wall" in wanted:
        found["duct wall"] = float(state.wall.max()) + reference
    if "floor" in wanted or "coldest floor" in wanted:
        operators = coupling.solver.operators
        cells = coupling.solver.floor(state.section)
        behind = state.room + float(state.moving.scalars[FLOOR_LIFT])
        surface = operators.surface_share * cells + (1.0 - operators.surface_share) * behind + reference
        widths = operators.floor_widths
        by_station = surface @ (widths / widths.sum())
        length = coupling.station_length
        found["floor"] = float(by_station @ length / length.sum())
        found["coldest floor"] = float(surface.min())
    if chain.plant is None:
        return found
    fixed, now = chain.plant.fixed, held.plant_now
    found["shell"] = float(now[fireside.END_SHELL])
    found["hood"] = float(now[fireside.HOOD_AIR])
    found["flue"] = float(now[fireside.FLUE])
    if not moves:
        found["supply"] = float(now[fireside.AFTER_COILS])
    places = chain.plant.places
    if fixed.coils:
        found["coil water"] = float(now[places.coil_water].max())
    if fixed.layers:
        layers = now[places.tank]
        found["tank"] = float(np.mean(layers))
        found["tank top"], found["tank bottom"] = float(layers[-1]), float(layers[0])
    return found
