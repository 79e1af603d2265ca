"""Film of slow combustion gas in a lying pipe.

Laminar flow with free convection across it: the equations themselves, solved by finite volumes apart from
this program (`tests/physics/lying_pipe.py`). J. P. Holman, Heat Transfer, example of combined free and forced
convection with air, from memory. Emissivities: T. F. Smith, Z. F. Shen and J. N. Friedman, J. Heat Transfer
104 (1982) 602-608, weighted sums of grey gases, from memory; they and the program's formula each stand for
the same spectra within some 10 %, the grey gases less well in thin layers.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest

from simulator.physics.combustion import AIR_SHARES
from simulator.physics.flue_film_kernels import convection_film
from simulator.physics.flue_gas import mixture
from simulator.physics.flue_gas_radiation_kernels import carbon_dioxide_emissivity, emissivity
from simulator.physics.mixed_flow_kernels import blended_across, free_nusselt
from tests.physics.lying_pipe import nusselt_numbers
from tests.published.registry import MEMORY, RECOMPUTED, Row, check, verify

ATMOSPHERE = 101325.0
DRIVES = (1.0, 1e3, 1e4, 1e5, 1e6, 1e7)
STEPS = (1.0, 1e3, 3e3, 1e4, 3e4, 1e5, 3e5, 1e6, 3e6, 1e7)
"""Drives at which the flow is solved: from one decade to the next Newton's method may lose its way."""
DEVELOPED = {True: 48.0 / 11.0, False: 3.66}


def laminar_rows(*, even_heat: bool, planted: float = 1.0) -> Iterator[Row]:
    word = "even heat" if even_heat else "wall of one temperature"
    # Beyond, a wall of one temperature needs finer cells.
    steps = [step for step in STEPS if even_heat or step <= DRIVES[-2]]
    for drive, (rayleigh, nusselt) in zip(
        steps, nusselt_numbers(steps, 0.7, 20, even_heat=even_heat), strict=True
    ):
        if drive not in DRIVES:
            continue
        ours = blended_across(DEVELOPED[even_heat], free_nusselt(planted * rayleigh))
        # One law serves both ways of heating: near the solution for even heat, up to a sixth under the other.
        tolerance = (0.04 if even_heat else 0.18) * nusselt
        yield Row(f"lying pipe, {word}, Ra {rayleigh:.2g}: Nusselt number", ours, nusselt, tolerance, "", 2)


@check("laminar flow with buoyancy, Pr 0.7, finite volumes of the tests", RECOMPUTED)
def laminar_even_heat() -> Iterable[Row]:
    yield from laminar_rows(even_heat=True)


@check("laminar flow with buoyancy, Pr 0.7, finite volumes of the tests", RECOMPUTED)
def laminar_even_wall() -> Iterable[Row]:
    yield from laminar_rows(even_heat=False)


def holman_rows(speed: float = 0.3) -> Iterator[Row]:
    """Air of 27 degC at 0.3 m/s in a lying tube of 25 mm by 0.4 m at 140 degC: the book finds Nu = 7.70.

    The book's is a mean by a formula for the whole tube; here the air is marched in 100 pieces, and the
    tube's Nusselt number follows from the exit by the logarithmic mean difference.
    """
    air = mixture(AIR_SHARES)
    arrays = (air.low, air.high, air.viscosity_fit, air.conductivity_fit)
    diameter, length, pieces, wall = 0.025, 0.4, 100, 413.15
    flow = float(air.density(300.15)) * speed * math.pi * diameter**2 / 4.0
    kelvin = 300.15
    edges = np.linspace(0.0, length, pieces + 1)
    capacity = flow * float(air.heat_capacity(356.0))
    for begin, end in itertools.pairwise(edges):
        film = convection_film(flow, kelvin, wall, diameter, begin, end, ATMOSPHERE, air.made, *arrays)
        kelvin = wall + (kelvin - wall) * math.exp(-film * math.pi * diameter * (end - begin) / capacity)
    transfer = -math.log((kelvin - wall) / (300.15 - wall)) * capacity / (math.pi * diameter * length)
    ours = transfer * diameter / float(air.conductivity(356.5))
    # Two formulas for one thing, and their data scatter by as much.
    yield Row("air in a lying tube at 140 degC: Nusselt number", ours, 7.70, 1.2, "", 2)


@check("Holman, Heat Transfer, combined convection with air in a tube", MEMORY)
def holman() -> Iterable[Row]:
    yield from holman_rows()


# Absorption [1/(atm.m)] and polynomials of the weights in rising powers of the temperature [K].
EVEN_MIX = (
    (0.4303, (5.150e-1, -2.303e-4, 0.9779e-7, -1.494e-11)),
    (7.055, (0.7749e-1, 3.399e-4, -2.297e-7, 3.770e-11)),
    (178.1, (1.907e-1, -1.824e-4, 0.5608e-7, -0.5122e-11)),
)
TWICE_VAPOUR = (
    (0.4201, (6.508e-1, -5.551e-4, 3.029e-7, -5.353e-11)),
    (6.516, (-0.2504e-1, 6.112e-4, -3.882e-7, 6.528e-11)),
    (131.9, (2.718e-1, -3.118e-4, 1.221e-7, -1.612e-11)),
)
DIOXIDE = (
    (0.3966, (0.4334e-1, 2.620e-4, -1.560e-7, 2.565e-11)),
    (15.64, (-0.4814e-1, 2.822e-4, -1.794e-7, 3.274e-11)),
    (394.3, (0.5492e-1, 0.1087e-4, -0.3500e-7, 0.9123e-11)),
)


def grey_gases(gases: tuple[tuple[float, tuple[float, ...]], ...], kelvin: float, path: float) -> float:
    return float(
        sum(
            np.polynomial.polynomial.polyval(kelvin, weights) * -math.expm1(-absorption * path)
            for absorption, weights in gases
        )
    )


def radiation_rows(planted: float = 1.0) -> Iterator[Row]:
    """Paths [atm.m] are those of both gases together, shares 0.1 each or 0.2 of vapour to 0.1."""
    for kelvin in (800.0, 1000.0, 1200.0, 1600.0):
        for path in (0.026, 0.1, 0.3, 1.0):
            at = f"{kelvin:.0f} K, {path:g} atm.m"
            published = grey_gases(EVEN_MIX, kelvin, path)
            ours = emissivity(kelvin * planted, path / 0.2, 0.1, 0.1, ATMOSPHERE)
            yield Row(f"vapour to dioxide 1, {at}: emissivity", ours, published, 0.12 * published, "", 4)
            published = grey_gases(TWICE_VAPOUR, kelvin, path)
            ours = emissivity(kelvin * planted, path / 0.3, 0.2, 0.1, ATMOSPHERE)
            yield Row(f"vapour to dioxide 2, {at}: emissivity", ours, published, 0.12 * published, "", 4)


@check("Smith, Shen & Friedman, J. Heat Transfer 104 (1982) 602", MEMORY)
def radiation() -> Iterable[Row]:
    yield from radiation_rows()
    # Thin cold layers, as in a flue run: the grey gases lie higher.
    for kelvin, path in ((600.0, 0.03), (600.0, 0.1), (600.0, 0.3), (1000.0, 0.03), (1000.0, 0.1)):
        published = grey_gases(DIOXIDE, kelvin, path)
        ours = carbon_dioxide_emissivity(path * 101.325, kelvin, 0.0, ATMOSPHERE)
        at = f"{kelvin:.0f} K, {path:g} atm.m"
        yield Row(f"carbon dioxide alone, {at}: emissivity", ours, published, 0.1 * published, "", 4)


@pytest.mark.parametrize(
    "checked", [laminar_even_heat, laminar_even_wall, holman, radiation], ids=lambda each: each.name
)
def test_film_of_a_flue(checked) -> None:
    checked.verify()


def test_planted_errors_are_found() -> None:
    with pytest.raises(AssertionError):
        verify(laminar_rows(even_heat=True, planted=1.5))
    with pytest.raises(AssertionError):
        verify(radiation_rows(planted=1.15))
    with pytest.raises(AssertionError):
        verify(holman_rows(speed=1.0))
