"""Moist air: states, steam pressure and a condensing wall.

Psychrometric states by psychrolib 2.5 (equations of the ASHRAE Handbook, Fundamentals) and saturation
pressures of IAPWS-95, both evaluated apart from this program at 101325 Pa. Lewis relation on a condensing
wall: worked by hand from Chilton and Colburn (1934) with handbook diffusivities.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest

from simulator.physics import moist_air
from tests.published.registry import RECOMPUTED, Row, check, verify

ZERO = 273.15
# degC, relative humidity: humidity ratio [g/kg], dew point [degC], wet bulb [degC], enthalpy [kJ/kg].
STATES = {
    (20, 0.5): (7.262, 9.272, 13.783, 38.55),
    (25, 0.5): (9.881, 13.864, 17.889, 50.32),
    (15, 0.9): (9.566, 13.374, 14.010, 39.28),
    (5, 0.8): (4.314, 1.841, 3.588, 15.86),
    (30, 0.7): (18.795, 23.928, 25.503, 78.24),
    (60, 0.1): (12.488, 17.453, 28.991, 92.98),
}
STEAM = {10: 1228.20, 20: 2339.32, 40: 7384.94, 60: 19946.4}


@check("psychrolib 2.5, equations of the ASHRAE Handbook, Fundamentals", RECOMPUTED)
def states() -> Iterable[Row]:
    for (celsius, share), (ratio, dew, wet, content) in STATES.items():
        kelvin = celsius + ZERO
        ours = float(moist_air.humidity_ratio(share, kelvin))
        at = f"air of {celsius} degC, {100 * share:.0f} %"
        yield Row(f"{at}: humidity ratio", 1e3 * ours, ratio, 0.002, "g/kg", 3)
        yield Row(f"{at}: dew point", float(moist_air.dew_point(ours)) - ZERO, dew, 0.003, "degC", 3)
        yield Row(f"{at}: wet bulb", float(moist_air.wet_bulb(kelvin, ours)) - ZERO, wet, 0.003, "degC", 3)
        yield Row(
            f"{at}: enthalpy", 1e-3 * float(moist_air.enthalpy(kelvin, ours)), content, 0.01, "kJ/kg", 2
        )


@check("IAPWS-95 by CoolProp 8", RECOMPUTED)
def steam_pressure() -> Iterable[Row]:
    for celsius, published in STEAM.items():
        ours = float(moist_air.saturation_pressure(celsius + ZERO))
        yield Row(f"steam pressure at {celsius} degC", ours, published, round(5e-4 * published, 1), "Pa", 1)


def wall_rows(film: float = 8.0) -> Iterator[Row]:
    ratio = float(moist_air.humidity_ratio(0.7, 25.0 + ZERO))
    flux = moist_air.flux_to_wet_wall(film, 25.0 + ZERO, ratio, 12.0 + ZERO)
    at = "wall of 12 degC in air of 25 degC, 70 %"
    yield Row(f"{at}: sensible heat", flux.sensible, 104.0, 0.1, "W/m2", 1)
    # Handbooks differ by a few per cent over the diffusivity of vapour.
    yield Row(f"{at}: latent heat", flux.latent, 110.2, 2.2, "W/m2", 1)
    yield Row(f"{at}: water", 3.6e6 * flux.water, 160.4, 3.2, "g/(m2.h)", 1)


@check("Lewis relation, Chilton and Colburn (1934), Le^(2/3) 0.914", RECOMPUTED)
def condensing_wall() -> Iterable[Row]:
    yield from wall_rows()


@pytest.mark.parametrize("checked", [states, steam_pressure, condensing_wall], ids=lambda each: each.name)
def test_moist_air(checked) -> None:
    checked.verify()


def test_planted_error_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(wall_rows(film=8.3))
