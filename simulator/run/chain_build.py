"""From a case to its heat chain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.house.house import HouseDrives, house_of
from simulator.plant.chain import plant_of
from simulator.run.chain import Chain
from simulator.run.chain_parts import mishaps_of
from simulator.run.switching import rules_of

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.case.timetable import Timetable
    from simulator.run.coupling import Coupling


def chain_of(
    case: Case, coupling: Coupling, timetable: Timetable, drives: HouseDrives | None, begin: int
) -> Chain:
    """Build the chain of a case whose run, run-in included, begins at tick `begin`."""
    plant = None if case.stove is None else plant_of(case)
    house = case.room.kind == "house"
    return Chain(
        coupling=coupling,
        timetable=timetable,
        plant=plant,
        loads=() if plant is None or not plant.batches else timetable.loads_between(begin, timetable.end),
        house=house_of(case) if house else None,
        drives=drives,
        mishaps=mishaps_of(case),
        rules=rules_of(case.controls),
    )
