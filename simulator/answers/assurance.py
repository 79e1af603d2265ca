"""How far the numbers of a run can be trusted, from what the run says of itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.case.units import System

__all__ = ["assurance"]

ROUNDING = 1e-9
"""Differences below this [K] are rounding."""


def assurance(summary: Mapping[str, Any], units: System = "SI") -> list[tuple[str, str]]:
    """Lines that say how a run was computed and how well it holds.

    Parameters
    ----------
    summary : mapping
        Numbers that describe the run, as kept with the results.
    units : {"SI", "US"}

    Returns
    -------
    list of (str, str)
        Label and text; empty for results that carry no such numbers.
    """
    lines: list[tuple[str, str]] = []
    cells, states, solver = (summary.get(key) for key in ("cells", "states", "solver"))
    if cells is not None and states is not None and solver is not None:
        text = f"{int(summary.get('stations', 1))} sections of {int(cells)} cells, {solver}"
        error = float(summary.get("reduction_error", 0.0))
        if int(states) < int(cells):
            kelvin = max(error, 1e-9)
            within = f"{kelvin:.1g} K" if units == "SI" else f"{1.8 * kelvin:.1g} degF"
            text += f": {int(states)} states, within {within} of the full mesh"
        lines.append(("Ground", text))
    lines += _spot_check(summary, units)
    residual = summary.get("largest_ledger_residual")
    if residual is not None:
        lines.append(("Ledger", f"closes to {float(residual):.1g} of the heat handled, at every step"))
    return lines


def _spot_check(summary: Mapping[str, Any], units: System) -> list[tuple[str, str]]:
    """Say what the look at the full mesh after the run found, beside what is allowed."""
    found = summary.get("spot_check_difference")
    if found is None:
        return []
    difference, allowed = float(found), float(summary.get("spot_check_allowed", 0.0))
    hours = [float(each) for each in summary.get("spot_check_hours", ())]
    periods = ", ".join(f"{each:.0f} h" if each < 48.0 else f"{each / 24.0:.0f} d" for each in hours)

    def shown(kelvin: float) -> str:
        kelvin = max(kelvin, 1e-9)
        return f"{kelvin:.1g} K" if units == "SI" else f"{1.8 * kelvin:.1g} degF"

    text = f"heat that swings every {periods}: {shown(difference)} from the full mesh"
    if difference <= max(allowed, ROUNDING):
        return [("Spot check", f"{text}; allowed {shown(allowed)}")]
    advice = 'do not rely on this run; empty the cache folder, or set numerics.solver = "direct"'
    text = f"FAILED: {text}, more than the {shown(allowed)} allowed: {advice}"
    return [("Spot check", text)]
