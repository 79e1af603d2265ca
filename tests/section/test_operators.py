"""Structure of the matrices for ducts anywhere: what must hold for heat to be conserved and to flow
downhill.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from scipy.sparse.linalg import splu

from simulator.errors import CaseError, SolverError
from simulator.section.direct import DirectSection
from simulator.section.layout import SectionLayout, Solid
from simulator.section.mesh import build_mesh
from simulator.section.near_field import build_ring
from simulator.section.operators import SectionOperators, build_operators
from simulator.section.transition import build_transition
from tests.examples import examples
from tests.section.sections import FOAM, SAND, section

FEW = settings(max_examples=examples(40), deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
HEAT_CAPACITY = SAND.heat_capacity


@st.composite
def layouts(
    draw: st.DrawFn, scales: tuple[float, ...] = (1.0, 1.5, 2.0), most_lanes: int = 4, alike: bool = False
) -> SectionLayout:
    """Ducts anywhere in three layers, down to a fiftieth of their radius from each other and from every
    side.
    """
    half, depth = draw(st.floats(0.4, 3.0)), draw(st.floats(0.4, 4.0))
    radius = draw(st.floats(0.02, 0.12))
    clear = draw(st.sampled_from([1.03, 1.1, 1.6])) * radius
    assume(depth > 2.1 * clear)
    on_plane = draw(st.booleans())
    lanes: list[tuple[float, float, float]] = []
    for number in range(draw(st.integers(0, most_lanes))):
        across = draw(st.floats(-half + clear, half - clear))
        place = (-half if on_plane and number == 0 else across, draw(st.floats(clear, depth - clear)))
        assume(all(math.dist(place, other[:2]) > 2.0 * clear for other in lanes))
        lanes.append((*place, radius))
    edges = sorted((draw(st.floats(0.05, 0.95)) * depth, draw(st.floats(0.05, 0.95)) * depth))
    assume(edges[1] - edges[0] > 0.005 and edges[0] > 0.005)
    kinds = [
        Solid(f"solid {n}", 1.5 if alike else draw(st.floats(0.03, 4.0)), HEAT_CAPACITY) for n in range(3)
    ]
    thickness = (edges[0], edges[1] - edges[0], depth - edges[1])
    return section(
        lanes,
        width=(-half, half),
        depth=depth,
        layers=list(zip(kinds, thickness, strict=True)),
        film=draw(st.sampled_from([0.0, 0.5, 8.0, 1e9])),
        levelling=draw(st.sampled_from([1e-9, 0.1, 1000.0])),
        bottom=draw(st.sampled_from(["adiabatic", "temperature", "heat flow"])),
        sides=draw(st.sampled_from(["adiabatic", "temperature"])),
        cell_scale=draw(st.sampled_from(scales)),
    )


def ground_area(layout: SectionLayout) -> float:
    """Area [m2] of the rectangle less the pipes, half pipes on its sides."""
    whole = (layout.y_max - layout.y_min) * layout.depth
    for lane in layout.lanes:
        half = min(abs(lane.across - layout.y_min), abs(lane.across - layout.y_max)) < 1e-9
        whole -= math.pi * lane.outside_radius**2 * (0.5 if half else 1.0)
    return whole


def uphill(op: SectionOperators) -> float:
    """Largest positive off-diagonal entry over the smaller of its two diagonals: 0 for an M-matrix."""
    links = op.stiffness.tocoo()
    diagonal = op.stiffness.diagonal()
    apart = links.row != links.col
    smaller = np.minimum(diagonal[links.row[apart]], diagonal[links.col[apart]])
    return float((links.data[apart] / smaller).max(initial=0.0))


@FEW
@given(layouts())
def test_matrices_of_any_layout(layout: SectionLayout) -> None:
    op = build_operators(layout)
    largest = float(np.abs(op.stiffness.data).max())
    assert abs(op.stiffness - op.stiffness.T).max() <= 1e-13 * largest
    # A uniform temperature, held behind every film too, moves no heat.
    films = op.reading[:, op.lanes :].sum(axis=1)
    np.testing.assert_allclose(op.stiffness.sum(axis=1), films, atol=1e-11 * largest)
    np.testing.assert_allclose(op.reading.sum(axis=0)[op.lanes :], op.conductance[op.lanes :], rtol=1e-12)
    # A lane reads a uniform temperature as it is, and injects its share of the duct.
    np.testing.assert_allclose(op.reading[:, : op.lanes].sum(axis=0), 1.0, rtol=1e-12)
    np.testing.assert_allclose(op.injection[:, : op.lanes].sum(axis=0), op.lane_fraction, rtol=1e-12)
    assert op.capacity.min() > 0.0
    assert op.capacity.sum() / HEAT_CAPACITY == pytest.approx(ground_area(layout), rel=1e-9)


@FEW
@given(layouts())
def test_surface_ports_conduct_through_film_and_half_cell(layout: SectionLayout) -> None:
    op = build_operators(layout)
    film = layout.surfaces[0].film_coefficient
    height = float(np.diff(op.mesh.z_lines)[0])
    k = layout.solids[0].conductivity
    width = layout.y_max - layout.y_min
    by_hand = 0.0 if film == 0.0 else width / (1.0 / film + 0.5 * height / k)
    assert op.conductance[op.port("floor")] == pytest.approx(by_hand, rel=1e-9)
    np.testing.assert_allclose(op.floor_widths.sum(), width, rtol=1e-12)
    flux = op.injection[:, op.port("bottom")].sum()
    if layout.bottom.kind == "heat flow":
        assert flux == pytest.approx(width, rel=1e-12)
        assert op.conductance[op.port("bottom")] == 0.0
    elif layout.bottom.kind == "adiabatic":
        assert flux == 0.0


@FEW
@given(layouts(scales=(1.0, 1.5), alike=True))
def test_heat_flows_downhill_in_one_material(layout: SectionLayout) -> None:
    """An M-matrix, but for an obtuse triangle now and then: 0.2 % of the neighbours' own conductance."""
    assert uphill(build_operators(layout)) <= 2e-3


@FEW
@given(layouts())
def test_heat_flows_downhill_nearly_in_unlike_materials(layout: SectionLayout) -> None:
    """Triangles that a material edge cuts take one side's conductivity, which leaves links of the wrong
    sign.
    """
    assert uphill(build_operators(layout)) <= 0.5


@FEW
@given(layouts())
def test_what_warms_one_place_cools_no_other(layout: SectionLayout) -> None:
    """The answer that matters of an M-matrix, after one long implicit stage: no cell passes its cause."""
    op = build_operators(layout)
    solver = DirectSection(op)
    loads = np.zeros((1, op.injection.shape[1]))
    loads[0, op.port("floor")] = 1.0
    if layout.bottom.kind == "temperature":
        loads[0, op.port("bottom")] = 1.0
    after = solver.advance(solver.stage(7200.0), np.zeros((1, op.cells)), loads)
    assert after.min() >= -1e-9
    assert after.max() <= 1.0 + 1e-9
    for lane in range(op.lanes):
        loads[:] = 0.0
        loads[0, lane] = 1.0
        after = solver.advance(solver.stage(7200.0), np.zeros((1, op.cells)), loads)
        assert after.min() >= -1e-4 * after.max()


@FEW
@given(layouts(scales=(3.0, 4.0)))
def test_meshes_too_coarse_are_refused_in_words(layout: SectionLayout) -> None:
    try:
        op = build_operators(layout)
    except SolverError:
        with pytest.raises(SolverError, match=r"could not be meshed.*cell_scale"):
            build_operators(layout)
        return
    assert op.capacity.sum() / HEAT_CAPACITY == pytest.approx(ground_area(layout), rel=1e-9)


@FEW
@given(layouts())
def test_triangles_fill_the_gaps_exactly(layout: SectionLayout) -> None:
    mesh = build_mesh(layout)
    rings = tuple(build_ring(layout, number) for number in range(len(layout.lanes)))
    transition = build_transition(layout, mesh, rings)
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    half_y = np.concatenate(([0.0], width, [0.0])) / 2.0
    half_z = np.concatenate(([0.0], height, [0.0])) / 2.0
    dual = np.outer(half_y[1:] + half_y[:-1], half_z[1:] + half_z[:-1])
    rims = sum(math.pi * float(ring.radii[-1]) ** 2 * ring.fraction for ring in rings)
    kept = float(dual[transition.kept_dual].sum())
    assert kept + rims + float(transition.area.sum()) == pytest.approx(layout.depth * (width.sum()), rel=1e-9)
    assert transition.area.min(initial=1.0) > 0.0
    if rings:
        assert np.abs(transition.stiffness.sum(axis=2)).max() < 1e-9
        linear = np.linalg.eigvalsh(transition.stiffness)
        assert linear.min() > -1e-9 * linear.max()


@pytest.mark.parametrize(
    ("layers", "lanes"),
    [
        ([(SAND, 0.25), (FOAM, 0.05), (SAND, 1.7)], []),
        ([(SAND, 0.25), (FOAM, 0.05), (SAND, 1.7)], [(0.0, 1.0, 0.1)]),
        ([(FOAM, 1.0), (SAND, 1.0)], [(-0.3, 0.5, 0.05), (0.4, 1.6, 0.08)]),
    ],
)
def test_heat_capacity_of_unlike_layers(
    layers: list[tuple[Solid, float]], lanes: list[tuple[float, float, float]]
) -> None:
    """Ducts clear of the layer edges: each layer's area, less its pipes, times its heat capacity."""
    op = build_operators(section(lanes, layers=layers))
    expected, top = 0.0, 0.0
    for solid, thickness in layers:
        holes = sum(math.pi * r**2 for _, z, r in lanes if top < z < top + thickness)
        expected += (2.0 * thickness - holes) * solid.heat_capacity
        top += thickness
    assert op.capacity.sum() == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("scale", [1.0, 3.0])
def test_the_order_of_the_ducts_is_of_no_account(scale: float) -> None:
    """One duct on the plane of symmetry, the other so near that triangles join it to its own image."""
    on, near = (0.0, 0.8, 0.05), (0.07, 0.35, 0.05)
    found = []
    for lanes in ([on, near], [near, on]):
        op = build_operators(section(lanes, width=(0.0, 1.0), mirrored=True, cell_scale=scale))
        area = 2.0 - 1.5 * math.pi * 0.05**2
        assert op.capacity.sum() == pytest.approx(SAND.heat_capacity * area, rel=1e-9)
        warm = np.zeros(op.injection.shape[1])
        warm[lanes.index(near)] = 30.0
        found.append(splu(op.stiffness).solve(op.injection @ warm)[op.floor_cells])
    np.testing.assert_allclose(found[1], found[0], rtol=1e-6)


def test_pipe_wall_adds_its_own_capacity() -> None:
    bare = build_operators(section([(0.0, 0.5, 0.05), (-1.0, 0.5, 0.05)], width=(-1.0, 1.0)))
    clad = build_operators(
        section([(0.0, 0.5, 0.05), (-1.0, 0.5, 0.05)], width=(-1.0, 1.0), wall_heat_capacity=5000.0)
    )
    assert clad.capacity.sum() - bare.capacity.sum() == pytest.approx(1.5 * 5000.0, rel=1e-9)


def test_void_outside_is_left_out() -> None:
    """Outside ground 0.3 m below the floor: its surface is the port, and the area above it is gone."""
    from simulator.section.layout import Region, Surface

    layout = SectionLayout(
        y_min=0.0, y_max=3.0, depth=2.0, solids=(SAND,), regions=(Region(-3.0, 3.0, 0.0, 2.0, 0),),
        surfaces=(Surface("floor", -1.0, 1.0, 8.0), Surface("outside", 1.2, 3.0, 25.0)),
        lanes=(), mirrored=True, surface_level_outside=0.3, building_half_width=1.0,
    )  # fmt: skip
    op = build_operators(layout)
    assert op.capacity.sum() / SAND.heat_capacity == pytest.approx(3.0 * 2.0 - 2.0 * 0.3, rel=1e-12)
    at_grade = op.injection[:, op.port("outside")] > 0.0
    assert op.cell_across[at_grade].min() > 1.2
    assert 0.3 < op.cell_depth[at_grade].min() == op.cell_depth[at_grade].max() < 0.32
    assert op.floor_widths.sum() == pytest.approx(1.0, rel=1e-12)


def test_duct_without_ground_round_it_is_refused() -> None:
    with pytest.raises(CaseError, match="almost no ground"):
        build_operators(section([(0.0, 0.0505, 0.05)]))
    with pytest.raises(CaseError, match="almost no ground"):
        build_operators(section([(0.0, 0.5, 0.05), (0.1005, 0.5, 0.05)]))
