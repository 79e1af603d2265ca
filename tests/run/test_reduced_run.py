"""Reduced sections against the full mesh, over a run with switches."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.errors import SolverError
from tests.run.rigs import SWITCHED, Rig, small_case, told

FINE = {
    "numerics": {"cell_scale": 1.0, "stations": 4},
    "ground": {"outside_width": "1 m"},
    "floor": {"edge_wall": "20 cm"},
}


@pytest.mark.parametrize("tolerance", ["20 mK", "5 mK", "1 mK"])
def test_reduced_stays_within_its_tolerance_of_full(tolerance: str) -> None:
    """Floor and room to the tolerance itself; air at the exit too while the fan carries heat."""
    allowed = float(tolerance.split(maxsplit=1)[0]) / 1000.0
    full, reduced = (
        told(SWITCHED, FINE, {"numerics": {"solver": solver, "tolerance": f"{allowed} K"}})
        for solver in ("direct", "reduced")
    )
    assert full.summary is not None
    assert reduced.summary is not None
    assert full.summary["solver"] == "full mesh, direct"
    assert reduced.summary["solver"] == "reduced"
    assert reduced.summary["states"] < full.summary["states"] / 10
    assert reduced.summary["reduction_error"] <= allowed
    for name in (
        "floor_station_temperature",
        "floor_lowest_temperature",
        "floor_highest_temperature",
        "room_temperature",
    ):
        difference = np.abs(full[name] - reduced[name]).max()
        assert 0.0 < difference <= allowed, name
    on = full["fan_share"] > 0.0
    assert np.abs(full["exit_temperature"] - reduced["exit_temperature"])[on].max() <= allowed
    handled = full["ledger_handled"][-1]
    assert abs(full["ledger_duct"][-1] - reduced["ledger_duct"][-1]) <= 1e-3 * handled


def test_a_tolerance_out_of_reach_is_refused_or_falls_back() -> None:
    out_of_reach = {"numerics": {"tolerance": "1e-12 K", "solver": "reduced"}}
    with pytest.raises(
        SolverError, match=r'misses its tolerance: .* instead of 1e-12 K.*numerics.solver = "direct"'
    ):
        Rig(small_case(FINE, out_of_reach))
    auto = Rig(small_case(FINE, out_of_reach, {"numerics": {"solver": "auto"}}))
    assert auto.coupling.solver.name == "full mesh, direct"
