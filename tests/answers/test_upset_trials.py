"""Standard upsets tried on cases: what is laid to an upset, and that a failing trial stops no other."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from simulator.answers import upset_trials
from simulator.answers.upset_outcomes import TrialOutcome
from simulator.answers.upset_trials import hold_against, try_upsets
from simulator.case.loader import load, load_text
from simulator.case.schema import Case
from simulator.case.schema_upsets import Upset
from simulator.case.standard_upsets import Trial
from simulator.errors import SolverError
from simulator.store.reader import Results
from tests.cli.conftest import SMALL_CASE

PUMP_FAILURE = Path(__file__).parents[2] / "cases" / "pump-failure.toml"
START = dt.datetime(2031, 1, 20, 16, 30)
MINUTES = np.arange(0.0, 121.0)
AT = 30.0  # minutes


def made_up(make_results: Callable[..., Results], coil: np.ndarray, **more: np.ndarray) -> Results:
    """Results of two hours with a given course of the coil's water [degC], everything else at 15 degC."""
    rows = MINUTES.size
    return make_results(
        START,
        60.0 * MINUTES,
        {"parts": frozenset({"stove", "water", "switching", "whole"}),
         "names": {"coil": ("coil",), "layer": ("tank",)}},
        PUMP_FAILURE.read_text(encoding="utf-8"),
        **{name: np.full(rows, 15.0) for name in
           ("shell_temperature", "hood_wall_temperature", "fan_air_temperature", "tank_temperature",
            "tank_layer_temperature", "room_temperature", "supply_temperature", "wall_temperature",
            "floor_highest_temperature", "floor_lowest_temperature")},
        coil_water_temperature=coil,
        **more,
    )  # fmt: skip


def outcome_of(make_results: Callable[..., Results], usual: np.ndarray, tried: np.ndarray) -> TrialOutcome:
    trial = Trial(Upset(at=START + dt.timedelta(minutes=AT), kind="pump stops"), "What then?")
    runs = [made_up(make_results, course) for course in (usual, tried)]
    return hold_against(*runs, trial, "the pump stops", START + dt.timedelta(hours=2), load(PUMP_FAILURE))


def test_time_to_act_runs_from_the_upset_to_the_limit(make_results: Callable[..., Results]) -> None:
    # From 40 degC at the upset, 4 K a minute: 90 degC is reached after 12.5 min; the case's coil boils at
    # 210 degF, which is 98.889 degC, after 14.722 min.
    usual = np.full(MINUTES.size, 40.0)
    tried = np.clip(40.0 + 4.0 * (MINUTES - AT), 40.0, 110.0)
    outcome = outcome_of(make_results, usual, tried)
    found = {alarm.limit.name: alarm for alarm in outcome.passed}
    assert list(found) == ["coil near boiling", "coil boils"]
    assert found["coil near boiling"].time_to_act == pytest.approx(12.5 * 60.0)
    assert found["coil boils"].time_to_act == pytest.approx(14.722 * 60.0, abs=0.1)
    coil = next(one for one in outcome.extremes if one.what == "coil water")
    assert (coil.highest, coil.usual_highest) == pytest.approx((110.0 + 273.15, 40.0 + 273.15))
    assert coil.highest_at == START + dt.timedelta(minutes=48)


def test_what_is_passed_anyway_is_not_laid_to_the_upset(make_results: Callable[..., Results]) -> None:
    usual = np.where(MINUTES > 60.0, 95.0, 40.0)
    assert outcome_of(make_results, usual, usual).passed == ()
    # Passed ten minutes earlier than without the upset: still the same stretch. Going further is told.
    tried = np.where(MINUTES > 50.0, 98.0, 40.0)
    outcome = outcome_of(make_results, usual, tried)
    assert outcome.passed == ()
    assert [alarm.limit.name for alarm in outcome.worse] == ["coil near boiling"]
    assert outcome.worse[0].worst == pytest.approx(98.0 + 273.15)


def test_what_happened_before_the_upset_is_not_laid_to_it(make_results: Callable[..., Results]) -> None:
    usual = np.full(MINUTES.size, 40.0)
    tried = np.where(MINUTES == 10.0, 95.0, 40.0)
    assert outcome_of(make_results, usual, tried).passed == ()


def test_the_margin_left_is_to_the_nearest_limit(make_results: Callable[..., Results]) -> None:
    """Floor at 15 degC against 29 degC, coil at 78 degC against 90 degC: 12 K are left to the coil's."""
    usual = np.full(MINUTES.size, 40.0)
    tried = np.where(MINUTES > 40.0, 78.0, 40.0)
    outcome = outcome_of(make_results, usual, tried)
    assert outcome.passed == ()
    assert outcome.nearest is not None
    # The tank may not fall under 50 degF = 10 degC, and stands at 15 degC.
    assert (outcome.nearest.name, outcome.nearest.margin) == ("tank too cold", pytest.approx(5.0))


def small(**changes: Any) -> Case:
    case = load_text(SMALL_CASE)
    return case.model_copy(update=changes)


def test_a_heater_and_a_fan_are_enough() -> None:
    """A case without fire and water: with the fan off no heat goes under the floor, so it stays cooler."""
    case = small()
    trials = try_upsets(case)
    kinds = [outcome.upset.kind for outcome in trials.outcomes]
    assert kinds == ["fan stops", "power cut", "filter clogged"]
    assert [outcome.failure for outcome in trials.outcomes] == ["", "", ""]
    fan = {one.what: one for one in trials.outcomes[0].extremes}
    assert {"room", "floor surface", "duct wall"} <= set(fan)
    assert fan["floor surface"].lowest <= fan["floor surface"].usual_lowest + 1e-6
    assert fan["duct wall"].highest <= fan["duct wall"].usual_highest + 1e-6
    assert case == small()


def test_a_trial_that_fails_is_told_and_the_others_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    real = upset_trials.record

    def record(case: Case, **options: Any) -> Results:
        if case.upsets and case.upsets[0].kind == "power cut":
            raise SolverError("a temperature is not finite")
        return real(case, **options)

    monkeypatch.setattr(upset_trials, "record", record)
    seen: list[float] = []
    trials = try_upsets(small(), seen.append)
    assert [bool(outcome.failure) for outcome in trials.outcomes] == [False, True, False]
    assert "not finite" in trials.outcomes[1].failure
    assert trials.outcomes[1].as_dict()["failure"] == trials.outcomes[1].failure
    assert seen == sorted(seen)
    assert seen[-1] == pytest.approx(1.0)


@pytest.mark.slow
def test_the_coil_boils_about_as_soon_as_a_lumped_coil_in_hot_air() -> None:
    """Closed form for a lumped coil in a stream of steady temperature: C/(e W) ln((T - T0)/(T - T1)).

    With the effectiveness e = 1 - exp(-UA/W) of standing water (Kays and London). The hood's air is at most
    near 285 degF in this case and falls while the coil warms, and standing water takes up heat less well than
    moving water: it lasts longer than the closed form, but not three times as long.
    """
    case = load(PUMP_FAILURE)
    pump = try_upsets(case).outcomes[0]
    boils = next(alarm for alarm in pump.passed if alarm.limit.name == "coil boils")
    # 0.5 US gal (1.893 L) of water at 4186 and 12 lb of copper at 385 J/(kg.K); 160 cfm of 1.2 kg/m3.
    capacity = 1.893 * 4186.0 + 5.443 * 385.0
    stream = 0.0755 * 1.2 * 1006.0
    taken = stream * (1.0 - math.exp(-case.coils[0].conductance / stream))
    before = next(one for one in pump.extremes if one.what == "coil water").usual_highest
    hottest, boiling = (285.0 + 459.67) / 1.8, (210.0 + 459.67) / 1.8
    closed = capacity / taken * math.log((hottest - before) / (hottest - boiling))
    assert closed < (boils.time_to_act or 0.0) < 3.0 * closed
    assert list(Path.cwd().glob("*.h5")) == []
