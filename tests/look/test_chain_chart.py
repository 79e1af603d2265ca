"""The chart of the heat chain, read back from the drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
import pytest

from simulator.errors import DuctfloorError
from simulator.look.chain_chart import chain_chart
from simulator.store.reader import Results
from tests.answers.conftest import make_results  # noqa: F401
from tests.answers.test_chain_account import HOURS, SECONDS, START
from tests.look.reading import collisions, text_of


@pytest.fixture
def chain(make_results: Callable[..., Results]) -> Iterator[Results]:  # noqa: F811
    """Ten hours: fire from hour 1 to 4, pump from hour 2 to 3, fan at half speed from hour 5 on."""
    parts = frozenset({"stove", "water", "house", "switching", "whole"})
    names = {"coil": ("coil",), "layer": ("bottom", "top"), "surface": ("roof", "wall"), "mass": ()}
    courses = {
        "fuel_rate": np.where((HOURS > 1) & (HOURS <= 4), 1e-3, 0.0),
        "pump_setting": np.where((HOURS > 2) & (HOURS <= 3), 1.0, 0.0),
        "fan_setting": np.where(HOURS > 5, 0.5, 0.0),
        "mass_flow": np.where(HOURS > 5, 0.1, 0.0),
        "shell_temperature": 100.0 + 10.0 * HOURS,
        "tank_layer_temperature": np.stack([20.0 + HOURS, 30.0 + HOURS], axis=1),
        "cover_temperature": np.stack([5.0 + 0.0 * HOURS, 8.0 + 0.0 * HOURS], axis=1),
    }
    return make_results(START, SECONDS, {"parts": parts, "names": names}, **courses)


def drawn(figure, name: str):
    lines = [line for axes in figure.axes for line in axes.lines if line.get_gid() == name]
    assert len(lines) == 1
    return lines[0].get_ydata()


def spans_of(figure, name: str) -> list[tuple[float, float]]:
    """Begin and end of bars in hours since the start."""
    first = min(
        line.get_xdata()[0] for axes in figure.axes for line in axes.lines if len(line.get_xdata()) > 3
    )
    found = []
    for axes in figure.axes:
        for bars in axes.collections:
            if bars.get_gid() == name:
                for path in bars.get_paths():
                    x = path.vertices[:, 0]
                    found.append((round(24.0 * (x.min() - first), 6), round(24.0 * (x.max() - first), 6)))
    return found


def test_temperatures_are_those_of_the_run(chain: Results) -> None:
    figure = chain_chart(chain)
    assert drawn(figure, "stove's shell") == pytest.approx(100.0 + 10.0 * HOURS)
    assert drawn(figure, "tank, top layer") == pytest.approx(30.0 + HOURS)
    assert drawn(figure, "coldest surface inside") == pytest.approx(np.full(HOURS.size, 5.0))
    # Without a flow the entering air means nothing.
    assert np.isnan(drawn(figure, "air into the ducts")[:6]).all()


def test_bars_tell_what_was_on_and_when(chain: Results) -> None:
    figure = chain_chart(chain)
    assert spans_of(figure, "fire on") == [(1.0, 4.0)]
    assert spans_of(figure, "pump on") == [(2.0, 3.0)]
    assert spans_of(figure, "fan on") == [(5.0, 10.0)]
    assert spans_of(figure, "cover on") == []


def test_nothing_lies_on_anything(chain: Results) -> None:
    for units in ("SI", "US"):
        figure = chain_chart(chain, units=units)
        assert collisions(figure) == []
        assert "Heat chain" in text_of(figure)


def test_a_run_without_a_chain_is_refused(make_results: Callable[..., Results]) -> None:  # noqa: F811
    with pytest.raises(DuctfloorError, match="no chain"):
        chain_chart(make_results(START, SECONDS))
