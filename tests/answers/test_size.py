"""Sizing against looking at every design, and prices against sums done by hand."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from simulator.answers.costs import number_of_ducts, pipe_length, prices_from, trench_length
from simulator.answers.many_runs import Runner
from simulator.answers.members import run_task, task_of
from simulator.answers.needs import need_from, needs_from
from simulator.answers.size import question_of, service_limit, size
from simulator.case.changed import changed, spread_ducts
from simulator.case.ranges import variation
from simulator.case.schema import Case
from simulator.errors import CaseError
from tests.answers.pinned import small_case

FOOT = 0.3048


def question(case: Case, changes: list[str], wants: list[str], limits: list[str] = [], **options):  # noqa: B006
    return question_of([variation(case, text) for text in changes], needs_from(wants, limits), **options)


def test_price_by_hand() -> None:
    # Three ducts of 6 m: 18 m of pipe at 4 a metre, 18 m of trench at 2.50, three pieces at 30.
    case = changed(small_case(), {"ducts.count": 3, "ducts.length": "6 m"})
    prices = prices_from({"pipe": "$4/m", "trench": "2.50 per m", "duct": "30 each"})
    assert pipe_length(case) == pytest.approx(18.0)
    assert trench_length(case) == pytest.approx(18.0)
    assert number_of_ducts(case) == 3
    assert prices.of(case) == pytest.approx(18.0 * 4.0 + 18.0 * 2.5 + 90.0)
    assert prices.text(prices.of(case)) == "$207.00"
    by_foot = prices_from({"pipe": "1.20/ft", "currency": "francs"})
    assert by_foot.of(case) == pytest.approx(18.0 / FOOT * 1.2)
    assert by_foot.text(3.5) == "3.50 francs"


def test_ducts_above_each_other_share_a_trench() -> None:
    case = changed(
        small_case(),
        {"ducts.layout": "two tiers", "ducts.lower_depth": "60 cm", "ducts.count": 2, "ducts.length": "5 m"},
    )
    assert number_of_ducts(case) == 4
    assert pipe_length(case) == pytest.approx(20.0)
    assert trench_length(case) == pytest.approx(10.0)


def test_there_and_back_takes_two_trenches_and_the_turn_more_pipe() -> None:
    case = changed(small_case(), {"ducts.layout": "there and back", "ducts.length": "5 m"})
    assert trench_length(case) == pytest.approx(10.0)
    # The turn is as long as the ducts are apart, 50 cm.
    assert pipe_length(case) == pytest.approx(10.5)


@pytest.mark.parametrize(
    ("text", "name", "sense", "bound"),
    [
        ("lowest floor at least 50 degF", "lowest floor", 1, 283.15),
        ("exit air over floor: at most 9 degF", "exit air over floor", -1, 5.0),
        ("uptake over 6 h at least 55 %", "uptake over 6 h", 1, 0.55),
        ("kept at least 0.4", "kept", 1, 0.4),
        ("trench at most 60 m", "trench", -1, 60.0),
        ("price at most $1,500", "price", -1, 1500.0),
        ("fan electricity at most 2 kWh", "fan electricity", -1, 7.2e6),
        ("hours room under 5 degC at most 2 h", "hours room under 5 degC", -1, 7200.0),
        ("fan pressure at most 100 Pa", "fan pressure", -1, 100.0),
        ("dangers at most 0", "dangers", -1, 0.0),
    ],
)
def test_needs_are_read(text: str, name: str, sense: int, bound: float) -> None:
    need = need_from(text)
    assert (need.name, need.sense) == (name, sense)
    assert need.bound == pytest.approx(bound)
    assert need.margin(bound + 1.0) == pytest.approx(sense)
    assert need.margin(None) is None


def test_the_same_as_looking_at_every_design() -> None:
    """Brute force on 160 designs, and the search in at most a tenth of its runs."""
    case = small_case()
    changes = ["ducts.count = 1..8", "ducts.length = 1.2..6 m in 20 steps"]
    asked = question(
        case, changes,
        ["heat into the floor over 5 h at least 3.2 kWh", "exit air over floor at most 14 K"],
        ["trench at most 30 m"], prices=prices_from({"pipe": "5/m", "duct": "20 each"}), spread=True,
    )  # fmt: skip
    grid = list(itertools.product(*(each.values for each in asked.variations)))
    assert len(grid) == 160
    cheapest = None
    for count, length in grid:
        made = changed(case, spread_ducts(case, {"ducts.count": count, "ducts.length": length}))
        price = 5.0 * count * float(length.split()[0]) + 20.0 * count
        if pipe_length(made) > 30.0:
            continue
        values = run_task(task_of(made, ["heat into the floor over 5 h"])).values
        good = values["heat into the floor over 5 h"] >= 3.2 * 3.6e6 and values["exit air over floor"] <= 14.0
        if good and (cheapest is None or price < cheapest[0] - 1e-9):
            cheapest = price, (count, length)
    found = size(case, asked, Runner(jobs=1), curve=4)
    assert cheapest is not None
    assert found.best is not None
    assert found.best.values == cheapest[1]
    assert found.best.cost == pytest.approx(cheapest[0])
    assert found.best.meets_all
    assert found.proven
    assert found.runs <= len(grid) / 10
    assert found.without_run == sum(count * float(length.split()[0]) > 30.0 for count, length in grid)
    # Near misses are cheaper and miss something; the curve goes from cheap to dear.
    assert all(design.cost <= found.best.cost and not design.meets_all for design in found.near_misses)
    costs = [design.cost for design in found.curve]
    assert costs == sorted(costs)
    assert found.best in found.curve


def test_least_fire() -> None:
    case = small_case()
    asked = question(
        case, ["heat.power = 500..4500 W in steps of 50"], ["heat into the floor at least 3 kWh"]
    )
    assert asked.smallest == "heat.power"
    found = size(case, asked, Runner(jobs=1), curve=0)
    assert found.best is not None
    power = found.best.numbers[0]

    def heat(watts: float) -> float:
        made = changed(case, {"heat.power": f"{watts} W"})
        return run_task(task_of(made)).values["heat into the floor"]

    assert heat(power) >= 3.0 * 3.6e6 > heat(power - 50.0)
    assert found.runs <= 81 / 10


def test_nothing_is_enough() -> None:
    case = small_case()
    asked = question(case, ["ducts.length = 2..6 m in 9 steps"], ["lowest room at least 60 degC"])
    found = size(case, asked, Runner(jobs=1), curve=0)
    assert found.best is None
    assert found.near_misses
    assert found.runs < 9


def test_designs_that_cannot_be_built_are_counted() -> None:
    case = small_case()
    asked = question(case, ["ducts.length = 6..10 m in 5 steps"], ["lowest room at least -20 degC"])
    found = size(case, asked, Runner(jobs=1), curve=0)
    assert (found.candidates, found.impossible) == (5, 2)
    assert "is more than the floor's length" in found.why_impossible
    assert found.best is not None
    assert found.best.values == ("6 m",)


def test_a_fan_that_is_too_weak_or_too_strong_is_told_from_one_that_fits() -> None:
    """More flow leaves the air warmer at the exit: the largest flow within the target is found from below."""
    case = small_case()
    asked = question(
        case, ["fan.mass_flow = 0.02..0.2 kg/s in steps of 0.002"],
        ["hottest duct at most 60 degC"], smallest="fan.mass_flow",
    )  # fmt: skip
    found = size(case, asked, Runner(jobs=1), curve=0)
    assert found.best is not None
    flow = found.best.numbers[0]

    def hottest(kilograms: float) -> float:
        return run_task(task_of(changed(case, {"fan.mass_flow": f"{kilograms} kg/s"}))).values["hottest duct"]

    assert hottest(flow) <= 333.15 < hottest(flow - 0.002)


def test_the_service_temperature_always_holds() -> None:
    need = service_limit(small_case())
    assert need.kind == "limit"
    # The default, the usual rating of PVC-U pipe.
    assert need.bound == pytest.approx(333.15)


def test_spreading_the_ducts() -> None:
    case = small_case()
    spread = spread_ducts(case, {"ducts.count": 4})
    # Four ducts under a floor of 3 m: 75 cm apart, half of that to either edge.
    assert changed(case, spread).ducts.spacing == pytest.approx(0.75)
    assert spread_ducts(case, {"ducts.length": "3 m"}) == {"ducts.length": "3 m"}


@pytest.mark.parametrize(
    ("changes", "wants", "options", "told"),
    [
        ([], ["lowest room at least 1 degC"], {}, "nothing may be changed"),
        (["ducts.count = 2, 3"], [], {}, "nothing is wanted"),
        (["ducts.count = 2, 3"], ["lowest room above 1 degC"], {}, "is no need"),
        (["ducts.count = 2, 3"], ["worst caution at least 1"], {}, "is no number"),
        (["ducts.count = 2, 3"], ["uptake at least 55"], {}, "needs a share"),
        (["ducts.count = 2, 3"], ["lowest room at least 4 kW"], {}, "a temperature is needed"),
        (["ducts.count = 2, 3"], ["kept at least 1 %", "kept at least 2 %"], {}, "stands twice"),
        (["heat.power = 1, 2 kW", "fan.power = 1, 2 W"], ["kept at least 1 %"], {}, "give --smallest"),
        (["heat.power = 1, 2 kW"], ["kept at least 1 %"], {"smallest": "price"}, "no prices are given"),
        (["heat.power = 1, 2 kW"], ["kept at least 1 %"], {"smallest": "weight"}, "no measure and no key"),
    ],
)
def test_slips_are_told(changes: list[str], wants: list[str], options: dict, told: str) -> None:
    with pytest.raises(CaseError, match=told):
        question(small_case(), changes, wants, **options)


@pytest.mark.parametrize(
    ("prices", "told"),
    [
        ({"pipe": "cheap"}, "is no price"),
        ({"pipe": "4"}, "has no length"),
        ({"pipe": "4/kg"}, "a length is needed"),
        ({"duct": "4/m"}, "is a price by the piece"),
        ({"gravel": "4/m"}, "has no price"),
    ],
)
def test_slips_in_prices_are_told(prices: dict, told: str) -> None:
    with pytest.raises(CaseError, match=told):
        prices_from(prices)


def test_the_best_design_as_a_case(tmp_path: Path) -> None:
    case = small_case(tmp_path)
    asked = question(case, ["ducts.length = 2..6 m in 5 steps"], ["lowest room at least -20 degC"])
    found = size(case, asked, Runner(jobs=1), curve=0)
    assert found.best is not None
    assert found.best.case.ducts.length == pytest.approx(2.0)
