"""Where the next hour of fire is best spent: in the floor, in a tank, or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.cautions import Peak, judge
from simulator.answers.what_if import from_now_on
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.store.record import record

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["NextHour", "Spent", "judge_hour", "judge_tank", "next_fire", "next_hour", "spend_hour"]

HOUR: Final = 3600.0
KELVIN_AT_0_DEGC: Final = 273.15
WARMER: Final = 0.5
"""What is hotter by less [K] is none of this fire's doing."""
_STOPPING: Final = frozenset({"duct", "wood", "floor that people lie on"})


@dataclass(frozen=True)
class NextHour:
    """What an hour of fire would bring, against the same time without it.

    Attributes
    ----------
    heat : float [J]
        Put in by heater and fan in that hour.
    uptake : float [1]
        Share of it that the ground takes in that hour.
    cold_uptake : float or None [1]
        Share that a cold floor takes in its first hour.
    kept : float [1]
        Share of the heat that is still under the floor after `later`. Conduction adds up, so it hardly
        depends on what is stored already.
    cold_kept : float or None [1]
        The same for a floor that was not heated before.
    floor_warmer, room_warmer : float [K]
        Floor mean and room after `later`.
    hottest_supply : float [degC]
        Air entering the ducts.
    dangers : tuple of str
        Names of the limits that the hour alone would pass.
    later : float [s]
    best : {"floor", "tank", "do not burn"}
    reason : str
    tank_kept : float or None [1]
        Share of the heat that is in the tank after `later` when the pump runs; None without a tank.
    """

    heat: float
    uptake: float
    cold_uptake: float | None
    kept: float
    cold_kept: float | None
    floor_warmer: float
    room_warmer: float
    hottest_supply: float
    dangers: tuple[str, ...]
    later: float
    best: str
    reason: str
    tank_kept: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers with their units."""
        units = {
            "heat": "J", "uptake": "1", "cold_uptake": "1", "kept": "1", "cold_kept": "1",
            "floor_warmer": "K", "room_warmer": "K", "tank_kept": "1", "hottest_supply": "degC", "later": "s",
        }  # fmt: skip
        return {
            "best": self.best,
            "reason": self.reason,
            "dangers": list(self.dangers),
            **{name: {"value": getattr(self, name), "unit": unit} for name, unit in units.items()},
        }


@dataclass(frozen=True)
class Spent:
    """Where the heat of one hour of fire went, without judgement; see `NextHour`."""

    heat: float
    uptake: float
    kept: float
    floor_warmer: float
    room_warmer: float
    hottest_supply: float
    dangers: tuple[str, ...]
    tank_kept: float = 0.0
    tank_peak: float | None = None


def judge_hour(
    uptake: float, cold: float | None, share: float, dangers: tuple[str, ...], later: float = 0.0
) -> tuple[str, str]:
    """Choose where an hour of fire is best spent, and say why.

    Parameters
    ----------
    uptake : float [1]
        Share of the hour's heat that the ground would take.
    cold : float or None [1]
        The same for a floor that was not heated before.
    share : float
        A floor that takes less than this of what a cold one takes is saturated.
    dangers : tuple of str
        Limits that the hour would pass.
    later : float [1]
        Largest uptake in the hours after it, were the fire kept: the first hour also warms a cool room.

    Returns
    -------
    (str, str)
    """
    if dangers:
        return "do not burn", f"it would pass a limit that protects people or ducts ({', '.join(dangers)})"
    told = f"the ground would take {100.0 * uptake:.0f} % of its heat"
    if later > uptake + 0.02:
        told += f", up to {100.0 * later:.0f} % were the fire kept"
    if cold is None or cold <= 0.0:
        return (
            "floor" if uptake >= 0.5 else "do not burn"
        ), f"{told}; there is no cold floor to compare with"
    against = f"{told}, a cold floor {100.0 * cold:.0f} %"
    if max(uptake, later) >= share * cold:
        return "floor", f"{against}: it still takes heat readily"
    return "do not burn", f"{against}: it is saturated, and gives back what earlier fires stored"


def next_hour(
    case: Case, now: float, later: float, cold: Spent | None, share: float, kept_burning: float = 0.0
) -> NextHour:
    """Burn for one hour more and compare with not burning.

    Parameters
    ----------
    case : Case
        Its heater is of kind "power" or "supply temperature".
    now : float [s]
        Since the start.
    later : float [s]
        When to look again, more than an hour.
    cold : Spent or None
        The same hour on a floor that was not heated before.
    share : float
        See `judge_hour`.
    kept_burning : float [1]
        Largest uptake of later hours, were the fire kept.

    Returns
    -------
    NextHour
    """
    spent = spend_hour(case, now, later)
    cold_uptake = None if cold is None else cold.uptake
    best, reason = judge_hour(spent.uptake, cold_uptake, share, spent.dangers, kept_burning)
    return NextHour(
        heat=spent.heat, uptake=spent.uptake, cold_uptake=cold_uptake,
        kept=spent.kept, cold_kept=None if cold is None else cold.kept, floor_warmer=spent.floor_warmer,
        room_warmer=spent.room_warmer, hottest_supply=spent.hottest_supply, dangers=spent.dangers,
        later=later, best=best, reason=reason,
    )  # fmt: skip


def judge_tank(
    floor: tuple[str, str],
    tank: float | None,
    safe_high: float | None,
    kept: tuple[float, float],
    dangers: tuple[str, ...] = (),
) -> tuple[str, str]:
    """Choose between a floor and a tank.

    Parameters
    ----------
    floor : (str, str)
        What `judge_hour` says of the floor.
    tank : float or None [K]
        Water in the tank once it has taken the heat; None without a tank.
    safe_high : float or None [K]
        Above it the tank is too hot for what it is there for.
    kept : (float, float) [1]
        Share of the heat that is kept, floor and tank together, with the pump at rest and running.
    dangers : tuple of str
        Limits that the fire would pass with the pump running.

    Returns
    -------
    (str, str)
    """
    best, reason = floor
    if tank is None or dangers:
        return floor
    if safe_high is not None and tank > safe_high:
        return best, f"{reason}; the tank would pass its upper limit"
    rest, running = kept
    told = f"{100.0 * running:.0f} % of the heat is kept with the pump running, {100.0 * rest:.0f} % without"
    if "limit" in reason:
        return "tank", f"with the pump at rest {reason}; {told}"
    if best == "do not burn" or running > 1.02 * rest:
        return "tank", f"{reason}; {told}"
    return best, f"{reason}; {told}"


def next_fire(case: Case, now: float, later: float, cold: float | None, share: float) -> NextHour:
    """Lay one usual load on the fire, or feed it for an hour, with the pump at rest and running.

    Parameters
    ----------
    case : Case
        With a stove.
    now, later, cold, share :
        As for `next_hour`; `cold` is the uptake of a cold floor.

    Returns
    -------
    NextHour
    """
    begin = round(now * TICKS_PER_SECOND)
    end, until = begin + round(HOUR * TICKS_PER_SECOND), now + later
    masses = [mass for _, mass in case.timetable_compiled.loads]
    batch = case.stove is not None and case.stove.burn == "batches"
    laid = [(begin, float(np.median(masses)))] if batch and masses else []
    burn = [(begin, "on", "off" if batch else "on"), (end, "case", "off")]
    without = from_now_on(case, [(begin, "case", "off")], until)
    with _dry(without) as idle:
        to_floor = _spent(from_now_on(case, burn, until, loads=laid, pump="off"), idle, now, later)
        best = judge_hour(to_floor.uptake, cold, share, to_floor.dangers)
        to_tank, tank_kept = None, None
        if case.water is not None:
            to_tank = _spent(from_now_on(case, burn, until, loads=laid, pump="on"), idle, now, later)
            tank_kept = to_tank.tank_kept
            both = to_floor.kept + to_floor.tank_kept, to_tank.kept + to_tank.tank_kept
            best = judge_tank(best, to_tank.tank_peak, case.water.safe_high, both, to_tank.dangers)
    return NextHour(
        heat=to_floor.heat, uptake=to_floor.uptake, cold_uptake=cold, kept=to_floor.kept, cold_kept=None,
        floor_warmer=to_floor.floor_warmer, room_warmer=to_floor.room_warmer,
        hottest_supply=to_floor.hottest_supply, dangers=to_floor.dangers, later=later, best=best[0],
        reason=best[1], tank_kept=tank_kept,
    )  # fmt: skip


def spend_hour(case: Case, now: float, later: float) -> Spent:
    """Run a case with and without one hour of fire from a moment on; see `next_hour`."""
    begin, end = round(now * TICKS_PER_SECOND), round((now + HOUR) * TICKS_PER_SECOND)
    with_fire = from_now_on(case, [(begin, "on", "on"), (end, "case", "off")], now + later)
    without = from_now_on(case, [(begin, "case", "off")], now + later)
    with _dry(without) as idle:
        return _spent(with_fire, idle, now, later)


def _spent(with_fire: Case, idle: Results, now: float, later: float) -> Spent:
    """Run a case with a fire, and compare with the run without."""
    with _dry(with_fire) as burnt:

        def extra(name: str, at: float) -> float:
            if name not in burnt:
                return 0.0
            return float(
                np.interp(at, _of(burnt, "time"), _of(burnt, name))
                - np.interp(at, _of(idle, "time"), _of(idle, name))
            )

        last, span = now + later, np.array([now, now + HOUR])
        fuel = "whole_fuel" in burnt
        heat = extra("whole_fuel" if fuel else "ledger_heater", last) + extra("ledger_fan", last)
        into, heater, fan = (
            float(np.diff(np.interp(span, _of(burnt, "time"), _of(burnt, name)))[0])
            for name in ("ledger_duct", "ledger_heater", "ledger_fan")
        )
        seconds = _of(burnt, "time")
        inside = (seconds > now) & (seconds <= now + (3.0 * HOUR if fuel else HOUR) + 1.0)
        # Only what this fire does counts, not what earlier ones did.
        before = _dangers(idle, with_fire, now)
        dangers = tuple(
            name
            for subject, (name, warmth) in _dangers(burnt, with_fire, now).items()
            if subject not in before or warmth > before[subject][1] + WARMER
        )
        peak = None
        if "tank_temperature" in burnt:
            peak = float(_of(burnt, "tank_temperature")[seconds > now].max()) + KELVIN_AT_0_DEGC
        return Spent(
            heat=heat,
            uptake=into / (heater + fan) if heater + fan > 0.0 else 0.0,
            kept=extra("ledger_stored_under_floor", last) / heat if heat > 0.0 else 0.0,
            floor_warmer=extra("floor_mean_temperature", last),
            room_warmer=extra("room_temperature", last),
            hottest_supply=float(_of(burnt, "supply_temperature")[inside].max()),
            dangers=dangers,
            tank_kept=extra("whole_stored_water", last) / heat if heat > 0.0 else 0.0,
            tank_peak=peak,
        )


def _dangers(results: Results, case: Case, now: float) -> dict[str, tuple[str, float]]:
    """Name the limits passed after a moment, with the temperature reached [K], by what they protect."""
    later = _of(results, "time") > now
    moves = _of(results, "mass_flow") > 0.0
    peaks = {}
    for name in ("supply_temperature", "wall_temperature", "floor_highest_temperature"):
        values = _of(results, name)
        chosen = values[later & moves] if name == "supply_temperature" else values[later]
        # The lane of a flue run has limits of its own.
        if name == "wall_temperature" and case.flue is not None:
            continue
        if chosen.size and np.isfinite(chosen).any():
            peaks[name] = Peak(float(np.nanmax(chosen)) + KELVIN_AT_0_DEGC)
    passed = judge(peaks, case.ducts.service_temperature)
    return {
        each.limit.subject: (each.limit.name, each.peak.temperature)
        for each in passed
        if each.limit.severity == "danger" and each.limit.subject in _STOPPING
    }


def _of(results: Results, name: str) -> FloatArray:
    return np.asarray(results.read(name), dtype=np.float64)


def _dry(case: Case) -> Results:
    output = case.output.model_copy(update={"fields": 0.0, "interval": min(case.output.interval, 300.0)})
    return record(case.model_copy(update={"output": output}))
