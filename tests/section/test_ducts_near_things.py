"""Ducts beside symmetry planes, each other and material edges: the mesh round them must not matter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.sparse.linalg import spsolve

from simulator.section.direct import DirectSection
from simulator.section.layout import SectionLayout
from simulator.section.operators import SectionOperators, build_operators
from tests.section.sections import CONCRETE, FOAM, SAND, section

LANE = (0.3, 0.05)
DAY = 86400.0


def wall_per_flow(layout: SectionLayout) -> float:
    """Steady mean wall temperature above the room's per unit heat flow of lane 0 [K.m/W]."""
    op = build_operators(layout)
    field = spsolve(op.stiffness, op.injection[:, 0])
    return float(op.reading[:, 0] @ field) + float(op.wall_resistance[0])


def warmed(op: SectionOperators, flows: list[float], hours: float = 8.0) -> np.ndarray:
    """Readings of all ports after some hours of heat from the ducts, starting from 0, in half-hour stages."""
    solver = DirectSection(op)
    loads = np.zeros((1, op.injection.shape[1]))
    loads[0, : op.lanes] = flows
    state = np.zeros((1, op.cells))
    stage = solver.stage(1800.0)
    for _ in range(round(hours * 2)):
        state = solver.advance(stage, state, loads)
    reading = solver.read(state)[0]
    reading[: op.lanes] += op.wall_resistance * np.array(flows)
    return reading


@pytest.mark.parametrize("scale", [2.0, 1.0, 0.5])
@pytest.mark.parametrize("spacing", [0.13, 0.3, 0.8])
def test_one_duct_between_planes_equals_two_half_ducts_on_them(spacing: float, scale: float) -> None:
    """The repeating piece of a row of ducts, cut through the ground between them or through their centres."""
    depth, radius = LANE
    half = spacing / 2.0
    middle = build_operators(section([(0.0, depth, radius)], width=(-half, half), cell_scale=scale))
    edges = build_operators(
        section([(-half, depth, radius), (half, depth, radius)], width=(-half, half), cell_scale=scale)
    )
    np.testing.assert_allclose(edges.lane_fraction, 0.5)
    one, two = warmed(middle, [30.0]), warmed(edges, [30.0, 30.0])
    # Coarse cells leave more than one way to join rings and rectangles; usual ones come out the same.
    near = 0.02 if scale > 1.0 else 1e-9
    assert two[0] == pytest.approx(two[1], rel=1e-9)
    assert two[0] == pytest.approx(one[0], rel=near)
    assert two[edges.port("floor")] == pytest.approx(one[middle.port("floor")], rel=near)


@pytest.mark.parametrize("lanes", [1, 2, 3, 4])
def test_half_a_section_equals_the_whole(lanes: int) -> None:
    depth, radius = LANE
    places = [(number - (lanes - 1) / 2.0) * 0.35 for number in range(lanes)]
    whole = build_operators(section([(y, depth, radius) for y in places]))
    right = [(y, depth, radius) for y in places if y > -1e-9]
    half = build_operators(section(right, width=(0.0, 1.0), mirrored=True))
    all_of_it, of_half = warmed(whole, [30.0] * lanes), warmed(half, [30.0] * len(right))
    np.testing.assert_allclose(all_of_it[lanes - len(right) : lanes], of_half[: len(right)], rtol=1e-9)
    floors = (all_of_it[whole.port("floor")], 2.0 * of_half[half.port("floor")])
    assert floors[0] == pytest.approx(floors[1], rel=1e-9)


def test_whole_section_of_ducts_at_two_depths_is_its_own_mirror_image() -> None:
    places = [(-0.4, 0.3, 0.05), (0.4, 0.3, 0.05), (-0.15, 0.6, 0.05), (0.15, 0.6, 0.05)]
    op = build_operators(section(places, layers=[(CONCRETE, 0.35), (FOAM, 0.05), (SAND, 1.6)]))
    warm = warmed(op, [20.0, 20.0, 5.0, 5.0])
    assert warm[0] == pytest.approx(warm[1], rel=1e-10)
    assert warm[2] == pytest.approx(warm[3], rel=1e-10)


def test_influence_of_one_duct_on_another_is_mutual() -> None:
    """Reciprocity (H. S. Carslaw, J. C. Jaeger 1959, section 14.1): reading of lane i per load of lane j."""
    op = build_operators(section([(-0.4, 0.2, 0.05), (0.1, 0.9, 0.05), (0.35, 0.25, 0.05)], film=8.0))
    influence = DirectSection(op).stage(3600.0).influence[:3, :3]
    np.testing.assert_allclose(influence, influence.T, rtol=1e-9)


NEAR = {
    "sand alone": {},
    "foam 5 mm under the pipe": {"layers": [(SAND, 0.355), (FOAM, 0.05), (SAND, 1.095)]},
    "foam 20 mm under the pipe": {"layers": [(SAND, 0.37), (FOAM, 0.05), (SAND, 1.08)]},
    "foam 60 mm under the pipe": {"layers": [(SAND, 0.41), (FOAM, 0.05), (SAND, 1.04)]},
    "foam 5 mm over the pipe": {"layers": [(SAND, 0.195), (FOAM, 0.05), (SAND, 1.255)]},
    "foam beside the pipe": {"patches": [(FOAM, 0.06, 0.11, 0.1, 0.8)]},
    "slab edge through the pipe": {"layers": [(CONCRETE, 0.32), (SAND, 1.18)]},
    "foam edge through the centre": {"layers": [(CONCRETE, 0.3), (FOAM, 0.05), (SAND, 1.15)]},
    "foam edge through the pipe": {"layers": [(CONCRETE, 0.32), (FOAM, 0.05), (SAND, 1.13)]},
    "duct just under the floor": {"lanes": [(0.0, 0.056, 0.05)]},
    "duct just over the bottom": {"lanes": [(0.0, 1.444, 0.05)]},
    "tight pair": {"lanes": [(-0.0575, 0.3, 0.05), (0.0575, 0.3, 0.05)]},
    "one over the other": {"lanes": [(0.0, 0.3, 0.05), (0.0, 0.42, 0.05)]},
    "tall and narrow": {"width": (-0.06, 0.06), "depth": 6.0, "layers": [(SAND, 6.0)]},
    "wide and flat": {
        "width": (-6.0, 6.0),
        "depth": 0.2,
        "layers": [(SAND, 0.2)],
        "lanes": [(0.0, 0.1, 0.05)],
    },
}


@pytest.mark.parametrize("name", NEAR)
def test_usual_cells_are_within_a_hundredth_of_much_finer_ones(name: str) -> None:
    """Converged: what counts for heat is the resistance from wall to room, and to a bottom of fixed
    temperature.
    """

    def build(scale: float) -> SectionLayout:
        rest = {"lanes": [(0.0, *LANE)], "depth": 1.5, **NEAR[name]}
        return section(rest.pop("lanes"), bottom="temperature", levelling=1e-9, cell_scale=scale, **rest)

    # Foam that ends at the pipe's very centre is the worst there is: its edge is a jump in the ring.
    allowed = 0.015 if name == "foam edge through the centre" else 0.01
    assert wall_per_flow(build(1.0)) == pytest.approx(wall_per_flow(build(0.35)), rel=allowed)
