"""Coils against the library `ht`, limits, and a march along the coil."""

from __future__ import annotations

import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm

from simulator.physics.coils import ARRANGEMENTS, conductance_at, effectiveness

AIR_SMALLER = {
    "counter flow": "counterflow",
    "parallel flow": "parallel",
    "cross flow": "crossflow",
    "cross flow, air mixed": "crossflow, mixed Cmin",
    "cross flow, water mixed": "crossflow, mixed Cmax",
}


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@pytest.mark.parametrize("units", [0.05, 0.5, 1.0, 2.0, 5.0, 20.0])
@pytest.mark.parametrize("ratio", [0.01, 0.25, 0.5, 0.9, 1.0])
def test_against_ht(arrangement, units, ratio) -> None:
    ours = float(effectiveness(arrangement, units * 100.0, 100.0, 100.0 / ratio))
    theirs = ht.effectiveness_from_NTU(units, ratio, subtype=AIR_SMALLER[arrangement])
    assert ours == pytest.approx(theirs, rel=1e-7)


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
@given(units=st.floats(0.0, 1e6), ratio=st.floats(0.0001, 1.0), swapped=st.booleans())
def test_no_coil_beats_counter_flow_or_the_second_law(arrangement, units, ratio, swapped) -> None:
    streams = (100.0 / ratio, 100.0) if swapped else (100.0, 100.0 / ratio)
    ours = float(effectiveness(arrangement, units * 100.0, *streams))
    best = float(effectiveness("counter flow", units * 100.0, *streams))
    worst = float(effectiveness("parallel flow", units * 100.0, *streams))
    assert 0.0 <= worst <= ours + 1e-12
    assert ours <= best + 1e-12
    assert best <= 1.0


@pytest.mark.parametrize("arrangement", ARRANGEMENTS)
def test_one_stream_much_larger(arrangement) -> None:
    # A stream that hardly warms: 1 - exp(-units) in every arrangement.
    ours = effectiveness(arrangement, 150.0, 100.0, 1e12)
    assert float(ours) == pytest.approx(1.0 - np.exp(-1.5), rel=1e-6)


@pytest.mark.parametrize(
    ("arrangement", "ratio", "limit"),
    [
        ("counter flow", 0.6, 1.0),
        ("parallel flow", 0.6, 1.0 / 1.6),
        ("cross flow", 0.6, 1.0),
        ("cross flow, air mixed", 0.6, 1.0 - np.exp(-1.0 / 0.6)),
        ("cross flow, water mixed", 0.6, (1.0 - np.exp(-0.6)) / 0.6),
    ],
)
def test_endless_coil(arrangement, ratio, limit) -> None:
    assert float(effectiveness(arrangement, 1e6, 100.0, 100.0 / ratio)) == pytest.approx(limit, rel=1e-6)


def test_parallel_flow_is_the_solution_of_its_two_equations() -> None:
    conductance, air, water = 180.0, 90.0, 260.0
    system = conductance * np.array([[-1.0 / air, 1.0 / air], [1.0 / water, -1.0 / water]])
    out = expm(system) @ np.array([1.0, 0.0])
    assert float(effectiveness("parallel flow", conductance, air, water)) == pytest.approx(1.0 - out[0])


def test_conductance_follows_both_films() -> None:
    assert conductance_at(150.0, 0.8, 0.15, 0.1, 0.15, 0.1) == pytest.approx(150.0)
    # All resistance on one side: that side's power alone, 0.6 outside [Kays & London], 0.8 inside.
    assert conductance_at(150.0, 1.0, 0.075, 0.1, 0.15, 0.1) == pytest.approx(150.0 * 0.5**0.6)
    assert conductance_at(150.0, 0.0, 0.15, 0.2, 0.15, 0.1) == pytest.approx(150.0 * 2.0**0.8)
    assert conductance_at(150.0, 0.8, 0.0, 0.0) == pytest.approx(150.0)
    assert conductance_at(150.0, 0.8, 0.0, 0.1, 0.15, 0.1) == 0.0
    assert conductance_at(150.0, 0.0, 0.15, 0.0, 0.15, 0.1) == pytest.approx(150.0 * 0.05**0.8)


def test_bad_input_is_told() -> None:
    with pytest.raises(ValueError, match="must be one of counter flow"):
        effectiveness("any", 1.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="above 0"):
        effectiveness("counter flow", 1.0, 0.0, 1.0)
