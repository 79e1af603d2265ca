"""Every joule, after every step: what comes in, what goes out and what stays, counted again from the
temperatures.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from simulator.run.ledger import ACCOUNTS, INDEX, Ledger
from tests.run.rigs import SWITCHED, Rig, small_case, told

BALANCED = 1e-9
# Beside each account: what it does to ground and room together, from its meaning.
SIDE = {
    "heater": 1,
    "fan": 1,
    "duct": 0,
    "floor": 0,
    "return": 0,
    "envelope": -1,
    "infiltration": -1,
    "sun": 1,
    "other_gain": 1,
    "outside_ground": -1,
    "bottom": 1,
    "sides": 1,
    "exhaust": -1,
    "latent": 1,
    "flue": 1,
}
LIVELY = {
    "weather": {
        "kind": "daily wave",
        "mean": "-2 degC",
        "amplitude": "8 K",
        "sun_peak": "500 W/m2",
        "sunrise": "06:00",
        "sunset": "20:00",
    },
    "ground": {"outside_width": "80 cm", "sides": {"kind": "temperature", "temperature": "6 degC"}},
    "fan": {"off_flow": "6 m3/h"},
    "floor": {"edge_wall": "20 cm"},
}
ROOMS = {
    "free room": {
        "room": {"volume": "40 m3", "air_changes": "0.6 1/h", "gains": "120 W", "sun_area": "2 m2"}
    },
    "fixed room": {"room": {"kind": "fixed", "temperature": "17 degC"}},
}
BOTTOMS = {
    "temperature": {"ground": {"bottom": {"kind": "temperature", "temperature": "9 degC"}}},
    "heat flow": {"ground": {"bottom": {"kind": "heat flow", "flux": "2 W/m2"}}},
    "adiabatic": {"ground": {"bottom": {"kind": "adiabatic"}}},
}


def heat_of(rig: Rig, field: np.ndarray) -> float:
    """Heat of the whole ground [J] for temperatures (S, N) above any level."""
    return rig.coupling.copies * float(
        (field @ rig.coupling.solver.operators.capacity) @ rig.coupling.station_length
    )


def check_every_step(rig: Rig) -> int:
    """Take all steps and close the books on each; how many steps there were."""
    held = rig.coupling.room.fixed
    steps = 0
    ground, room = rig.coupling.solver.field(rig.state.section), rig.state.room
    for _ in rig.run():
        booked = dict(zip(SIDE, rig.state.ledger.totals, strict=True))
        field, tick = rig.coupling.solver.field(rig.state.section), rig.state.tick
        gained = heat_of(rig, field - ground)
        warmed = 0.0 if held else rig.coupling.room.heat_capacity * (rig.state.room - room)
        handled = sum(abs(value) for value in booked.values()) + abs(gained) + abs(warmed)
        # Temperatures are kept to some sixteen digits; steps of milliseconds feel the last of them.
        allowed = BALANCED * handled + 4.0 * np.finfo(float).eps * heat_of(rig, np.abs(field))
        residual = sum(SIDE[name] * value for name, value in booked.items()) - gained - warmed
        assert abs(residual) <= allowed, f"whole balance at {tick}"
        # The ground by itself: what the ducts and the floor's intake of sun and room air put in.
        on_floor = rig.coupling.room.sun_to_floor * booked["sun"]
        given = booked["duct"] + on_floor - booked["floor"] + booked["bottom"] + booked["sides"]
        assert abs(given - booked["outside_ground"] - gained) <= allowed, f"ground at {tick}"
        assert rig.state.ledger.largest_residual <= BALANCED
        steps += 1
        ground, room = field, rig.state.room
        rig.state.ledger = Ledger()
    return steps


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("outlet", ["room", "outside"])
@pytest.mark.parametrize("intake", ["room", "outside"])
def test_books_close_whatever_way_the_air_goes(intake: str, outlet: str, room: str) -> None:
    case = small_case(SWITCHED, LIVELY, {"fan": {"intake": intake, "exit": outlet}}, ROOMS[room])
    assert check_every_step(Rig(case)) > 90


@pytest.mark.parametrize("solver", ["direct", "full", "reduced"])
@pytest.mark.parametrize("bottom", BOTTOMS)
def test_books_close_over_any_bottom(bottom: str, solver: str) -> None:
    fine = {"numerics": {"solver": solver, "cell_scale": 1.0}}
    assert check_every_step(Rig(small_case(SWITCHED, LIVELY, BOTTOMS[bottom], fine, ROOMS["free room"]))) > 90


@pytest.mark.parametrize("drive", ["off", "timetable"])
def test_books_close_in_a_run_in(drive: str) -> None:
    daily = {
        "timetable": {
            "daily": [
                {"at": "06:30", "fan": "off", "heat": "off"},
                {"at": "15:00", "fan": "on", "heat": "on"},
            ]
        }
    }
    run_in = {"ground": {"run_in": "1 day", "run_in_drive": drive}, "numerics": {"step": "900 s"}}
    rig = Rig(small_case(daily, LIVELY, run_in, ROOMS["free room"]))
    assert rig.state.tick == -86_400_000
    held = rig.state.room
    if drive == "off":
        # Such a run-in holds the room, so its room balance is not one of the books; the ground's is.
        for _ in rig.run([end for end in rig.prepared.step_ends if end <= 0]):
            assert rig.state.room == held
        assert rig.state.ledger.largest_residual <= BALANCED
        return
    assert check_every_step(rig) > 90
    assert rig.state.room != held


@pytest.mark.parametrize(
    "change",
    [
        pytest.param({"ducts": {"count": 1, "spacing": None}}, id="one duct"),
        pytest.param({"ducts": {"count": 5, "spacing": "25 cm"}}, id="five ducts"),
        pytest.param({"numerics": {"symmetry": False}}, id="whole width"),
        pytest.param({"floor": {"film": "0 W/(m2.K)"}}, id="floor that takes no heat"),
        pytest.param({"floor": {"film": "1e9 W/(m2.K)"}}, id="floor at room temperature"),
        pytest.param(
            {"heat": {"kind": "supply temperature", "temperature": "45 degC"}, "timetable": None},
            id="held supply",
        ),
        pytest.param({"heat": {"kind": "none"}, "timetable": None}, id="no heater"),
        pytest.param(
            {"ducts": {"wall_thickness": "3 mm", "wall_heat_capacity": "2 MJ/(m3.K)"}}, id="pipe wall"
        ),
        pytest.param({"numerics": {"step": "2 h"}}, id="long steps"),
        pytest.param(
            {"site": {"duration": "2 min"}, "numerics": {"step": "0.5 s"}, "timetable": None},
            id="short steps",
        ),
    ],
)
def test_books_close_for_any_kind_of_case(change: Mapping[str, Any]) -> None:
    assert check_every_step(Rig(small_case(SWITCHED, LIVELY, ROOMS["free room"], change))) > 10


def test_accounts_have_the_signs_of_their_meaning() -> None:
    assert {account.name: account.sign for account in ACCOUNTS} == SIDE


def test_a_leak_is_found_out() -> None:
    """Planted: the floor's port reads a millionth more than flows through it; the books must not close."""
    rig = Rig(small_case(SWITCHED, LIVELY, ROOMS["free room"]))
    operators = rig.coupling.solver.operators
    operators.reading[:, operators.port("floor")] *= 1.000001
    with pytest.raises(AssertionError, match="balance at"):
        check_every_step(rig)


def test_the_ledger_remembers_its_worst_step() -> None:
    ledger = Ledger()
    energies = np.zeros((3, len(ACCOUNTS)))
    energies[:, INDEX["heater"]] = (10.0, 4.0, 2.0)
    ledger.add(energies, np.array([[9.0, 1.0], [2.0, 1.0], [2.0, 0.0]]))
    assert ledger.residual == pytest.approx(1.0)
    assert ledger.handled == pytest.approx(20.0 + 7.0 + 4.0)
    assert ledger.largest_residual == pytest.approx(1.0 / 7.0)
    assert (ledger.stored_ground, ledger.stored_room) == (13.0, 2.0)


def test_what_air_loses_ground_gains_along_the_ducts() -> None:
    """Summed over segments: m c (in - out), heat per metre times length, and the account of the ducts
    agree.
    """
    run = told(SWITCHED, {"output": {"interval": "5 min"}, "ducts": {"count": 3, "spacing": "45 cm"}})
    ducts, length = run.geometry.lane_ducts, run.geometry.station_dx
    assert ducts.tolist() == [1.0, 2.0] or ducts.tolist() == [2.0, 1.0]
    supply, exits, flow = run["supply_temperature"], run["lane_exit_temperature"], run["mass_flow"]
    heat = (run["duct_heat_per_length"] * length).sum(axis=2)
    moving = flow > 0.0
    given = (heat @ ducts)[moving]
    np.testing.assert_allclose(
        given / ((supply - run["exit_temperature"]) * flow)[moving], 1006.0, rtol=3e-3
    )  # specific heat of air, common textbook value
    ratio = heat[moving] / (supply[:, None] - exits)[moving]
    np.testing.assert_allclose(ratio[:, 0], ratio[:, 1], rtol=1e-9)  # every duct carries the same flow
    mixed = exits @ ducts / ducts.sum()
    np.testing.assert_allclose(run["exit_temperature"], mixed, rtol=1e-12)
