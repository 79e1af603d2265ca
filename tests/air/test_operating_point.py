"""Where fan and ducts of a case meet: against `fluids`, parabolas worked by hand, and the fan laws."""

from __future__ import annotations

import math
from typing import Any

import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from simulator.air.flow import SMALL_FAN_EFFICIENCY, AirMover, air_mover, fan_curve_of
from simulator.air.network import Network, branch_losses, network_of, relative_roughness
from simulator.errors import CaseError
from simulator.physics.fan_curve import curve_from_pair, curve_through_points
from tests.run.rigs import small_case

PRESSURE = 101325.0
KELVIN = 290.0
DIAMETER = 0.1
AREA = math.pi / 4.0 * DIAMETER**2
PAIR: dict[str, Any] = {"flow": None, "free_delivery": "600 m3/h", "shut_off": "300 Pa"}


def mover_of(**changes: Any) -> AirMover:
    plain: dict[str, Any] = {
        "volume_flow": 0.04, "off_volume_flow": 0.002, "mass_flow": math.nan, "off_mass_flow": math.nan,
        "power": 50.0, "density": 1.2, "heat_capacity": math.nan, "pressure": PRESSURE,
    }  # fmt: skip
    return AirMover(**{**plain, **changes})


def with_curve(curve: Any, **changes: Any) -> AirMover:
    return mover_of(
        volume_flow=math.nan, curve=curve, free_delivery=curve.free_delivery,
        has_hump=bool(curve.rising_stretches), **changes,
    )  # fmt: skip


def network(mover: AirMover, *, length=(1e-9,), loss=(10.0,), rough=0.0, intake=None) -> Network:
    return Network(mover, DIAMETER, rough, np.array(length), np.array(loss), KELVIN, intake)


def test_smooth_pipe_is_as_rough_as_told() -> None:
    case = small_case({"ducts": {"roughness": "0.5 mm", "diameter": "10 cm"}})
    assert relative_roughness(case) == pytest.approx(0.005)
    assert relative_roughness(small_case()) == 0.0


@pytest.mark.parametrize("manning", [None, 0.021])
def test_ribbed_pipe_has_the_friction_of_its_manning_number(manning: float | None) -> None:
    """f = 8 g n^2 / R^(1/3), R = D/4; von Karman: 1/sqrt(f) = -2 log10(e/3.7). 0.015: trade, from memory."""
    ribbed = {"ducts": {"surface": "ribbed", "diameter": "10 cm", "manning": manning, "roughness": "1 mm"}}
    rough = relative_roughness(small_case(ribbed))
    friction = (-2.0 * math.log10(rough / 3.7)) ** -2
    told = 0.015 if manning is None else manning
    assert friction == pytest.approx(8.0 * 9.80665 * told**2 / (0.1 / 4.0) ** (1.0 / 3.0), rel=1e-9)


def test_losses_of_a_branch_add_up() -> None:
    one = {
        "name": "a", "bends": 3, "loss_coefficient": 0.7,
        "runs": [
            {"across": "-40 cm", "depth": "30 cm"},
            {"across": "40 cm", "depth": "30 cm", "along_from": "6 m", "along_to": "0 m"},
        ],
    }  # fmt: skip
    ducts = {"count": None, "spacing": None, "depth": None, "branches": [one], "entry_loss": 0.6,
             "exit_loss": 1.1, "bend_loss": 0.3}  # fmt: skip
    # Two right angles in the turn and three told.
    np.testing.assert_allclose(branch_losses(small_case({"ducts": ducts})), [0.6 + 1.1 + 5 * 0.3 + 0.7])


def test_resistance_in_series_counts_on_its_own_opening() -> None:
    """K rho v^2 / 2 with v in the diameter told beside each K, as in any handbook of duct design."""
    losses = [{"coefficient": 2.5, "diameter": "16 cm"}, {"coefficient": 4.0, "diameter": "20 cm"}]
    case = small_case({"fan": {"flow": "300 m3/h", "losses": losses, "air_density": "1.2 kg/m3"}})
    found = network_of(case, air_mover(case), KELVIN)
    flow = 300.0 / 3600.0
    by_hand = sum(
        fluids.core.dP_from_K(K=k, rho=1.2, V=flow / (math.pi / 4.0 * d**2))
        for k, d in ((2.5, 0.16), (4.0, 0.2))
    )
    assert found.series_pressure(flow) == pytest.approx(by_hand, rel=1e-12)
    assert found.density == 1.2


def test_ducts_of_a_case_lose_what_the_library_says() -> None:
    # Two ducts of 6 m and 10 cm with 160 m3/h of air of 290 K; density by CoolProp, friction by fluids.
    case = small_case({"ducts": {"roughness": "0.2 mm"}})
    found = network_of(case, air_mover(case), KELVIN)
    rho = PropsSI("D", "T", KELVIN, "P", PRESSURE, "Air")
    mu = PropsSI("V", "T", KELVIN, "P", PRESSURE, "Air")
    velocity = 80.0 / 3600.0 / AREA
    reynolds = fluids.core.Reynolds(V=velocity, D=DIAMETER, rho=rho, mu=mu)
    friction = fluids.friction.Colebrook(reynolds, 0.002)
    k = fluids.core.K_from_f(fd=friction, L=6.0, D=DIAMETER) + 1.5
    lost = fluids.core.dP_from_K(K=k, rho=rho, V=velocity)
    assert found.duct_pressure(160.0 / 3600.0) == pytest.approx(lost, rel=2e-3)
    curve = found.system_curve(np.array([0.0, 160.0 / 3600.0]))
    assert curve == pytest.approx([0.0, lost], rel=2e-3)
    point = found.operating_point()
    assert point.duct_pressure == pytest.approx(lost, rel=2e-3)
    assert point.mass_flow == pytest.approx(160.0 / 3600.0 * rho, rel=1e-3)
    assert point.volume_flow == pytest.approx(160.0 / 3600.0)
    np.testing.assert_allclose(point.branch_flow, point.mass_flow / 2.0)
    assert (point.meeting_points, point.notes) == (1, ())
    # 40 W given at full speed, by the cube law at half of it.
    assert point.electric_power == pytest.approx(40.0)
    assert found.operating_point(0.5).electric_power == pytest.approx(5.0)


def test_series_loss_of_a_case_adds_to_the_system_curve() -> None:
    mover = mover_of(series_resistance=1500.0)
    found = network(mover, length=(5.0, 9.0), loss=(2.0, 3.0))
    flows = np.array([0.01, 0.03])
    expected = [found.duct_pressure(float(q)) + 1500.0 * 1.2 * q**2 for q in flows]
    np.testing.assert_allclose(found.system_curve(flows), expected, rtol=1e-12)
    point = found.operating_point()
    assert point.series_pressure == pytest.approx(1500.0 * 1.2 * 0.04**2)
    assert point.fan_pressure == pytest.approx(point.duct_pressure + point.series_pressure)


def test_parabola_meets_fittings_ahead_and_behind_by_hand() -> None:
    # p0 (1 - (q/q0)^2) = (K / (2 A^2) + S) rho q^2, solved for q.
    curve = curve_from_pair(0.1, 200.0, density=1.2)
    found = network(with_curve(curve, series_resistance=4e4, efficiency=0.4))
    square = 1.2 * (10.0 / (2.0 * AREA**2) + 4e4)
    flow = math.sqrt(200.0 / (square + 200.0 / 0.1**2))
    point = found.operating_point()
    assert point.volume_flow == pytest.approx(flow, rel=1e-6)
    assert point.mass_flow == pytest.approx(1.2 * flow, rel=1e-6)
    assert point.series_pressure == pytest.approx(4e4 * 1.2 * flow**2, rel=1e-6)
    assert point.fan_pressure == pytest.approx(200.0 * (1.0 - (flow / 0.1) ** 2), rel=1e-6)
    # Air power over efficiency: the definition of overall efficiency (ISO 5801).
    assert point.electric_power == pytest.approx(flow * point.fan_pressure / 0.4, rel=1e-6)
    assert (point.meeting_points, point.notes) == (1, ())
    half = found.operating_point(0.5)
    assert half.volume_flow == pytest.approx(0.5 * flow, rel=1e-6)
    assert half.electric_power == pytest.approx(point.electric_power / 8.0, rel=1e-6)


def test_warm_ducts_behind_a_cold_fan() -> None:
    # Mass is kept: the same kilograms are more cubic metres in warm ducts. Densities as p / (R T).
    curve = curve_from_pair(0.1, 200.0, density=1.2)
    mover = with_curve(curve, density=math.nan, efficiency=0.5)
    found = network(mover, intake=270.0)
    cold, warm = (PRESSURE / (287.055 * kelvin) for kelvin in (270.0, KELVIN))
    assert found.density == pytest.approx(cold, rel=1e-6)
    # 200 (rho/1.2)(1 - (q/q0)^2) = K rho_c^2 q^2 / (2 A^2 rho_w).
    full = 200.0 * cold / 1.2
    flow = math.sqrt(full / (10.0 * cold**2 / (2.0 * AREA**2 * warm) + full / 0.1**2))
    point = found.operating_point()
    assert point.volume_flow == pytest.approx(flow, rel=1e-6)
    assert point.mass_flow == pytest.approx(cold * flow, rel=1e-6)
    # A flow given by volume is taken at the density in the fan, too.
    given = network(mover_of(density=math.nan), intake=270.0).operating_point()
    assert given.mass_flow == pytest.approx(0.04 * cold, rel=1e-6)
    assert given.volume_flow == pytest.approx(0.04, rel=1e-6)
    same = network(mover_of(density=math.nan)).operating_point()
    assert same.mass_flow == pytest.approx(0.04 * warm, rel=1e-6)


def test_a_standing_fan_lets_the_off_flow_through() -> None:
    curve = curve_from_pair(0.1, 200.0, density=1.2)
    point = network(with_curve(curve, efficiency=0.4)).operating_point(0.0)
    assert point.mass_flow == pytest.approx(1.2 * 0.002)
    assert point.notes == ()


HUMP = curve_through_points([0.0, 0.01, 0.02, 0.05, 0.08, 0.12], [100.0, 40.0, 12.0, 160.0, 120.0, 0.0], 1.2)


def test_three_meeting_points_are_told() -> None:
    # The fan dips under the ducts' resistance near 0.02 m3/s and comes up again (see test_network.py).
    found = network(with_curve(HUMP, efficiency=0.4), length=(5.0,), loss=(4.0,))
    point = found.operating_point()
    assert point.meeting_points == 3
    (note,) = point.notes
    assert "at 3 flows" in note
    assert "hunt" in note
    # Resistance goes nearly as the square, so fan laws keep them at another speed.
    assert found.operating_point(0.8).meeting_points == 3
    assert found.operating_point(0.8).volume_flow == pytest.approx(0.8 * point.volume_flow, rel=0.01)
    # With next to no resistance there is one, past the hump.
    free = network(with_curve(HUMP, efficiency=0.4), loss=(0.1,)).operating_point()
    assert (free.meeting_points, free.notes) == (1, ())


def test_a_point_outside_the_curve_is_told() -> None:
    curve = curve_through_points([0.03, 0.06, 0.1], [200.0, 150.0, 60.0], 1.2)
    ends = {"first_point": 0.03, "last_point": 0.1, "efficiency": 0.4}
    usual = network(with_curve(curve, **ends), loss=(10.0,)).operating_point()
    assert 0.03 < usual.volume_flow < 0.1
    assert usual.notes == ()
    blocked = network(with_curve(curve, **ends), loss=(300.0,)).operating_point()
    assert blocked.volume_flow < 0.03
    (note,) = blocked.notes
    assert "0.03 m3/s" in note
    # Level below its first point: 200 Pa = K rho q^2 / (2 A^2).
    assert blocked.volume_flow == pytest.approx(AREA * math.sqrt(2.0 * 200.0 / (300.0 * 1.2)), rel=1e-6)
    free = network(with_curve(curve, **ends), loss=(0.2,)).operating_point()
    assert free.volume_flow > 0.1
    (note,) = free.notes
    assert "0.1 m3/s" in note
    # At half speed the curve's flows are half, so the same flow is no longer outside.
    assert network(with_curve(curve, **ends), loss=(10.0,)).operating_point(0.4).notes == ()


def test_mover_of_a_case_with_a_curve() -> None:
    case = small_case({"fan": {**PAIR, "power": None, "curve_density": "1.1 kg/m3"}})
    mover = air_mover(case)
    assert mover.curve is not None
    assert mover.curve.density == pytest.approx(1.1)
    assert mover.free_delivery == pytest.approx(600.0 / 3600.0, rel=1e-9)
    assert mover.last_point == pytest.approx(600.0 / 3600.0, rel=1e-9)
    assert (mover.first_point, mover.has_hump) == (0.0, False)
    assert mover.efficiency == SMALL_FAN_EFFICIENCY == 0.35  # common practice, no source
    assert math.isnan(air_mover(small_case({"fan": PAIR})).efficiency)
    told = air_mover(small_case({"fan": {**PAIR, "power": None, "efficiency": 0.5}}))
    assert told.efficiency == 0.5
    line = fan_curve_of(small_case({"fan": {**PAIR, "shape": "line"}}))
    assert line is not None
    assert float(line.pressure(300.0 / 3600.0)) == pytest.approx(150.0)


def test_mover_of_a_case_with_points_or_a_polynomial() -> None:
    points = {"flows": ["100 m3/h", "200 m3/h", "500 m3/h"], "pressures": ["150 Pa", "180 Pa", "0 Pa"]}
    mover = air_mover(small_case({"fan": {"flow": None, "curve": points}}))
    assert (mover.first_point, mover.last_point) == pytest.approx((100.0 / 3600.0, 500.0 / 3600.0))
    assert mover.has_hump
    assert mover.curve is not None
    assert float(mover.curve.pressure(200.0 / 3600.0)) == pytest.approx(180.0)
    polynomial = {"coefficients": [200.0, 0.0, -5000.0], "highest_flow": "0.2 m3/s"}
    mover = air_mover(small_case({"fan": {"flow": None, "curve": polynomial}}))
    assert mover.curve is not None
    assert float(mover.curve.pressure(0.1)) == pytest.approx(200.0 - 5000.0 * 0.01)
    assert mover.first_point == 0.0
    assert air_mover(small_case()).curve is None
    plain = mover_of()
    assert (plain.free_delivery, plain.series_resistance, plain.has_hump) == (0.0, 0.0, False)
    assert air_mover(small_case()).free_delivery == 0.0
    assert air_mover(small_case()).last_point == math.inf


def test_a_curve_that_cannot_be_used_is_the_case_s_mistake(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        message = "rises for ever"
        raise ValueError(message)

    monkeypatch.setattr("simulator.air.flow.curve_from_pair", refuse)
    with pytest.raises(CaseError, match="rises for ever") as caught:
        air_mover(small_case({"fan": PAIR}))
    assert caught.value.key == "fan.curve"
