"""Where the next hour of fire is best spent: in the floor, in a tank, or not at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.cautions import cautions
from simulator.answers.what_if import from_now_on
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.store.record import record

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["NextHour", "Spent", "judge_hour", "next_hour", "spend_hour"]

HOUR: Final = 3600.0
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
    best : {"floor", "do not burn"}
    reason : str
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

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers with their units."""
        units = {
            "heat": "J", "uptake": "1", "cold_uptake": "1", "kept": "1", "cold_kept": "1",
            "floor_warmer": "K", "room_warmer": "K", "hottest_supply": "degC", "later": "s",
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


def judge_hour(uptake: float, cold: float | None, share: float, dangers: tuple[str, ...]) -> tuple[str, str]:
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

    Returns
    -------
    (str, str)
    """
    if dangers:
        return "do not burn", f"it would pass a limit that protects people or ducts ({', '.join(dangers)})"
    told = f"the ground would take {100.0 * uptake:.0f} % of its heat"
    if cold is None or cold <= 0.0:
        return (
            "floor" if uptake >= 0.5 else "do not burn"
        ), f"{told}; there is no cold floor to compare with"
    against = f"{told}, a cold floor {100.0 * cold:.0f} %"
    if uptake >= share * cold:
        return "floor", f"{against}: it still takes heat readily"
    return "do not burn", f"{against}: it is saturated, and gives back what earlier fires stored"


def next_hour(case: Case, now: float, later: float, cold: Spent | None, share: float) -> NextHour:
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

    Returns
    -------
    NextHour
    """
    spent = spend_hour(case, now, later)
    cold_uptake = None if cold is None else cold.uptake
    best, reason = judge_hour(spent.uptake, cold_uptake, share, spent.dangers)
    return NextHour(
        heat=spent.heat, uptake=spent.uptake, cold_uptake=cold_uptake,
        kept=spent.kept, cold_kept=None if cold is None else cold.kept, floor_warmer=spent.floor_warmer,
        room_warmer=spent.room_warmer, hottest_supply=spent.hottest_supply, dangers=spent.dangers,
        later=later, best=best, reason=reason,
    )  # fmt: skip


def spend_hour(case: Case, now: float, later: float) -> Spent:
    """Run a case with and without one hour of fire from a moment on; see `next_hour`."""
    begin, end = round(now * TICKS_PER_SECOND), round((now + HOUR) * TICKS_PER_SECOND)
    with_fire = from_now_on(case, [(begin, "on", "on"), (end, "case", "off")], now + later)
    without = from_now_on(case, [(begin, "case", "off")], now + later)
    with _dry(with_fire) as burnt, _dry(without) as idle:
        # An hour of fire also changes what the fan gives, and what the room's warmer air lets the floor keep.
        def extra(name: str, at: float) -> float:
            return float(
                np.interp(at, _of(burnt, "time"), _of(burnt, name))
                - np.interp(at, _of(idle, "time"), _of(idle, name))
            )

        last = now + later
        heat = extra("ledger_heater", last) + extra("ledger_fan", last)
        span = np.array([now, now + HOUR])
        into, heater, fan = (
            float(np.diff(np.interp(span, _of(burnt, "time"), _of(burnt, name)))[0])
            for name in ("ledger_duct", "ledger_heater", "ledger_fan")
        )
        seconds = _of(burnt, "time")
        inside = (seconds > now) & (seconds <= now + HOUR + 1.0)
        before = {caution.limit.subject for caution in cautions(idle) if caution.limit.severity == "danger"}
        dangers = tuple(
            caution.limit.name
            for caution in cautions(burnt)
            if caution.limit.severity == "danger"
            and caution.limit.subject in _STOPPING
            and caution.limit.subject not in before
        )
        return Spent(
            heat=heat,
            uptake=into / (heater + fan) if heater + fan > 0.0 else 0.0,
            kept=extra("ledger_stored_under_floor", last) / heat if heat > 0.0 else 0.0,
            floor_warmer=extra("floor_mean_temperature", last),
            room_warmer=extra("room_temperature", last),
            hottest_supply=float(_of(burnt, "supply_temperature")[inside].max()),
            dangers=dangers,
        )


def _of(results: Results, name: str) -> FloatArray:
    return np.asarray(results.read(name), dtype=np.float64)


def _dry(case: Case) -> Results:
    output = case.output.model_copy(update={"fields": 0.0, "interval": min(case.output.interval, 300.0)})
    return record(case.model_copy(update={"output": output}))
