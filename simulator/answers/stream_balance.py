"""The heat balance of one stream: flow, two temperatures and heat, any of them solved from the others."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from scipy.optimize import brentq

from simulator.case.units import limit
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

__all__ = ["BALANCE", "Medium", "Stream"]

BALANCE: Final = ("heat", "flow", "entering", "leaving")
"""The quantities that the balance ties together."""
ZERO: Final = 273.15
VAPORISATION, VAPOUR, LIQUID = 2.501e6, 1860.0, 4186.0
"""Heat of vaporisation at 0 degC [J/kg], specific heats of vapour and water [J/(kg.K)], as in `moist_air`."""


@dataclass(frozen=True)
class Medium:
    """What flows; the humidity ratio is 0 for water and dry air.

    Attributes
    ----------
    name : str
    lowest, highest : float
        Temperatures [K] it may have.
    content : callable
        Heat content [J/kg of water or dry air] from temperature [K] and humidity ratio.
    density : callable
        Water or dry air [kg/m3] from temperature [K] and humidity ratio.
    carried : callable
        Mass [kg] that moves in all with each kg of water or dry air, from the temperature entering.
    vapour : callable
        Humidity ratio from the temperature entering.
    held : callable
        The part of a humidity ratio that stays vapour at a temperature.
    highest_entering : float, optional
        When lower than `highest`.
    """

    name: str
    lowest: float
    highest: float
    content: Callable[[float, float], float]
    density: Callable[[float, float], float]
    carried: Callable[[float], float]
    vapour: Callable[[float], float]
    held: Callable[[float, float], float]
    highest_entering: float | None = None


@dataclass(frozen=True)
class Stream:
    """The relation between the four quantities, solved for the blank one."""

    medium: Medium
    blank: str
    flow_dimension: str
    flow_at: float | None

    def state(self, given: Mapping[str, float]) -> dict[str, float]:
        """Return everything that follows from what is given, in SI and by name."""
        values = dict(given)
        if "difference" in values:
            values["leaving"] = values["entering"] + values.pop("difference")
        values[self.blank] = self._solved(values)
        entering, leaving = values["entering"], values["leaving"]
        counted, ratio = self._mass(values), self.medium.vapour(entering)
        place = entering if self.flow_at is None else self.flow_at
        found = {
            **{name: values[name] for name in BALANCE},
            "difference": leaving - entering,
            "mass_flow": counted * self.medium.carried(entering),
            "volume_flow": counted / self.medium.density(place, ratio),
        }
        if self.blank == "flow":
            found["heat"] = math.copysign(values["heat"], leaving - entering)
        if ratio > 0.0:
            held = self.medium.held(ratio, leaving)
            found["settled"] = counted * (ratio - held)
            found["latent"] = -found["settled"] * (VAPORISATION + (VAPOUR - LIQUID) * (leaving - ZERO))
        if "time" in values:
            found["amount"] = found["heat"] * values["time"]
        if "whole" in values:
            found["share"] = abs(found["heat"]) / values["whole"]
        return found

    def _mass(self, values: Mapping[str, float]) -> float:
        """Mass flow that the heat content counts [kg/s]."""
        entering = values["entering"]
        if self.flow_dimension == "mass flow":
            return values["flow"] / self.medium.carried(entering)
        place = entering if self.flow_at is None else self.flow_at
        return values["flow"] * self.medium.density(place, self.medium.vapour(entering))

    def _heat(self, values: Mapping[str, float]) -> float:
        ratio = self.medium.vapour(values["entering"])
        gained = self.medium.content(values["leaving"], ratio) - self.medium.content(
            values["entering"], ratio
        )
        return self._mass(values) * gained

    def _solved(self, values: dict[str, float]) -> float:
        if self.blank == "heat":
            return self._heat(values)
        if self.blank == "flow":
            # Heat is often typed without its sign; the temperatures say which way it goes.
            return abs(values["heat"]) / abs(self._heat({**values, "flow": 1.0}))

        def over(kelvin: float) -> float:
            return self._heat({**values, self.blank: kelvin}) - values["heat"]

        low, high = self.medium.lowest, self.medium.highest
        if self.blank == "entering" and self.medium.highest_entering is not None:
            high = self.medium.highest_entering
        at_low, at_high = over(low), over(high)
        if at_low * at_high > 0.0:
            hotter = abs(at_high) < abs(at_low)
            bound = limit(high if hotter else low, "temperature")
            what = "more" if hotter else "less"
            verb, why = ("enter" if self.blank == "entering" else "leave"), ""
            if self.medium.name == "water":
                why = ": it would boil" if hotter else ": it would freeze"
            raise CaseError(
                f"the {self.medium.name} would have to {verb} at {what} than {bound}{why}",
                fix="check heat and flow; more flow changes its temperature less",
            )
        return float(brentq(over, low, high, xtol=1e-11, rtol=1e-14))
