"""Fan on, off or on a thermostat tonight: the ways side by side, and which of them to choose."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from simulator.answers.cautions import cautions
from simulator.answers.cold_snap import ColdSnap, cold_snap, shifted_weather
from simulator.answers.fan_night import (
    KELVIN_AT_0_DEGC,
    FanNight,
    Thermostat,
    Tonight,
    night_of,
    plan_tonight,
    run_dry,
    thermostat_pieces,
)
from simulator.answers.overnight import overnight
from simulator.case.units import show
from simulator.errors import CaseError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from simulator.answers.cautions import Caution
    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.case.schema import Case
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["FanChoice", "Price", "fan_choice"]

JOULES_PER_KILOWATT_HOUR: Final = 3.6e6
SLOW: Final = 10.0
"""Runs that take longer [s] are not repeated for the cold snap unless that is asked for."""
NOTICEABLE: Final = 0.1
"""Less than this [K] is no difference."""


@dataclass(frozen=True)
class Price:
    """What a kilowatt-hour costs, and in which money."""

    per_kilowatt_hour: float
    money: str = ""

    def of(self, joules: float) -> str:
        """Write what some electricity costs."""
        return f"{joules / JOULES_PER_KILOWATT_HOUR * self.per_kilowatt_hour:.2f} {self.money}".strip()


@dataclass(frozen=True, eq=False)
class FanChoice:
    """The ways to run the fan tonight.

    Attributes
    ----------
    tonight : Tonight
    watch : str
        What should not fall below the limit, one of `fan_night.MEASURES`.
    limit : float [K]
    thermostat : Thermostat or None
        None where rules of the case switch the fan already.
    nights : tuple of FanNight
        "on", "off" and "thermostat" (or "rules").
    snaps : dict of str to ColdSnap
        By the name of the night; empty when they were not asked for, or nothing can be cooled.
    price : Price or None
    found : sequence of Caution, Finding or Alarm
        Of the case as it is.
    runs : int
        Runs that all this took.
    """

    tonight: Tonight
    watch: str
    limit: float
    thermostat: Thermostat | None
    nights: tuple[FanNight, ...]
    snaps: dict[str, ColdSnap]
    price: Price | None
    found: Sequence[Caution | Finding | Alarm]
    runs: int

    def named(self, name: str) -> FanNight:
        """One of the nights."""
        return next(night for night in self.nights if night.name == name)

    def answer(self, system: System = "SI") -> str:
        """Say in two or three sentences what to do tonight."""
        on, off = self.named("on"), self.named("off")
        low_on, low_off = on.low(self.watch), off.low(self.watch)
        if low_on is None or low_off is None:
            return "Nothing to be watched moves in this night."

        def warm(celsius: float) -> str:
            return show(celsius + KELVIN_AT_0_DEGC, "temperature", system)

        mark = self.limit - KELVIN_AT_0_DEGC
        gain = show(abs(low_on - low_off), "temperature difference", system)
        energy = f"{(on.fan_energy - off.fan_energy) / JOULES_PER_KILOWATT_HOUR:.2f} kWh"
        cost = f"{energy} of electricity"
        if self.price is not None:
            cost += f" ({self.price.of(on.fan_energy - off.fan_energy)})"
        limit, what = warm(mark), f"the {self.watch}"
        if abs(low_on - low_off) < NOTICEABLE:
            said = f"Switch the fan off: it makes no difference to {what} ({warm(low_off)} at its lowest)"
            said += f", and costs {cost}."
        elif low_on < low_off:
            said = f"Switch the fan off: left on, it cools {what} to {warm(low_on)}, {gain} below the "
            said += f"{warm(low_off)} without it."
        elif low_off >= mark:
            said = f"The fan is not needed to keep {what} above {limit}: without it {what} falls to "
            said += f"{warm(low_off)}. Left on, it holds {warm(low_on)}, {gain} more, for {cost}."
        elif low_on >= mark:
            said = f"Leave the fan on: {what} stays at {warm(low_on)} or above. Switched off, it falls to "
            said += (
                f"{warm(low_off)}, below {limit} for {off.hours_below[self.watch]:.1f} h. It costs {cost}."
            )
        else:
            said = (
                f"Leave the fan on, but it will not do: {what} still falls to {warm(low_on)}, below {limit} "
            )
            said += f"for {on.hours_below[self.watch]:.1f} h ({warm(low_off)} and "
            said += f"{off.hours_below[self.watch]:.1f} h with the fan off). Burn longer, or cover up."
        return said + self._about_thermostat(low_on, low_off, mark)

    def _about_thermostat(self, low_on: float, low_off: float, mark: float) -> str:
        kept = [night for night in self.nights if night.name == "thermostat"]
        if not kept or self.thermostat is None or not low_off < mark <= low_on:
            return ""
        low = kept[0].low(self.watch)
        if low is None or low < mark - NOTICEABLE:
            return ""
        saved = (self.named("on").fan_energy - kept[0].fan_energy) / JOULES_PER_KILOWATT_HOUR
        return f" A thermostat does it with {kept[0].fan_hours:.1f} h of fan and saves {saved:.2f} kWh."

    def as_dict(self) -> dict[str, Any]:
        """Return everything as plain numbers with their units."""
        return {
            "answer": self.answer(),
            "watch": self.watch,
            "limit": {"value": self.limit - KELVIN_AT_0_DEGC, "unit": "degC"},
            "thermostat": None
            if self.thermostat is None
            else {
                "setting": {"value": self.thermostat.setting - KELVIN_AT_0_DEGC, "unit": "degC"},
                "dead_band": {"value": self.thermostat.dead_band, "unit": "K"},
                "shortest": {"value": self.thermostat.shortest, "unit": "s"},
            },
            "hours_of_choice": {"value": self.tonight.hours, "unit": "h"},
            "nights": [night.as_dict() for night in self.nights],
            "cold_snaps": {name: snap.as_dict() for name, snap in self.snaps.items()},
            "price": None
            if self.price is None
            else {"value": self.price.per_kilowatt_hour, "unit": f"{self.price.money or 'money'}/kWh"},
            "cautions": [caution.as_dict() for caution in self.found],
            "runs": self.runs,
        }


def fan_choice(
    case: Case,
    *,
    limit: float = KELVIN_AT_0_DEGC,
    watch: str = "room",
    thermostat: Thermostat | None = None,
    price: Price | None = None,
    night: int | None = None,
    begin: dt.datetime | None = None,
    end: dt.datetime | None = None,
    snaps: bool | None = None,
    progress: Callable[[float], None] | None = None,
) -> FanChoice:
    """Run a night with the fan on, off and on a thermostat; up to its begin all is as in the case.

    Parameters
    ----------
    case : Case
    limit : float [K]
        Below it hours are counted, and the cold snap leads to it.
    watch : str
        What should stay above the limit: "room", "floor" or "coldest floor".
    thermostat : Thermostat, optional
        Set one kelvin above the limit when left out.
    price : Price, optional
    night, begin, end : optional
        As for `overnight`.
    snaps : bool, optional
        Whether to search how cold it may become; when left out, only where a run takes less than 10 s.
    progress : callable, optional
        Told the share that is done, 0 to 1.

    Returns
    -------
    FanChoice

    Raises
    ------
    CaseError
        When there is no such night, or a fire burns through all of it.
    """
    if watch not in ("room", "floor", "coldest floor"):
        raise CaseError("cannot be watched", key="watch", value=watch, allowed="room, floor, coldest floor")
    counter = _Counter(progress)
    has_rules = _rules_for_fan(case)
    if thermostat is None and not has_rules:
        thermostat = Thermostat(limit + 1.0)
    mark = limit - KELVIN_AT_0_DEGC
    began = time.perf_counter()
    with counter.run(case) as planned:
        quick = time.perf_counter() - began < SLOW
        window = overnight(planned, begin=begin, end=end, night=night).window
        tonight = plan_tonight(case, planned, window)
        found = cautions(planned)
        rules = night_of("rules", planned, tonight, mark, as_in_case=True) if has_rules else None
    nights: list[FanNight] = []
    for name, share in (("on", tonight.share), ("off", 0.0)):
        with counter.run(tonight.steady(share)) as results:
            same = tonight.planned_as(share) and not has_rules
            nights.append(night_of(name, results, tonight, mark, as_in_case=same))
    if rules is not None:
        nights.append(rules)
    elif thermostat is not None:
        _, results = thermostat_pieces(tonight, thermostat, counter.run)
        with results:
            nights.append(night_of("thermostat", results, tonight, mark, as_in_case=False))
    margins: dict[str, ColdSnap] = {}
    if (quick if snaps is None else snaps) and not (watch == "room" and case.room.kind == "fixed"):
        margins = {
            each.name: _snap(tonight, each, watch, mark, thermostat, counter)
            for each in nights
            if each.low(watch) is not None
        }
    return FanChoice(tonight, watch, limit, thermostat, tuple(nights), margins, price, found, counter.runs)


class _Counter:
    """Runs cases, counts them and tells how far it has come, of about as many as are usual."""

    USUAL = 20

    def __init__(self, progress: Callable[[float], None] | None) -> None:
        self.runs, self._progress = 0, progress

    def run(self, case: Case) -> Results:
        self.runs += 1
        if self._progress is not None:
            self._progress(1.0 - 0.9 ** (self.runs * 22.0 / self.USUAL))
        return run_dry(case)


def _rules_for_fan(case: Case) -> bool:
    controls = getattr(case, "controls", None)
    return controls is not None and any(rule.switch == "fan" for rule in controls.rules)


def _snap(
    tonight: Tonight,
    known: FanNight,
    watch: str,
    mark: float,
    thermostat: Thermostat | None,
    counter: _Counter,
) -> ColdSnap:
    def low_at(shift: float) -> float:
        moved = Tonight(
            shifted_weather(tonight.case, shift), tonight.window, tonight.stretches, tonight.share,
            tonight.planned,
        )  # fmt: skip
        if known.name == "thermostat" and thermostat is not None:
            _, results = thermostat_pieces(moved, thermostat, counter.run)
        elif known.name == "rules":
            results = counter.run(moved.case)
        else:
            results = counter.run(moved.steady(moved.share if known.name == "on" else 0.0))
        with results:
            low = night_of(known.name, results, moved, mark, as_in_case=False).low(watch)
        return mark if low is None else low

    outside = known.night.lows["outside"]
    coldest = float("nan") if outside is None else outside.temperature
    return cold_snap(low_at, mark, coldest, known=known.low(watch))
