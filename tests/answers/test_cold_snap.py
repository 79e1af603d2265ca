"""The search for the cold that brings something to its limit, against known roots."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from simulator.answers.cold_snap import CLOSE, cold_snap


@pytest.mark.parametrize("slope", [0.05, 0.6, 1.0, 2.5])
@pytest.mark.parametrize("low", [4.0, -3.0, 1.01])
def test_a_straight_line_is_solved_in_few_runs(slope, low) -> None:
    found = cold_snap(lambda shift: low + slope * shift, 1.0, -11.0)
    exact = (1.0 - low) / slope
    if abs(exact) > 80.0:
        assert found.shift is None
        return
    assert found.shift == pytest.approx(exact, abs=CLOSE / slope)
    assert found.outside_low == pytest.approx(-11.0 + exact, abs=CLOSE / slope)
    assert found.runs <= 5


@pytest.mark.parametrize(
    "low",
    [
        lambda shift: 6.0 + 0.5 * shift + 0.004 * shift * abs(shift),
        lambda shift: 3.0 * math.tanh(shift / 6.0) + 0.3 * shift + 2.5,
        lambda shift: 1.0 + (0.1 * shift if shift > -8 else 0.9 * shift + 6.4) - 0.9,
    ],
)
def test_a_bent_line_is_solved_like_a_library_does(low) -> None:
    limit = -1.2
    found = cold_snap(low, limit, 0.0)
    exact = brentq(lambda shift: low(shift) - limit, -60.0, 60.0)
    assert found.shift is not None
    assert abs(low(found.shift) - limit) <= CLOSE
    assert found.shift == pytest.approx(exact, abs=0.3)
    assert found.runs <= 12


def test_what_does_not_care_for_the_cold_is_out_of_reach() -> None:
    assert cold_snap(lambda shift: 5.0, 0.0, -3.0).shift is None


def test_a_known_low_saves_a_run() -> None:
    asked: list[float] = []

    def low(shift: float) -> float:
        asked.append(shift)
        return 2.0 + shift

    cold_snap(low, 0.0, 0.0, known=2.0)
    assert 0.0 not in asked
