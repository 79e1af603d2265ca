"""The cases that ship with the program are fine enough: half of everything changes next to nothing.

Cells, steps and stations are halved together, and in one case each by itself. What people read off is
compared at all common times: the floor's mean at every station, its coldest spot, and the air at the exit
while the fan runs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simulator.case.loader import load
from simulator.case.schema import Case
from simulator.run.loop import simulate
from tests.run.rigs import Collector

# The season at hourly steps is left out: its rule may switch an hour sooner or later. How rules converge is
# the matter of test_switching.
CASES = [
    path
    for path in sorted(Path(__file__).parents[2].joinpath("cases").glob("*.toml"))
    if path.stem != "summer-to-autumn"
]
COARSENED = next(path for path in CASES if path.stem == "duct-long-equal-flow")
ALLOWED = 0.1
"""Largest change [K]."""
HALVES: dict[str, dict[str, float]] = {
    "everything": {"cell_scale": 0.5, "step": 0.5, "stations": 2.0},
    "cells": {"cell_scale": 0.5},
    "steps": {"step": 0.5},
    "stations": {"stations": 2.0},
}
_KNOWN: dict[tuple[str, str], Collector] = {}


def changed(case: Case, factors: dict[str, float]) -> Case:
    numbers: dict[str, Any] = {}
    for name, factor in factors.items():
        value = getattr(case.numerics, name) * factor
        numbers[name] = round(value) if name == "stations" else value
    numerics = case.numerics.model_copy(update=numbers)
    # Pictures of the ground are not compared; rows must fall on the same times.
    output = case.output.model_copy(update={"fields": 0.0})
    return case.model_copy(update={"numerics": numerics, "output": output})


def run(path: Path, name: str, factors: dict[str, float]) -> Collector:
    key = (path.name, name)
    if key not in _KNOWN:
        collector = Collector()
        simulate(changed(load(path), factors), [collector])
        _KNOWN[key] = collector
    return _KNOWN[key]


def station_means(coarse: Collector, fine: Collector) -> np.ndarray:
    """(T, S) floor means of the fine stations over the slices of the coarse ones."""
    edges, centres, lengths = coarse.geometry.edges_x, fine.geometry.station_x, fine.geometry.station_dx
    owner = np.searchsorted(edges, centres) - 1
    weights = np.zeros((centres.size, edges.size - 1))
    weights[np.arange(centres.size), owner] = lengths
    floor = fine["floor_station_temperature"]
    return (floor @ weights) / weights.sum(axis=0)


def differences(coarse: Collector, fine: Collector) -> dict[str, float]:
    common = np.intersect1d(coarse.ticks, fine.ticks)
    assert common.size >= len(coarse.ticks) - 1
    mine, theirs = np.isin(coarse.ticks, common), np.isin(fine.ticks, common)
    running = coarse["fan_share"][mine] > 0.0
    np.testing.assert_array_equal(running, fine["fan_share"][theirs] > 0.0)
    assert running.any()
    floor = np.abs(coarse["floor_station_temperature"][mine] - station_means(coarse, fine)[theirs])
    lowest = np.abs(coarse["floor_lowest_temperature"][mine] - fine["floor_lowest_temperature"][theirs])
    leaving = np.abs(coarse["exit_temperature"][mine] - fine["exit_temperature"][theirs])[running]
    return {"floor": float(floor.max()), "lowest": float(lowest.max()), "exit": float(leaving.max())}


def test_there_are_cases_to_try() -> None:
    assert len(CASES) >= 3


TRIALS = [
    *((path, "everything") for path in CASES),
    *((COARSENED, name) for name in HALVES if name != "everything"),
]


@pytest.mark.slow
@pytest.mark.parametrize(("path", "name"), TRIALS, ids=lambda value: getattr(value, "stem", value))
def test_half_of_everything_changes_next_to_nothing(path: Path, name: str) -> None:
    found = differences(run(path, "as given", {}), run(path, name, HALVES[name]))
    # 0.0 would mean that nothing was changed at all.
    assert max(found.values()) > 1e-6
    assert max(found.values()) <= ALLOWED, found


@pytest.mark.slow
def test_a_coarse_case_is_found_out() -> None:
    """A case with cells and steps four times as large and a sixth of its stations must fail."""
    coarse = {"cell_scale": 2.0, "step": 4.0, "stations": 1.0 / 6.0}
    found = differences(run(COARSENED, "coarse", coarse), run(COARSENED, "as given", {}))
    assert max(found.values()) > ALLOWED
