"""Loss coefficients against the correlations collected in fluids."""

from __future__ import annotations

import fluids.filters
import fluids.fittings
import numpy as np
import pytest

from simulator.physics import pipe_losses

REYNOLDS, DIAMETER, FRICTION = 3e4, 0.1, 0.0235
"""A drain pipe of a floor."""


def bends(angle: float, diameters: float) -> list[float]:
    return [
        fluids.fittings.bend_rounded(
            Di=DIAMETER, angle=angle, bend_diameters=diameters, Re=REYNOLDS, fd=FRICTION, method=method
        )
        for method in ("Rennels", "Miller", "Crane", "Ito")
    ]


def mitres(angle: float) -> list[float]:
    return [
        fluids.fittings.bend_miter(angle, Di=DIAMETER, Re=REYNOLDS, method=method)
        for method in ("Rennels", "Miller", "Crane", "Blevins")
    ]


@pytest.mark.parametrize(
    ("name", "handbooks"),
    [
        ("flush entry", [fluids.fittings.entrance_sharp(m) for m in ("Rennels", "Idelchik", "Crane")]),
        ("protruding entry", [0.78, 1.0]),
        (
            "rounded entry",
            [fluids.fittings.entrance_rounded(DIAMETER, 0.015, m) for m in ("Idelchik", "Miller", "Crane")],
        ),
        ("exit", [fluids.fittings.exit_normal()] * 2),
        ("rounded bend", bends(90.0, 1.5)),
        ("tight bend", bends(90.0, 1.0)),
        ("half bend", bends(45.0, 1.5)),
        ("return bend", bends(180.0, 1.5)),
        ("mitred bend", mitres(90.0)),
        ("mitred half bend", mitres(45.0)),
    ],
)  # fmt: skip
def test_fittings_lie_within_the_handbooks(name, handbooks) -> None:
    assert min(handbooks) <= pipe_losses.FITTINGS[name].coefficient <= max(handbooks)


def test_every_fitting_is_tested_and_named() -> None:
    assert len(pipe_losses.FITTINGS) == 10
    assert all(loss.source for loss in pipe_losses.FITTINGS.values())


@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.9])
def test_widening_is_borda_carnot(ratio) -> None:
    expected = fluids.fittings.diffuser_sharp(Di1=ratio, Di2=1.0, method="Rennels")
    assert float(pipe_losses.widening(ratio, 1.0)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("ratio", [0.1, 0.3, 0.5, 0.8])
def test_narrowing_lies_near_the_handbook(ratio) -> None:
    # Rennels' equation starts from 0.57 rather than 0.5 out of a large space.
    expected = fluids.fittings.contraction_sharp(Di1=1.0, Di2=ratio, fd=0.02)
    assert float(pipe_losses.narrowing(1.0, ratio)) == pytest.approx(expected, rel=0.2)


@pytest.mark.parametrize("free", [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8])
def test_grille_against_measured_screens(free) -> None:
    # Blevins' table of square-edged screens.
    measured = fluids.filters.square_edge_screen(free)
    assert float(pipe_losses.grille(free)) == pytest.approx(measured, rel=0.25)


def test_open_grille_costs_nothing() -> None:
    assert float(pipe_losses.grille(1.0)) == 0.0


def test_reference_to_another_pipe() -> None:
    expected = fluids.fittings.change_K_basis(K1=0.7, D1=0.16, D2=0.1)
    np.testing.assert_allclose(pipe_losses.referred(0.7, 0.16, 0.1), expected, rtol=1e-12)


@pytest.mark.parametrize("free", [0.0, -0.1, 1.1, np.nan])
def test_free_share_out_of_range_is_refused(free) -> None:
    with pytest.raises(ValueError, match="free share of a grille must be above 0 and up to 1"):
        pipe_losses.grille(free)


@pytest.mark.parametrize(("name", "degrees"), [("half bend", 45), ("rounded bend", 90), ("return bend", 180)])
def test_bends_by_the_formula_of_their_source(name, degrees) -> None:
    """Ito's formula as the library fluids has it, where duct air usually is: Re 3e4, smooth, radius 1.5 D."""
    friction = 0.0235  # Blasius, 0.3164 Re^-1/4, at that Reynolds number
    expected = fluids.fittings.bend_rounded(Di=0.1, angle=degrees, fd=friction, rc=0.15, Re=3e4, method="Ito")
    assert pipe_losses.FITTINGS[name].coefficient == pytest.approx(expected, rel=0.12)


def test_ends_of_a_pipe() -> None:
    """Exit and entrances of the library fluids: the whole velocity pressure; half of it when flush."""
    assert pipe_losses.FITTINGS["exit"].coefficient == pytest.approx(fluids.fittings.exit_normal())
    # Its sharp entrance is Rennels and Hudson's 0.57, Idelchik's is 0.5.
    assert pipe_losses.FITTINGS["flush entry"].coefficient == pytest.approx(
        fluids.fittings.entrance_sharp(), rel=0.15
    )
