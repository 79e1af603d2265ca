"""How much colder it may become outside before something falls below a limit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from simulator.case.schema_site import ConstantWeather, CsvWeather, DailyWaveWeather, Tmy3Weather

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.case.schema import Case

__all__ = ["ColdSnap", "cold_snap", "shifted_weather"]

FURTHEST: Final = 80.0
CLOSE: Final = 0.02
"""A low this near to the limit [K] will do."""
MOST_RUNS: Final = 12
_GUESSED_SLOPE: Final = 0.7
"""Fall of a room's low for each kelvin outside, before anything is known."""


@dataclass(frozen=True)
class ColdSnap:
    """How far the outside may fall.

    Attributes
    ----------
    shift : float or None [K]
        To be added to all outside temperatures for the low to be just at the limit; negative when there is
        room for colder weather. None when no shift up to 80 K either way leads there.
    outside_low : float or None [degC]
        Lowest outside temperature of that night.
    runs : int
        Runs that it took.
    """

    shift: float | None
    outside_low: float | None
    runs: int

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers with their units."""
        return {
            "shift": {"value": self.shift, "unit": "K"},
            "outside_low": {"value": self.outside_low, "unit": "degC"},
            "runs": self.runs,
        }


def shifted_weather(case: Case, shift: float) -> Case:
    """Return the case with its weather warmer by `shift` [K] throughout, run-in included."""
    weather = case.weather
    if isinstance(weather, ConstantWeather):
        changed: Any = weather.model_copy(update={"temperature": weather.temperature + shift})
    elif isinstance(weather, DailyWaveWeather):
        changed = weather.model_copy(update={"mean": weather.mean + shift})
    elif isinstance(weather, CsvWeather | Tmy3Weather):
        changed = weather.model_copy(update={"shift": weather.shift + shift})
    return case.model_copy(update={"weather": changed})


def cold_snap(
    low_at: Callable[[float], float], limit: float, outside_low: float, *, known: float | None = None
) -> ColdSnap:
    """Search the shift of outside temperature at which a low reaches a limit.

    Parameters
    ----------
    low_at : callable
        Lowest temperature [degC] of what is watched for a shift [K]; it rises with the shift.
    limit : float [degC]
    outside_low : float [degC]
        Lowest outside temperature without shift.
    known : float, optional
        The low without shift, when a run has told it already.

    Returns
    -------
    ColdSnap

    Notes
    -----
    Secant steps, kept inside a bracket once there is one (Dowell & Jarratt 1971, the Illinois variant of
    regula falsi): the low is nearly a straight line of the shift, so three or four runs do.
    """
    runs = 0

    def error(shift: float) -> float:
        nonlocal runs
        runs += 1
        return low_at(shift) - limit

    shift, miss = 0.0, known - limit if known is not None else error(0.0)
    other, other_miss = shift, miss
    slope = _GUESSED_SLOPE
    bracketed = False
    while abs(miss) > CLOSE:
        if runs >= MOST_RUNS:
            return ColdSnap(None, None, runs)
        if bracketed:
            trial = other + (shift - other) * other_miss / (other_miss - miss)
        else:
            # A little beyond, so that the next one lies on the far side.
            trial = shift - 1.1 * miss / slope
            trial = min(max(trial, -FURTHEST), FURTHEST)
            if trial == shift:
                return ColdSnap(None, None, runs)
        trial_miss = error(trial)
        if (trial_miss < 0.0) != (miss < 0.0):
            other, other_miss = shift, miss
            bracketed = True
        elif bracketed:
            other_miss *= 0.5
        else:
            slope = max((trial_miss - miss) / (trial - shift), 0.02)
        shift, miss = trial, trial_miss
    return ColdSnap(shift, outside_low + shift, runs)
