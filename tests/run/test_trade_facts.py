"""What the trade says of such houses, on one set-up of our own that is not changed from fact to fact.

All of it is common practice, no source. The set-up is `trade.toml`: a small glazed lean-to over loam that
starts at 52 degF throughout, three weeks of a mild and grey winter, 14 lb of logs a day in three brisk
fires, fan never off. It has to meet all of the facts at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from simulator.case.loader import load
from simulator.store.reader import Results
from simulator.store.record import record

WEEK = 7.0 * 86400.0


def fahrenheit(celsius: float) -> float:
    return 1.8 * celsius + 32.0


@pytest.fixture(scope="module")
def weeks() -> Iterator[Results]:
    with record(load(Path(__file__).parent / "trade.toml")) as results:
        yield results


@pytest.mark.slow
def test_the_account_of_the_whole_closes(weeks: Results) -> None:
    """To a millionth of the fuel, by conservation."""
    assert np.abs(weeks["whole_residual"].values).max() < 1e-6 * weeks["whole_fuel"].values[-1]


@pytest.mark.slow
def test_ground_of_52_sits_near_57_after_weeks_of_use(weeks: Results) -> None:
    """Common practice, no source; it does not say how deep: taken from under the slab to 2 m (6 ft 7 in)."""
    depth, across = weeks["section_depth"].values, weeks["section_across"].values
    high = np.diff(weeks["section_depth_edges"].values)
    wide = np.diff(weeks["section_across_edges"].values)
    deep = (depth > 0.1) & (depth < 2.0)
    under = np.abs(across) < float(weeks.attrs["building_half_width_m"])
    weights = high[deep][:, None] * wide[under][None, :]

    def mean(row: int) -> float:
        ground = weeks.read("ground_temperature", row)[:, deep][:, :, under]
        return fahrenheit(float(np.mean([np.average(station, weights=weights) for station in ground])))

    assert mean(0) == pytest.approx(52.0, abs=0.1)
    assert 55.0 < mean(-1) < 59.0


@pytest.mark.slow
def test_a_small_glazed_house_holds_near_50_with_the_fan_left_on(weeks: Results) -> None:
    """Through every night of the last week, each just under freezing; common practice, no source."""
    rows = weeks["time"].values >= weeks["time"].values[-1] - WEEK
    assert fahrenheit(float(weeks["outside_temperature"].values[rows].min())) == pytest.approx(30.0, abs=0.5)
    assert (weeks["fan_share"].values[rows] == 1.0).all()
    assert 47.0 < fahrenheit(float(weeks["room_temperature"].values[rows].min())) < 53.0


@pytest.mark.slow
def test_a_flue_that_heats_the_floor_leaves_near_100(weeks: Results) -> None:
    """Mean over the last week, by fuel burnt; common practice, no source."""
    rows = weeks["time"].values >= weeks["time"].values[-1] - WEEK
    burnt = weeks["fuel_rate"].values[rows]
    leaves = np.nan_to_num(weeks["flue_exit_temperature"].values[rows])
    assert 85.0 < fahrenheit(float(np.average(leaves, weights=burnt))) < 115.0


@pytest.mark.slow
def test_the_flue_run_gives_most_of_its_heat_to_the_floor(weeks: Results) -> None:
    """What leaves with the gas is less than half of what came in with it; common practice, no source."""
    given, left = weeks["ledger_flue"].values[-1], weeks["whole_flue_loss"].values[-1]
    assert left < 0.5 * (given + left)
