"""How a floor goes on from a moment: without fire, and with the fire kept burning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from simulator.answers.below import first_crossing
from simulator.answers.next_hour import next_fire, next_hour, spend_hour
from simulator.answers.uptake import Uptake, stays_below, uptake_of
from simulator.answers.what_if import farthest, from_now_on
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.store.record import record

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["UNUSED_SERIES", "Future", "Unused", "never_used", "run_bare"]

HOUR: Final = 3600.0
DAY: Final = 86400.0
NEAR: Final = 1.0
"""A floor within this of one whose ducts were never used [K] is carried no longer."""
BURNING: Final = ("power", "supply temperature")
UNUSED_SERIES: Final = ("time", "floor_mean_temperature", "ledger_stored_under_floor")


class Unused(NamedTuple):
    """A floor whose ducts were never used: moments [s], floor mean [degC], change of the heat held [J]."""

    seconds: FloatArray
    floor: FloatArray
    stored: FloatArray


def never_used(case: Case, until: float) -> Case:
    """Return a case with fan and heat off from before its run-in to the end, `until` [s]."""
    # Rules would switch the fan on against the timetable.
    ruleless = case.model_copy(update={"controls": None})
    return from_now_on(ruleless, [(0, "off", "off")], until, unheated_before=True)


def run_bare(case: Case) -> Results:
    """Run a case in memory, without maps and with a row every five minutes or more often."""
    output = case.output.model_copy(update={"fields": 0.0, "interval": min(case.output.interval, 300.0)})
    return record(case.model_copy(update={"output": output}))


@dataclass(frozen=True)
class Future:
    """What would happen from `now` on, as far as `ahead` [s]; see `charge.Charge` for the rest."""

    case: Case
    cold_case: Case
    now: float
    ahead: float
    share: float
    carried_to: float | None

    def look(
        self, unused: Unused, cold: Uptake, held: float, tell: Callable[[float], None]
    ) -> dict[str, Any]:
        """Give the fields of a `Charge` that tell of the future.

        Parameters
        ----------
        unused : Unused
        cold : Uptake
            Of a floor that was not heated before.
        held : float [J]
            Charge under the floor now.
        tell : callable
            Told the share that is done.
        """
        found: dict[str, Any] = {
            "saturated_after": None, "carried": None, "half_gone": None, "hour": None, "why_not": "",
        }  # fmt: skip
        if self.ahead < 2.0 * HOUR:
            return found | {"why_not": "the weather ends here: choose an earlier moment with --at"}
        until, tick = self.now + self.ahead, round(self.now * TICKS_PER_SECOND)
        with run_bare(from_now_on(self.case, [(tick, "case", "off")], until)) as idle:
            seconds, floor, stored = (np.asarray(idle.read(name), np.float64) for name in UNUSED_SERIES)
        tell(0.6)
        if held > 0.0:
            rest = stored - np.interp(seconds, unused.seconds, unused.stored)
            found["half_gone"] = self._first_below(
                seconds, rest - np.interp(self.now, seconds, rest) + held, 0.5 * held
            )
        mark: FloatArray | float = (
            np.interp(seconds, unused.seconds, unused.floor) + NEAR
            if self.carried_to is None
            else self.carried_to
        )
        found["carried"] = self._first_below(seconds, floor - mark, 0.0)
        if self.case.heat.kind not in BURNING:
            kind = self.case.heat.kind
            if kind == "stove":
                return self._with_stove(found, cold)
            return found | {"why_not": f'heat.kind = "{kind}" has no fire that could be lit for an hour'}
        with run_bare(from_now_on(self.case, [(tick, "on", "on")], until)) as firing:
            uptake = uptake_of(firing, self.now)
        tell(0.75)
        later = min(self.ahead, DAY)
        compared = (
            spend_hour(self.cold_case, 0.0, later) if farthest(self.cold_case, 0.0, later) == later else None
        )
        reference = cold.first if compared is None else compared.uptake
        if reference is not None and uptake.share.size:
            found["saturated_after"] = stays_below(uptake, self.share * reference, self.now)
        tell(0.9)
        best = float(uptake.share.max(initial=0.0))
        found["hour"] = next_hour(self.case, self.now, later, compared, self.share, best)
        tell(1.0)
        return found

    def _with_stove(self, found: dict[str, Any], cold: Uptake) -> dict[str, Any]:
        """Try a load, or an hour of feed, in floor and tank; when the floor saturates is not looked for."""
        later = min(self.ahead, DAY)
        return found | {"hour": next_fire(self.case, self.now, later, cold.first, self.share)}

    def _first_below(self, seconds: FloatArray, values: FloatArray, mark: float) -> float | None:
        """Time [s] from now until a course is first below a mark; None when it never is."""
        found = first_crossing(seconds, values, mark, falling=True, after=self.now)
        return None if found is None else found - self.now
