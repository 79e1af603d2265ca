"""What a case has of the heat chain: parts of the results, names in them, instants at which it jumps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.case.timetable import TICKS_PER_SECOND, ticks_between
from simulator.run.chain_state import Mishap

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.case.timetable import Timetable


def needs_chain(case: Case) -> bool:
    """Whether a case has anything that only the chain can follow."""
    return case.stove is not None or case.room.kind == "house" or bool(case.controls) or bool(case.upsets)


def chain_parts(case: Case) -> list[str]:
    """Parts of the results catalogue that a case fills beside the common one."""
    if not needs_chain(case):
        return []
    return [
        "switching",
        "whole",
        *(["stove"] if case.stove is not None else []),
        *(["water"] if case.stove is not None and case.water is not None else []),
        *(["house"] if case.room.kind == "house" else []),
    ]


def names_in_chain(case: Case) -> dict[str, tuple[str, ...]]:
    """Names of coils, tank layers, surfaces and masses."""
    names: dict[str, tuple[str, ...]] = {}
    if case.stove is not None and case.water is not None:
        names["coil"] = tuple(coil.name or f"coil {n}" for n, coil in enumerate(case.coils, start=1))
        count = case.water.layers
        ends = {1: "bottom", count: "top"} if count > 1 else {1: "tank"}
        names["layer"] = tuple(ends.get(n, f"layer {n}") for n in range(1, count + 1))
    if case.room.kind == "house":
        room = case.room
        names["surface"] = tuple(s.name or f"surface {n}" for n, s in enumerate(room.surfaces, start=1))
        names["mass"] = tuple(m.name or f"mass {n}" for n, m in enumerate(room.masses, start=1))
    return names


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


def jumps(case: Case, timetable: Timetable, first: int, last: int) -> list[int]:
    """Ticks strictly between two at which a load is laid on or an upset begins or ends."""
    found = [tick for tick, _ in timetable.loads_between(first, last)] if case.stove is not None else []
    found += [tick for mishap in mishaps_of(case) for tick in (mishap.begin, mishap.end)]
    return [tick for tick in found if first < tick < last]
