"""The chart of a branch reads the stored numbers in the order of the air."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes

from simulator.errors import DuctfloorError
from simulator.look.branch_profile import branch_profile_chart
from simulator.look.branches import read_branches
from simulator.look.maps import plan_map
from simulator.store.reader import Results
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of, words_of

EVENING = "2024-01-15T22:00"


@pytest.fixture(scope="module")
def night() -> Results:
    return make_results(Shape(hours=12, rows_per_hour=4, maps=4))


@pytest.fixture(scope="module")
def loops() -> Results:
    return make_results(Shape(hours=12, rows_per_hour=4, maps=4, layout="there and back"))


def lines_named(axes: Axes, name: str) -> list[tuple[np.ndarray, np.ndarray]]:
    return [
        (np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float))
        for line in axes.lines
        if line.get_gid() == name
    ]


def row_of(results: Results, when: str) -> int:
    return int(np.flatnonzero(results.time == np.datetime64(when))[0])


def test_air_at_edges_and_wall_at_stations(night: Results) -> None:
    figure = branch_profile_chart(night, [EVENING, -1], branch=2)
    axes = figure.axes[0]
    ((x, air),) = lines_named(axes, "air")
    row = row_of(night, EVENING)
    np.testing.assert_allclose(np.unique(x), night["edge"].values)
    stored = night["air_temperature"].values[row, 1]
    np.testing.assert_array_equal(air[::2], stored[:-1])
    np.testing.assert_array_equal(air[1::2], stored[1:])
    walls = [line for line in lines_named(axes, "wall") if line[0].size]
    np.testing.assert_allclose(walls[0][0], night["station"].values)
    np.testing.assert_array_equal(walls[1][1], night["wall_temperature"].values[-1, 1])
    assert any("no flow" in text.get_text() for text in words_of(figure))


def test_a_run_back_is_read_from_the_far_end(loops: Results) -> None:
    figure = branch_profile_chart(loops, [EVENING], branch=1)
    ((x, air),) = lines_named(figure.axes[0], "air")
    stored = loops["air_temperature"].values[row_of(loops, EVENING)]
    stations = loops["station"].values.size
    # Ducts from the edge inwards: out through the first lane, back through the second, 1.5 m of turn between.
    np.testing.assert_array_equal(air[: 2 * stations : 2], stored[0, :-1])
    np.testing.assert_array_equal(air[2 * stations :: 2], stored[1, ::-1][:-1])
    np.testing.assert_array_equal(air[2 * stations + 1 :: 2], stored[1, ::-1][1:])
    assert (x[0], x[2 * stations - 1], x[2 * stations], x[-1]) == pytest.approx((0.0, 12.0, 13.5, 25.5))
    assert "24.00 m (78.7 ft) under the floor in 2 runs" in text_of(figure)
    assert not collisions(figure)


def test_plan_shows_the_way_there_and_back_with_exit_temperatures(loops: Results) -> None:
    when = loops.field_time[1]
    figure = plan_map(loops, when)
    axes = figure.axes[0]
    (first, second) = lines_named(axes, "duct")
    assert second[1].tolist() == pytest.approx([2.25, 2.25, 0.75, 0.75])
    assert first[0][1:3].tolist() == pytest.approx([12.0, 12.0])
    arrows = sorted(str(line.get_marker()) for line in axes.lines if line.get_gid() == "flow")
    assert arrows == ["<", "<", ">", ">"]
    row = row_of(loops, str(when))
    written = " ".join(text.get_text() for text in words_of(figure, "duct air"))
    for lane, name in ((1, "branch 1"), (2, "branch 2")):
        exit_air = loops["air_temperature"].values[row, lane, 0]
        assert f"{name}, out {exit_air:.1f} °C" in written
    assert not collisions(figure)


def test_a_case_built_in_python_has_branches_too(night: Results) -> None:
    def like(text: str) -> tuple[float, ...]:
        class Told:
            case_text = text
            read = staticmethod(night.read)

        return tuple(float(branch.route.across[0]) for branch in read_branches(Told()))  # type: ignore[arg-type]

    as_json = '{"ducts": {"count": 4, "spacing": 1.5, "depth": 0.5, "diameter": 0.2}}'
    assert like(as_json) == like(night.case_text) == (-2.25, -0.75, 0.75, 2.25)
    with pytest.raises(DuctfloorError, match="hold no duct at its place"):
        like(as_json.replace("1.5", "1.4"))


def test_wrong_choices_are_explained(night: Results) -> None:
    with pytest.raises(DuctfloorError, match='branch "5": allowed: 1 to 4, or a name: branch 1, branch 2'):
        branch_profile_chart(night, branch=5)
    with pytest.raises(DuctfloorError, match="8 times: allowed: 1 to 7"):
        branch_profile_chart(night, list(range(8)))
    with pytest.raises(DuctfloorError, match="0 times"):
        branch_profile_chart(night, [])
