"""The house over one step: by hand, by an independent full balance, and closed to rounding in any state."""

from __future__ import annotations

import math

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from simulator.house import house_kernels as kernels
from simulator.physics.moist_air import saturation_ratio
from tests.examples import examples
from tests.house.houses import ACCOUNT, SIGMA, faces_by_root, house, natural, step, weather


def test_single_cover_by_hand() -> None:
    # One upright sheet of 10 m2 between 20 degC inside (floor too) and 0 degC outside, wind 4 m/s, no sky.
    # Each balance is written down with the temperatures found.
    fixed = house(emissivity=0.84, floor_area=200.0, floor_film=1e3)
    inputs = weather(fixed)
    found = step(fixed, inputs)
    inner, outer = found.inside[0], found.outside[0]
    convection = 1.31 * (293.15 - inner) ** (4 / 3)
    # A small wall among walls of 20 degC and 0.9: two grey surfaces.
    pair = 1 / (1 / 0.84 + 10.0 / 200.0 * (1 / 0.9 - 1))
    radiation = pair * SIGMA * (293.15**4 - inner**4)
    passing = (inner - outer) / 0.004
    away = 20.0 * (outer - 273.15) + 0.84 * SIGMA * (outer**4 - 273.15**4)
    assert convection + radiation == pytest.approx(passing, rel=5e-3)
    assert passing == pytest.approx(away, rel=1e-6)
    assert found.flows[kernels.COVER_LOSS] + found.flows[kernels.SKY_LOSS] == pytest.approx(
        3000 * away, rel=1e-6
    )


CASES = {
    "one sheet": ({}, {}),
    "glass and a wall": (
        {"area": (14.0, 40.0), "resistance": (0.004, 2.5), "tilt": (35.0, 90.0)},
        {"sky": 255.0, "wind": 2.0},
    ),
    "roof warmer than the room": (
        {"area": (20.0, 30.0), "resistance": (0.003, 1.0), "tilt": (0.0, 90.0), "sun_inside": (0.5, 0.0)},
        {"outside": 295.0, "sky": 285.0, "taken": (400.0, 500.0), "let_in": (600.0, 0.0), "wind": 0.0},
    ),
    "night cover half on": (
        {"area": (14.0, 12.0), "resistance": (0.004, 0.004), "tilt": (35.0, 90.0), "cover": (0.3, 0.0)},
        {"sky": 250.0, "cover": 0.5},
    ),
    "night cover by day": (
        {"area": (14.0, 12.0), "resistance": (0.004, 0.004), "tilt": (35.0, 90.0), "cover": 0.3},
        {"cover": 1.0, "let_in": 500.0, "taken": 40.0},
    ),
}


@pytest.mark.parametrize(("build", "drive"), CASES.values(), ids=CASES.keys())
def test_faces_by_an_independent_solution(build, drive) -> None:
    # A film of the floor that never is less than its long waves.
    fixed = house(floor_film=1e3, **build)
    inputs = weather(fixed, **drive)
    found = step(fixed, inputs, guess=291.0, floor=288.0)
    inner, outer, star = faces_by_root(fixed, inputs, room=291.0, floor=288.0)
    np.testing.assert_allclose(found.inside, inner, atol=1e-5)
    np.testing.assert_allclose(found.outside, outer, atol=1e-5)
    assert found.star == pytest.approx(star, abs=1e-5)
    # Heat to the air and the floor, from those faces.
    sun = float(inputs[kernels.HEAD : kernels.HEAD + fixed.area.size] @ fixed.area)
    if inputs[kernels.COVER] > 0.0:
        bare = 1.0 - np.where(fixed.cover_resistance > 0.0, inputs[kernels.COVER], 0.0)
        sun = float(inputs[kernels.HEAD : kernels.HEAD + fixed.area.size] @ (bare * fixed.area))
    long_wave = fixed.floor_radiant * SIGMA * (star**4 - 288.0**4)
    redirected = fixed.floor_radiant * SIGMA * (288.0**2 + star**2) * (288.0 + star) * (291.0 - 288.0)
    to_air = sum(-a * natural(291.0, t, c) for a, t, c in zip(fixed.area, inner, fixed.cosine, strict=True))
    to_air += 0.5 * sun + redirected
    assert found.flows[kernels.TO_ROOM] / 300.0 == pytest.approx(to_air, abs=1e-3)
    assert found.flows[kernels.TO_FLOOR] / 300.0 == pytest.approx(
        0.5 * sun + long_wave - redirected, abs=1e-3
    )


def test_clear_night_cools_the_cover_under_the_outside_air() -> None:
    # A sheet that loses to a sky of -20 degC in still air falls under the air inside and, over cold ground,
    # outside.
    fixed = house(tilt=20.0, floor_film=10.0)
    cold = step(fixed, weather(fixed, sky=253.15, wind=0.0), guess=276.15, floor=276.15)
    assert cold.inside[0] < 273.15 < 276.15
    cloudy = step(fixed, weather(fixed, sky=272.15, wind=0.0), guess=276.15, floor=276.15)
    assert cloudy.inside[0] > cold.inside[0] + 2.0
    assert cold.flows[kernels.SKY_LOSS] > 0.0 > cold.flows[kernels.COVER_LOSS]


def test_night_cover_saves() -> None:
    # 0.3 m2.K/W inside single glass: from about 5.8 to 1/(1/5.8 + 0.3) = 2.1 W/(m2.K).
    fixed = house(cover=0.3, floor_area=200.0)
    losses = []
    for share in (0.0, 1.0):
        found = step(fixed, weather(fixed, cover=share))
        losses.append((found.flows[kernels.COVER_LOSS] + found.flows[kernels.SKY_LOSS]) / 300.0 / 10.0 / 20.0)
    assert 1.0 / losses[1] - 1.0 / losses[0] == pytest.approx(0.3, rel=0.1)


def test_straight_line_over_the_room() -> None:
    fixed = house(
        (14.0, 40.0), (0.004, 2.5), tilt=(35.0, 90.0), mass_capacity=[8e5], mass_area=[4.0], volume=60.0,
        air_changes=1 / 3600, floor_film=9.0,
    )  # fmt: skip
    inputs = weather(fixed, sky=255.0, let_in=(100.0, 0.0))
    guess = 291.0
    for room in (281.0, 291.0, 301.0):
        found = step(fixed, inputs, guess=guess, floor=288.0, masses=[295.0], room=room)
        line = found.out[kernels.GAIN] + found.out[kernels.LOSS] * (273.15 - room)
        assert found.flows[kernels.TO_ROOM] == pytest.approx(300.0 * line, abs=1e-4)
    # The line all but touches the curve: even where the room holds no heat, each new guess is twenty times
    # better.
    line = step(fixed, inputs, guess=guess, floor=288.0, masses=[295.0], room=guess + 1.0)
    curve = step(fixed, inputs, guess=guess + 1.0, floor=288.0, masses=[295.0])
    missed = abs(line.flows[kernels.TO_ROOM] - curve.flows[kernels.TO_ROOM]) / 300.0
    assert missed < 0.05 * (found.out[kernels.LOSS] + fixed.floor_film * fixed.floor_area)
    assert found.passes > 0


def test_mass_follows_the_exact_curve() -> None:
    # A mass alone with the room and walls at the same temperature: exponential, at any length of step.
    plain = {"mass_area": [5.0], "floor_area": 1e4, "floor_film": 8.0, "mass_film": 4.0}
    fixed = house((50.0,), (1e3,), mass_capacity=[4e5], **plain)
    constant = 4e5 / 20.0
    for length in (60.0, 3600.0, 1e6):
        inputs = weather(fixed, length=length, outside=290.0)
        found = step(fixed, inputs, guess=290.0, floor=290.0, masses=[310.0])
        # The large floor holds the node all but still.
        assert found.masses[0] - 290.0 == pytest.approx(
            20.0 * math.exp(-length / constant), rel=2e-3, abs=2e-3
        )
    quick = house((50.0,), (1e3,), mass_capacity=[40.0], **plain)
    settled = step(quick, weather(quick, outside=290.0), guess=290.0, floor=290.0, masses=[310.0])
    assert settled.masses[0] == pytest.approx(290.0, abs=2e-3)


def test_masses_converge_to_the_course_by_scipy() -> None:
    # Two masses under sun for two hours in steps of 300 s, against LSODA on the same house's heat flows.
    fixed = house(
        (20.0,), (0.004,), mass_capacity=[4e5, 1e5], mass_area=[4.0, 3.0], mass_sun=(0.3, 0.1), floor_film=9.0
    )

    def rates(_, masses):
        tiny = step(fixed, weather(fixed, length=1e-3, let_in=300.0), guess=290.0, floor=288.0, masses=masses)
        return (tiny.masses - masses) / 1e-3

    exact = solve_ivp(rates, (0.0, 7200.0), [295.0, 285.0], method="LSODA", rtol=1e-6, atol=1e-6).y[:, -1]
    errors = []
    for count in (6, 12, 24):
        masses = np.array([295.0, 285.0])
        for _ in range(count):
            masses = step(
                fixed,
                weather(fixed, length=7200.0 / count, let_in=300.0),
                guess=290.0,
                floor=288.0,
                masses=masses,
            ).masses
        errors.append(np.abs(masses - exact).max())
    # At 300 s already fine; second order: quartered at each halving.
    assert errors[-1] < 0.01
    assert 3.0 < errors[0] / errors[1] < 5.5


def test_sun_is_shared_out() -> None:
    fixed = house(
        (10.0, 5.0), (0.004, 2.5), sun_inside=(0.5, 0.0), mass_capacity=[1e6], mass_area=[4.0], mass_sun=0.2,
        sun_to_floor=0.5,
    )  # fmt: skip
    found = step(fixed, weather(fixed, let_in=(400.0, 0.0), taken=(30.0, 300.0)), masses=[293.15])
    assert found.flows[kernels.SUN_LET_IN] == pytest.approx(300.0 * 4000.0)
    assert found.flows[kernels.SUN_TO_FLOOR] == pytest.approx(300.0 * 2000.0)
    assert found.flows[kernels.SUN] == pytest.approx(300.0 * (4000.0 + 300.0 + 1500.0))
    dark = step(fixed, weather(fixed), masses=[293.15])
    gained = found.flows[kernels.STORED_MASS] - dark.flows[kernels.STORED_MASS]
    assert gained == pytest.approx(300.0 * 800.0, rel=0.03)


def test_sun_that_passes_out_again_is_missing_everywhere_inside() -> None:
    whole = house((10.0,), (0.004,), mass_capacity=[1e6], mass_area=[4.0], mass_sun=0.2)
    less = house((10.0,), (0.004,), mass_capacity=[1e6], mass_area=[4.0], mass_sun=0.2, sun_kept=0.75)
    drive = {"let_in": (400.0,), "taken": (30.0,)}
    flows = [step(fixed, weather(fixed, **drive), masses=[293.15]).flows for fixed in (whole, less)]
    for place in (kernels.SUN_LET_IN, kernels.SUN_TO_FLOOR):
        assert flows[1][place] == pytest.approx(0.75 * flows[0][place])
    # What the sheet takes up on the way in stays with the sheet.
    assert flows[1][kernels.SUN] == pytest.approx(flows[0][kernels.SUN] - 0.25 * 300.0 * 4000.0)
    for found in flows:
        assert sum(sign * found[place] for place, sign in ACCOUNT.items()) == pytest.approx(
            0.0, abs=1e-9 * found[kernels.SUN]
        )


def test_condensation_by_hand() -> None:
    # Room of 20 degC, 80 %, single glass at 0 degC: psychrolib's saturation at the face, Lewis relation with
    # Le^(2/3) = 0.914 (DEVELOPERS: condensing wall).
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(20.0, 0.8, 101325.0)
    fixed = house(wet=True, floor_area=200.0, floor_film=1e3)
    found = step(fixed, weather(fixed), ratio=ratio)
    face = float(found.inside[0])
    film = 1.31 * (293.15 - face) ** (1 / 3)
    capacity = 1006.0 + 1860.0 * ratio
    water = film * 10.0 * (ratio - psychrolib.GetSatHumRatio(face - 273.15, 101325.0)) / (capacity * 0.914)
    assert found.flows[kernels.CONDENSED] / 300.0 == pytest.approx(water, rel=0.02)
    latent = 2.501e6 - 2326.0 * (face - 273.15)
    assert found.flows[kernels.CONDENSATION_HEAT] / 300.0 == pytest.approx(water * latent, rel=0.02)
    # The wet sheet is warmer than the dry one; dry air leaves it dry.
    dry = step(fixed, weather(fixed), ratio=0.003)
    assert dry.flows[kernels.CONDENSED] == dry.flows[kernels.CONDENSATION_HEAT] == 0.0
    assert face > float(dry.inside[0]) + 1.0


def test_wet_soil_by_hand() -> None:
    # 4 m2 of soil at 15 degC in air of 20 degC, 50 %: of the floor's film of 8 W/(m2.K) the long waves of 24
    # m2 at the node's temperature are no part; Lewis relation with Le^(2/3) = 0.914 and psychrolib's
    # saturation.
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(20.0, 0.5, 101325.0)
    fixed = house((100.0,), (2.0,), wet=True, soil_area=4.0)
    found = step(fixed, weather(fixed, outside=288.15), floor=288.15, ratio=ratio)
    star = found.star
    film = 8.0 - fixed.floor_radiant / 24.0 * SIGMA * (288.15**2 + star**2) * (288.15 + star)
    assert 2.0 < film < 4.5
    capacity = 1006.0 + 1860.0 * ratio
    water = film * 4.0 * (psychrolib.GetSatHumRatio(15.0, 101325.0) - ratio) / (capacity * 0.914)
    assert found.flows[kernels.EVAPORATED] / 300.0 == pytest.approx(water, rel=0.02)


def test_leaves_take_their_heat_from_the_air() -> None:
    # 15 m2 of leaves in the dark: what they give off, times the latent heat, is missing in the room.
    bare, green = house(wet=True), house(wet=True, leaf_area=15.0)
    dry, wet = (step(fixed, weather(fixed), ratio=0.004) for fixed in (bare, green))
    water = wet.flows[kernels.EVAPORATED]
    # Monteith by hand for 20 degC: rho 1.204, r_s 2000, r_a 150, slope of saturation 0.93e-3 1/K, so that
    # L s / c_p = 2.27; deficit 0.0147 - 0.004.
    assert water / 300.0 == pytest.approx(15.0 * 1.204 * 0.0107 / (2000.0 + 150.0 * 3.27), rel=0.03)
    lost = dry.flows[kernels.TO_ROOM] - wet.flows[kernels.TO_ROOM]
    assert lost == pytest.approx(2.454e6 * water, rel=2e-3)


def test_vapour_is_a_straight_line_and_closes() -> None:
    fixed = house(wet=True, volume=60.0, air_changes=1 / 3600, leaf_area=15.0, leaf_sun=0.2, soil_area=4.0)
    inputs = weather(fixed, let_in=200.0)
    for final in (0.004, 0.011):
        found = step(fixed, inputs, ratio=0.01, final_ratio=final)
        line = found.out[kernels.VAPOUR_GAIN] + found.out[kernels.VAPOUR_LOSS] * (0.002 - final)
        assert found.flows[kernels.VAPOUR_TO_ROOM] == pytest.approx(300.0 * line, rel=1e-9, abs=1e-12)
        parts = (
            found.flows[kernels.EVAPORATED]
            - found.flows[kernels.CONDENSED]
            - found.flows[kernels.VAPOUR_LEAKED]
        )
        assert found.flows[kernels.VAPOUR_TO_ROOM] == pytest.approx(parts)
    same = step(fixed, inputs, ratio=0.01)
    # What evaporates costs its latent heat: 2.45 MJ/kg at 20 degC.
    assert same.flows[kernels.EVAPORATION] == pytest.approx(
        2.4535e6 * same.flows[kernels.EVAPORATED], rel=2e-3
    )


def test_leak_by_hand() -> None:
    # 60 m3, 0.5 changes/h and 0.1 for each of 4 m/s: 54 m3/h of air of 20 degC (1.2041 kg/m3, 1006 J/(kg.K)).
    fixed = house(volume=60.0, air_changes=0.5 / 3600, wind_changes=0.1 / 3600)
    found = step(fixed, weather(fixed))
    assert found.flows[kernels.AIR_LEAK] / 300.0 == pytest.approx(
        54.0 / 3600 * 1.2041 * 1006.0 * 20.0, rel=2e-3
    )
    assert found.out[kernels.VAPOUR_LOSS] == pytest.approx(54.0 / 3600 * 1.2041, rel=2e-3)


def test_dry_house_minds_no_humidity() -> None:
    fixed = house(leaf_area=15.0, soil_area=4.0, volume=60.0, air_changes=1 / 3600)
    wet, dry = (step(fixed, weather(fixed), ratio=ratio) for ratio in (0.02, 0.0))
    np.testing.assert_array_equal(wet.out, dry.out)
    assert wet.flows[kernels.EVAPORATED] == wet.flows[kernels.CONDENSED] == 0.0


def test_nothing_is_remembered() -> None:
    # `work` filled with other steps' numbers makes no difference, to the last bit.
    fixed = house((14.0, 40.0), (0.004, 2.5), wet=True)
    first = step(fixed, weather(fixed))
    work = step(fixed, weather(fixed, outside=250.0), guess=310.0).work
    out = np.zeros(kernels.OUT)
    kernels.open_house(fixed, np.zeros(0), weather(fixed), 293.15, 293.15, 0.007, work, out)
    np.testing.assert_array_equal(out, first.out)


@st.composite
def states(draw):
    """Draw a house, weather, guess and final room, up to the absurd."""
    count = draw(st.integers(1, 6))
    number = st.floats

    def several(low, high):
        return tuple(draw(number(low, high)) for _ in range(count))

    masses = draw(st.integers(0, 3))
    share = draw(number(0.0, 0.5))
    fixed = house(
        several(0.1, 200.0), several(0.0, 5.0), tilt=several(0.0, 90.0), emissivity=several(0.01, 1.0),
        cover=several(0.0, 2.0), sun_inside=several(0.0, 1.0),
        mass_capacity=[draw(number(1e2, 1e8)) for _ in range(masses)],
        mass_area=[draw(number(0.1, 100.0)) for _ in range(masses)],
        mass_film=draw(number(0.5, 30.0)), mass_sun=share / max(masses, 1),
        floor_area=draw(number(1.0, 500.0)), floor_film=draw(st.sampled_from([0.0, 2.0, 8.0, 20.0])),
        sun_to_floor=draw(number(0.0, 0.5)), sun_kept=draw(number(0.0, 1.0)),
        volume=draw(number(0.0, 2000.0)),
        air_changes=draw(number(0.0, 0.05)), wind_changes=draw(number(0.0, 1e-3)), wet=draw(st.booleans()),
        leaf_area=draw(number(0.0, 100.0)), leaf_sun=draw(number(0.0, 0.5)),
        soil_area=draw(number(0.0, 50.0)),
    )  # fmt: skip
    inputs = weather(
        fixed, length=draw(number(0.5, 7200.0)), outside=draw(number(220.0, 320.0)),
        sky=draw(number(180.0, 320.0)), ratio=draw(number(0.0, 0.03)), wind=draw(number(0.0, 40.0)),
        cover=draw(number(0.0, 1.0)),
        let_in=several(0.0, 1000.0), taken=several(0.0, 1000.0),
    )  # fmt: skip
    more = {
        "guess": draw(number(230.0, 360.0)), "floor": draw(number(240.0, 340.0)),
        "ratio": draw(number(0.0, 0.1)),
        "masses": [draw(number(230.0, 360.0)) for _ in range(masses)], "room": draw(number(200.0, 400.0)),
        "final_ratio": draw(number(0.0, 0.1)),
    }  # fmt: skip
    return fixed, inputs, more


def test_a_mass_that_glows_through_a_poor_emitter_settles() -> None:
    # The only way out for the sun is by long waves between two hot, weakly coupled places, where a pass of
    # secants calls to and fro (by 0.76 of the last change) with no film to damp it.
    fixed = house(
        (25.0,), (0.0,), tilt=0.0, emissivity=0.01, sun_inside=0.0, mass_capacity=[100.0], mass_area=[1.0],
        mass_film=1.0, mass_sun=0.5, floor_area=1.0, floor_film=0.0,
    )  # fmt: skip
    found = step(
        fixed, weather(fixed, length=97.0, outside=220.0, sky=180.0, wind=2.0, let_in=109.0),
        guess=230.0, floor=240.0, ratio=0.0, masses=[230.0], room=230.0,
    )  # fmt: skip
    assert 0 < found.passes < 60
    # What the mass cannot give to the air goes on by long waves: two grey planes in series with 0.9 m2 of it.
    mean = found.mean_masses[0]
    exchange = 0.9 * SIGMA * (mean**4 - found.star**4)
    onward = fixed.radiant[0] * SIGMA * (found.star**4 - found.inside[0] ** 4)
    assert min(exchange, 1.0 * (mean - found.star)) == pytest.approx(onward, rel=1e-6)


@settings(max_examples=examples(150))
@given(states())
def test_account_closes_in_any_state(state) -> None:
    fixed, inputs, more = state
    found = step(fixed, inputs, **more)
    # Air that holds more than it can has no settled state to find; the account closes all the same.
    if more["ratio"] <= float(saturation_ratio(more["guess"])):
        assert found.passes > 0, "the coefficients must settle"
        # Whatever the house takes back of the floor's film, room and floor together still damp.
        assert found.out[kernels.LOSS] + fixed.floor_film * fixed.floor_area > 0.0
    scale = np.abs(found.flows[: kernels.CONDENSED]).sum() + 1.0
    # The last digit of a temperature times what a mass holds, or a bare sheet passes, per kelvin.
    rounding = fixed.mass_capacity.sum() + inputs[kernels.LENGTH] * fixed.area.sum() / 1e-6
    scale += 1e9 * 3e-13 * rounding
    assert abs(found.missing) <= 1e-9 * scale
    line = found.out[kernels.GAIN] + found.out[kernels.LOSS] * (inputs[kernels.OUTSIDE] - more["room"])
    assert found.flows[kernels.TO_ROOM] == pytest.approx(inputs[kernels.LENGTH] * line, abs=1e-9 * scale)
    floor = inputs[kernels.LENGTH] * fixed.floor_area * found.out[kernels.FLOOR_GAIN]
    assert found.flows[kernels.TO_FLOOR] == pytest.approx(floor, rel=1e-12, abs=1e-9)
    vapour = found.out[kernels.VAPOUR_GAIN]
    vapour += found.out[kernels.VAPOUR_LOSS] * (inputs[kernels.OUTSIDE_RATIO] - more["final_ratio"])
    assert found.flows[kernels.VAPOUR_TO_ROOM] == pytest.approx(
        inputs[kernels.LENGTH] * vapour, rel=1e-9, abs=1e-9
    )
    assert np.all(np.isfinite(found.masses))
