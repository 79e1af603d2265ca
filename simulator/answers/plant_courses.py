"""The temperatures of a run that a limit of the plant looks at, and how far each is beyond it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.answers.plant_rules import burning_well

if TYPE_CHECKING:
    from collections.abc import Iterator

    from simulator.answers.case_values import CaseValues
    from simulator.answers.plant_limits import PlantLimit
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["LimitCourse", "courses_of", "limit_courses"]

KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True, eq=False)
class LimitCourse:
    """A temperature over time that is held against a limit.

    Attributes
    ----------
    limit : PlantLimit
    place : str
        Which coil, or which layer of the tank; empty where there is one only.
    allowed : float [K]
    kelvin : (n,) float [K]
        NaN in rows that do not count.
    beyond : (n,) float [K]
        Distance beyond the limit, negative while it is kept.
    """

    limit: PlantLimit
    place: str
    allowed: float
    kelvin: FloatArray
    beyond: FloatArray


def limit_courses(
    results: Results, limit: PlantLimit, values: CaseValues, ducts: float
) -> Iterator[LimitCourse]:
    """List everything in a run that one limit looks at.

    Parameters
    ----------
    results : Results
    limit : PlantLimit
    values : CaseValues
    ducts : float [K]
        Service temperature of the ducts.

    Yields
    ------
    LimitCourse
    """
    if limit.needs and limit.needs not in results:
        return
    for name in limit.series:
        # A tank told by its layers is not told again by its mean.
        if name not in results or (name == "tank_temperature" and "tank_layer_temperature" in results):
            continue
        courses, places = courses_of(results, name, values)
        counts = _counting(results, limit, name)
        for column, place in enumerate(places):
            allowed = _allowed(limit, values, column, ducts)
            if allowed is None:
                continue
            kelvin = np.where(counts, courses[:, column] + KELVIN_AT_0_DEGC, np.nan)
            beyond = kelvin - allowed if limit.side == "above" else allowed - kelvin
            if limit.case_key is not None and limit.name != "coil boils":
                # A maker's figure may be reached, not passed; every other limit is one to stay clear of.
                beyond = np.where(beyond == 0.0, -1e-12, beyond)
            yield LimitCourse(limit, place, allowed, kelvin, beyond)


def courses_of(results: Results, name: str, values: CaseValues) -> tuple[FloatArray, list[str]]:
    """Return courses over time in columns, and what each of them is of."""
    series = results[name]
    courses = np.asarray(series.values, dtype=float)
    if courses.ndim == 1:
        return courses[:, None], [""]
    dim = series.dims[1]
    if dim not in ("coil", "layer"):
        # Along ducts the hottest place counts.
        flat = courses.reshape(courses.shape[0], -1)
        return np.where(np.isnan(flat), -np.inf, flat).max(axis=1)[:, None], [""]
    count = courses.shape[1]
    if count == 1:
        return courses, [""]
    given = [str(entry.get("name") or "") for entry in values.rows("coils")] if dim == "coil" else []
    given += [""] * (count - len(given))
    return courses, [given[number] or f"{dim} {number + 1}" for number in range(count)]


def _counting(results: Results, limit: PlantLimit, name: str) -> np.ndarray:
    """Return the rows in which a course counts."""
    times = results["time"].values
    if limit.while_burning:
        if "fuel_rate" not in results:
            return np.zeros(times.size, dtype=bool)
        return burning_well(times, results["fuel_rate"].values)
    if name == "supply_temperature":
        # Without a flow the temperature of the entering air means nothing; at a standing fan it means much.
        return np.asarray(results["mass_flow"].values > 0.0)
    return np.ones(times.size, dtype=bool)


def _allowed(limit: PlantLimit, values: CaseValues, column: int, ducts: float) -> float | None:
    """Return the limit of a course [K]; None when the case gives none."""
    if limit.temperature is not None:
        return limit.temperature
    table, key = limit.case_key or ("", "")
    if table == "ducts":
        return ducts
    if table == "coils":
        coils = values.rows("coils")
        coil = coils[column] if column < len(coils) else {}
        return values.quantity(coil, key, "temperature", limit.default)
    return values.quantity(values.table(table), key, "temperature", limit.default)
