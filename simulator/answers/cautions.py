"""Cautions: limits that protect people, pipes and timber, each with its source, held against a run.

The limits on temperatures are one table, `LIMITS`, and the advice that belongs to every hot-air floor is
another, `STANDING`. What a run reached comes in as peaks in kelvin, from results or from a case that has not
run yet. Draught, wet flues and wet ducts are judged in `findings`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from simulator.answers.case_values import CaseValues
from simulator.answers.cautions_plant import Alarm, plant_cautions
from simulator.answers.findings import Finding, findings
from simulator.case.pipes import PIPES
from simulator.case.schema import Case, Ducts
from simulator.case.units import show
from simulator.store.table_html import table_html

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = [
    "LIMITS",
    "STANDING",
    "Advice",
    "Caution",
    "Cautions",
    "Limit",
    "Peak",
    "cautions",
    "judge",
    "peaks_of_case",
    "peaks_of_results",
]

Severity = Literal["danger", "caution"]
KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True)
class Limit:
    """One limit that a temperature should not pass.

    Attributes
    ----------
    name : str
        Short name, for lists that other programs read.
    subject : str
        What it protects. Of the limits of one subject only the highest one passed is told.
    series : tuple of str
        Temperatures of the results that are held against it.
    temperature : float or None
        Limit [K]; None for the service temperature that the case gives its ducts.
    severity : {"danger", "caution"}
    message : str
        What it means and what to do; `{limit}` stands for the limit.
    source : str
    """

    name: str
    subject: str
    series: tuple[str, ...]
    temperature: float | None
    severity: Severity
    message: str
    source: str


@dataclass(frozen=True)
class Advice:
    """Something to mind on every job, whatever the numbers say."""

    name: str
    message: str


@dataclass(frozen=True)
class Peak:
    """The highest temperature [K] something reached, and when, if that is known."""

    temperature: float
    moment: np.datetime64 | None = None


@dataclass(frozen=True)
class Caution:
    """A limit that was passed.

    Attributes
    ----------
    limit : Limit
    allowed : float
        The limit as a number [K].
    series : str
        The temperature that passed it.
    peak : Peak
    """

    limit: Limit
    allowed: float
    series: str
    peak: Peak

    def text(self, system: System = "SI") -> str:
        """Write the caution as one sentence or two, without its source."""
        what = self.series.replace("_", " ").replace("highest temperature", "temperature")
        reached = show(self.peak.temperature, "temperature", system)
        when = "" if self.peak.moment is None else f" ({moment_text(self.peak.moment)})"
        allowed = show(self.allowed, "temperature", system)
        return f"{what} reaches {reached}{when}: {self.limit.message.format(limit=allowed)}"

    def as_dict(self) -> dict[str, str | float | None]:
        """Hand over the caution for other programs, temperatures in degrees Celsius."""
        return {
            "name": self.limit.name,
            "severity": self.limit.severity,
            "series": self.series,
            "reached_degC": round(self.peak.temperature - KELVIN_AT_0_DEGC, 6),
            "limit_degC": round(self.allowed - KELVIN_AT_0_DEGC, 6),
            "at": None if self.peak.moment is None else moment_text(self.peak.moment),
            "message": self.limit.message.format(limit=show(self.allowed, "temperature", "SI")),
            "source": self.limit.source,
        }


def moment_text(moment: np.datetime64) -> str:
    """Write date and time to the minute."""
    return str(np.datetime_as_string(moment, unit="m")).replace("T", " ")


AIR_SIDE: Final = ("supply_temperature", "wall_temperature")
FLUE_SIDE: Final = "flue_run_surface_temperature"
"""Name for the ground side of the flue run: the wall temperature of its lane."""

LIMITS: Final = (
    Limit(
        "duct service temperature",
        "duct",
        AIR_SIDE,
        None,
        "danger",
        "above the {limit} that these ducts may carry for long; plastic softens, sags and gives off fumes. "
        "Lower the supply temperature, or use metal or clay pipe near the heater.",
        "ducts.service_temperature of the case, or of its material; else 60 degC, the usual rating of PVC-U "
        "pipe. The maker's figure decides",
    ),
    Limit(
        "wood near hot surface",
        "wood",
        (*AIR_SIDE, FLUE_SIDE, "floor_highest_temperature"),
        77.0 + KELVIN_AT_0_DEGC,
        "danger",
        "at {limit} and more, wood kept warm for long can come to set itself alight. Keep timber, dust and "
        "insulation that burns away from it, by the clearances of the local code.",
        "Fire and Materials 31 (2007) 125",
    ),
    Limit(
        "bare metal, touched for a minute",
        "hot parts",
        ("supply_temperature",),
        51.0 + KELVIN_AT_0_DEGC,
        "caution",
        "bare metal at {limit} burns skin within a minute. Cover or fence ducts and casings within reach.",
        "ISO 13732-1, value from memory",
    ),
    Limit(
        "bare metal, touched for a moment",
        "hot parts",
        ("supply_temperature",),
        65.0 + KELVIN_AT_0_DEGC,
        "danger",
        "bare metal at {limit} burns skin in a second. Cover or fence ducts and casings within reach.",
        "ISO 13732-1, value from memory",
    ),
    Limit(
        "floor where people stay",
        "floor",
        ("floor_highest_temperature",),
        29.0 + KELVIN_AT_0_DEGC,
        "caution",
        "from {limit} upward a floor is too warm for those who stand or sit on it for long.",
        "EN 1264-2; ISO 7730 (value from memory)",
    ),
    Limit(
        "floor at the edge of a room",
        "floor",
        ("floor_highest_temperature",),
        35.0 + KELVIN_AT_0_DEGC,
        "caution",
        "{limit} is the most that is usual even along the edges of a room.",
        "EN 1264-2",
    ),
    Limit(
        "floor that people lie on",
        "floor",
        ("floor_highest_temperature",),
        43.0 + KELVIN_AT_0_DEGC,
        "danger",
        "skin resting for hours on {limit} is burnt. Nobody may sleep or lie on this floor, and bedding or "
        "rugs make it hotter still.",
        "ISO 13732-1, contact of 8 hours and longer, value from memory",
    ),
)

STANDING: Final = (
    Advice(
        "carbon monoxide",
        "Burning wood, gas or oil makes carbon monoxide: it has no smell and kills. Keep flue gas and duct "
        "air strictly apart, and fit carbon monoxide alarms.",
    ),
    Advice(
        "back-draught",
        "A fan can suck flue gas back into the room. Give the fire its own outside air, and have the draught "
        "tested with every fan running and every window shut.",
    ),
    Advice(
        "fire",
        "Ducts carry fire and smoke. Keep clearances to timber, use metal near the heater, and fit a cut-out "
        "that stops the heat when the fan stops.",
    ),
    Advice(
        "electricity near water",
        "Buried ducts collect water. Keep motors and wiring out of it, behind a residual-current device, "
        "and switch off before reaching in.",
    ),
    Advice(
        "codes",
        "These numbers are estimates. Local codes come first, and heaters, flues and wiring are work for "
        "licensed people.",
    ),
)


def judge(peaks: Mapping[str, Peak], service_temperature: float) -> list[Caution]:
    """Hold what was reached against every limit.

    Parameters
    ----------
    peaks : mapping of str to Peak
        Highest temperatures [K] by the name of their series; series that are left out are not judged.
    service_temperature : float
        Highest temperature [K] that the ducts may see for long.

    Returns
    -------
    list of Caution
        Dangers first; at most one for each subject.
    """
    worst: dict[str, Caution] = {}
    for limit in LIMITS:
        allowed = service_temperature if limit.temperature is None else limit.temperature
        reached = [(peaks[name].temperature, name) for name in limit.series if name in peaks]
        if not reached:
            continue
        temperature, series = max(reached)
        # A pipe may be used at its service temperature; every other limit is one to stay below.
        passed = temperature > allowed if limit.temperature is None else temperature >= allowed
        if passed and (limit.subject not in worst or allowed > worst[limit.subject].allowed):
            worst[limit.subject] = Caution(limit, allowed, series, peaks[series])
    return sorted(worst.values(), key=lambda caution: caution.limit.severity != "danger")


def peaks_of_results(results: Results) -> dict[str, Peak]:
    """Find the highest temperature of every series that a limit looks at.

    The air that enters counts only while it flows; with the fan off its temperature means nothing.
    """
    flowing = results["mass_flow"].values > 0.0
    peaks: dict[str, Peak] = {}
    if not flowing.size:
        return peaks
    flue_lanes = _flue_lanes(results)
    for name in sorted({name for limit in LIMITS for name in limit.series}):
        if name == FLUE_SIDE:
            if not flue_lanes:
                continue
            values = results["wall_temperature"].values[:, flue_lanes]
        else:
            values = results[name].values
        if name == "wall_temperature" and flue_lanes:
            values = np.delete(values, flue_lanes, axis=1)
        known = np.where(np.isnan(values), -np.inf, values)
        hottest = known.max(axis=tuple(range(1, known.ndim)), initial=-np.inf)
        if name == "supply_temperature":
            hottest = np.where(flowing, hottest, -np.inf)
        row = int(hottest.argmax())
        if np.isfinite(hottest[row]):
            peaks[name] = Peak(float(hottest[row]) + KELVIN_AT_0_DEGC, results.time[row])
    return peaks


def peaks_of_case(case: Case) -> dict[str, Peak]:
    """Find the highest supply temperature that a case asks for; empty when it asks for heat as power."""
    settings = (case.timetable.start, *case.timetable.daily, *case.timetable.dated)
    given = [setting.supply_temperature for setting in settings]
    asked = [temperature for temperature in given if isinstance(temperature, float)]
    if case.heat.kind == "supply temperature":
        asked.append(case.heat.temperature)
    return {"supply_temperature": Peak(max(asked))} if asked else {}


class Cautions(list["Caution | Finding | Alarm"]):
    """Limits passed and rules broken; notebooks show them as a table, in the units of the case (`system`)."""

    system: System = "SI"

    def _repr_html_(self) -> str:
        """Write the cautions with their sources as a table."""
        rows = [(one.limit.severity, one.text(self.system), one.limit.source) for one in self]
        title = "Cautions" if rows else "Cautions: none of the limits was passed"
        return table_html(title, ("", "what to beware of", "source") if rows else (), rows)


def cautions(results: Results) -> Cautions:
    """Hold a run against every limit and rule, with the service temperatures its case gave; dangers first."""
    service_temperature = _service_temperature(results.case_text)
    alarms = plant_cautions(results, service_temperature)
    # What the plant's limits tell with the time there is to act is not told twice.
    told = {alarm.limit.subject for alarm in alarms}
    passed = judge(peaks_of_results(results), service_temperature)
    found: list[Caution | Finding | Alarm] = [*findings(results), *alarms]
    found += [caution for caution in passed if caution.limit.subject not in told]
    ordered = Cautions(sorted(found, key=lambda caution: caution.limit.severity != "danger"))
    ordered.system = "US" if results.attrs.get("shown_in") == "US" else "SI"
    return ordered


def _flue_lanes(results: Results) -> list[int]:
    """Lanes, counted from 0, in which combustion gas or a jacket's air goes."""
    if "branch_group" not in results:
        return []
    group = results["branch_group"].values[results["segment_branch"].values - 1]
    return sorted({int(lane) - 1 for lane in results["segment_lane"].values[group != 0]})


def _service_temperature(case_text: str) -> float:
    case = CaseValues(case_text)
    ducts = case.table("ducts")
    pipe = None if case.in_si else PIPES.get(str(ducts.get("material", "")))
    default = float(Ducts.model_fields["service_temperature"].default)
    usual = default if pipe is None else pipe.service_temperature
    return case.quantity(ducts, "service_temperature", "temperature", usual)
