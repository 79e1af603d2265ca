"""The temperature of the air entering the ducts, where a case takes it from a table of values."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.case.schema_air import SeriesHeat
from simulator.climate.table import tabulated, value_column

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.climate.series import Tabulated


def supply_from_case(case: Case) -> Tabulated | None:
    """Return the supply temperature [K] over ticks, or None where the case names no table for it.

    Values are joined by straight lines; before the first, the first 24 hours are repeated backwards.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Tabulated or None

    Raises
    ------
    CaseError
        When the table cannot be used or does not cover the period.
    """
    heat = case.heat
    if not isinstance(heat, SeriesHeat):
        return None
    column = value_column(heat.columns.temperature, "temperature", 173.15, 773.15, "-100 to 500 degC")
    return tabulated(case, heat.file, heat.columns.time, [column])[0]
