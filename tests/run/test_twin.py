"""The coupled step against its slow twin: one dense system of equations, solved by numpy."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from simulator.case.timetable import Drive
from simulator.run.coupling import StepWeather
from simulator.run.ledger import INDEX
from simulator.section import reduction
from tests.run.rigs import PINNED, Rig, small_case
from tests.run.twin import Setting, Twin, build_twin

NAN = math.nan
OUTSIDE, MASS_FLOW, AIR, FILM_ON, FILM_OFF = 270.0, 0.05, 1006.0, 12.0, 0.5
LIVING = {"room": {"gains": "150 W", "sun_area": "2.5 m2", "volume": "40 m3", "air_changes": "0.4 1/h"}}
TWO_DEPTHS = {
    "ducts": {
        "count": None,
        "spacing": None,
        "depth": None,
        "wall_thickness": "2 mm",
        "contact_resistance": "0.01 m2.K/W",
        "lanes": [{"across": "-40 cm", "depth": "30 cm"}, {"across": "45 cm", "depth": "50 cm"}],
    },
    "ground": {"outside_width": "30 cm", "depth": "90 cm"},
}
SMALL = {"numerics": {"stations": 3, "cell_scale": 4.0}}


@pytest.fixture(autouse=True)
def _every_mode(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reduced sections keep every mode here, so that they must give the very same answer."""
    monkeypatch.setattr(reduction, "SMALL_SECTION", 1000)


def rig_and_twin(drive: Drive, sun: float, hold: bool, *changes: Mapping[str, Any]) -> tuple[Rig, Twin]:
    rig = Rig(small_case(PINNED, SMALL, *changes))
    coupling, reference = rig.coupling, rig.prepared.reference
    ducts = rig.case.ducts
    inside = ducts.diameter / 2.0
    outside = inside + ducts.wall_thickness
    pipe = ducts.contact_resistance / (2.0 * math.pi * outside)
    pipe += math.log(outside / inside) / (2.0 * math.pi * ducts.wall_conductivity)
    film = FILM_ON if drive.fan_share > 0.0 else FILM_OFF
    conductance = 1.0 / (1.0 / (film * math.pi * ducts.diameter) + pipe)
    off_flow = float(rig.case.fan.off_flow)
    flow = (MASS_FLOW * drive.fan_share if drive.fan_share > 0.0 else off_flow) * AIR
    fixed = not math.isnan(drive.supply_temperature) and drive.fan_share > 0.0
    burning = 0.0 if math.isnan(drive.heat_power) else drive.heat_power
    if fixed:
        value = drive.supply_temperature - reference
    elif drive.fan_share > 0.0:
        value = (burning + 40.0 * drive.fan_share**3) / flow
    else:
        value = 0.0
    room = coupling.room
    setting = Setting(
        capacity_flow=flow,
        conductance=conductance,
        supply_fixed=fixed,
        supply_value=value,
        outside=OUTSIDE - reference,
        gain=room.gains + sun * room.sun_area + (0.0 if drive.fan_share > 0.0 else burning),
        sun_on_floor=sun * room.sun_area * room.sun_to_floor,
        hold_room=hold,
    )
    return rig, build_twin(coupling, setting)


def start(rig: Rig, twin: Twin, seed: int = 5) -> np.ndarray:
    """A rough state, the same for both."""
    random = np.random.default_rng(seed)
    cells = random.normal(0.0, 4.0, (twin.stations, twin.cells))
    rig.state.section = rig.coupling.solver.project(cells)
    state = np.zeros(twin.constant.size)
    state[: cells.size] = cells.ravel()
    state[-1] = rig.state.room
    return state


def compare(rig: Rig, twin: Twin, state: np.ndarray, *, moving: bool) -> None:
    shape = (twin.stations, twin.lanes)
    np.testing.assert_allclose(
        rig.coupling.solver.field(rig.state.section).ravel(), state[: twin.stations * twin.cells], atol=1e-9
    )
    assert rig.state.room == pytest.approx(state[-1], abs=1e-9)
    np.testing.assert_allclose(rig.state.air_in, state[twin.air(0)].reshape(shape), atol=1e-9)
    np.testing.assert_allclose(rig.state.air_out, state[twin.air(1)].reshape(shape), atol=1e-9)
    assert rig.state.exit == pytest.approx(state[-2], abs=1e-9)
    if moving:
        assert rig.state.supply == pytest.approx(state[-3], abs=1e-9)


DRIVES = {
    "heated": Drive(1.0, 1500.0, NAN),
    "slow fan": Drive(0.25, 1500.0, NAN),
    "held supply": Drive(1.0, NAN, 318.15),
    "fan alone": Drive(1.5, 0.0, NAN),
    "fire without fan": Drive(0.0, 1500.0, NAN),
}


@pytest.mark.parametrize("solver", ["direct", "full", "reduced"])
@pytest.mark.parametrize("outlet", ["room", "outside"])
@pytest.mark.parametrize("intake", ["room", "outside"])
@pytest.mark.parametrize("drive", DRIVES.values(), ids=DRIVES)
def test_a_step_solves_all_equations_at_once(drive: Drive, intake: str, outlet: str, solver: str) -> None:
    ways = {
        "fan": {"intake": intake, "exit": outlet, "off_flow": "0.002 kg/s"},
        "numerics": {"solver": solver},
    }
    rig, twin = rig_and_twin(drive, 200.0, False, LIVING, TWO_DEPTHS, ways)
    weather = StepWeather((OUTSIDE, OUTSIDE), (200.0, 200.0), (NAN, NAN))
    state = start(rig, twin)
    for length in (300.0, 0.5, 7200.0):
        end = rig.state.tick + round(1000.0 * length)
        state, _ = twin.step(state, length)
        rig.coupling.advance(rig.state, end, drive, weather)
        compare(rig, twin, state, moving=True)


@pytest.mark.parametrize("drive", [DRIVES["heated"], DRIVES["fire without fan"]], ids=["fan on", "still air"])
@pytest.mark.parametrize("held", ["fixed room", "held room"])
def test_a_room_that_is_held(held: str, drive: Drive) -> None:
    room = {"room": {"kind": "fixed", "temperature": "14 degC"}} if held == "fixed room" else LIVING
    rig, twin = rig_and_twin(drive, 0.0, True, room, TWO_DEPTHS)
    state = start(rig, twin)
    before = rig.state.room
    for length in (300.0, 3600.0):
        state, _ = twin.step(state, length)
        weather = StepWeather((OUTSIDE, OUTSIDE), (0.0, 0.0), (NAN, NAN))
        rig.coupling.advance(
            rig.state, rig.state.tick + round(1000.0 * length), drive, weather, hold_room=held == "held room"
        )
        compare(rig, twin, state, moving=drive.fan_share > 0.0)
    assert rig.state.room == before


def test_heat_flows_of_a_step_are_those_of_its_stages() -> None:
    """Ledger entries: weights 1 - gamma and gamma times the flows at the twin's two stages."""
    drive = DRIVES["heated"]
    rig, twin = rig_and_twin(drive, 0.0, False, TWO_DEPTHS, {"fan": {"exit": "outside"}})
    state = start(rig, twin)
    _, stages = twin.step(state, 900.0)
    weather = StepWeather((OUTSIDE, OUTSIDE), (0.0, 0.0), (NAN, NAN))
    rig.coupling.advance(rig.state, 900_000, drive, weather)
    gamma = 1.0 - 1.0 / math.sqrt(2.0)
    length = rig.coupling.station_length
    flow, cold = MASS_FLOW * AIR, OUTSIDE - rig.prepared.reference

    def booked(name: str) -> float:
        return float(rig.state.ledger.totals[INDEX[name]])

    def mean(each: list[float]) -> float:
        return 900.0 * ((1.0 - gamma) * each[0] + gamma * each[1])

    heat = [float((s[twin.flows].reshape(-1, twin.lanes).sum(axis=1) * length).sum()) for s in stages]
    assert booked("duct") == pytest.approx(mean(heat), rel=1e-9)
    assert booked("heater") == pytest.approx(1500.0 * 900.0, rel=1e-9)
    assert booked("fan") == pytest.approx(40.0 * 900.0, rel=1e-9)
    assert booked("exhaust") == pytest.approx(mean([flow * (s[-2] - cold) for s in stages]), rel=1e-9)
    assert booked("envelope") == pytest.approx(mean([18.0 * (s[-1] - cold) for s in stages]), rel=1e-9)


def test_a_planted_error_is_found_out() -> None:
    """The same comparison with one lane's wall resistance off by 1 % must fail."""
    drive = DRIVES["heated"]
    rig, twin = rig_and_twin(drive, 0.0, False, TWO_DEPTHS)
    state = start(rig, twin)
    rig.coupling.solver.operators.wall_resistance[1] *= 1.01
    state, _ = twin.step(state, 300.0)
    rig.coupling.advance(rig.state, 300_000, drive, StepWeather((OUTSIDE, OUTSIDE), (0.0, 0.0), (NAN, NAN)))
    with pytest.raises(AssertionError):
        compare(rig, twin, state, moving=True)
