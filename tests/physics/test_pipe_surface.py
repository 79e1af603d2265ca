"""Friction and film of ribbed and rough pipe against fluids and the handbook formulas."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import internal_flow, pipe_surface
from simulator.physics import pipe_surface_kernels as kernels

PRANDTL = 0.71


@pytest.mark.parametrize(
    ("manning", "friction"),
    # f = 8 g n^2 / R^(1/3) for a pipe of 0.1 m, worked apart from this program.
    [(0.012, 0.0386), (0.015, 0.0604), (0.016, 0.0687), (0.018, 0.0870)],
)
def test_manning_friction(manning, friction) -> None:
    assert float(pipe_surface.manning_friction(manning, 0.1)) == pytest.approx(friction, abs=1e-4)


@given(manning=st.floats(0.009, 0.025), diameter=st.floats(0.05, 0.6), slope=st.floats(1e-5, 0.1))
def test_manning_and_darcy_give_the_same_head(manning, diameter, slope) -> None:
    # fluids.V_Manning: an independent statement of the Manning formula.
    velocity = fluids.open_flow.V_Manning(Rh=diameter / 4.0, S=slope, n=manning)
    friction = float(pipe_surface.manning_friction(manning, diameter))
    head = friction / diameter * velocity**2 / (2.0 * fluids.constants.g)
    assert head == pytest.approx(slope, rel=1e-9)


@given(manning=st.floats(0.012, 0.025), diameter=st.floats(0.05, 0.6))
def test_rough_flow_of_colebrook_ends_at_the_manning_friction(manning, diameter) -> None:
    roughness = float(pipe_surface.roughness_of_manning(manning, diameter))
    expected = float(pipe_surface.manning_friction(manning, diameter))
    assert fluids.friction.Colebrook(1e9, roughness) == pytest.approx(expected, rel=1e-4)
    # At the flows of a floor (Re 2e4) viscosity still adds some 4 % at most in the roughest pipe.
    found = float(internal_flow.friction_factor(2e4, roughness))
    assert expected < found < 1.35 * expected


def test_ribbed_drain_pipe_at_the_flow_of_a_floor() -> None:
    # Colebrook with 1.5 mm in 0.1 m: 0.0479 at Re 1e4, 0.0452 at 3e4, recomputed.
    np.testing.assert_allclose(internal_flow.friction_factor([1e4, 3e4], 0.015), [0.0479, 0.0452], atol=1e-4)
    # n 0.015 against smooth at Re 2e4: 2.33 times the friction in fully rough flow.
    smooth = float(internal_flow.friction_factor(2e4))
    ratio = float(pipe_surface.manning_friction(0.015, 0.1)) / smooth
    assert ratio == pytest.approx(2.33, abs=0.01)
    # Norris, from memory: (f/f_s)^(0.68 Pr^0.215), up to 1.7 there.
    assert ratio ** (0.68 * PRANDTL**0.215) == pytest.approx(1.7, abs=0.02)
    found = float(pipe_surface.film_factor(2e4, PRANDTL, pipe_surface.roughness_of_manning(0.015, 0.1), 1.0))
    # Friction of the ribbed pipe itself is 4 % over its fully rough limit at this flow.
    assert found == pytest.approx(1.7, rel=0.03)


@given(reynolds=st.floats(0.0, 2e5), roughness=st.floats(0.0, 0.1), enhancement=st.floats(0.0, 1.0))
def test_film_factor_moves_between_smooth_and_the_bound(reynolds, roughness, enhancement) -> None:
    found = float(pipe_surface.film_factor(reynolds, PRANDTL, roughness, enhancement))
    bound = kernels.rough_film_bound(reynolds, PRANDTL, roughness)
    assert found == pytest.approx(1.0 + enhancement * (bound - 1.0), rel=1e-12)
    # 4^(0.68 * 0.71^0.215) = 2.40: no rough wall gains more.
    assert 1.0 <= bound <= 2.41
    if reynolds <= 2300.0:
        assert found == 1.0


@pytest.mark.parametrize("roughness", [0.001, 0.0342, 0.0745])
@pytest.mark.parametrize("enhancement", [0.3, 1.0])
def test_film_and_friction_have_no_jump_between_0_and_200000(roughness, enhancement) -> None:
    sweep = np.concatenate(([0.0], np.geomspace(1e-3, 2e5, 20000)))
    film = internal_flow.local_nusselt_over(sweep, PRANDTL, 0.1, 0.5, 1.0)
    film = film * pipe_surface.film_factor(sweep, PRANDTL, roughness, enhancement)
    assert np.all(np.isfinite(film))
    # Steps of 0.1 % in Re; nothing grows faster than its fifth power.
    assert np.max(np.abs(np.diff(film[1:])) / film[1:-1]) < 0.006


@pytest.mark.parametrize("call", [
    lambda: pipe_surface.manning_friction(0.0, 0.1),
    lambda: pipe_surface.manning_friction(0.015, -0.1),
    lambda: pipe_surface.roughness_of_friction(np.inf),
])  # fmt: skip
def test_arguments_out_of_range_are_refused(call) -> None:
    with pytest.raises(ValueError, match="must be above 0 and finite everywhere"):
        call()


@pytest.mark.parametrize("enhancement", [-0.1, 1.1, np.nan])
def test_enhancement_out_of_range_is_refused(enhancement) -> None:
    with pytest.raises(ValueError, match="enhancement must be 0 to 1 everywhere"):
        pipe_surface.film_factor(1e4, PRANDTL, 0.01, enhancement)
