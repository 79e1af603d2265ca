"""How the flue run fared: gas along it, draught over the burn, water settling in it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.course import hours, mounted, rows_within
from simulator.case.units import show
from simulator.physics.draught import THIN_MARGIN
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["FlueRun", "flue_run"]

_KELVIN_AT_0_DEGC = 273.15


@dataclass(frozen=True)
class FlueRun(Displayed):
    """The flue run between two moments; temperatures and draught are those while the stove burnt.

    Attributes
    ----------
    burning : float [h]
    heat : float [J]
        Given by the gas in the run.
    hottest_entry, hottest_exit, coolest_exit : float [degC] or None
        None, as all that follows, when nothing burnt.
    dew_point : float [degC] or None
    coolest_wall : float [degC] or None
        Inside of the gas pipe, anywhere along the run.
    coolest_stack_wall : float [degC] or None
        At the stack's top; None also without a stack.
    hottest_wall : float [degC] or None
    smallest_margin : float [Pa] or None
        Pull less 1.5 times the resistance and less the stove's need; None also without a stack.
    smallest_margin_at : datetime or None
    margin_at_lighting, margin_at_end : float [Pa] or None
        In the first row of a burn and in the last one, each at its smallest; None when the window has none.
    short_hours, thin_hours : float [h]
        With a margin below 0, and below 3 Pa.
    wet_hours : float [h]
        With water settling anywhere in the run.
    water : float [kg]
        Settled in the run.
    has_stack : bool
        Whether the case gives a stack; without one draught is not known.
    """

    burning: float
    heat: float
    hottest_entry: float | None
    hottest_exit: float | None
    coolest_exit: float | None
    dew_point: float | None
    coolest_wall: float | None
    coolest_stack_wall: float | None
    hottest_wall: float | None
    smallest_margin: float | None
    smallest_margin_at: dt.datetime | None
    margin_at_lighting: float | None
    margin_at_end: float | None
    short_hours: float
    thin_hours: float
    wet_hours: float
    water: float
    has_stack: bool

    def as_dict(self) -> dict[str, Any]:
        """Return every number with its unit."""
        units = {"burning": "h", "heat": "J", "water": "kg", "has_stack": "1", "smallest_margin_at": "1"}
        found: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, dt.datetime):
                value = value.isoformat()
            unit = units.get(field.name, "degC")
            if "margin" in field.name and field.name != "smallest_margin_at":
                unit = "Pa"
            elif field.name.endswith("_hours"):
                unit = "h"
            found[field.name] = {"value": value, "unit": unit}
        return found

    def as_rows(self, units: System) -> list[tuple[str, str]]:
        """Return lines to print: what, how much."""

        def warm(celsius: float | None) -> str:
            return "-" if celsius is None else show(celsius + _KELVIN_AT_0_DEGC, "temperature", units)

        def pull(pascal: float | None) -> str:
            return "-" if pascal is None else show(pascal, "pressure", units)

        if self.hottest_entry is None:
            return [("Stove", "did not burn")]
        found = [
            ("Stove burnt", f"{self.burning:.1f} h"),
            ("Heat given by the gas in the run", show(self.heat, "energy", units)),
            ("Gas entering the run, hottest", warm(self.hottest_entry)),
            ("Gas leaving the run", f"{warm(self.coolest_exit)} to {warm(self.hottest_exit)}"),
            ("Dew point of the gas", warm(self.dew_point)),
            ("Coolest wall of the gas pipe", warm(self.coolest_wall)),
        ]
        if self.has_stack:
            when = "" if self.smallest_margin_at is None else f" at {self.smallest_margin_at:%Y-%m-%d %H:%M}"
            found += [
                ("Inside of the stack's top, coolest", warm(self.coolest_stack_wall)),
                ("Draught left over, smallest", pull(self.smallest_margin) + when),
                ("Draught left over, at lighting", pull(self.margin_at_lighting)),
                ("Draught left over, in the tail", pull(self.margin_at_end)),
                ("Draught short / thin", f"{self.short_hours:.1f} h / {self.thin_hours:.1f} h"),
            ]
        else:
            found.append(("Draught", "not known: the case gives no stack"))
        wet = "none" if self.water <= 0.0 else f"{show(self.water, 'mass', units)} in {self.wet_hours:.1f} h"
        found.append(("Water settled in the run", wet))
        return found


def flue_run(results: Results, begin: float, end: float) -> FlueRun | None:
    """Sum up the flue run between two moments.

    Parameters
    ----------
    results : Results
    begin, end : float [s]
        Since the start of the case.

    Returns
    -------
    FlueRun or None
        None for a run without flue.
    """
    if "flue_mass_flow" not in results:
        return None
    seconds = results["time"].values
    rows = rows_within(seconds, begin, end)
    cut = rows.cut
    burns = results["flue_mass_flow"].values[cut] > 0.0

    def chosen(name: str) -> Any:
        return results[name].values[cut][burns]

    def extreme(name: str, pick: Any) -> float | None:
        values = chosen(name)
        values = values[np.isfinite(values)]
        return float(pick(values)) if values.size else None

    margins = results["flue_margin"].values[cut]
    known = burns & np.isfinite(margins)
    smallest = smallest_at = at_lighting = at_end = None
    if known.any():
        row = int(np.where(known, margins, np.inf).argmin())
        smallest = float(margins[row])
        smallest_at = results.start + dt.timedelta(seconds=float(rows.seconds[row]))
        # A burn that goes on past either end of the window has neither been lit nor gone out in it.
        burning = results["flue_mass_flow"].values > 0.0
        begins = known & ~np.concatenate(([False], burning[:-1]))[cut]
        ends = known & ~np.concatenate((burning[1:], [True]))[cut]
        at_lighting = float(margins[begins].min()) if begins.any() else None
        at_end = float(margins[ends].min()) if ends.any() else None
    settling = results["flue_condensation"].values[cut]
    return FlueRun(
        burning=hours(rows, burns),
        heat=mounted(seconds, results["ledger_flue"].values, begin, end),
        hottest_entry=extreme("flue_entry_temperature", np.max),
        hottest_exit=extreme("flue_exit_temperature", np.max),
        coolest_exit=extreme("flue_exit_temperature", np.min),
        dew_point=extreme("flue_dew_temperature", np.max),
        coolest_wall=extreme("flue_wall_temperature", np.min),
        coolest_stack_wall=extreme("flue_stack_wall_temperature", np.min),
        hottest_wall=extreme("flue_wall_temperature", np.max),
        smallest_margin=smallest,
        smallest_margin_at=smallest_at,
        margin_at_lighting=at_lighting,
        margin_at_end=at_end,
        short_hours=hours(rows, known & (margins < 0.0)),
        thin_hours=hours(rows, known & (margins < THIN_MARGIN)),
        wet_hours=hours(rows, settling > 0.0),
        water=float(settling @ rows.spans),
        has_stack=bool(np.isfinite(results["flue_draught"].values).any()),
    )
