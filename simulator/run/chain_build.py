"""From a case to its heat chain."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.case.timetable import TICKS_PER_SECOND, ticks_between
from simulator.house.house import HouseDrives, house_of
from simulator.plant.chain import plant_of
from simulator.run.switching import rules_of

if TYPE_CHECKING:


    from simulator.case.schema import Case
    from simulator.case.timetable import Timetable
    from simulator.run.coupling import Coupling

from simulator.run.chain import Chain
from simulator.run.chain_state import Mishap


def mishaps_of(case: Case) -> tuple[Mishap, ...]:
    """Upsets of a case on the clock."""
    end = round(case.site.duration * TICKS_PER_SECOND)
    return tuple(
        Mishap(
            ticks_between(case.site.start, upset.at),
            end + 1 if upset.until is None else ticks_between(case.site.start, upset.until),
            upset.kind,
            1.0 if upset.size is None else upset.size,
        )
        for upset in case.upsets
    )


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
        gains=coupling.room.gains,
        pressure=coupling.mover.pressure,
    )
