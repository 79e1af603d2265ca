"""Answers by plain names: one number, or a few words, out of a run, each with its unit and meaning.

Names stand in one table, `OUTPUTS`; some take a measure along (``hours room under 40 degF``, ``uptake over
6 h``). Numbers are in SI, temperatures in kelvin.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.answers.cautions import cautions, peaks_of_results
from simulator.answers.course import hours, rows_within
from simulator.answers.flow import AirFlow, air_flow
from simulator.answers.flue import flue_run
from simulator.answers.overnight import Overnight, overnight
from simulator.case.nearest import nearest
from simulator.case.units import parse, show, shown_unit
from simulator.errors import CaseError

if TYPE_CHECKING:
    import datetime as dt

    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["OUTPUTS", "PATTERNS", "Look", "Output", "Value", "evaluate", "output_named", "shown", "unit_of"]

Value = float | str | None
_KELVIN_AT_0_DEGC: Final = 273.15
_SPOTS: Final = MappingProxyType(
    {
        "floor": "floor_mean_temperature",
        "floor place": "floor_lowest_temperature",
        "room": "room_temperature",
        "exit air": "exit_temperature",
        "outside": "outside_temperature",
    }
)
_HOURS: Final = re.compile(
    rf"hours ({'|'.join(sorted(_SPOTS, key=len, reverse=True))}) (under|over) (.+)", re.IGNORECASE
)
_OVER: Final = re.compile(r"(heat into the floor|uptake) over (.+)", re.IGNORECASE)


class Look:
    """A run as the outputs see it; what several of them need is worked out once.

    Parameters
    ----------
    results : Results
    begin, end : datetime, optional
    night : int, optional
        The time to look at, as `overnight` takes it.
    """

    def __init__(
        self,
        results: Results,
        *,
        begin: dt.datetime | None = None,
        end: dt.datetime | None = None,
        night: int | None = None,
    ) -> None:
        self.results = results
        self.night: Overnight = overnight(results, begin=begin, end=end, night=night)

    def read(self, name: str) -> FloatArray:
        """Return a series."""
        return np.asarray(self.results[name].values, dtype=np.float64)

    @cached_property
    def seconds(self) -> FloatArray:
        """Time of every row since the start of the case [s]."""
        return self.read("time")

    @cached_property
    def air(self) -> AirFlow:
        """What the fan did in the whole run."""
        return air_flow(self.results, float(self.seconds[0]), float(self.seconds[-1]))

    @cached_property
    def told(self) -> tuple[int, int, str]:
        """Dangers, cautions, and the name of the worst."""
        found = cautions(self.results)
        dangers = sum(one.limit.severity == "danger" for one in found)
        return dangers, len(found) - dangers, found[0].limit.name if found else "none"

    def low(self, name: str) -> float | None:
        """Lowest temperature of the night [K]."""
        found = self.night.lows[name]
        return None if found is None else found.temperature + _KELVIN_AT_0_DEGC

    def last(self, name: str) -> float | None:
        """Temperature at the end of the night [K]."""
        found = self.night.at_end[name]
        return None if found is None else found + _KELVIN_AT_0_DEGC

    def peak(self, *names: str) -> float | None:
        """Highest temperature of the run [K]."""
        peaks = peaks_of_results(self.results)
        return max((peaks[name].temperature for name in names if name in peaks), default=None)

    @cached_property
    def fired(self) -> FloatArray:
        """Share of every row's time, 0 or 1, in which heated air goes into the ducts."""
        power = self.read("heater_power")
        # Powers come as differences of the ledger, so that none may show as rounding.
        heated = power > 1e-6 * max(float(power.max(initial=0.0)), 1.0)
        return (heated & (self.read("mass_flow") > 0.0)).astype(np.float64)

    def exit_over_floor(self) -> float | None:
        """Most by which heated air leaves the ducts warmer than the floor is [K]."""
        rows = self.fired > 0.0
        if not rows.any():
            return None
        return float((self.read("exit_temperature") - self.read("floor_mean_temperature"))[rows].max())

    def most(self, name: str) -> float | None:
        """Highest value of a series while the fan runs."""
        rows = self.read("mass_flow") > 0.0
        return float(self.read(name)[rows].max()) if rows.any() else None

    def taken(self, span: float | None = None) -> tuple[float, float] | None:
        """Heat that the air gave the ground, and that it was given, from the first firing on [J].

        Parameters
        ----------
        span : float, optional
            Time to look at [s]; the whole run when left out.
        """
        begin, end = float(self.seconds[0]), float(self.seconds[-1])
        if span is not None:
            rows = np.flatnonzero(self.fired)
            if not rows.size:
                return None
            # A row tells of the time since the row before it.
            begin = float(self.seconds[max(int(rows[0]) - 1, 0)])
            if begin + span > end + 1e-6:
                return None
            end = begin + span
        moments = np.concatenate(
            ([begin], self.seconds[(self.seconds > begin) & (self.seconds < end)], [end])
        )

        def course(name: str) -> FloatArray:
            return np.asarray(np.interp(moments, self.seconds, self.read(f"ledger_{name}")))

        into = np.diff(course("duct"))
        given = course("heater")[-1] - course("heater")[0] + course("fan")[-1] - course("fan")[0]
        given += course("flue")[-1] - course("flue")[0]
        return float(into[into > 0.0].sum()), float(given)

    def hours(self, spot: str, side: str, limit: float) -> float:
        """Time of the night that a temperature is under or over a limit [s]."""
        window = self.night.window
        span = tuple((at - self.results.start).total_seconds() for at in (window.begin, window.end))
        rows = rows_within(self.seconds, *span)
        values = self.read(_SPOTS[spot])[rows.cut] + _KELVIN_AT_0_DEGC
        if spot == "exit air":
            values = np.where(self.read("mass_flow")[rows.cut] > 0.0, values, math.nan)
        return 3600.0 * hours(rows, values < limit if side == "under" else values > limit)


@dataclass(frozen=True)
class Output:
    """One answer.

    Attributes
    ----------
    name : str
    dimension : str
        A dimension of `simulator.case.units`, or "share", "count", "number", "electricity", "words".
    meaning : str
    value : callable
        From a `Look` to a number in SI, to words, or to None where a run has no such thing.
    """

    name: str
    dimension: str
    meaning: str
    value: Callable[[Look], Value]

    @property
    def numeric(self) -> bool:
        """Whether it is a number."""
        return self.dimension != "words"


def _share(look: Look, span: float | None = None) -> float | None:
    taken = look.taken(span)
    return None if taken is None or taken[1] <= 0.0 else taken[0] / taken[1]


def _heat(look: Look, span: float | None = None) -> float | None:
    taken = look.taken(span)
    return None if taken is None else taken[0]


def _draught(look: Look) -> float | None:
    run = flue_run(look.results, float(look.seconds[0]), float(look.seconds[-1]))
    return None if run is None else run.smallest_margin


def _water(look: Look) -> float | None:
    return float(look.read("water_standing").max()) if "water_standing" in look.results else None


_T, _E = "temperature", "energy"
OUTPUTS: Final[Mapping[str, Output]] = MappingProxyType(
    {
        output.name: output
        for output in (
            Output("lowest floor", _T, "lowest mean of the floor surface in the night",
                   lambda look: look.low("floor_mean")),
            Output("lowest floor place", _T, "lowest temperature anywhere on the floor in the night",
                   lambda look: look.low("floor_coldest_place")),
            Output("lowest room", _T, "lowest room air in the night", lambda look: look.low("room")),
            Output("lowest exit air", _T, "coldest air leaving the ducts in the night, while the fan runs",
                   lambda look: look.low("exit_air")),
            Output("lowest outside", _T, "lowest outside air in the night", lambda look: look.low("outside")),
            Output("floor at the end", _T, "mean of the floor surface at the end of the night",
                   lambda look: look.last("floor_mean")),
            Output("room at the end", _T, "room air at the end of the night",
                   lambda look: look.last("room")),
            Output("exit air at the end", _T, "air leaving the ducts at the end of the night",
                   lambda look: look.last("exit_air")),
            Output("exit air over floor", "temperature difference",
                   "most by which heated air leaves the ducts warmer than the mean floor, in the whole run",
                   lambda look: look.exit_over_floor()),
            Output("hottest floor place", _T, "highest temperature anywhere on the floor, in the whole run",
                   lambda look: look.peak("floor_highest_temperature")),
            Output("hottest duct", _T, "hottest air or wall in the ducts, in the whole run",
                   lambda look: look.peak("supply_temperature", "wall_temperature")),
            Output("heat put in", _E, "heat from heater, fan and flue run, in the whole run",
                   lambda look: look.night.heat_of_run.put_in),
            Output("heat into the floor", _E, "heat the duct air gave floor and ground, in the whole run",
                   _heat),
            Output("heat back to the air", _E, "heat the air took back from the ground, in the whole run",
                   lambda look: look.night.heat_of_run.ground_to_air),
            Output("heat up to the room", _E, "heat from the floor surface to the room, in the whole run",
                   lambda look: look.night.heat_of_run.floor_to_room),
            Output("heat stored", _E, "change of the heat stored under the floor, in the whole run",
                   lambda look: look.night.heat_of_run.under_floor_change),
            Output("uptake", "share", "share of the heat put in that went into the ground, in the whole run",
                   _share),
            Output("kept", "share", "share of what went into the ground that was not given back by the end",
                   lambda look: look.night.heat_of_run.fraction_kept),
            Output("fan electricity", "electricity", "electric energy of fan and blower, in the whole run",
                   lambda look: look.air.fan_energy),
            Output("heat moved per electricity", "number",
                   "heat moved into and out of the ground over the fan's electric energy",
                   lambda look: look.air.heat_per_fan_energy),
            Output("fan flow", "volume flow", "mean flow at the fan while it runs",
                   lambda look: look.air.volume_flow),
            Output("fan pressure", "pressure", "highest pressure rise of the fan",
                   lambda look: look.most("fan_pressure")),
            Output("water in the ducts", "mass", "most water in the ducts; only with [moisture]", _water),
            Output("draught margin", "pressure", "smallest margin of the stack's pull; only with [flue]",
                   _draught),
            Output("dangers", "count", "limits passed that can hurt people", lambda look: look.told[0]),
            Output("cautions", "count", "other limits passed", lambda look: look.told[1]),
            Output("worst caution", "words", "the gravest limit passed", lambda look: look.told[2]),
        )
    }
)  # fmt: skip
PATTERNS: Final[Mapping[str, tuple[str, str]]] = MappingProxyType(
    {
        "hours SPOT under T": ("time", "time of the night in which SPOT is colder than T, such as 40 degF"),
        "hours SPOT over T": ("time", f"the same warmer than T; SPOT is {', '.join(_SPOTS)}"),
        "heat into the floor over T": (_E, "heat the air gave the ground in the first T of firing (6 h)"),
        "uptake over T": ("share", "share of the heat put in that went into the ground, in that time"),
    }
)  # fmt: skip


def output_named(text: str) -> Output:
    """Find an output by its name.

    Parameters
    ----------
    text : str
        Letter case, hyphens and underscores do not count.

    Returns
    -------
    Output

    Raises
    ------
    CaseError
        When there is none.
    """
    name = " ".join(re.sub(r"(?<=[A-Za-z])[-_](?=[A-Za-z])", " ", text).split())
    if name.lower() in OUTPUTS:
        return OUTPUTS[name.lower()]
    match = _HOURS.fullmatch(name)
    if match is not None:
        spot, side, limit_text = match[1].lower(), match[2].lower(), match[3]
        limit = _measure(limit_text, "temperature", text)
        meaning = f"time of the night in which {spot} is {side} {limit_text}"
        full = f"hours {spot} {side} {limit_text}"
        return Output(full, "time", meaning, lambda look: look.hours(spot, side, limit))
    match = _OVER.fullmatch(name)
    if match is not None:
        what, span_text = match[1].lower(), match[2]
        span = _measure(span_text, "time", text)
        base = OUTPUTS[what]
        if not span > 0.0:
            raise CaseError("needs a time above 0", key="output", value=text)
        work = _share if what == "uptake" else _heat
        meaning = f"{base.meaning.replace(', in the whole run', '')}, in the first {span_text} of firing"
        full = f"{what} over {span_text}"
        return Output(full, base.dimension, meaning, lambda look: work(look, span))
    fix = nearest(name, OUTPUTS)
    raise CaseError(
        "is no output", key="output", value=text, fix=fix or "`ductfloor vary --outputs` lists them all"
    )


def evaluate(look: Look, outputs: Sequence[Output]) -> dict[str, Value]:
    """Work out outputs of a run; numbers that are not finite become None."""
    found: dict[str, Value] = {}
    for output in outputs:
        value = output.value(look)
        found[output.name] = None if isinstance(value, float) and not math.isfinite(value) else value
    return found


def unit_of(dimension: str, system: System | None = None) -> tuple[str, float, float]:
    """Return unit, scale and zero of tables: value in SI = number * scale + zero.

    Parameters
    ----------
    dimension : str
        Of an `Output`.
    system : {"SI", "US"}, optional
        Units to be read by people; left out: SI with degrees Celsius and hours.
    """
    if dimension == "words":
        return "", 1.0, 0.0
    if dimension in ("share", "count", "number"):
        return "1", 1.0, 0.0
    if dimension == "electricity":
        return "kWh", 3.6e6, 0.0
    if dimension == "time":
        return "h", 3600.0, 0.0
    unit = shown_unit(dimension, system or "SI")
    return unit.label, unit.scale, unit.zero


def shown(value: Value, dimension: str, system: System) -> str:
    """Write a value with its unit."""
    if value is None:
        return "-"
    if isinstance(value, str):
        return value
    if dimension == "share":
        return f"{100.0 * value:.0f} %"
    if dimension == "count":
        return f"{value:.0f}"
    if dimension == "number":
        return f"{value:.3g}"
    if dimension == "electricity":
        return f"{value / 3.6e6:.2f} kWh"
    if dimension == "time":
        return f"{value / 3600.0:.1f} h"
    return show(value, dimension, system)


def _measure(text: str, dimension: str, whole: str) -> float:
    try:
        return parse(text, dimension)
    except CaseError as error:
        raise CaseError(
            error.problem, key="output", value=whole, allowed=error.allowed, fix=error.fix
        ) from None
