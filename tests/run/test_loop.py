"""The loop and those who watch it: rows, flows and totals, and what does not change the answer."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.run.coupling import Steps
from simulator.run.loop import all_steps, first_state, simulate
from simulator.run.observers import Moment
from simulator.run.outputs import FLOW_NAMES
from simulator.store.catalogue import SERIES
from tests.run.rigs import SWITCHED, Collector, Rig, small_case, told

RUN_IN = {"ground": {"run_in": "3 h"}}


@pytest.fixture(scope="module")
def run() -> Collector:
    return told(SWITCHED, RUN_IN, {"room": {"gains": "60 W"}, "ducts": {"count": 3, "spacing": "45 cm"}})


def test_rows_come_as_announced(run: Collector) -> None:
    assert run.ticks == run.geometry.series_ticks.tolist()
    assert run.ticks == list(range(0, 6 * 3_600_000 + 1, 600_000))
    with_field = [moment.tick for moment in run.moments if moment.field is not None]
    assert with_field == run.geometry.field_ticks.tolist() == list(range(0, 6 * 3_600_000 + 1, 3_600_000))
    assert run.summary is not None
    assert run.aborted == 0


def test_every_row_holds_the_whole_catalogue(run: Collector) -> None:
    sizes = {"lane": 2, "station": 4, "edge": 5, "branch": 2}
    for moment in run.moments:
        for name, entry in SERIES.items():
            if entry.part:
                continue
            shape = tuple(sizes[dim] for dim in entry.dims[1:])
            assert np.shape(moment.values[name]) == shape, name
            assert np.isfinite(moment.values[name]).all(), name


def test_flows_are_means_of_the_ledger_between_rows(run: Collector) -> None:
    seconds = np.diff(run.ticks) / 1000.0
    for account, name in FLOW_NAMES.items():
        total = run[f"ledger_{account}"]
        assert total[0] == 0.0
        assert run[name][0] == 0.0
        np.testing.assert_allclose(run[name][1:], np.diff(total) / seconds, rtol=1e-9, atol=1e-9)


def test_totals_are_those_of_the_timetable(run: Collector) -> None:
    """Heater and fan by hand: 1.2 kW until 17:10:00.007, 600 W from 19:03:20.250 to 20:30, 1.2 kW from 21:00.

    From 20:30 the supply is held at 35 degC, which takes what it takes; in the last hour the fan is off.
    """
    held = run.ticks.index(round(4.5 * 3_600_000))
    before = 1200.0 * 4200.007 + 600.0 * (16200.0 - 11000.25)
    assert run["ledger_heater"][held] == pytest.approx(before, rel=1e-9)
    last = run.ticks.index(5 * 3_600_000)
    assert run["ledger_heater"][-1] - run["ledger_heater"][last] == pytest.approx(1200.0 * 3600.0, rel=1e-9)
    # 40 W at full speed, an eighth at half of it (fan laws).
    fan = 40.0 * 6600.0 + 5.0 * (16200.0 - 11000.25) + 40.0 * 1800.0
    assert run["ledger_fan"][-1] == pytest.approx(fan, rel=1e-9)
    assert run["ledger_other_gain"][-1] == pytest.approx(60.0 * 21600.0, rel=1e-12)


def test_held_supply_is_held(run: Collector) -> None:
    rows = [number for number, tick in enumerate(run.ticks) if 4.5 < tick / 3.6e6 <= 5.0]
    assert rows
    np.testing.assert_allclose(run["supply_temperature"][rows], 308.15, atol=1e-9)


def test_a_fire_without_a_fan_warms_the_room_and_not_the_ducts(run: Collector) -> None:
    rows = [number for number, tick in enumerate(run.ticks) if tick / 3.6e6 > 5.0]
    np.testing.assert_array_equal(run["duct_heat"][rows], 0.0)
    np.testing.assert_array_equal(run["mass_flow"][rows], 0.0)
    np.testing.assert_allclose(run["heater_power"][rows], 1200.0, rtol=1e-9)
    assert (np.diff(run["room_temperature"][rows]) > 0.0).all()
    # Still air stands at the temperature of the wall beside it.
    walls = run["wall_temperature"][rows]
    np.testing.assert_allclose(run["air_temperature"][rows][:, :, 0], walls[:, :, 0], rtol=1e-12)


def test_how_often_one_looks_changes_nothing(run: Collector) -> None:
    often = told(
        SWITCHED,
        RUN_IN,
        {"room": {"gains": "60 W"}, "ducts": {"count": 3, "spacing": "45 cm"}},
        {"output": {"interval": "5 min", "fields": "0 h"}},
    )
    rows = np.isin(often.ticks, run.ticks)
    assert rows.sum() == len(run.ticks)
    for name in ("room_temperature", "exit_temperature", "floor_lowest_temperature", "wall_temperature"):
        np.testing.assert_array_equal(often[name][rows], run[name], err_msg=name)


@pytest.mark.parametrize("solver", ["direct", "reduced"])
def test_many_steps_at_once_are_the_same_as_one_by_one(solver: str) -> None:
    case = small_case(SWITCHED, {"numerics": {"solver": solver}})
    single, block = Rig(case), Rig(case)
    for _ in single.run():
        pass
    steps = all_steps(block.prepared, block.coupling)
    assert isinstance(steps, Steps)
    block.coupling.march(block.state, steps)
    np.testing.assert_array_equal(single.temperature, block.temperature)
    np.testing.assert_allclose(single.state.ledger.totals, block.state.ledger.totals, rtol=1e-12)
    assert single.state.tick == block.state.tick
    assert single.state.room == block.state.room


def test_two_runs_of_one_case_are_the_same_to_the_bit() -> None:
    one, other = (told(SWITCHED) for _ in range(2))
    for name in (name for name, entry in SERIES.items() if not entry.part):
        np.testing.assert_array_equal(one[name], other[name], err_msg=name)


def test_a_run_in_settles_the_ground_and_books_nothing() -> None:
    cold = told(RUN_IN)
    assert cold["ledger_handled"][0] == 0.0
    assert cold["room_temperature"][0] == pytest.approx(287.15)
    # Bottom and outside air are colder than the start: three hours without heat have cooled the ground.
    assert cold["ground_mean_temperature"][0] != pytest.approx(284.15, abs=1e-6)


def test_first_state_is_the_case_as_it_says() -> None:
    profile = {
        "ground": {
            "start": {"kind": "profile", "depths": ["0 m", "1 m"], "temperatures": ["5 degC", "9 degC"]}
        }
    }
    rig = Rig(small_case(profile))
    depth = rig.coupling.solver.operators.cell_depth
    np.testing.assert_allclose(
        rig.temperature, np.tile(278.15 + 4.0 * np.minimum(depth, 1.0), (4, 1)), atol=1e-9
    )
    state = first_state(rig.prepared, rig.coupling.solver)
    assert state.room + rig.prepared.reference == pytest.approx(287.15)
    assert state.tick == 0


def test_progress_ends_at_one() -> None:
    seen: list[float] = []
    simulate(small_case(), [], progress=seen.append)
    assert seen[-1] == 1.0
    assert seen == sorted(seen)


class Breaking(Collector):
    """An observer that fails at its third row."""

    def record(self, moment: Moment) -> None:
        super().record(moment)
        if len(self.moments) == 3:
            raise RuntimeError("no room left")


def test_when_one_observer_fails_all_are_told_to_stop() -> None:
    breaking, other = Breaking(), Collector()
    with pytest.raises(RuntimeError, match="no room left"):
        simulate(small_case(), [other, breaking])
    assert (breaking.aborted, other.aborted) == (1, 1)
    assert other.summary is None


def test_ducts_shorter_than_the_floor_leave_the_rest_alone() -> None:
    short = told({"ducts": {"length": "4 m"}, "numerics": {"stations": 6}, "output": {"interval": "1 h"}})
    edges = short.geometry.edges_x
    assert np.abs(edges - 4.0).min() < 1e-12
    assert edges[-1] == pytest.approx(6.0)
    beyond = short.geometry.station_x > 4.0
    assert beyond.sum() == 2
    floor = short["floor_station_temperature"][-1]
    assert floor[~beyond].min() > floor[beyond].max() + 0.05
    np.testing.assert_allclose(floor[beyond][0], floor[beyond][1], rtol=1e-12)
    moving = short["duct_heat_per_length"][-1]
    np.testing.assert_array_equal(moving[:, beyond], 0.0)
    assert (moving[:, ~beyond] > 0.0).all()
