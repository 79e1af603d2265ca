"""Rules about a fire that need more than one number: carbon monoxide, draught, steam, a standing fan."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.answers.findings import Finding, Rule
from simulator.physics.air import GAS_CONSTANT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from simulator.answers.case_values import CaseValues
    from simulator.store.reader import Results

__all__ = ["PLANT_RULES", "burning_well", "plant_findings"]

GRAVITY: Final = 9.80665
NEEDED_PULL: Final = 12.0
"""Draught at which stoves are tested and sold [Pa]; EN 16510, from memory."""
TALL: Final = 6.0
"""A stack that a small house hardly has [m]; common practice, no source."""
AIR_PRESSURE: Final = 101325.0
WELL_ALIGHT: Final = 0.25
"""Part of its strongest burning from which on a fire counts as burning well."""
WARMING_UP: Final = 1800.0
"""Time that a fire burns well before its gas is judged [s]."""
STANDING: Final = 900.0
"""Time that a fire may burn while the fan stands before it is told [s]; common practice, no source."""
_ZERO: Final = 273.15

PLANT_RULES: Final = {
    rule.name: rule
    for rule in (
        Rule(
            "carbon monoxide",
            "people",
            "caution",
            "this run burns {fuel} of fuel in or beside the room. Carbon monoxide has no smell; 100 mg/m3 "
            "(87 ppm) is bearable for a quarter of an hour, 30 mg/m3 (26 ppm) for one hour, 10 mg/m3 (9 "
            "ppm) for eight. Fit alarms in the room and where people sleep. When one sounds, or heads ache: "
            "everybody out, doors open, call the emergency number from outside; nobody goes back to look. "
            "Have stove, flue and air supply passed by a licensed person before the first fire and after "
            "every alarm.",
            "WHO, Air quality guidelines for Europe, 2nd edition (2000); 1 ppm = 1.145 mg/m3",
        ),
        Rule(
            "little draught",
            "draught",
            "danger",
            "the flue gas leaves the stove at {gas}{when} with {outside} outside: each metre of stack pulls "
            "{pull} at the most, so the {needed} that stoves are tested at take {height} of stack before "
            "any friction. A stack that pulls less lets smoke and carbon monoxide into the room. Burn "
            "hotter, take less heat out of the gas, insulate and raise the stack. Have the draught measured "
            "by a licensed person with every fan running.",
            "chimney draught, (p g / R) (1/T - 1/T) per metre; 12 Pa as in EN 16510, from memory",
        ),
        Rule(
            "steam",
            "coil",
            "danger",
            "{water} of water boil off in the coils{when}. Steam scalds, and a coil that is shut in bursts. "
            "Every coil in hot air needs an open vent, or a relief valve led to a safe place. Let it cool "
            "before water goes in again; vents and valves are work for a licensed plumber.",
            "water balance of the run; common practice, no source",
        ),
        Rule(
            "fire without a fan",
            "stove",
            "danger",
            "the fire burns for {burning} while the fan stands{when}: its heat has no way but the shell and "
            "the room. Fit a cut-out that stops the feed with the fan; with logs, close the air and stay "
            "with it. In a power cut feed no more fuel.",
            "common practice, no source",
        ),
        Rule(
            "wet ducts",
            "ducts",
            "caution",
            "water settles on the house's cover, up to {water} in an hour{when}; ducts cooler than that "
            "cover are wet as well. Lay them with a fall to a drain, run the fan while they are warm, and "
            "keep mains voltage out of them.",
            "common practice, no source",
        ),
    )
}


def plant_findings(results: Results, values: CaseValues) -> list[Finding]:
    """Hold a run with a stove or a tank against the rules.

    Parameters
    ----------
    results : Results
    values : CaseValues

    Returns
    -------
    list of Finding
    """
    found: list[Finding] = []
    times = results["time"].values

    def moment(row: int) -> dt.datetime:
        return results.start + dt.timedelta(seconds=float(times[row]))

    steps = np.diff(times, prepend=times[0])
    if "steam_vented" in results and float(results["steam_vented"].values[-1]) > 0.0:
        steam = results["steam_vented"].values
        row = int(np.flatnonzero(steam > 0.0)[0])
        found.append(Finding(PLANT_RULES["steam"], {"water": (float(steam[-1]), "mass")}, moment(row)))
    if "fuel_rate" in results and float(results["fuel_rate"].values.max()) > 0.0:
        rate = results["fuel_rate"].values
        burnt = float(results["fuel_burnt"].values[-1])
        found.append(Finding(PLANT_RULES["carbon monoxide"], {"fuel": (burnt, "mass")}))
        standing = (rate > 0.05 * float(rate.max())) & (results["mass_flow"].values <= 0.0)
        if float(steps[standing].sum()) >= STANDING:
            row = int(np.flatnonzero(standing)[0])
            numbers = {"burning": (float(steps[standing].sum()), "time")}
            found.append(Finding(PLANT_RULES["fire without a fan"], numbers, moment(row)))
        # A flue run has its own account of draught.
        if not values.table("flue"):
            found += _draught(results, rate, moment)
    if "cover_condensation" in results and "water_held" not in results:
        settling = results["cover_condensation"].values
        rates = settling.reshape(settling.shape[0], -1).sum(axis=1)
        row = int(rates.argmax())
        if rates[row] > 0.0:
            numbers = {"water": (3600.0 * float(rates[row]), "mass")}
            found.append(Finding(PLANT_RULES["wet ducts"], numbers, moment(row)))
    return found


def _draught(results: Results, rate: np.ndarray, moment: Callable[[int], dt.datetime]) -> Iterator[Finding]:
    """Judge the pull of the coolest gas of a fire that has burnt well for a while."""
    counts = burning_well(results["time"].values, rate)
    if not counts.any():
        return
    gas = results["stove_gas_temperature"].values + _ZERO
    outside = results["outside_temperature"].values + _ZERO
    pull = GRAVITY * AIR_PRESSURE / GAS_CONSTANT * (1.0 / outside - 1.0 / gas)
    row = int(np.where(counts, pull, np.inf).argmin())
    height = NEEDED_PULL / float(pull[row]) if pull[row] > 0.0 else np.inf
    if height > TALL:
        numbers = {
            "gas": (float(gas[row]), "temperature"),
            "outside": (float(outside[row]), "temperature"),
            "pull": (float(pull[row]), "pressure"),
            "needed": (NEEDED_PULL, "pressure"),
            "height": (min(height, 1e6), "length"),
        }
        yield Finding(PLANT_RULES["little draught"], numbers, moment(row))


def burning_well(times: np.ndarray, rate: np.ndarray) -> np.ndarray:
    """Return rows in which a fire has burnt well for half an hour: a quarter of its strongest rate or more.

    Parameters
    ----------
    times : (n,) float [s]
    rate : (n,) float [kg/s]

    Returns
    -------
    (n,) bool
    """
    alight = rate > WELL_ALIGHT * float(rate.max(initial=0.0))
    since = np.full(times.size, np.inf)
    for row in np.flatnonzero(alight):
        since[row] = since[row - 1] if row and alight[row - 1] else times[row]
    well: np.ndarray = times - since >= WARMING_UP
    return well
