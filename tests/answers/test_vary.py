"""Varied cases against conservation, linearity, counting, and runs done one by one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from simulator.answers import many_runs
from simulator.answers.many_runs import Broken, Runner
from simulator.answers.members import run_task, task_of
from simulator.answers.outputs import OUTPUTS, output_named
from simulator.answers.plans import plan_of
from simulator.answers.vary import Varied, rank_correlation, vary
from simulator.case.changed import changed
from simulator.case.ranges import variation
from simulator.case.schema import Case
from simulator.errors import CaseError
from simulator.store.kept_members import KeptMembers
from tests.answers.pinned import small_case

FLOOR, ROOM, POWER = OUTPUTS["lowest floor"], OUTPUTS["lowest room"], OUTPUTS["fan electricity"]


def varied(case: Case, *texts: str, way: str = "grid", runner: Runner | None = None, **options) -> Varied:
    outputs = options.pop("outputs", [FLOOR, ROOM, POWER])
    told = options.pop("told", None)
    plan = plan_of([variation(case, text) for text in texts], way, **options)
    return vary(case, plan, outputs, runner or Runner(jobs=1), told=told)


def test_a_grid_is_every_value_with_every_other() -> None:
    case = small_case()
    plan = plan_of(
        [variation(case, "ducts.count = 2, 4"), variation(case, "heat.power = 1..3 kW in 3 steps")]
    )
    assert plan.values == [(n, f"{p} kW") for n in (2, 4) for p in (1, 2, 3)]


def test_a_sample_fills_every_slice_of_each_range_once() -> None:
    # A scrambled Halton sequence has, in its first dimension (base 2), one of the first 16 points in each
    # sixteenth, and in its second (base 3) one of the first 9 in each ninth (Halton 1960).
    case = small_case()
    over = [variation(case, "heat.power = 1..2 kW"), variation(case, "fan.power = 10..100 W")]
    rows = plan_of(over, "sample", count=16, seed=3).values
    first = [(float(a.split()[0]) - 1.0) * 16.0 for a, _ in rows]
    second = [(float(b.split()[0]) - 10.0) / 10.0 for _, b in rows[:9]]
    assert sorted(int(x) for x in first) == list(range(16))
    assert sorted(int(x) for x in second) == list(range(9))
    assert plan_of(over, "sample", count=32, seed=3).values[:16] == rows
    assert plan_of(over, "sample", count=16, seed=4).values != rows


def test_a_sample_of_words_and_whole_numbers_stays_within() -> None:
    case = small_case()
    over = [variation(case, "ducts.count = 2..5"), variation(case, "fan.intake = room, outside")]
    rows = plan_of(over, "sample", count=40).values
    assert {row[0] for row in rows} == {2, 3, 4, 5}
    assert {row[1] for row in rows} == {"room", "outside"}


def test_each_run_is_the_case_changed_by_hand() -> None:
    case = small_case()
    table = varied(case, "ducts.count = 2, 3", "heat.power = 1, 2 kW")
    for row, (count, power) in zip(table.rows, [(2, 1), (2, 2), (3, 1), (3, 2)], strict=True):
        by_hand = run_task(task_of(changed(case, {"ducts.count": count, "heat.power": f"{power} kW"})))
        assert row.outcome.values == by_hand.values
        assert row.numbers == (count, 1000.0 * power)


def test_electricity_is_power_times_time() -> None:
    # The fan runs from 18:00 to 24:00.
    table = varied(small_case(), "fan.power = 20..80 W in 3 steps")
    np.testing.assert_allclose(table.column(POWER), np.array([20.0, 50.0, 80.0]) * 6.0 * 3600.0, rtol=1e-9)


def test_bars_of_a_linear_answer_reach_equally_far() -> None:
    """With pinned films and flow temperatures are linear in the outside air: superposition."""
    at_end = OUTPUTS["floor at the end"]
    table = varied(small_case(), "weather.temperature = -10, 0 degC", way="one at a time", outputs=[at_end])
    at_hand, colder, warmer = table.column(at_end)
    assert [row.values for row in table.rows] == [(None,), ("-10 degC",), ("0 degC",)]
    assert warmer - colder > 0.1
    # Reductions are good to the case's tolerance of 5 mK.
    assert warmer - at_hand == pytest.approx(at_hand - colder, abs=0.01)
    assert table.rows[0].numbers == (268.15,)


def test_a_member_that_fails_is_told_in_its_row_and_the_others_go_on() -> None:
    table = varied(small_case(), "ducts.length = 4, 6, 9 m")
    assert [bool(row.outcome.error) for row in table.rows] == [False, False, True]
    assert "is more than the floor's length" in table.rows[2].outcome.error
    assert table.rows[2].outcome.bad_input
    assert np.isfinite(table.column(FLOOR)).tolist() == [True, True, False]
    columns = {column.name: column for column in table.columns("US")}
    assert columns["lowest floor"].values[2] is None
    assert columns["failed"].values[:2] == ("", "")
    assert columns["ducts.length"].unit == "ft"
    assert columns["ducts.length"].values[2] == pytest.approx(9.0 / 0.3048)


def test_a_defect_inside_one_run_does_not_end_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(task, *more):
        if '"2 kW"' in task.text:
            raise ZeroDivisionError("planted")
        return run_task(task, *more)

    monkeypatch.setattr(many_runs, "run_task", fails)
    table = varied(small_case(), "heat.power = 1, 2, 3 kW")
    assert "ZeroDivisionError: planted" in table.rows[1].outcome.error
    assert np.isfinite(table.column(FLOOR)).tolist() == [True, False, True]


def test_broken_off_and_taken_up_without_repeating(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[str] = []

    def counting(task, *more):
        ran.append(task.fingerprint)
        return run_task(task, *more)

    def ctrl_c(done: int, total: int) -> None:
        if done == 3:
            raise KeyboardInterrupt

    monkeypatch.setattr(many_runs, "run_task", counting)
    case, text = small_case(), "heat.power = 1..2 kW in 6 steps"
    with pytest.raises(Broken) as broken:
        varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1), told=ctrl_c)
    assert (broken.value.done, broken.value.total) == (3, 6)
    assert len(list(tmp_path.iterdir())) == 3
    table = varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1))
    assert len(ran) == len(set(ran)) == 6
    assert (table.found, table.computed) == (3, 3)
    fresh = varied(case, text)
    assert [row.outcome.values for row in fresh.rows] == [row.outcome.values for row in table.rows]
    again = varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1))
    assert (again.found, again.computed) == (6, 0)


def test_a_further_answer_makes_kept_runs_run_again(tmp_path: Path) -> None:
    case, text = small_case(), "heat.power = 1, 2 kW"
    varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1))
    more = [FLOOR, output_named("hours room under 10 degC")]
    table = varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1), outputs=more)
    assert table.computed == 2
    assert np.isfinite(table.column(more[1])).all()
    assert varied(case, text, runner=Runner(KeptMembers(tmp_path), jobs=1), outputs=more).computed == 0


def test_equal_members_are_computed_once() -> None:
    case = small_case()
    table = varied(case, "heat.power = 2 kW, 2000 W", "title = A, B")
    # The texts differ, so these are four cases; one and the same text twice is one.
    assert table.computed == 4
    task = task_of(case)
    runner = Runner(jobs=1)
    assert runner.run([task, task])[0] is not None
    assert runner.computed == 1


def test_runs_of_one_section_share_its_reduction(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr("simulator.answers.members._REDUCTIONS", [])
    table = varied(small_case(), "ducts.count = 2, 3", "heat.power = 1, 2, 3 kW")
    assert [row.outcome.reduced for row in table.rows] == [True, False, False, True, False, False]


def test_results_files_when_asked_for(tmp_path: Path) -> None:
    from simulator.store.reader import Results

    case = small_case()
    plan = plan_of([variation(case, "heat.power = 1, 2 kW")])
    kept = KeptMembers(tmp_path / "kept")
    vary(case, plan, [FLOOR], Runner(kept, jobs=1), results=tmp_path / "a")
    assert sorted(path.name for path in tmp_path.glob("*.h5")) == ["a-0001.h5", "a-0002.h5"]
    (tmp_path / "a-0001.h5").unlink()
    again = vary(case, plan, [FLOOR], Runner(kept, jobs=1), results=tmp_path / "a")
    assert (again.computed, again.found) == (1, 1)
    assert (tmp_path / "a-0001.h5").is_file()
    with Results(tmp_path / "a-0002.h5") as results:
        assert 'power = "2 kW"' in results.case_text


def test_rank_correlation_of_what_only_rises_and_only_falls() -> None:
    table = varied(small_case(), "heat.power = 1..3 kW", "fan.power = 10..90 W", way="sample", count=9)
    # Electricity rises with the fan's power alone, so its ranks are the same.
    assert rank_correlation(table, POWER)[1] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("texts", "way", "told"),
    [
        ([], "grid", "nothing is varied"),
        (["heat.power = 1, 2 kW", "power = 3, 4 kW"], "grid", "stands in more than one table"),
        (["heat.power = 1, 2 kW", "heat.power = 3, 4 kW"], "grid", "is varied twice"),
        (["heat.power = 1..2 kW in 9999 steps", "fan.power = 1..2 W in 9999 steps"], "grid", "too many"),
    ],
)
def test_slips_are_told(texts: list[str], way: str, told: str) -> None:
    with pytest.raises(CaseError, match=told):
        varied(small_case(), *texts, way=way)


@pytest.mark.slow
def test_processes_give_the_same_as_one_after_another(tmp_path: Path) -> None:
    case, text = small_case(tmp_path), "heat.power = 1..2 kW in 6 steps"
    alone = varied(case, text)
    together = varied(case, text, runner=Runner(jobs=2))
    assert [row.outcome.values for row in alone.rows] == [row.outcome.values for row in together.rows]


@pytest.mark.slow
def test_a_cluster_gives_the_same(tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    case, text = small_case(tmp_path), "heat.power = 1..2 kW in 5 steps"
    alone = varied(case, text)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        runner = Runner(KeptMembers(tmp_path / "kept"), cluster=cluster.scheduler_address)
        together = varied(case, text, runner=runner)
    assert [row.outcome.values for row in alone.rows] == [row.outcome.values for row in together.rows]
    assert together.computed == 5


@pytest.mark.slow
def test_a_cluster_that_is_not_there_is_told() -> None:
    from simulator.errors import DuctfloorError

    pytest.importorskip("distributed")
    with pytest.raises(DuctfloorError, match="nobody answers there"):
        varied(small_case(), "heat.power = 1, 2 kW", runner=Runner(cluster="tcp://127.0.0.1:9"))


@pytest.mark.slow
def test_a_process_that_is_ended_from_outside_does_not_end_the_others() -> None:
    """One worker is ended in the middle: its run is begun again, and all come to their end."""
    import multiprocessing
    import threading
    import time

    case = small_case()
    case = changed(case, {"site.duration": "60 days", "numerics.step": "1 min"})
    before = {child.pid for child in multiprocessing.active_children()}
    ended: list[int] = []

    def end_one() -> None:
        for _ in range(600):
            fresh = [child for child in multiprocessing.active_children() if child.pid not in before]
            if len(fresh) >= 2:
                time.sleep(3.0)
                fresh[0].kill()
                ended.append(fresh[0].pid)
                return
            time.sleep(0.1)

    thread = threading.Thread(target=end_one)
    thread.start()
    table = varied(case, "heat.power = 1..2 kW in 6 steps", runner=Runner(jobs=2))
    thread.join()
    assert ended
    assert not table.failed
