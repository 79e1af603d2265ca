"""The chart of fan and ducts draws the case's fan, and the ducts meet it where the chart says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from matplotlib.figure import Figure

from simulator.case.loader import load_text
from simulator.look.fan_picture import fan_picture, fan_picture_of_results
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of, words_of
from tests.look.test_case_picture import EVEN, HEAD

PAIR = 'free_delivery = "0.2 m3/s"\nshut_off = "150 Pa"\n'
FILTER = 'losses = [{ name = "filter", coefficient = 3.0, diameter = "0.25 m" }]\n'
# The resistance, about 18000 Pa at 1 m3/s, takes 45 Pa at the dip and 180 Pa at the top: three meetings.
HUMP = """losses = [{ coefficient = 72.0, diameter = "0.25 m" }]
[fan.curve]
flows = ["0 m3/s", "0.05 m3/s", "0.1 m3/s", "0.2 m3/s"]
pressures = ["60 Pa", "40 Pa", "200 Pa", "0 Pa"]
"""


def draw(fan: str, **choices: object) -> Figure:
    text = (HEAD + "[ducts]\n" + EVEN).replace('flow = "0.1 m3/s"\n', fan)
    return fan_picture(load_text(text), **choices)  # type: ignore[arg-type]


def curve(figure: Figure, name: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = [line for line in figure.axes[0].lines if line.get_gid() == name]
    return np.asarray(line.get_xdata(), dtype=float) / 3600.0, np.asarray(line.get_ydata(), dtype=float)


def test_fan_curves_follow_the_fan_laws() -> None:
    # Density 1.2 kg/m3 at 20.9 degC and sea level; flow as speed, pressure as its square (ISO 5801).
    figure = draw(PAIR, temperatures=(101325.0 / (287.05 * 1.2), 300.0), shares=(1.0, 0.5))
    flow, pressure = curve(figure, "fan")
    np.testing.assert_allclose(pressure, 150.0 * (1.0 - (flow / 0.2) ** 2), rtol=2e-3, atol=0.2)
    flow, pressure = curve(figure, "fan at 50 % speed")
    assert flow[-1] == pytest.approx(0.1)
    np.testing.assert_allclose(pressure, 37.5 * (1.0 - (flow / 0.1) ** 2), rtol=2e-3, atol=0.1)


def test_the_curves_cross_at_the_meeting_point() -> None:
    figure = draw(PAIR + FILTER)
    (x,), (y,) = curve(figure, "meeting point")
    for name in ("fan", "ducts and fittings"):
        flow, pressure = curve(figure, name)
        assert np.interp(x, flow, pressure) == pytest.approx(y, rel=2e-3)


def test_fittings_outside_the_branches_take_their_share() -> None:
    # K rho v2 / 2 in an opening of 0.25 m; air at 18 degC and 101325 Pa: rho = p / (287.05 T).
    flow, pressure = curve(draw(PAIR + FILTER), "fittings outside the branches")
    density = 101325.0 / (287.05 * 291.15)
    speed = flow / (math.pi * 0.25**2 / 4.0)
    np.testing.assert_allclose(pressure, 3.0 * density * speed**2 / 2.0, rtol=2e-3)


def test_a_hump_is_told() -> None:
    figure = draw(HUMP)
    said = " ".join(text_of(figure).split())
    assert "Mind: the fan's curve meets the ducts' resistance at 3 flows" in said
    assert "…" not in said
    assert not collisions(figure)


def test_a_given_flow_is_told_as_such() -> None:
    figure = draw('flow = "0.1 m3/s"\npower = "80 W"\n')
    said = text_of(figure)
    assert "flow as given" in said
    assert "80 W of electricity" in said
    # 0.1 m3/s = 360 m3/h over four branches alike; 1 cfm = 4.719474e-4 m3/s (NIST SP 811).
    assert "4 branches of 90 m³/h (53 cfm) each" in said
    assert not collisions(figure)


@pytest.mark.parametrize("units", ["SI", "US"])
def test_words_keep_apart(units: str) -> None:
    figure = draw(PAIR + FILTER, shares=(1.0, 0.6), units=units)
    assert len(words_of(figure, "meeting words")) == 2
    assert not collisions(figure)


def test_results_give_air_and_fan_of_their_moment() -> None:
    results = make_results(Shape(hours=12, rows_per_hour=4, maps=2))
    running = text_of(fan_picture_of_results(results, "2024-01-15T22:00"))
    assert "2024-01-15 22:00: the fan runs at 100 % of its speed." in running
    still = text_of(fan_picture_of_results(results, "2024-01-16T05:00"))
    assert "the fan is off" in still
    assert "Air of 16.5 °C (62 °F) in the fan" in still  # the made-up room: 17 + 2 cos(7 h of 24 h) = 16.48
