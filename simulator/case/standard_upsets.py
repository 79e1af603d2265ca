"""The standard upsets: what is worth trying on any case, each as a changed copy of the case.

When the fire is hottest is told from the timetable alone: loads count as burning evenly over the burn time.
Nothing is simulated here.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from simulator.case.schema import Case
from simulator.case.schema_upsets import OVER_FED, Upset, UpsetKind
from simulator.case.timetable import TICKS_PER_SECOND, Drive, Timetable, ticks

__all__ = ["Stretch", "Trial", "hottest", "standard_upsets", "with_upset"]

#: share of the filter's way that is clogged
CLOGGED = 0.7
#: how long a power cut lasts
POWER_CUT = dt.timedelta(hours=8)
_ALIKE = 1e-9
#: instants are told to the minute where the stretch is longer than this [ticks]
_LONG = 600 * TICKS_PER_SECOND


@dataclass(frozen=True)
class Stretch:
    """A time over which the heat stays the same, in ticks from the start of the run.

    Attributes
    ----------
    begin, end : int
    level : float
        Of the heat: fuel burnt [kg/s], share of the feed, or power [W]; only good for comparing.
    """

    begin: int
    end: int
    level: float

    @property
    def middle(self) -> int:
        """Tick half-way, at a whole minute of the run where the stretch is long."""
        middle = (self.begin + self.end) // 2
        minute = 60 * TICKS_PER_SECOND
        return middle // minute * minute if self.end - self.begin > _LONG else middle


@dataclass(frozen=True)
class Trial:
    """One standard upset for a case.

    Attributes
    ----------
    upset : Upset
    question : str
        What trying it answers.
    """

    upset: Upset
    question: str

    def on(self, case: Case) -> Case:
        """Return the case with this upset instead of its own ones."""
        return with_upset(case, self.upset)


def with_upset(case: Case, *upsets: Upset) -> Case:
    """Return a copy of the case with these upsets instead of its own ones; the case itself stays as it is.

    The copy has no text of its own: results of it carry its numbers, not the file that it came from.
    """
    changed = case.model_copy(update={"upsets": list(upsets)})
    changed._source_text = ""
    return changed


def standard_upsets(case: Case) -> list[Trial]:
    """List the upsets worth trying on a case: those whose parts it has.

    Parameters
    ----------
    case : Case

    Returns
    -------
    list of Trial
        Pump, fan and power fail when the fire is hottest and stay so (the power comes back after 8 h where
        the run lasts that long); the cover is left off for the whole run; the fire is over-fed, and the
        filter clogged, over the hottest stretch.
    """
    stretch = hottest(case)
    middle = _moment(case, stretch.middle)
    end = case.site.start + dt.timedelta(seconds=case.site.duration)
    trials = []

    def add(
        kind: UpsetKind, question: str, at: dt.datetime, until: dt.datetime | None, **size: float
    ) -> None:
        until = until if until is not None and until < end else None
        trials.append(Trial(Upset(at=at, until=until, kind=kind, **size), question))

    if case.water is not None:
        add(
            "pump stops", "How soon does the coil boil when the pump fails at the hottest fire?", middle, None
        )
    add(
        "fan stops",
        "What happens when the fan fails while there is most heat?"
        if case.stove is None
        else "How hot do shell, fan and ducts get when the fan fails at the hottest fire?",
        middle,
        None,
    )
    add(
        "power cut", "What happens when the power fails for a night?",
        middle, middle + POWER_CUT,
    )  # fmt: skip
    if case.room.kind == "house" and case.room.has_cover:
        add("cover left off", "How cold does it get without the night cover?", case.site.start, None)
    begin, last = _moment(case, stretch.begin), _moment(case, stretch.end)
    if case.stove is not None:
        add("fire over-fed", "How hot does it get when too much fuel burns?", begin, last, size=OVER_FED)
    add(
        "filter clogged", "How hot does the air get when a clogged filter lets little of it through?",
        begin, None, size=CLOGGED,
    )  # fmt: skip
    return trials


def hottest(case: Case) -> Stretch:
    """Find the stretch of the run with the most heat; of alike ones the longest, then the first.

    While the fan is off by the timetable, heat counts only where a rule may switch the fan on. Without any
    heat it is the whole run.
    """
    table = case.timetable_compiled
    by_rule = case.controls is not None and any(rule.switch == "fan" for rule in case.controls.rules)
    stretches = _merged(_stretches(case, table, need_fan=not by_rule))
    if not any(each.level > 0.0 for each in stretches):
        stretches = _merged(_stretches(case, table, need_fan=False))
    most = max(each.level for each in stretches)
    if most <= 0.0:
        return Stretch(0, table.end, 0.0)
    equal = [each for each in stretches if each.level >= most * (1.0 - _ALIKE)]
    return max(equal, key=lambda each: (each.end - each.begin, -each.begin))


def _moment(case: Case, tick: int) -> dt.datetime:
    return case.site.start + dt.timedelta(milliseconds=tick)


def _stretches(case: Case, table: Timetable, *, need_fan: bool) -> Iterator[Stretch]:
    """Cut the run at switches, and where loads begin and cease to burn."""
    burns: list[tuple[int, int, float]] = []
    stove = case.stove
    if stove is not None and stove.burn == "batches":
        burns = [(tick, tick + ticks(stove.burn_time), mass / stove.burn_time) for tick, mass in table.loads]
    cuts = {0, table.end, *table.switches()}
    cuts.update(tick for begin, end, _ in burns for tick in (begin, end) if 0 < tick < table.end)
    for begin, end in pairwise(sorted(cuts)):
        drive = table.values_from(begin)
        if stove is None:
            level = _heater(drive)
        elif stove.burn == "steady":
            level = drive.feed
        else:
            level = sum(rate for first, last, rate in burns if first <= begin < last)
        yield Stretch(begin, end, 0.0 if need_fan and drive.fan_share <= 0.0 else level)


def _heater(drive: Drive) -> float:
    """Heat of a heater: its power, or how warm it brings the air."""
    if drive.follows_series:
        return 1.0
    return drive.supply_temperature if math.isnan(drive.heat_power) else drive.heat_power


def _merged(stretches: Iterator[Stretch]) -> list[Stretch]:
    """Join neighbours of the same heat."""
    joined: list[Stretch] = []
    for each in stretches:
        if joined and abs(joined[-1].level - each.level) <= _ALIKE * max(each.level, _ALIKE):
            joined[-1] = Stretch(joined[-1].begin, each.end, each.level)
        else:
            joined.append(each)
    return joined
