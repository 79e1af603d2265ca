"""A short description of what a case would make the program do."""

from __future__ import annotations

from dataclasses import dataclass

from simulator.case.schema import Case
from simulator.run.chain_parts import needs_chain
from simulator.run.plan import operating_point, plan

SECONDS_PER_STEP = 2.5e-4
"""Rough time of one step of a reduced section [s], for the estimate shown to the user."""
SECONDS_PER_CHAIN_STEP = 2e-3
"""More where stove, water, house or rules are followed."""
SECONDS_PER_CELL_AND_STEP = 4e-8
"""Rough time per cell, station and step on the full mesh [s]."""

FREEZING = "full mesh, solved directly, with the freezing of the ground's water"
METHODS = {
    "auto": "reduced sections, checked against the full mesh",
    "reduced": "reduced sections, checked against the full mesh",
    "full": "full mesh, by all modes that count",
    "direct": "full mesh, solved directly",
}


@dataclass(frozen=True)
class Description:
    """What would be simulated; the names of the fields are the labels shown."""

    branches: int
    air_at_full_speed: str
    notes: str
    section: str
    stations: int
    cells_per_station: int
    cells_in_all: int
    smallest_cell_mm: float
    steps: int
    rows_of_results: int
    pictures_of_the_ground: int
    method: str
    about_seconds: float


def describe(case: Case) -> Description:
    """Prepare a case without running it.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Description

    Raises
    ------
    CaseError
        As running the case would: files that it names are read.
    """
    prepared = plan(case)
    operators = prepared.operators
    stations = int(prepared.geometry.station_x.size)
    steps = int(prepared.step_ends.size)
    direct = case.numerics.solver == "direct" or case.ground.freezing
    smallest = min(
        float((operators.mesh.y_lines[1:] - operators.mesh.y_lines[:-1]).min()),
        float((operators.mesh.z_lines[1:] - operators.mesh.z_lines[:-1]).min()),
        *(float(ring.radii[1] - ring.radii[0]) for ring in operators.rings),
    )
    per_step = 2.0 * SECONDS_PER_CELL_AND_STEP * operators.cells * stations if direct else SECONDS_PER_STEP
    if needs_chain(case):
        per_step += SECONDS_PER_CHAIN_STEP
    point = operating_point(case)
    return Description(
        branches=len(case.duct_branches),
        air_at_full_speed=(
            f"{point.volume_flow:.4g} m3/s against {point.fan_pressure:.3g} Pa, "
            f"{point.duct_pressure:.3g} Pa of it in the ducts"
        ),
        notes="; ".join(point.notes) or "none",
        section="one half, mirrored" if operators.layout.mirrored else "whole width",
        stations=stations,
        cells_per_station=operators.cells,
        cells_in_all=operators.cells * stations,
        smallest_cell_mm=1000.0 * smallest,
        steps=steps,
        rows_of_results=int(prepared.geometry.series_ticks.size),
        pictures_of_the_ground=int(prepared.geometry.field_ticks.size),
        method=FREEZING if case.ground.freezing else METHODS[case.numerics.solver],
        about_seconds=1.0 + per_step * steps,
    )
