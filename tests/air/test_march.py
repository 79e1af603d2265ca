"""Conductance from air to wall, against the physics functions it is made of."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.air.march_kernels import air_to_wall
from simulator.air.path import AirPath, parallel_path
from simulator.physics import internal_flow
from tests.examples import examples

DIAMETER, PIPE = 0.1, 0.08
EDGES = np.array([0.0, 0.5, 2.0, 6.0])


def filled(
    flows: np.ndarray,
    air: np.ndarray,
    pinned: float,
    pipe: float = PIPE,
    path: AirPath | None = None,
    **wall: float,
) -> tuple[np.ndarray, np.ndarray]:
    path = path or parallel_path(np.ones(flows.size), EDGES)
    film, conductance = np.full(air.shape, -1.0), np.full(air.shape, -1.0)
    air_to_wall(
        air,
        flows,
        path.begin,
        path.end,
        path.segment_branch,
        path.segment_lane,
        path.segment_station,
        DIAMETER,
        pipe,
        pinned,
        conductance,
        film,
        **wall,
    )
    return conductance, film


@settings(max_examples=examples(60))
@given(
    st.lists(st.floats(1e-4, 0.3), min_size=2, max_size=2),
    st.lists(st.floats(250.0, 400.0), min_size=6, max_size=6),
)
def test_films_are_those_of_the_correlations_at_each_segment(flows: list[float], air: list[float]) -> None:
    temperature = np.array(air).reshape(3, 2)
    conductance, film = filled(np.array(flows), temperature, math.nan)
    for station in range(3):
        for lane in range(2):
            expected = float(
                internal_flow.film_coefficient(
                    flows[lane], temperature[station, lane], DIAMETER, EDGES[station], EDGES[station + 1]
                )
            )
            assert film[station, lane] == pytest.approx(expected, rel=1e-12)
            series = 1.0 / (math.pi * DIAMETER * expected) + PIPE
            assert conductance[station, lane] == pytest.approx(1.0 / series, rel=1e-12)


def test_pinned_film_wins_and_still_air_has_none() -> None:
    air = np.full((3, 2), 300.0)
    conductance, film = filled(np.array([0.02, 0.0]), air, 12.0)
    np.testing.assert_allclose(film, 12.0)
    np.testing.assert_allclose(conductance, 1.0 / (1.0 / (math.pi * DIAMETER * 12.0) + PIPE))
    conductance, film = filled(np.array([0.02, 0.0]), air, math.nan)
    assert (film[:, 0] > 0.0).all()
    np.testing.assert_array_equal(film[:, 1], 0.0)
    np.testing.assert_array_equal(conductance[:, 1], 0.0)


@pytest.mark.parametrize("pinned", [0.0, 1e6])
def test_ends_of_the_film_range(pinned: float) -> None:
    """No film carries no heat; a perfect one leaves the pipe wall alone."""
    conductance, _ = filled(np.array([0.02]), np.full((3, 1), 300.0), pinned)
    np.testing.assert_allclose(conductance, 0.0 if pinned == 0.0 else 1.0 / PIPE, rtol=1e-4)
    bare, _ = filled(np.array([0.02]), np.full((3, 1), 300.0), pinned, pipe=0.0)
    np.testing.assert_allclose(bare, math.pi * DIAMETER * pinned)


def test_ribbed_wall_gains_by_its_friction() -> None:
    """Norris (1970), from memory: Nu / Nu_smooth = (f / f_smooth)^(0.68 Pr^0.215), f / f_smooth up to 4.

    Friction by `fluids`, Prandtl number by CoolProp.
    """
    air = np.full((3, 2), 300.0)
    flows = np.array([0.03, 0.06])
    _, smooth = filled(flows, air, math.nan)
    for enhancement in (0.4, 1.0):
        _, ribbed = filled(flows, air, math.nan, relative_roughness=0.015, enhancement=enhancement)
        for lane, flow in enumerate(flows):
            reynolds = 4.0 * flow / (math.pi * DIAMETER * PropsSI("V", "T", 300.0, "P", 101325.0, "Air"))
            factors = [fluids.friction.Colebrook(reynolds, rough) for rough in (0.015, 0.0)]
            prandtl = PropsSI("PRANDTL", "T", 300.0, "P", 101325.0, "Air")
            bound = (factors[0] / factors[1]) ** (0.68 * prandtl**0.215)
            gain = 1.0 + enhancement * (bound - 1.0)
            np.testing.assert_allclose(ribbed[:, lane] / smooth[:, lane], gain, rtol=2e-3)


def test_no_roughness_is_a_smooth_wall() -> None:
    air, flows = np.full((3, 1), 300.0), np.array([0.05])
    _, smooth = filled(flows, air, math.nan)
    for wall in ({"enhancement": 1.0}, {"relative_roughness": 0.05}):
        np.testing.assert_array_equal(filled(flows, air, math.nan, **wall)[1], smooth)
