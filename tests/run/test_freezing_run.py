"""A case whose outside ground freezes: heat is kept, ice shows, and what cannot be is refused."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.case.checks import check
from simulator.errors import CaseError
from simulator.run.plan import plan
from simulator.section.freezing import FREEZING_POINT, FreezingSection
from tests.run.rigs import Rig, small_case

WET = {
    "weather": {"temperature": "-12 degC"},
    "ground": {
        "outside_width": "80 cm",
        "freezing": True,
        "layers": [{"material": "moist sand", "water": 0.25}],
        "start": {"kind": "uniform", "temperature": "1 degC"},
    },
}
DRY = {**WET, "ground": {**WET["ground"], "freezing": False}}


def test_heat_is_kept_while_ground_freezes() -> None:
    rig = Rig(small_case(WET))
    for _ in rig.run():
        pass
    ledger = rig.state.ledger
    assert ledger.largest_residual < 1e-9
    solver = rig.coupling.solver
    assert isinstance(solver, FreezingSection)
    assert solver.ice(rig.state.section).max() > 0.05


def test_freezing_holds_the_ground_near_the_freezing_point() -> None:
    wet, dry = Rig(small_case(WET)), Rig(small_case(DRY))
    for rig in (wet, dry):
        for _ in rig.run():
            pass
    outside = np.abs(wet.prepared.operators.cell_across) > 1.0
    coldest = [rig.coupling.solver.field(rig.state.section)[:, outside].min() for rig in (wet, dry)]
    assert coldest[0] > coldest[1] + 0.2


def test_settling_keeps_the_heat_of_every_cell() -> None:
    operators = plan(small_case(WET)).operators
    solver = FreezingSection(operators, 280.0)
    rng = np.random.default_rng(5)
    state = np.concatenate(
        (
            rng.uniform(-30.0, 20.0, (3, operators.cells)),
            rng.uniform(0.0, 1.0, (3, operators.cells)) * operators.water * 334e6,
        ),
        axis=1,
    )
    settled = solver.settle(state)
    np.testing.assert_allclose(solver.stored(settled), solver.stored(state), rtol=1e-12)
    ice, kelvin = solver.ice(settled), solver.field(settled) + 280.0
    wet = operators.water > 0.0
    assert (kelvin[:, wet][ice[:, wet] > 1e-9] <= FREEZING_POINT + 1e-9).all()
    assert (kelvin[:, wet][ice[:, wet] < 1.0 - 1e-9] >= FREEZING_POINT - 1e-9).all()
    np.testing.assert_array_equal(solver.settle(settled), settled)


def test_freezing_without_water_is_refused() -> None:
    with pytest.raises((CaseError, ValueError), match="water"):
        small_case({"ground": {"freezing": True}})


def test_freezing_needs_the_full_mesh() -> None:
    found = check(small_case(WET, {"numerics": {"solver": "reduced"}}))
    assert any("full mesh" in problem.problem and problem.path == ("numerics", "solver") for problem in found)
    assert not check(small_case(WET))
