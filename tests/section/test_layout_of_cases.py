"""From a case to a section, further: mirror images, patches, water that freezes, the flue, by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest

from simulator.section.layout import DuctPlaces, SectionLayout, layout_from_case
from tests.run.rigs import small_case

PATCH = {
    "material": "XPS", "across_from": "20 cm", "across_to": "40 cm", "depth_from": "50 cm",
    "depth_to": "60 cm",
}  # fmt: skip
TWIN = {**PATCH, "across_from": "-40 cm", "across_to": "-20 cm"}
FLUE = {
    "across": "0 cm", "depth": "90 cm", "diameter": "13 cm", "wall_thickness": "2 mm", "rate": "2 kg/h",
    "temperature": "220 degC",
}  # fmt: skip


def layout_of(*changes: dict[str, Any], film: float = 10.0) -> tuple[SectionLayout, DuctPlaces]:
    return layout_from_case(small_case(*changes), film)


def with_branches(*branches: list[dict[str, str]], **rest: Any) -> dict[str, Any]:
    told = [{"name": f"b{number}", "runs": runs} for number, runs in enumerate(branches)]
    for key, values in rest.items():
        for branch, value in zip(told, values, strict=True):
            branch[key] = value
    return {"ducts": {"count": None, "spacing": None, "depth": None, "branches": told}}


def run(across: str, begin: str = "0 m", end: str = "6 m", depth: str = "30 cm") -> dict[str, str]:
    return {"across": across, "depth": depth, "along_from": begin, "along_to": end}


@pytest.mark.parametrize(
    ("change", "mirrored"),
    [
        pytest.param({}, True, id="two ducts alike"),
        pytest.param({"numerics": {"symmetry": False}}, False, id="not wanted"),
        pytest.param({"ground": {"patches": [PATCH]}}, False, id="patch on one side"),
        pytest.param({"ground": {"patches": [PATCH, TWIN]}}, True, id="patches alike"),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "depth_to": "61 cm"}]}}, False, id="one patch deeper"
        ),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "depth_from": "49 cm"}]}}, False, id="one patch higher"
        ),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "across_from": "-41 cm"}]}}, False, id="one patch wider"
        ),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "across_to": "-19 cm"}]}}, False, id="one further in"
        ),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "material": "EPS"}]}}, False, id="another material"
        ),
        pytest.param(
            {"ground": {"patches": [PATCH, {**TWIN, "water": 0.1}]}}, False, id="wetter"
        ),
        pytest.param(with_branches([run("-40 cm")], [run("40 cm")]), True, id="branches alike"),
        pytest.param(with_branches([run("-40 cm")], [run("41 cm")]), False, id="further out"),
        pytest.param(with_branches([run("-40 cm")], [run("40 cm", depth="31 cm")]), False, id="deeper"),
        pytest.param(with_branches([run("-40 cm")], [run("40 cm", "1 m")]), False, id="begins later"),
        pytest.param(with_branches([run("-40 cm")], [run("40 cm", "0 m", "5 m")]), False, id="ends sooner"),
        pytest.param(with_branches([run("-40 cm")], [run("40 cm")], bends=[1, 2]), False, id="more bends"),
        pytest.param(
            with_branches([run("-40 cm")], [run("40 cm"), run("60 cm", "6 m", "0 m")]), False, id="more runs"
        ),
        pytest.param(
            with_branches([run("-40 cm")], [run("40 cm")], loss_coefficient=[1.0, 1.5]), False, id="more loss"
        ),
        pytest.param({"flue": FLUE}, True, id="flue in the middle"),
        pytest.param({"flue": {**FLUE, "across": "10 cm"}}, False, id="flue beside it"),
        pytest.param({"flue": {**FLUE, "across": "-10 cm"}}, False, id="flue on the other side"),
    ],
)  # fmt: skip
def test_halves_are_taken_only_where_both_sides_are_alike(change: dict[str, Any], mirrored: bool) -> None:
    layout, places = layout_of(change)
    assert layout.mirrored is places.mirrored is mirrored
    assert layout.copies == (2 if mirrored else 1)
    assert layout.y_min == (0.0 if mirrored else -layout.y_max)
    across = sorted(lane.across for lane in layout.lanes)
    assert (across[0] >= 0.0) is mirrored or "flue" in change


def test_lanes_of_a_whole_section_stand_for_one_duct_each() -> None:
    layout, places = layout_of({"ducts": {"count": 3}, "numerics": {"symmetry": False}})
    assert [lane.across for lane in layout.lanes] == pytest.approx([-0.8, 0.0, 0.8])
    assert places.lane == (0, 1, 2)
    assert places.lane_at(0.8, 0.3) == 2
    assert places.lane_at(0.8 + 1e-9, 0.3) == 2
    with pytest.raises(KeyError):
        places.lane_at(0.8, 0.4)
    assert places.inside_radius == pytest.approx((0.05,) * 3)


def test_mirrored_ducts_share_a_lane() -> None:
    layout, places = layout_of({"ducts": {"count": 4, "spacing": "40 cm"}})
    assert len(layout.lanes) == 2
    assert [layout.lanes[lane].across for lane in places.lane] == pytest.approx([0.6, 0.2, 0.2, 0.6])
    assert places.lane_at(-0.6, 0.3) == places.lane_at(0.6, 0.3) == places.lane[0]


def test_the_flue_has_the_last_lane() -> None:
    layout, places = layout_of({"flue": FLUE}, film=8.0)
    assert places.flue_lane == len(layout.lanes) - 1
    lane = layout.lanes[-1]
    assert (lane.across, lane.depth) == pytest.approx((0.0, 0.9))
    assert (lane.inside_radius, lane.outside_radius) == pytest.approx((0.065, 0.067))
    # Levelled out by the film of the case alone: gas of one temperature all round.
    assert lane.equalising_resistance == pytest.approx(1.0 / 8.0)
    assert (places.across[-1], places.depth[-1], places.lane[-1]) == pytest.approx(
        (0.0, 0.9, places.flue_lane)
    )
    assert places.inside_radius[-1] == pytest.approx(0.065)
    jacket = {"diameter": "22 cm", "flow": "100 m3/h", "wall_thickness": "1 mm"}
    jacketed = layout_of({"flue": {**FLUE, "jacket": jacket}})[0].lanes[-1]
    assert (jacketed.inside_radius, jacketed.outside_radius) == pytest.approx((0.11, 0.111))
    assert layout_of()[1].flue_lane is None


def test_a_film_of_nothing_still_levels_a_little() -> None:
    # 1000 m2.K/W and more is no levelling at all for a pipe in the ground.
    for film in (0.0, 1e-9):
        lanes = layout_of({"flue": FLUE}, film=film)[0].lanes
        assert all(math.isfinite(lane.equalising_resistance) for lane in lanes)
        assert min(lane.equalising_resistance for lane in lanes) >= 999.0


def test_water_counts_only_where_it_may_freeze() -> None:
    ground = {
        "layers": [{"material": "moist sand", "water": 0.2}],
        "patches": [{**PATCH, "water": 0.1}, {**TWIN, "water": 0.1}],
    }
    layout, _ = layout_of({"ground": ground})
    assert {solid.water for solid in layout.solids} == {0.0}
    wet, _ = layout_of({"ground": {**ground, "freezing": True}})
    assert {solid.name: solid.water for solid in wet.solids} == {
        "moist sand": 0.2,
        "concrete": 0.0,
        "XPS": 0.1,
    }


def test_solids_are_listed_once() -> None:
    layout, _ = layout_of({"ground": {"patches": [PATCH, TWIN]}})
    names = [solid.name for solid in layout.solids]
    assert sorted(names) == ["XPS", "concrete", "moist sand"]
    patches = [region for region in layout.regions if layout.solids[region.solid].name == "XPS"]
    assert sorted((p.y0, p.y1, p.z0, p.z1) for p in patches) == [
        pytest.approx((-0.4, -0.2, 0.5, 0.6)), pytest.approx((0.2, 0.4, 0.5, 0.6))
    ]  # fmt: skip


def test_layers_stand_on_each_other() -> None:
    floor = {
        "layers": [{"material": "concrete", "thickness": "8 cm"}, {"material": "XPS", "thickness": "5 cm"}]
    }
    ground = {"layers": [{"material": "moist sand", "thickness": "40 cm"}, {"material": "clay"}]}
    layout, _ = layout_of({"floor": floor, "ground": ground})
    found = {layout.solids[region.solid].name: (region.z0, region.z1) for region in layout.regions}
    # The first ground layer reaches up to the surface beside the slab; its depth counts from the slab down.
    assert found["concrete"] == pytest.approx((0.0, 0.08))
    assert found["XPS"] == pytest.approx((0.08, 0.13))
    assert found["moist sand"] == pytest.approx((0.0, 0.53))
    assert found["clay"] == pytest.approx((0.53, 1.5))
    assert layout.depth == pytest.approx(1.5)
    assert layout.building_half_width == pytest.approx(1.0)
    # A layer told thicker than what is left ends with the model.
    thick = {"layers": [{"material": "moist sand", "thickness": "9 m"}, {"material": "clay"}]}
    try:
        deep, _ = layout_of({"ground": thick})
    except ValueError:
        return
    assert max(region.z1 for region in deep.regions) == pytest.approx(1.5)


def test_floors_without_ground_beside_them_have_one_surface() -> None:
    layout, _ = layout_of({"floor": {"edge_wall": "20 cm"}})
    assert [surface.port for surface in layout.surfaces] == ["floor"]
    assert layout.y_max == pytest.approx(1.0)
    assert layout.surface_level_outside == 0.0
    # A wall as wide as the ground beside it leaves no surface outside; one a little thinner does.
    for wall, ports in (("50 cm", 1), ("49 cm", 3)):
        beside, _ = layout_of({"floor": {"edge_wall": wall}, "ground": {"outside_width": "50 cm"}})
        assert len(beside.surfaces) == ports


def test_faces_scale_and_levels_are_taken_over() -> None:
    ground = {"outside_width": "1 m", "surface_level": "10 cm", "sides": {"kind": "adiabatic"}}
    layout, _ = layout_of({"ground": ground, "numerics": {"cell_scale": 1.5}})
    assert (layout.bottom.kind, layout.sides.kind) == ("temperature", "adiabatic")
    assert (layout.surface_level_outside, layout.cell_scale) == pytest.approx((0.1, 1.5))
