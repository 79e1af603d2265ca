"""Charts of varied and sized cases, and maps of a difference: what is drawn is what was found."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.costs import prices_from
from simulator.answers.many_runs import Runner
from simulator.answers.members import Outcome
from simulator.answers.needs import needs_from
from simulator.answers.outputs import OUTPUTS
from simulator.answers.plans import plan_of
from simulator.answers.size import question_of, size
from simulator.answers.vary import Row, Varied
from simulator.case.ranges import variation
from simulator.errors import DuctfloorError
from simulator.look.compare_chart import compare_chart
from simulator.look.difference_map import difference_map, floor_difference
from simulator.look.trade_off import trade_off_chart
from simulator.look.vary_chart import vary_chart
from tests.answers.pinned import small_case
from tests.look.made_up import Shape, make_results

FLOOR, POWER, WORST = OUTPUTS["lowest floor"], OUTPUTS["fan electricity"], OUTPUTS["worst caution"]


def made_up(
    *texts: str, way: str = "grid", outputs=(FLOOR, POWER), fails: int | None = None, **options
) -> Varied:
    """Outcomes that are sums of the places of the values, without a run."""
    case = small_case()
    plan = plan_of([variation(case, text) for text in texts], way, **options)
    rows = []
    for number, values in enumerate(plan.values):
        numbers = tuple(
            None
            if each.numbers is None or value not in each.values
            else each.numbers[each.values.index(value)]
            for each, value in zip(plan.variations, values, strict=True)
        )
        places = [
            each.values.index(value) if value in each.values else 0.5
            for each, value in zip(plan.variations, values, strict=True)
        ]
        found = {
            "lowest floor": 280.0 + sum(places),
            "fan electricity": 3.6e6 * (1.0 + places[0]),
            "worst caution": "none",
        }
        outcome = Outcome({}, "planted") if number == fails else Outcome(found)
        rows.append(Row(values, numbers, outcome))
    return Varied("A shed", "shed.toml", plan.variations, way, tuple(outputs), rows)


def drawn(figure, gid: str) -> list:
    return [line for axes in figure.axes for line in axes.lines if line.get_gid() == gid]


def test_one_key_is_a_line_through_every_run() -> None:
    figure = vary_chart(made_up("heat.power = 1, 2, 3 kW", fails=1), units="SI")
    (line,) = drawn(figure, "lowest floor")
    np.testing.assert_allclose(line.get_xdata(), [1.0, 3.0])  # [kW]
    np.testing.assert_allclose(line.get_ydata(), [6.85, 8.85])  # [degC]
    assert len(drawn(figure, "runs fan electricity")) == 1
    texts = " ".join(text.get_text() for text in figure.texts)
    assert "3 runs, 1 of them failed and is not drawn" in texts


def test_words_are_dots_with_their_names() -> None:
    figure = vary_chart(made_up("fan.intake = room, outside"))
    assert not drawn(figure, "lowest floor")
    labels = [label.get_text() for label in figure.axes[-1].get_xticklabels()]
    assert labels == ["room", "outside"]


def test_two_keys_are_a_map_with_round_lines() -> None:
    figure = vary_chart(made_up("heat.power = 1, 2, 3 kW", "ducts.length = 2, 4, 6 m", fails=8), units="US")
    axes = figure.axes[0]
    marks = [float(text.get_text().replace("−", "-")) for text in axes.texts if text.get_text()[:1].isdigit()]
    assert marks
    assert all(mark == round(mark, 1) for mark in marks)
    (failed,) = drawn(figure, "failed")[:1]
    np.testing.assert_allclose(failed.get_xdata(), [3.0])
    np.testing.assert_allclose(failed.get_ydata(), [6.0])


def test_one_at_a_time_has_the_longest_bar_on_top() -> None:
    varied = made_up(
        "heat.power = 1, 2, 3, 4 kW", "fan.power = 10, 20 W", way="one at a time", outputs=[FLOOR]
    )
    figure = vary_chart(varied)
    axes = figure.axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["fan.power", "heat.power"]
    bars = {(round(bar.get_y() + bar.get_height() / 2), round(bar.get_width(), 6)) for bar in axes.patches}
    # From the case as it is (both half a place up) to the first and the last value.
    assert bars == {(0, -0.5), (0, 0.5), (1, -0.5), (1, 2.5)}


def test_a_sample_is_dots_with_correlations() -> None:
    varied = made_up(
        "heat.power = 1, 2, 3 kW", "fan.power = 10, 20, 30 W", "ducts.count = 1, 2", outputs=[FLOOR]
    )
    figure = vary_chart(varied)
    assert len(drawn(figure, "runs lowest floor")) == 3
    assert sum(len(line.get_xdata()) for line in drawn(figure, "runs lowest floor")) == 3 * 18


def test_words_alone_make_no_chart() -> None:
    assert vary_chart(made_up("heat.power = 1, 2 kW", outputs=[WORST])) is None


def test_the_trade_off_shows_every_design_and_the_answer() -> None:
    case = small_case()
    asked = question_of(
        [variation(case, "ducts.length = 2..6 m in 9 steps")],
        needs_from(["heat into the floor at least 3 kWh"], []),
        prices=prices_from({"pipe": "$4/m"}),
    )
    sized = size(case, asked, Runner(jobs=1), curve=3)
    figure = trade_off_chart(sized, case.title)
    assert figure is not None
    points = np.concatenate([line.get_xdata() for gid in ("meets", "misses") for line in drawn(figure, gid)])
    assert sorted(points) == pytest.approx(sorted(design.cost for design in sized.designs))
    (ring,) = drawn(figure, "best")
    assert ring.get_xdata()[0] == pytest.approx(sized.best.cost)


def test_the_difference_of_floors_by_hand() -> None:
    with make_results(Shape()) as one, make_results(Shape(warming=20.0)) as two:
        gap = floor_difference(one, two, -1 % one.field_rows, -1 % two.field_rows)
        direct = two.read("floor_surface_temperature", -1) - one.read("floor_surface_temperature", -1)
        np.testing.assert_array_equal(gap, direct)
        np.testing.assert_array_equal(floor_difference(two, one, 12, 12), -gap)
        assert np.abs(gap).max() > 0.1
        figure = difference_map(one, two, ("one", "two"))
        assert "two less one" in figure.texts[0].get_text()


def test_floors_of_other_cells_are_brought_to_the_same_places() -> None:
    with make_results(Shape(stations=12)) as one, make_results(Shape(stations=36)) as two:
        gap = floor_difference(one, two, 5, 5)
        assert gap.shape == one.read("floor_surface_temperature", 5).shape
        # The same smooth floor with finer cells: what is left is the error of straight lines between them.
        assert np.abs(gap).max() < 0.5
        assert np.abs(gap[1:-1]).mean() < 0.05


def test_floors_of_other_size_have_no_map() -> None:
    refused = pytest.raises(DuctfloorError, match="differ in size")
    with make_results(Shape()) as one, make_results(Shape(length=9.0)) as two, refused:
        difference_map(one, two, ("one", "two"))


def test_courses_over_each_other() -> None:
    with make_results(Shape()) as one, make_results(Shape(warming=20.0)) as two:
        figure = compare_chart([one, two], ["one", "two"], units="SI")
        lines = [line for line in figure.axes[0].lines if line.get_gid() == "room_temperature"]
        assert len(lines) == 2
        np.testing.assert_allclose(lines[1].get_ydata(), two.read("room_temperature"))
        with pytest.raises(DuctfloorError, match="1 to 7"):
            compare_chart([one] * 8, list("abcdefgh"))
