"""Heat in a stream of water or air, from its flow and two temperatures, or whichever of these is blank.

heat = mass flow x (heat content leaving - heat content entering). Heat contents are integrals of the
specific heat; those of moist air count its vapour, and what settles where it cools below its dew point
(ASHRAE Handbook, Fundamentals, chapter Psychrometrics).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.answers.measured import Measured, propagate
from simulator.answers.stream_balance import BALANCE, LIQUID, VAPORISATION, VAPOUR, ZERO, Medium, Stream
from simulator.answers.stream_words import told
from simulator.answers.sum_inputs import Input, Names, fraction, one_blank, quantity, rate_given
from simulator.case.rates import within
from simulator.case.units import limit
from simulator.errors import CaseError
from simulator.physics import air, moist_air, water

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.answers.sum_table import Sum

__all__ = ["air_sum", "water_sum"]

FLOWS: Final = ("volume flow", "mass flow")
COLDEST_AIR, HOTTEST_AIR = 200.0, 900.0
"""Range of the properties of air [K]."""
HOTTEST_HUMID_AIR: Final = 363.15
"""Air that a relative humidity is given for [K]."""
_GAUSS = np.polynomial.legendre.leggauss(3)


def _dry_content(kelvin: float) -> float:
    """Heat [J/kg] that warms dry air from 0 degC; exact, for the polynomial has power 4."""
    points, weights = _GAUSS
    half = 0.5 * (kelvin - ZERO)
    return float(half * np.dot(weights, air.heat_capacity(ZERO + half * (1.0 + points))))


def water_sum(
    *,
    heat: Input = None,
    flow: Input = None,
    entering: Input = None,
    leaving: Input = None,
    heat_within: float | str | None = None,
    flow_within: float | str | None = None,
    thermometers_within: float | str | None = None,
    difference_within: float | str | None = None,
    flow_at: Input = None,
    duration: Input = None,
    whole: Input = None,
    names: Names | None = None,
) -> Sum:
    """Solve for the heat in a stream of water, its flow or one of its temperatures.

    Parameters
    ----------
    heat, flow, entering, leaving : float or str or Measured, optional
        In SI (W, m3/s, K), or a text with its unit; flows also by mass. Exactly one stays blank. Heat is
        positive when the stream takes it up.
    heat_within, flow_within : float or str, optional
        How far they may be off either way, with unit or in per cent.
    thermometers_within : float or str, optional
        How far each thermometer may be off, independently of the other one.
    difference_within : float or str, optional
        How far the difference of the temperatures may be off, where one thermometer read both.
    flow_at : float or str, optional
        Temperature of the water where its flow was measured; that of the entering water when left out.
    duration : float or str, optional
        Time for which it flows, for amounts.
    whole : float or str, optional
        A heat of which this is a share.
    names : Names, optional
        How keys are called in messages.

    Returns
    -------
    Sum

    Raises
    ------
    CaseError
        When something cannot be read, too much or too little is given, or no such stream can be.
    """
    medium = Medium(
        "water",
        water.LOWEST,
        water.HIGHEST,
        content=lambda kelvin, _: float(water.heat_content(kelvin)),
        density=lambda kelvin, _: float(water.density(kelvin)),
        carried=lambda _: 1.0,
        vapour=lambda _: 0.0,
        held=lambda ratio, _: ratio,
    )
    return _solve(
        medium, names or Names(), heat=heat, flow=flow, entering=entering, leaving=leaving,
        heat_within=heat_within, flow_within=flow_within, thermometers_within=thermometers_within,
        difference_within=difference_within, flow_at=flow_at, duration=duration, whole=whole,
    )  # fmt: skip


def air_sum(
    *,
    heat: Input = None,
    flow: Input = None,
    entering: Input = None,
    leaving: Input = None,
    heat_within: float | str | None = None,
    flow_within: float | str | None = None,
    thermometers_within: float | str | None = None,
    difference_within: float | str | None = None,
    flow_at: Input = None,
    duration: Input = None,
    whole: Input = None,
    humidity: float | str | None = None,
    elevation: Input = None,
    names: Names | None = None,
) -> Sum:
    """Solve for the heat in a stream of air, its flow or one of its temperatures.

    Parameters
    ----------
    humidity : float or str, optional
        Relative humidity of the entering air, 0 to 1 or per cent; dry air when left out. Water that settles
        where the air leaves below its dew point is counted with its heat.
    elevation : float or str, optional
        Height above sea level [m], which thins the air.
    heat, flow, entering, leaving, flow_at, duration, whole, names
        As for `water_sum`, and so are `heat_within`, `flow_within`, `thermometers_within` and
        `difference_within`.

    Returns
    -------
    Sum

    Raises
    ------
    CaseError
        When something cannot be read, too much or too little is given, or no such stream can be.
    """
    called = names or Names()
    height = quantity(elevation, "length", "elevation", called)
    if height is not None and not -500.0 <= height.value <= 6000.0:
        raise CaseError(
            "is outside its range", key=called["elevation"], value=elevation, allowed="-500 m to 6000 m"
        )
    pressure = 101325.0 if height is None else float(air.pressure_at(height.value))
    share = None if humidity is None else fraction(humidity, "humidity", called).value

    def vapour(entering_kelvin: float) -> float:
        if share is None:
            return 0.0
        return float(moist_air.humidity_ratio(share, entering_kelvin, pressure))

    def content(kelvin: float, ratio: float) -> float:
        dry = _dry_content(kelvin)
        if ratio == 0.0:
            return dry
        vapour_held, celsius = held(ratio, kelvin), kelvin - ZERO
        settled = ratio - vapour_held
        return dry + vapour_held * (VAPORISATION + VAPOUR * celsius) + settled * LIQUID * celsius

    def held(ratio: float, kelvin: float) -> float:
        return min(ratio, float(moist_air.saturation_ratio(kelvin, pressure)))

    def density(kelvin: float, ratio: float) -> float:
        if ratio == 0.0:
            return float(air.density(kelvin, pressure))
        return float(moist_air.density(kelvin, ratio, pressure)) / (1.0 + ratio)

    medium = Medium(
        "air",
        COLDEST_AIR,
        HOTTEST_AIR,
        content=content,
        density=density,
        carried=lambda entering_kelvin: 1.0 + vapour(entering_kelvin),
        vapour=vapour,
        held=held,
        highest_entering=HOTTEST_AIR if share is None else HOTTEST_HUMID_AIR,
    )
    return _solve(
        medium, called, heat=heat, flow=flow, entering=entering, leaving=leaving,
        heat_within=heat_within, flow_within=flow_within, thermometers_within=thermometers_within,
        difference_within=difference_within, flow_at=flow_at, duration=duration, whole=whole,
    )  # fmt: skip


def _solve(medium: Medium, names: Names, **given: Input) -> Sum:
    duration = quantity(given["duration"], "time", "duration", names)
    _above_zero(duration, "duration", names, given)
    blank = one_blank({name: given[name] for name in BALANCE}, names)
    heat = rate_given(
        given["heat"], ("power",), "heat", names, duration, _off(given, "heat_within"), "heat_within"
    )
    flow = rate_given(
        given["flow"], FLOWS, "flow", names, duration, _off(given, "flow_within"), "flow_within"
    )
    whole = rate_given(given["whole"], ("power",), "whole", names, duration)
    rates = {"heat": heat, "flow": flow, "whole": whole}
    for key in ("flow", "whole"):
        rate = rates[key]
        _above_zero(None if rate is None else rate[0], key, names, given)
    flow_dimension = FLOWS[0] if flow is None else flow[1]
    inputs = _temperatures(medium, names, blank, given)
    inputs |= {name: rate[0] for name, rate in rates.items() if rate is not None}
    inputs |= {} if duration is None else {"time": duration}
    place = quantity(given["flow_at"], "temperature", "flow_at", names)
    _within_range(medium, place, "flow_at", names, given)
    stream = Stream(medium, blank, flow_dimension, None if place is None else place.value)
    state = stream.state({name: measured.value for name, measured in inputs.items()})

    def number(name: str) -> tuple[Measured, dict[str, float]]:
        return propagate(lambda values: stream.state(values)[name], inputs)

    found = {name: number(name) for name in state}
    return told(
        medium.name, blank, flow_dimension, {name: one[0] for name, one in found.items()}, found[blank][1]
    )


def _off(given: Mapping[str, Input], key: str) -> float | str | None:
    off = given[key]
    return off.value if isinstance(off, Measured) else off


def _as_typed(value: Input) -> object:
    return value.value if isinstance(value, Measured) else value


def _above_zero(found: Measured | None, key: str, names: Names, given: Mapping[str, Input]) -> None:
    if found is not None and not found.value > 0.0:
        raise CaseError("must be above 0", key=names[key], value=_as_typed(given[key]))


def _within_range(
    medium: Medium, found: Measured | None, key: str, names: Names, given: Mapping[str, Input]
) -> None:
    highest = medium.highest
    if key == "entering" and medium.highest_entering is not None:
        highest = medium.highest_entering
    if found is None or medium.lowest <= found.value <= highest:
        return
    why = (
        "is outside its range"
        if medium.name == "air"
        else "is not where water at ordinary pressure is liquid"
    )
    allowed = f"{limit(medium.lowest, 'temperature')} to {limit(highest, 'temperature')}"
    raise CaseError(why, key=names[key], value=_as_typed(given[key]), allowed=allowed)


def _temperatures(
    medium: Medium, names: Names, blank: str, given: Mapping[str, Input]
) -> dict[str, Measured]:
    """Read the temperatures; read by one thermometer, the second one counts as the first and a difference."""
    found: dict[str, Measured] = {}
    each, both = _off(given, "thermometers_within"), _off(given, "difference_within")
    if each is not None and both is not None:
        raise CaseError(
            f"{names['thermometers_within']} and {names['difference_within']} are both given",
            fix="give the first where two thermometers read, the second where one read both temperatures",
        )
    for name in ("entering", "leaving"):
        off = None if given[name] is None else each
        read = quantity(given[name], "temperature", name, names, off, "thermometers_within")
        _within_range(medium, read, name, names, given)
        if read is not None:
            found[name] = read
    if blank == "flow" and found["leaving"].value == found["entering"].value:
        raise CaseError(
            f"is the same as {names['entering']}, so no flow can be told",
            key=names["leaving"], value=_as_typed(given["leaving"]), fix="give two temperatures that differ",
        )  # fmt: skip
    return found if both is None else _read_by_one(names, found, both)


def _read_by_one(names: Names, found: Mapping[str, Measured], both: float | str) -> dict[str, Measured]:
    if len(found) < 2:
        raise CaseError(
            "belongs to two temperatures that were read, but one is left blank",
            key=names["difference_within"], value=both, fix=f"use {names['thermometers_within']}",
        )  # fmt: skip
    spread = found["leaving"].value - found["entering"].value
    if isinstance(both, str):
        both = within(both, "temperature difference", spread, key=names["difference_within"])
    return {"entering": Measured(found["entering"].value), "difference": Measured(spread, abs(both))}
