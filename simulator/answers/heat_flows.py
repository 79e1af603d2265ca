"""The way of the heat between two moments of a run, as a plain list: from which part to which part, how much.

Floor and ground under the building count as one part. What the earth beside and below it takes follows from
the balance of that part, so the yearly cooling of the open ground around the building, which has nothing to
do with the fire, stays out of the list. Nor is sun told apart that the house's own surfaces take up: it is
set against what they lose to outside air and sky, where most of it goes within the hour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

from simulator.answers.course import mounted, summed

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.store.reader import Results

__all__ = ["SURFACES", "HeatFlow", "heat_flows"]

FLOOR: Final = "floor and ground"
SURFACES: Final = "walls and glass, net"
_SMALLEST_GAP: Final = 1e-3
"""Share of the heat put in from which on a part's own remainder is told."""


class HeatFlow(NamedTuple):
    """Heat that went from one part to another.

    Attributes
    ----------
    source, target : str
    heat : float [J]
        Below zero when it went the other way.
    """

    source: str
    target: str
    heat: float


def heat_flows(results: Results, begin: float, end: float) -> list[HeatFlow]:
    """List the flows of heat between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case.

    Returns
    -------
    list of HeatFlow
        Flows of nothing are left out. What a part takes in and what leaves it agree; a remainder of more than
        a thousandth of the heat put in is listed as "not placed".
    """
    rows = results["time"].values

    def moved(name: str) -> float:
        """Change of a running total."""
        return mounted(rows, results[name].values, begin, end) if name in results else 0.0

    def passed(name: str) -> float:
        """Sum of a rate of heat."""
        return summed(rows, results[name].values, begin, end) if name in results else 0.0

    whole = "whole_fuel" in results
    # Only a house tells what its glazing lets in.
    let_in = passed("sun_let_in") if whole and "sun_let_in" in results else None
    flows = _fire(moved, passed) if whole else _heater(moved)
    air = "warm air" if whole else "duct air"
    flows += [
        HeatFlow("fan", air, moved("ledger_fan")),
        _latent(moved("ledger_latent"), air),
        HeatFlow(air, FLOOR, moved("ledger_duct")),
        HeatFlow(air, "room", moved("ledger_return")),
        HeatFlow(air, "duct air thrown out", moved("ledger_exhaust")),
        *_ground(moved, let_in),
        *_room(moved, passed, whole, let_in),
    ]
    return [*(flow for flow in flows if flow.heat != 0.0), *_gaps(flows)]


def _latent(heat: float, air: str) -> HeatFlow:
    """Tell the heat set free by water that settles in the ducts, or taken by water that dries off them."""
    if heat >= 0.0:
        return HeatFlow("water settling in ducts", air, heat)
    return HeatFlow(air, "water drying in ducts", -heat)


def _make_up(heat: float) -> HeatFlow:
    """Tell what fresh water brings the tank, or what overflows beyond that."""
    if heat >= 0.0:
        return HeatFlow("make-up water", "tank", heat)
    return HeatFlow("tank", "overflow", -heat)


def _flue(lost: float, given: float) -> list[HeatFlow]:
    """Tell the heat of the flue gas: what a flue run gives on its way, and what leaves with it."""
    if given == 0.0:
        return [HeatFlow("stove", "flue", lost)]
    return [
        HeatFlow("stove", "gas in the flue run", lost + given),
        HeatFlow("gas in the flue run", "warm air", given),
        HeatFlow("gas in the flue run", "flue", lost),
    ]


def _heater(moved: Callable[[str], float]) -> list[HeatFlow]:
    return [
        HeatFlow("heater", "duct air", moved("ledger_heater")),
        HeatFlow("gas in the flue run", "duct air", moved("ledger_flue")),
    ]


def _fire(moved: Callable[[str], float], passed: Callable[[str], float]) -> list[HeatFlow]:
    """Stove, hood, coils and tank."""
    return [
        HeatFlow("fuel", "stove", moved("whole_fuel")),
        *_flue(moved("whole_flue_loss"), moved("ledger_flue")),
        HeatFlow("stove", "warm air", passed("hood_to_air")),
        HeatFlow("stove", "room", passed("stove_to_room") + passed("hood_to_room")),
        HeatFlow("stove", "kept in the stove", moved("whole_stored_stove")),
        HeatFlow("heater", "warm air", moved("whole_heater")),
        HeatFlow("warm air", "tank", passed("heat_to_coil")),
        HeatFlow("pump", "tank", moved("whole_pump")),
        _make_up(moved("whole_make_up")),
        HeatFlow("tank", "room", passed("tank_loss")),
        HeatFlow("tank", "steam", moved("whole_vented")),
        HeatFlow("tank", "kept in the tank", moved("whole_stored_water")),
    ]


def _sun(moved: Callable[[str], float], let_in: float | None) -> tuple[float, float]:
    """Return the heat of the sun let in, and what the ground took but from air and room: sun on the floor."""
    sun = moved("ledger_sun") if let_in is None else let_in
    taken = (
        moved("ledger_stored_ground") + moved("ledger_floor") + moved("ledger_outside_ground")
        - moved("ledger_duct") - moved("ledger_bottom") - moved("ledger_sides")
    )  # fmt: skip
    return sun, taken


def _on_floor(sun: float, taken: float, let_in: float | None) -> float:
    """Return the sun on the floor; 0 in a house, which counts it to the room and tells what is left of it.

    In a house radiation between the floor and the surfaces cannot be told from it.
    """
    return min(max(taken, 0.0), max(sun, 0.0)) if let_in is None else 0.0


def _ground(moved: Callable[[str], float], let_in: float | None) -> list[HeatFlow]:
    sun, taken = _sun(moved, let_in)
    from_sun = _on_floor(sun, taken, let_in)
    kept = moved("ledger_stored_under_floor")
    earth = moved("ledger_duct") + taken - moved("ledger_floor") - kept
    return [
        HeatFlow("sun" if let_in is None else "sun let in", FLOOR, from_sun),
        # The rest is radiation between the floor and the room's surfaces, beside what it gives the air.
        HeatFlow(FLOOR, "room", moved("ledger_floor") - (taken - from_sun)),
        HeatFlow(FLOOR, "kept in the ground", kept),
        HeatFlow(FLOOR, "earth around and below", earth),
    ]


def _room(
    moved: Callable[[str], float], passed: Callable[[str], float], whole: bool, let_in: float | None
) -> list[HeatFlow]:
    sun, taken = _sun(moved, let_in)
    from_sun = _on_floor(sun, taken, let_in)
    leaks = passed("air_leak_loss") or moved("ledger_infiltration")
    if let_in is not None:
        # A house tells its surfaces apart; what is left is the air that its fire draws from outside.
        faces = passed("cover_loss") + passed("sky_loss") - passed("sun_on_surfaces")
        lost = [
            HeatFlow("room", SURFACES, faces),
            HeatFlow("room", "air drawn by the fire", moved("whole_envelope") - faces - leaks),
        ]
    elif whole:
        lost = [HeatFlow("room", "walls and roof", moved("whole_envelope") - leaks)]
    else:
        lost = [HeatFlow("room", "walls and roof", moved("ledger_envelope"))]
    # Other heat of the ledger holds what stove and tank give the room; the account of the whole does not.
    people = moved("whole_gain") if whole else moved("ledger_other_gain")
    return [
        HeatFlow("sun" if let_in is None else "sun let in", "room", sun - from_sun),
        HeatFlow("people and equipment", "room", people),
        *lost,
        HeatFlow("room", "leaking air", leaks),
        HeatFlow("room", "evaporation", moved("whole_latent") + moved("ledger_latent") if whole else 0.0),
        HeatFlow("room", "kept in the room", moved("whole_stored_mass") + moved("ledger_stored_room")),
    ]


def _gaps(flows: list[HeatFlow]) -> list[HeatFlow]:
    """List what parts in the middle take in more than they give, where it is worth telling."""
    targets = {flow.target for flow in flows if flow.heat > 0.0} | {
        flow.source for flow in flows if flow.heat < 0.0
    }
    put_in = sum(abs(flow.heat) for flow in flows if flow.source not in targets and flow.heat > 0.0)
    both = {flow.source if flow.heat > 0.0 else flow.target for flow in flows if flow.heat != 0.0} & targets
    found = []
    for part in ("stove", "gas in the flue run", "warm air", "duct air", "tank", "room", FLOOR):
        if part not in both:
            continue
        comes = sum(flow.heat for flow in flows if flow.target == part)
        goes = sum(flow.heat for flow in flows if flow.source == part)
        if abs(comes - goes) > _SMALLEST_GAP * put_in:
            found.append(HeatFlow(part, f"not placed ({part})", comes - goes))
    return found
