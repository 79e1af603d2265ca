"""The chart of fan and ducts: curves and meeting points stand where they were put, words keep apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.figure import Figure

from simulator.look.fan_chart import Curve, Point, draw_fan_chart, flow_text, pressure_text
from simulator.look.theme import themed
from tests.look.reading import collisions, words_of

FLOW = np.linspace(0.0, 0.2, 101)
FAN = Curve("fan", FLOW, 200.0 * (1.0 - (FLOW / 0.2) ** 2), of_fan=True)
DUCTS = Curve("ducts and fittings", FLOW, 15000.0 * FLOW**2)
MEETING = Point("full speed", 0.1, 150.0)  # 200 (1 - 1/4) = 15000 x 0.01


def draw(curves: list[Curve], points: list[Point], units: str = "SI") -> Figure:
    return themed(draw_fan_chart)(curves, points, "Fan and ducts", ["Shed"], units)  # type: ignore[arg-type]


def line_named(figure: Figure, name: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = [line for line in figure.axes[0].lines if line.get_gid() == name]
    return np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)


def test_texts_are_in_both_systems() -> None:
    # NIST Special Publication 811 (2008), appendix B.8: 1 ft3/min = 4.719474e-4 m3/s; 1 inch of water
    # (conventional) = 249.0889 Pa.
    assert flow_text(4.719474e-2, "US") == "100 cfm (170 m³/h)"
    assert flow_text(0.1, "SI") == "360 m³/h (212 cfm)"
    assert pressure_text(249.0889, "US") == "1.00 in wg (249 Pa)"
    assert pressure_text(50.0, "SI") == "50 Pa (0.20 in wg)"


@pytest.mark.parametrize("units", ["SI", "US"])
def test_second_scales_agree(units: str) -> None:
    figure = draw([FAN, DUCTS], [MEETING], units)
    figure.canvas.draw()
    axes = figure.axes[0]
    up, across = axes.child_axes
    assert up.get_ylim()[1] * 249.0889 == pytest.approx(axes.get_ylim()[1], rel=1e-6)
    assert across.get_xlim()[1] * 4.719474e-4 * 3600.0 == pytest.approx(axes.get_xlim()[1], rel=1e-6)


def test_curves_and_meeting_point_are_drawn_where_they_are() -> None:
    figure = draw([FAN, DUCTS], [MEETING])
    flow, pressure = line_named(figure, "fan")
    np.testing.assert_allclose(flow, FLOW * 3600.0)
    np.testing.assert_array_equal(pressure, FAN.pressure)
    point = line_named(figure, "meeting point")
    assert (float(point[0][0]), float(point[1][0])) == pytest.approx((360.0, 150.0))
    (words,) = words_of(figure, "meeting words")
    assert words.get_text() == "full speed\n360 m³/h (212 cfm)\n150 Pa (0.60 in wg)"


def test_a_curve_is_cut_where_it_leaves_the_frame() -> None:
    figure = draw([FAN, DUCTS], [MEETING])
    top = figure.axes[0].get_ylim()[1]
    flow, pressure = line_named(figure, "ducts and fittings")
    assert pressure[-1] == pytest.approx(top)
    assert flow[-1] == pytest.approx(3600.0 * (top / 15000.0) ** 0.5, rel=1e-3)
    assert float(FAN.pressure.max()) < top


def test_a_fixed_flow_has_a_chart_too() -> None:
    figure = draw([DUCTS], [Point("flow as given", 0.05, 37.5)])
    assert figure.axes[0].get_xlim()[1] > 0.05 * 3600.0
    assert not collisions(figure)


@pytest.mark.parametrize("units", ["SI", "US"])
@pytest.mark.parametrize("strength", [2000.0, 15000.0, 500000.0])
def test_words_cover_neither_each_other_nor_a_curve(units: str, strength: float) -> None:
    slow = Curve("fan at 60 % speed", FLOW * 0.6, FAN.pressure * 0.36, of_fan=True)
    ducts = Curve("ducts and fittings", FLOW, strength * FLOW**2)
    flow = float(np.sqrt(200.0 / (strength + 5000.0)))
    figure = draw([FAN, slow, ducts], [Point("full speed", flow, strength * flow**2)], units)
    assert not collisions(figure)
    axes = figure.axes[0]
    boxes = [text.get_window_extent() for text in words_of(figure, "curve name")]
    boxes += [text.get_window_extent() for text in words_of(figure, "meeting words")]
    assert len(boxes) == 4
    for line in axes.lines:
        if line.get_gid() in {"fan", "fan at 60 % speed", "ducts and fittings"}:
            corners = axes.transData.transform(np.column_stack([line.get_xdata(), line.get_ydata()]))
            fine = np.linspace(0.0, corners.shape[0] - 1.0, 4000)
            trace = np.column_stack([np.interp(fine, np.arange(len(corners)), part) for part in corners.T])
            for box in boxes:
                assert not box.count_contains(trace), line.get_gid()
