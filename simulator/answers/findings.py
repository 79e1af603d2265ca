"""Cautions about draught, wet flues and wet ducts: rules with their sources, held against a run.

Limits on temperatures stand in `cautions`; here is what needs other numbers. The thresholds that a code would
set are marked with their source; where practice alone sets them, that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from simulator.answers.case_values import CaseValues
from simulator.answers.flue import FlueRun, flue_run
from simulator.answers.moisture import STANDING_FILM, DuctMoisture, duct_moisture
from simulator.case.schema_flue import Flue
from simulator.case.units import show
from simulator.physics.draught import THIN_MARGIN

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping

    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["RULES", "Finding", "Rule", "findings", "judge_ducts", "judge_flue"]

Severity = Literal["danger", "caution"]
DAMP_HOURS: Final = 24.0
"""Hours without a break for which a duct may be damp before mould is to be feared (common practice)."""
_KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True)
class Rule:
    """Something that should not happen.

    Attributes
    ----------
    name : str
        Short name, for lists that other programs read.
    subject : str
        What it protects.
    severity : {"danger", "caution"}
    message : str
        What it means and what to do; names in braces stand for the finding's numbers.
    source : str
    """

    name: str
    subject: str
    severity: Severity
    message: str
    source: str


@dataclass(frozen=True)
class Finding:
    """A rule that was broken.

    Attributes
    ----------
    limit : Rule
    numbers : mapping of str to (float, str)
        SI value and dimension, as `show` takes them.
    moment : datetime or None
    """

    limit: Rule
    numbers: Mapping[str, tuple[float, str]]
    moment: dt.datetime | None = None

    def text(self, system: System = "SI") -> str:
        """Write the finding as one sentence or two, without its source."""
        shown = {name: show(value, dimension, system) for name, (value, dimension) in self.numbers.items()}
        when = "" if self.moment is None else f" ({self.moment:%Y-%m-%d %H:%M})"
        return self.limit.message.format(**shown, when=when)

    def as_dict(self) -> dict[str, Any]:
        """Hand over the finding for other programs, in SI."""
        return {
            "name": self.limit.name,
            "severity": self.limit.severity,
            "numbers": {
                name: {"value": value, "dimension": dimension}
                for name, (value, dimension) in self.numbers.items()
            },
            "at": None if self.moment is None else self.moment.isoformat(" ", "minutes"),
            "message": self.text(),
            "source": self.limit.source,
        }


_LICENSED = "Have the flue designed, and its draught tested, by licensed people."

RULES: Final[Mapping[str, Rule]] = {
    rule.name: rule
    for rule in (
        Rule(
            "back-draught",
            "draught",
            "danger",
            "the stack's pull falls short by {shortfall}{when}, and is short for {short} in all: smoke "
            "and carbon monoxide come back into the room, which kills. Do not light this stove: shorten"
            " the run, make it wider, keep its gas hotter, insulate or raise the stack. " + _LICENSED,
            "EN 13384-1, resistance times 1.5 and the stove's need against the pull, from memory",
        ),
        Rule(
            "thin draught",
            "draught",
            "danger",
            "only {margin} of draught is left{when}, and less than {thin} for {short} in all: a gust, "
            "an extractor fan or a cold stack is enough to bring smoke and carbon monoxide into the "
            "room. Give the stack more height, or the run less length, and fit carbon monoxide alarms. "
            + _LICENSED,
            "common practice, no source",
        ),
        Rule(
            "draught not known",
            "draught",
            "danger",
            "the flue run has no stack in this case, so nobody knows whether its gas is pulled out or "
            "comes back into the room with its carbon monoxide. Give flue.stack. " + _LICENSED,
            "common practice, no source",
        ),
        Rule(
            "wet flue",
            "flue",
            "danger",
            "water settles in the flue run for {wet}, {water} in all: its wall is down to {wall} and "
            "the gas is wet below {dew}. Tar and acid water eat the pipe, and tar that catches fire "
            "burns the house. Burn drier wood, hotter, in a shorter or better insulated run, with a "
            "drain and a door for sweeping.",
            "dew point of the gas by stoichiometry; common practice, no source",
        ),
        Rule(
            "wet stack",
            "flue",
            "caution",
            "the stack's inside is down to {wall} at its top, below the gas's dew point of {dew}: water"
            " and tar settle there. Insulate the stack, or keep the gas hotter.",
            "EN 13384-1, inner wall at the top against the dew point, from memory",
        ),
        Rule(
            "flue pipe service temperature",
            "flue pipe",
            "danger",
            "the flue pipe reaches {wall}, above the {limit} that it may carry for long. Use a pipe "
            "rated for it.",
            "flue.service_temperature of the case; the maker's figure decides",
        ),
        Rule(
            "standing water",
            "ducts",
            "caution",
            "water stands in the ducts, up to {water} in all. It breeds germs that the fan blows into "
            "the room, blocks the air and drowns motors. Lay ducts with a fall to a drain or a pump, "
            "and be able to clean them.",
            "common practice, no source",
        ),
        Rule(
            "mould in the ducts",
            "ducts",
            "caution",
            "a duct's wall is at 80 % relative humidity or more for {damp} without a break, and wet for"
            " {wet}: mould grows there, and the fan blows its spores into the room. Dry the ducts by "
            "running the fan while they are warm, lower the room's humidity, and be able to clean them.",
            "ISO 13788, 80 % at the surface, value from memory; a day is common practice, no source",
        ),
    )
}


def judge_flue(run: FlueRun, service_temperature: float) -> Iterator[Finding]:
    """Hold a flue run against the rules.

    Parameters
    ----------
    run : FlueRun
    service_temperature : float [K]
        Highest temperature that the gas pipe may see for long.

    Yields
    ------
    Finding
    """
    if run.burning <= 0.0:
        return
    if not run.has_stack:
        yield Finding(RULES["draught not known"], {})
    elif run.smallest_margin is not None and run.smallest_margin < 0.0:
        numbers = {
            "shortfall": (-run.smallest_margin, "pressure"),
            "short": (3600.0 * run.short_hours, "time"),
        }
        yield Finding(RULES["back-draught"], numbers, run.smallest_margin_at)
    elif run.smallest_margin is not None and run.smallest_margin < THIN_MARGIN:
        yield Finding(
            RULES["thin draught"],
            {
                "margin": (run.smallest_margin, "pressure"),
                "thin": (THIN_MARGIN, "pressure"),
                "short": (3600.0 * run.thin_hours, "time"),
            },
            run.smallest_margin_at,
        )
    if run.water > 0.0 and run.coolest_wall is not None and run.dew_point is not None:
        yield Finding(
            RULES["wet flue"],
            {
                "wet": (3600.0 * run.wet_hours, "time"),
                "water": (run.water, "mass"),
                "wall": (run.coolest_wall + _KELVIN_AT_0_DEGC, "temperature"),
                "dew": (run.dew_point + _KELVIN_AT_0_DEGC, "temperature"),
            },
        )
    if (
        run.coolest_stack_wall is not None
        and run.dew_point is not None
        and run.coolest_stack_wall < run.dew_point
    ):
        yield Finding(
            RULES["wet stack"],
            {
                "wall": (run.coolest_stack_wall + _KELVIN_AT_0_DEGC, "temperature"),
                "dew": (run.dew_point + _KELVIN_AT_0_DEGC, "temperature"),
            },
        )
    if run.hottest_wall is not None and run.hottest_wall + _KELVIN_AT_0_DEGC > service_temperature:
        yield Finding(
            RULES["flue pipe service temperature"],
            {
                "wall": (run.hottest_wall + _KELVIN_AT_0_DEGC, "temperature"),
                "limit": (service_temperature, "temperature"),
            },
        )


def judge_ducts(ducts: DuctMoisture) -> Iterator[Finding]:
    """Hold the moisture in the ducts against the rules.

    Parameters
    ----------
    ducts : DuctMoisture

    Yields
    ------
    Finding
    """
    if ducts.deepest_film >= STANDING_FILM:
        yield Finding(RULES["standing water"], {"water": (ducts.most_standing, "mass")})
    if max(ducts.longest_damp_hours, ducts.longest_wet_hours) >= DAMP_HOURS:
        numbers = {
            "damp": (3600.0 * ducts.longest_damp_hours, "time"),
            "wet": (3600.0 * ducts.wet_hours, "time"),
        }
        yield Finding(RULES["mould in the ducts"], numbers)


def findings(results: Results) -> list[Finding]:
    """Hold a whole run against every rule; empty for a run with dry air and without flue."""
    found: list[Finding] = []
    if "flue_mass_flow" not in results and "water_held" not in results:
        return found
    seconds = results["time"].values
    if not np.size(seconds):
        return found
    whole = (float(seconds[0]), float(seconds[-1]))
    run = flue_run(results, *whole)
    if run is not None:
        found += judge_flue(run, _flue_service_temperature(results.case_text))
    ducts = duct_moisture(results, *whole)
    if ducts is not None:
        found += judge_ducts(ducts)
    return found


def _flue_service_temperature(case_text: str) -> float:
    default = float(Flue.model_fields["service_temperature"].default)
    case = CaseValues(case_text)
    return case.quantity(case.table("flue"), "service_temperature", "temperature", default)
