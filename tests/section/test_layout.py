"""From a case to a section: places, materials and the levelling round the pipes, by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.section.layout import layout_from_case
from simulator.section.mesh import solid_at
from tests.run.rigs import small_case

BESIDE = {
    "ground": {
        "outside_width": "1 m",
        "surface_level": "10 cm",
        "layers": [{"material": "moist sand", "thickness": "50 cm"}, {"material": "clay"}],
    },
    "floor": {
        "edge_wall": "20 cm",
        "edge_insulation": {"material": "XPS", "thickness": "5 cm", "depth": "60 cm"},
    },
}


def test_ducts_lie_evenly_about_the_middle_line() -> None:
    layout, places = layout_from_case(small_case({"ducts": {"count": 5, "spacing": "30 cm"}}), 10.0)
    np.testing.assert_allclose(places.across, (-0.6, -0.3, 0.0, 0.3, 0.6), atol=1e-12)
    assert places.depth == (0.3,) * 5
    # Mirrored: three lanes, of which the middle one stands for one duct, the others for two each.
    assert layout.mirrored
    assert layout.copies == 2
    np.testing.assert_allclose(
        [layout.lanes[lane].across for lane in places.lane], np.abs(places.across), atol=1e-12
    )
    assert len(layout.lanes) == 3


def test_levelling_round_a_pipe_is_film_gap_and_wall_in_series() -> None:
    """Per inside wall area: 1/h + R r_i/r_o + r_i ln(r_o/r_i)/k, as in any text on pipe insulation."""
    pipe = {"ducts": {"diameter": "10 cm", "wall_thickness": "5 mm", "wall_conductivity": "0.4 W/(m.K)",
                      "contact_resistance": "0.02 m2.K/W", "wall_heat_capacity": "2 MJ/(m3.K)"}}  # fmt: skip
    layout, _ = layout_from_case(small_case(pipe), 12.0)
    lane = layout.lanes[0]
    assert (lane.inside_radius, lane.outside_radius) == pytest.approx((0.05, 0.055))
    by_hand = 1.0 / 12.0 + 0.02 * 0.05 / 0.055 + 0.05 * math.log(0.055 / 0.05) / 0.4
    assert lane.equalising_resistance == pytest.approx(by_hand, rel=1e-12)
    assert lane.wall_heat_capacity == pytest.approx(2.0e6 * math.pi * (0.055**2 - 0.05**2), rel=1e-12)


@pytest.mark.parametrize(
    ("across", "depth", "expected"),
    [
        pytest.param(0.0, 0.05, "concrete", id="slab"),
        pytest.param(0.0, 0.3, "moist sand", id="first layer below the slab"),
        pytest.param(0.0, 0.57, "moist sand", id="its lower end counts from the slab's underside"),
        pytest.param(0.0, 0.59, "clay", id="second layer"),
        pytest.param(1.02, 0.3, "XPS", id="edge insulation just outside the edge"),
        pytest.param(-1.02, 0.59, "XPS", id="on both sides"),
        pytest.param(1.02, 0.61, "clay", id="below the insulation"),
        pytest.param(1.5, 0.15, "moist sand", id="first layer reaches up to the surface outside"),
        pytest.param(1.5, 0.05, None, id="air above the ground outside"),
    ],
)
def test_what_lies_where(across: float, depth: float, expected: str | None) -> None:
    layout, _ = layout_from_case(small_case(BESIDE), 10.0)
    solid = int(solid_at(layout, np.array(across), np.array(depth)))
    assert (None if solid < 0 else layout.solids[solid].name) == expected


def test_surfaces_leave_out_the_wall() -> None:
    layout, _ = layout_from_case(small_case(BESIDE), 10.0)
    stretches = {(surface.port, round(surface.y0, 6), round(surface.y1, 6)) for surface in layout.surfaces}
    assert stretches == {("floor", -1.0, 1.0), ("outside", 1.2, 2.0), ("outside", -2.0, -1.2)}
    films = {surface.port: surface.film_coefficient for surface in layout.surfaces}
    assert films == {"floor": 8.0, "outside": 25.0}


def test_patches_cover_what_was_there() -> None:
    patch = {
        "material": "XPS",
        "across_from": "-30 cm",
        "across_to": "30 cm",
        "depth_from": "5 cm",
        "depth_to": "50 cm",
    }
    layout, _ = layout_from_case(small_case({"ground": {"patches": [patch]}}), 10.0)
    places = (np.array([0.0, 0.0, 0.35]), np.array([0.06, 0.45, 0.06]))
    names = [layout.solids[index].name for index in solid_at(layout, *places)]
    assert names == ["XPS", "XPS", "concrete"]
