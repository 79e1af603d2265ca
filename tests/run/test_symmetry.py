"""Half a floor, mirrored, and the whole floor: one answer."""

from __future__ import annotations

import numpy as np
import pytest

from tests.run.rigs import SWITCHED, Collector, told

SCALARS = (
    "exit_temperature",
    "room_temperature",
    "floor_mean_temperature",
    "floor_lowest_temperature",
    "floor_highest_temperature",
    "ground_mean_temperature",
    "supply_temperature",
)
FLOWS = ("duct_heat", "floor_heat", "bottom_heat", "envelope_loss", "outside_ground_loss")
BUILT_UP = {
    "ground": {
        "layers": [
            {"material": "moist sand", "thickness": "30 cm"},
            {"material": "XPS", "thickness": "5 cm"},
            {"material": "clay"},
        ],
        "outside_width": "60 cm",
    },
}


def near_pipes(run: Collector) -> np.ndarray:
    """(Z, Y) whether a rectangle of the map lies within three pipe radii of a duct's centre, and a cell."""
    places = run.geometry
    y, z = np.meshgrid(places.map_across, places.map_depth)
    apart = np.hypot(y[..., None] - places.duct_across, z[..., None] - places.duct_depth)
    return apart.min(axis=-1) < 3.0 * places.duct_radius + 0.02


@pytest.mark.parametrize("scale", [2.0, 1.0])
@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_symmetry_changes_nothing(count: int, scale: float) -> None:
    def run(*, symmetry: bool) -> Collector:
        change = {
            "ducts": {"count": count, "spacing": "42 cm"},
            "numerics": {"symmetry": symmetry, "cell_scale": scale, "stations": 3},
        }
        return told(SWITCHED, BUILT_UP, change)

    half, whole = run(symmetry=True), run(symmetry=False)
    assert half.geometry.lane_across.size == (count + 1) // 2
    assert whole.geometry.lane_across.size == count
    for name in SCALARS:
        np.testing.assert_allclose(half[name], whole[name], atol=1e-6, err_msg=name)
    for name in FLOWS:
        np.testing.assert_allclose(half[name], whole[name], atol=1e-5, err_msg=name)
    for one, other in zip(half.moments, whole.moments, strict=True):
        assert (one.field is None) == (other.field is None)
        if one.field is not None:
            # Close to a pipe a drawn rectangle is interpolated between ring cells, by either diagonal.
            near = near_pipes(half)
            np.testing.assert_allclose(one.field[:, ~near], other.field[:, ~near], atol=1e-6)
            np.testing.assert_allclose(one.field[:, near], other.field[:, near], atol=0.3)
            floors = [moment.values["floor_surface_temperature"] for moment in (one, other)]
            np.testing.assert_allclose(floors[0], floors[1], atol=1e-6)
    np.testing.assert_allclose(half.geometry.map_across_edges, whole.geometry.map_across_edges, atol=1e-9)
    # A whole floor's ducts, lane by lane, read the same from the left as from the right.
    walls = whole["wall_temperature"]
    np.testing.assert_allclose(walls, walls[:, ::-1], atol=1e-6)


def test_an_uneven_floor_is_never_halved() -> None:
    uneven = {
        "ducts": {
            "count": None,
            "spacing": None,
            "depth": None,
            "lanes": [{"across": "-40 cm", "depth": "30 cm"}, {"across": "41 cm", "depth": "30 cm"}],
        }
    }
    patch = {
        "ground": {
            "patches": [
                {
                    "material": "XPS",
                    "across_from": "10 cm",
                    "across_to": "30 cm",
                    "depth_from": "15 cm",
                    "depth_to": "20 cm",
                }
            ]
        }
    }
    short = {"site": {"duration": "3 h"}}
    for change in (uneven, patch):
        run = told(short, change)
        assert run.geometry.lane_across.size == 2
        floor = run.moments[-1].values["floor_surface_temperature"]
        assert np.abs(floor - floor[:, ::-1]).max() > 1e-6


def test_mirrored_places_and_temperatures() -> None:
    run = told({"site": {"duration": "1 h"}}, BUILT_UP)
    places = run.geometry
    for name in ("floor_across", "map_across"):
        np.testing.assert_allclose(getattr(places, name), -getattr(places, name)[::-1], atol=1e-12)
    assert places.floor_width_cells.sum() == pytest.approx(2.0, rel=1e-12)
    assert np.diff(places.map_across_edges).min() > 0.0
    np.testing.assert_array_equal(places.map_material, places.map_material[:, ::-1])
    moment = run.moments[-1]
    assert moment.field is not None
    assert moment.field.shape == (4, places.map_depth.size, places.map_across.size)
    np.testing.assert_array_equal(moment.field, moment.field[:, :, ::-1])
    floor = moment.values["floor_surface_temperature"]
    assert floor.shape == (4, places.floor_across.size)
    np.testing.assert_array_equal(floor, floor[:, ::-1])
    np.testing.assert_allclose(
        floor @ places.floor_width_cells / 2.0, moment.values["floor_station_temperature"], rtol=1e-12
    )
    assert floor.min() == pytest.approx(moment.values["floor_lowest_temperature"], abs=1e-12)
    assert floor.max() == pytest.approx(moment.values["floor_highest_temperature"], abs=1e-12)
