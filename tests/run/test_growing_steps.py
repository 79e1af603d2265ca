"""Steps that grow while nothing switches: where they lie, and that they are as good as short ones."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.climate.series import Tabulated
from simulator.run.clock import GROWTH, LADDER, graded_step_ends
from simulator.run.plan import grows, plan
from tests.examples import examples
from tests.run.rigs import SWITCHED, small_case, told

STEP = 300_000


@given(
    switches=st.lists(st.integers(-5 * 10**6, 2 * 10**8), max_size=6),
    stops=st.lists(st.integers(-5 * 10**6, 2 * 10**8), max_size=6),
    begin=st.sampled_from([0, -3_600_000]),
    end=st.integers(1, 10**8),
)
@settings(max_examples=examples(100))
def test_steps_lie_as_promised(switches: list[int], stops: list[int], begin: int, end: int) -> None:
    ends = graded_step_ends(begin, end, STEP, switches, stops)
    edges = np.concatenate(([begin], ends))
    assert ends[-1] == end
    lengths = np.diff(edges)
    assert lengths.min() >= 1
    assert {tick for tick in (*switches, *stops) if begin < tick < end} <= set(ends.tolist())
    jumps = np.array(sorted({begin, *(tick for tick in switches if begin < tick < end)}))
    since = edges[:-1] - jumps[np.searchsorted(jumps, edges[:-1], side="right") - 1]
    assert np.all(lengths <= np.maximum(GROWTH * since, STEP // 16))
    assert lengths.max() <= LADDER[-1] * (STEP // 16) == 12 * STEP


def test_few_lengths_where_everything_falls_on_the_quarter_hour() -> None:
    day = 86_400_000
    switches = [day * number + hour * 3_600_000 for number in range(20) for hour in (6, 16, 22)]
    ends = graded_step_ends(0, 20 * day, STEP, switches, list(range(900_000, 20 * day, 900_000)))
    assert np.unique(np.diff(ends, prepend=0)).size <= len(LADDER)


def test_a_run_is_as_good_as_with_short_steps() -> None:
    """Both against steps of ten seconds."""
    hourly = {"output": {"interval": "30 min", "fields": "0 h"}, "numerics": {"solver": "full"}}
    fine = told(SWITCHED, hourly, {"numerics": {"step": "10 s"}})
    fixed = told(SWITCHED, hourly, {"numerics": {"step": "5 min"}})
    grown = told(SWITCHED, hourly, {"numerics": {"step": "5 min", "steps": "as needed"}})
    assert fixed.summary is not None
    assert grown.summary is not None
    assert grown.summary["steps"] != fixed.summary["steps"]
    for name in ("room_temperature", "exit_temperature", "floor_mean_temperature", "wall_temperature"):
        error = np.abs(grown[name] - fine[name]).max()
        assert error < 0.01, name
        assert error < max(3.0 * np.abs(fixed[name] - fine[name]).max(), 0.002), name


def test_the_ledger_closes_over_long_steps() -> None:
    run = told(SWITCHED, {"numerics": {"steps": "as needed"}})
    assert run.summary is not None
    assert run.summary["largest_ledger_residual"] < 1e-9


def test_with_moisture_steps_stay() -> None:
    wet = {"moisture": {"room_humidity": 0.5}}
    case = small_case(wet, {"numerics": {"steps": "as needed"}})
    np.testing.assert_array_equal(plan(case).step_ends, plan(small_case(wet)).step_ends)


def test_where_the_weather_jumps_or_bends_often_steps_stay() -> None:
    case = small_case({"numerics": {"steps": "as needed"}})
    hours = np.arange(0, 25 * 3_600_000, 3_600_000)
    bends = Tabulated.through(hours, np.sin(hours / 1e7))
    assert grows(case, [bends], STEP)
    assert not grows(case, [Tabulated.steps(hours, np.arange(24.0))], STEP)
    assert not grows(case, [Tabulated.through(hours // 60, np.sin(hours / 1e7))], STEP)
    assert not grows(small_case(), [bends], STEP)
