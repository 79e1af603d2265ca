"""Reductions of a coarse section: quick to make, so that every line of their making is tried often."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from itertools import pairwise

import numpy as np
import pytest
import scipy.linalg
from numpy.typing import NDArray

from simulator.errors import SolverError
from simulator.section.kept_reduction import fingerprint, kept_reduction
from simulator.section.operators import SectionOperators, build_operators
from simulator.section.reduced import ReducedSection
from simulator.section.reduction import SAFETY, SMALL_SECTION, Reduction, reduce_section
from tests.section.sections import two_pipes

SHORTEST, LONGEST, TOLERANCE = 10.0, 40.0 * 3600.0, 0.005


@pytest.fixture(scope="module")
def operators() -> SectionOperators:
    made = build_operators(two_pipes(2.5))
    assert SMALL_SECTION < made.cells < 500
    return made


@pytest.fixture(scope="module")
def start(operators: SectionOperators) -> NDArray[np.float64]:
    warm = np.linspace(-2.0, 2.0, operators.cells)
    return np.column_stack((warm, np.full(operators.cells, 3.0)))


def made(operators: SectionOperators, start: NDArray[np.float64], **changes: object) -> Reduction:
    told = {"shortest": SHORTEST, "longest": LONGEST, "tolerance": TOLERANCE, **changes}
    return reduce_section(operators, start, **told)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def reduction(operators: SectionOperators, start: NDArray[np.float64]) -> Reduction:
    return made(operators, start)


@pytest.fixture(scope="module")
def dense(operators: SectionOperators) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """All modes and rates, by scipy's dense eigenvalue decomposition."""
    rates, vectors = scipy.linalg.eigh(operators.stiffness.toarray(), np.diag(operators.capacity))
    return vectors, rates


def reference_loads(operators: SectionOperators) -> NDArray[np.float64]:
    """30 W/m for a duct, 10 K behind a film: what a tolerance refers to."""
    return np.where(np.arange(operators.injection.shape[1]) < operators.lanes, 30.0, 10.0)


def test_modes_are_orthonormal_few_and_no_faster_than_the_mesh(operators, reduction, dense) -> None:
    product = reduction.modes.T @ (operators.capacity[:, None] * reduction.modes)
    np.testing.assert_allclose(product, np.eye(reduction.rates.size), atol=1e-9)
    assert reduction.rates.size < operators.cells / 4
    assert reduction.error <= TOLERANCE
    # Rayleigh quotients lie between the ends of the full spectrum, the slowest right above its own end.
    _, rates = dense
    assert rates[0] * (1.0 - 1e-9) <= reduction.rates[0] <= rates[0] * 1.001
    assert reduction.rates.max() <= rates[-1] * (1.0 + 1e-9)
    assert np.all(np.diff(reduction.rates) >= 0.0)


def test_shifts_span_the_times_asked_for(reduction) -> None:
    assert reduction.shifts[0] == pytest.approx(1.0 / LONGEST)
    assert reduction.shifts[-1] == pytest.approx(1.0 / SHORTEST)
    assert list(reduction.shifts) == sorted(reduction.shifts)


def test_a_load_switched_on_is_followed_as_the_dense_modes_do(operators, reduction, dense) -> None:
    """x(t) = sum of modes (1 - exp(-rate t)) / rate, exact in time on both sides; every load by itself."""
    vectors, rates = dense
    loads = operators.injection * reference_loads(operators)
    walls = operators.reading[:, : operators.lanes]
    for time in (SHORTEST, 60.0, 3600.0, LONGEST):
        answers = [
            modes @ ((-np.expm1(-some * time) / some)[:, None] * (modes.T @ loads))
            for modes, some in ((vectors, rates), (reduction.modes, reduction.rates))
        ]
        miss = answers[0] - answers[1]
        assert np.abs(miss[operators.floor_cells]).max() <= TOLERANCE
        assert np.abs(walls.T @ miss).max() <= TOLERANCE


def test_starts_decay_as_the_dense_modes_do(operators, start, reduction, dense) -> None:
    vectors, rates = dense
    for time in (0.0, SHORTEST, 3600.0, LONGEST):
        answers = [
            modes @ (np.exp(-some * time)[:, None] * (modes.T @ (operators.capacity[:, None] * start)))
            for modes, some in ((vectors, rates), (reduction.modes, reduction.rates))
        ]
        miss = np.abs(answers[0] - answers[1])
        assert miss[operators.floor_cells].max() <= TOLERANCE
        if time == 0.0:
            assert miss.max() < 1e-8


def test_a_faint_start_is_kept_as_well_as_a_strong_one(operators) -> None:
    """A twentieth of a kelvin from place to place: what the modes hold of it is all of it."""
    start = np.linspace(-0.05, 0.05, operators.cells)[:, None]
    modes = made(operators, start, tolerance=0.5).modes
    np.testing.assert_allclose(modes @ (modes.T @ (operators.capacity[:, None] * start)), start, atol=1e-9)


def test_everywhere_holds_every_cell(operators, start, reduction, dense) -> None:
    everywhere = made(operators, start, everywhere=True)
    assert everywhere.rates.size >= reduction.rates.size
    vectors, rates = dense
    loads = operators.injection * reference_loads(operators)
    for time in (60.0, 3600.0, LONGEST):
        answers = [
            modes @ ((-np.expm1(-some * time) / some)[:, None] * (modes.T @ loads))
            for modes, some in ((vectors, rates), (everywhere.modes, everywhere.rates))
        ]
        assert np.abs(answers[0] - answers[1]).max() <= TOLERANCE


def test_the_told_error_is_no_less_than_what_is_left_between_shifts(operators, start, dense) -> None:
    """Answers to swinging loads at the middle of each gap, by all dense modes; later shifts only help."""
    loose = made(operators, start, tolerance=0.5)
    vectors, rates = dense
    loads = operators.injection * reference_loads(operators)
    walls = operators.reading[:, : operators.lanes]
    left = 0.0
    for low, high in pairwise(loose.shifts):
        shift = math.sqrt(low * high)
        answers = [
            modes @ ((modes.T @ loads) / (some + shift)[:, None])
            for modes, some in ((vectors, rates), (loose.modes, loose.rates))
        ]
        miss = answers[0] - answers[1]
        left = max(left, np.abs(miss[operators.floor_cells]).max(), np.abs(walls.T @ miss).max())
    assert left > 1e-6
    assert SAFETY * left * (1.0 - 1e-6) <= loose.error <= 0.5


def test_looser_tolerances_keep_fewer_modes(operators, start, reduction) -> None:
    loose = made(operators, start, tolerance=0.5)
    assert loose.rates.size < reduction.rates.size
    assert loose.error <= 0.5
    assert len(loose.shifts) <= len(reduction.shifts)


def test_any_number_of_threads_gives_the_same(operators, start, reduction) -> None:
    three = made(operators, start, threads=3)
    assert three.shifts == reduction.shifts
    assert np.array_equal(three.modes, reduction.modes)
    assert np.array_equal(three.rates, reduction.rates)


def test_out_of_reach_is_said_with_figures(operators, start, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("simulator.section.reduction.MOST_SHIFTS", 8)
    with pytest.raises(SolverError, match=r"misses its tolerance: .* K instead of 1e-09 K") as caught:
        made(operators, start, tolerance=1e-9)
    assert 'numerics.solver = "direct"' in str(caught.value)
    # With room for one more the first gap is halved before it is refused.
    monkeypatch.setattr("simulator.section.reduction.MOST_SHIFTS", 120)
    monkeypatch.setattr("simulator.section.reduction.NARROWEST_GAP", 1.0)
    with pytest.raises(SolverError, match="misses its tolerance"):
        made(operators, start, tolerance=1e-9)


class Shelf:
    """Keeps arrays in memory."""

    def __init__(self) -> None:
        self.kept: dict[str, dict[str, NDArray[np.float64]]] = {}

    def get(self, name: str) -> dict[str, NDArray[np.float64]] | None:
        return self.kept.get(name)

    def put(self, name: str, arrays: Mapping[str, NDArray[np.float64]]) -> None:
        self.kept[name] = dict(arrays)


TOLD = {"shortest": SHORTEST, "longest": LONGEST, "tolerance": 0.5}


def test_a_kept_reduction_is_taken_as_it_is(operators, start, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = Shelf()
    first = kept_reduction(shelf, operators, start, **TOLD)
    assert len(shelf.kept) == 1
    with monkeypatch.context() as patch:
        patch.setattr("simulator.section.kept_reduction.reduce_section", None)
        again = kept_reduction(shelf, operators, start, **TOLD)
    assert np.array_equal(again.modes, first.modes)
    assert np.array_equal(again.rates, first.rates)
    assert (again.error, again.shifts) == (first.error, first.shifts)
    without = kept_reduction(None, operators, start, **TOLD)
    assert np.array_equal(without.modes, first.modes)


@pytest.mark.parametrize("damage", ["a key gone", "another shape", "not a number"])
def test_damaged_keepings_are_made_anew(operators, start, damage: str) -> None:
    shelf = Shelf()
    sound = kept_reduction(shelf, operators, start, **TOLD)
    (kept,) = shelf.kept.values()
    if damage == "a key gone":
        del kept["error"]
    elif damage == "another shape":
        kept["modes"] = kept["modes"][:-1]
    else:
        kept["modes"] = kept["modes"].copy()
        kept["modes"][3, 3] = np.nan
    again = kept_reduction(shelf, operators, start, **TOLD)
    assert np.array_equal(again.modes, sound.modes)


def test_fingerprints_differ_with_everything(operators, start) -> None:
    names = {fingerprint(operators, start, 10.0, 1e5, 0.005, 0.0), fingerprint(operators, start, 10.0, 1e5)}
    names.add(fingerprint(operators, start + 1.0, 10.0, 1e5))
    for field in ("capacity", "injection", "reading"):
        changed = dataclasses.replace(operators, **{field: 1.01 * getattr(operators, field)})
        names.add(fingerprint(changed, start, 10.0, 1e5))
    links = dataclasses.replace(operators.links, values=1.01 * operators.links.values)
    names.add(fingerprint(dataclasses.replace(operators, links=links), start, 10.0, 1e5))
    assert len(names) == 7
    assert all(len(name) == 32 for name in names)
    assert fingerprint(operators, start, 10.0, 1e5) in names


@pytest.fixture(scope="module")
def solver(operators: SectionOperators, reduction: Reduction) -> ReducedSection:
    return ReducedSection(operators, reduction)


def test_one_stage_is_the_implicit_equation_within_the_modes(operators, start, solver) -> None:
    """Galerkin: the residual of (C/tau + K) x = C/tau x0 + load stands square on every mode (by numpy)."""
    tau = 450.0
    loads = np.vstack((reference_loads(operators), -reference_loads(operators)))
    state = solver.project(start.T)
    after = solver.field(solver.advance(solver.stage(tau), state, loads))
    before = solver.field(state)
    residual = operators.capacity / tau * (after - before) + after @ operators.stiffness.toarray()
    residual -= loads @ operators.injection.T
    assert np.abs(residual @ solver.reduction.modes).max() < 1e-9


def test_what_a_state_holds(operators, start, solver) -> None:
    """Every reading of the state is that of its field, by the full operators."""
    state = solver.project(start.T)
    field = solver.field(state)
    np.testing.assert_allclose(solver.read(state), field @ operators.reading, atol=1e-9)
    np.testing.assert_allclose(solver.stored(state), field @ operators.capacity, rtol=1e-9)
    inside = np.where(np.abs(operators.cell_across) < 1.0, operators.capacity, 0.0)
    np.testing.assert_allclose(solver.stored_under_floor(state), field @ inside, rtol=1e-9)
    np.testing.assert_allclose(solver.floor(state), field[:, operators.floor_cells], atol=1e-12)
    assert solver.settle(state) is state
    assert (solver.name, solver.size) == ("reduced", solver.reduction.rates.size)
    modal = solver.modal
    assert modal is not None
    np.testing.assert_array_equal(modal.rates, solver.reduction.rates)
    np.testing.assert_allclose(state @ modal.reading, field @ operators.reading, atol=1e-9)
    np.testing.assert_allclose(state @ modal.capacity, field @ operators.capacity, rtol=1e-9)


def test_heat_under_a_narrow_floor_leaves_out_the_ground_beside(operators, start, reduction) -> None:
    narrow = dataclasses.replace(
        operators, layout=dataclasses.replace(operators.layout, building_half_width=0.5)
    )
    solver = ReducedSection(narrow, reduction)
    state = solver.project(start.T)
    inside = np.where(np.abs(operators.cell_across) < 0.5, operators.capacity, 0.0)
    assert 0.3 < inside.sum() / operators.capacity.sum() < 0.7
    np.testing.assert_allclose(solver.stored_under_floor(state), solver.field(state) @ inside, rtol=1e-9)
    np.testing.assert_allclose(solver.stored(state), solver.field(state) @ operators.capacity, rtol=1e-9)


def test_readings_are_known_before_the_loads(operators, start, solver) -> None:
    state, stage = solver.project(start.T), solver.stage(600.0)
    loads = np.vstack((reference_loads(operators), 2.0 * reference_loads(operators)))
    after = solver.read(solver.advance(stage, state, loads))
    np.testing.assert_allclose(solver.respond(stage, state) + loads @ stage.influence.T, after, atol=1e-9)


def test_old_stages_make_room(operators, reduction, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("simulator.section.reduced.KEPT_STAGES", 2)
    solver = ReducedSection(operators, reduction)
    first = solver.stage(1.0)
    assert solver.stage(1.0) is first
    solver.stage(2.0)
    solver.stage(3.0)
    assert solver.stage(1.0) is not first
    np.testing.assert_array_equal(solver.stage(1.0).influence, first.influence)
