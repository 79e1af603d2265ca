"""Fan on, off and on a thermostat: conservation, analytic electricity, metamorphic, and a second way."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.cold_snap import shifted_weather
from simulator.answers.fan_choice import Price, fan_choice
from simulator.answers.fan_night import Thermostat, run_dry, thermostat_pieces
from simulator.answers.overnight import overnight
from simulator.errors import CaseError
from tests.answers.small import shed

ZERO = 273.15


@pytest.fixture(scope="module")
def case():
    return shed()


@pytest.fixture(scope="module")
def choice(case):
    return fan_choice(case, limit=7.0 + ZERO, thermostat=Thermostat(7.5 + ZERO, 0.5), snaps=False)


def test_the_fan_can_be_chosen_when_no_fire_burns(choice) -> None:
    # the fire is out at 22:00, the night ends at 9:00
    assert choice.tonight.hours == pytest.approx(11.0)
    assert choice.tonight.share == 1.0


def test_electricity_is_power_by_hours(choice) -> None:
    # 40 W while it runs: four hours of fire, and 11 h more when left on
    on, off, kept = (choice.named(name) for name in ("on", "off", "thermostat"))
    assert off.fan_hours == pytest.approx(4.0)
    assert on.fan_hours == pytest.approx(15.0)
    assert off.fan_energy == pytest.approx(40.0 * 4.0 * 3600.0)
    assert on.fan_energy == pytest.approx(40.0 * 15.0 * 3600.0)
    assert off.fan_energy <= kept.fan_energy <= on.fan_energy
    assert Price(0.5, "USD").of(on.fan_energy) == "0.30 USD"


def test_until_the_fire_is_out_nothing_differs(choice) -> None:
    # within what the reduced section, fitted to each case anew, may differ: its tolerance is 5 mK
    courses = [night.course for night in choice.nights]
    for course in courses:
        early = course.moments <= 4.0 * 3600.0
        for measure in ("room", "floor", "coldest floor", "outside"):
            assert course.values[measure][early] == pytest.approx(
                courses[0].values[measure][courses[0].moments <= 4.0 * 3600.0], abs=1e-3
            )


def test_what_the_fan_brings_the_room_the_ground_lacks(choice) -> None:
    # the books of the night: heat in is heat lost and stored, for each way
    for night in choice.nights:
        heat = night.night.heat
        assert abs(heat.residual) < 1e-9 * heat.handled
    on, off = choice.named("on"), choice.named("off")
    extra = on.to_room - off.to_room - (on.fan_energy - off.fan_energy)
    taken = on.night.heat.ground_to_air - off.night.heat.ground_to_air
    less = off.night.heat.floor_to_room - on.night.heat.floor_to_room
    # returning air brings what the ducts gave it and the fan's heat; the floor gives less to a warmer room
    assert extra == pytest.approx(taken - less, rel=0.02)


def test_the_thermostat_switches_at_its_setting() -> None:
    # rows every minute: a switch bends the course between two rows
    kept = Thermostat(7.5 + ZERO, 0.5)
    choice = fan_choice(shed(run_in="0 h", step="1 min"), limit=7.0 + ZERO, thermostat=kept, snaps=False)
    pieces, results = thermostat_pieces(choice.tonight, kept, run_dry)
    with results:
        seconds, room = results["time"].values, results["room_temperature"].values + ZERO
        assert len(pieces) > 1
        for tick, share in pieces[1:]:
            mark = kept.setting if share > 0.0 else kept.setting + kept.dead_band
            late = tick - pieces[0][0]
            assert late > 0
            assert np.interp(tick / 1000.0, seconds, room) == pytest.approx(mark, abs=0.1)
    gaps = np.diff([tick for tick, _ in pieces])
    assert np.all(gaps >= kept.shortest * 1000.0 - 1)


def test_hours_below_agree_with_the_course(choice) -> None:
    for night in choice.nights:
        course = night.course
        fine = np.linspace(course.moments[0], course.moments[-1], 60001)
        below = np.interp(fine, course.moments, course.values["room"]) < 7.0
        # a Riemann sum of 60000 pieces
        assert night.hours_below["room"] == pytest.approx(below.mean() * 15.0, abs=2e-3)
    hours = [choice.named(name).hours_below["room"] for name in ("on", "thermostat", "off")]
    assert hours == sorted(hours)
    assert hours[-1] > 5.0


def test_a_cold_snap_found_is_a_cold_snap_run(case) -> None:
    found = fan_choice(case, limit=5.0 + ZERO, snaps=True, thermostat=Thermostat(6.0 + ZERO))
    planned = {"on": 1.0, "off": 0.0}
    for name, share in planned.items():
        snap = found.snaps[name]
        assert snap.shift is not None
        moved = shifted_weather(found.tonight.steady(share), snap.shift)
        with run_dry(moved) as results:
            night = overnight(results)
        assert night.lows["room"].temperature == pytest.approx(5.0, abs=0.03)
        assert night.lows["outside"].temperature == pytest.approx(snap.outside_low, abs=1e-6)
    # more heat in the night bears more cold
    assert found.snaps["on"].shift < found.snaps["off"].shift
    lower = fan_choice(case, limit=4.0 + ZERO, snaps=True, thermostat=Thermostat(6.0 + ZERO))
    assert lower.snaps["off"].shift < found.snaps["off"].shift


@pytest.mark.parametrize(
    ("limit", "words"),
    [(-30.0, "is not needed to keep the room above"), (11.0, "it will not do")],
)
def test_the_answer_fits_the_limit(case, limit, words) -> None:
    found = fan_choice(case, limit=limit + ZERO, snaps=False, thermostat=Thermostat(limit + 1.0 + ZERO))
    assert words in found.answer()
    assert words in found.answer("US")


def test_between_both_lows_the_answer_is_on(choice, case) -> None:
    lows = [choice.named(name).low("room") for name in ("off", "on")]
    assert lows[0] < lows[1]
    middle = sum(lows) / 2.0
    found = fan_choice(case, limit=middle + ZERO, snaps=False)
    assert found.answer().startswith("Leave the fan on: the room stays at")
    assert "A thermostat does it" in found.answer()


def test_a_fire_through_the_night_leaves_no_choice() -> None:
    always = shed(timetable='start = { fan = "on", heat = "on" }')
    with pytest.raises(CaseError, match="the fire burns through the whole of this time"):
        fan_choice(always, snaps=False)


def test_what_cannot_be_watched_is_refused(case) -> None:
    with pytest.raises(CaseError, match="cannot be watched"):
        fan_choice(case, watch="cat")


@pytest.mark.slow
def test_rules_of_the_case_switch_at_the_same_instants() -> None:
    # A second way: the same thermostat as a rule of the case, whose instants the run itself finds. Nothing
    # happens before the night, so that the rule has no other nights to act in.
    quiet = 'start = { fan = "off", heat = "off" }'
    case = shed(timetable=quiet, run_in="0 h")
    kept = Thermostat(8.0 + ZERO, 0.3)
    found = fan_choice(case, limit=7.0 + ZERO, snaps=False, thermostat=kept)
    pieces, results = thermostat_pieces(found.tonight, kept, run_dry)
    results.close()
    rules = """
[controls]
rules = [{ switch = "fan", to = "on", on_when = "room below 8 degC", dead_band = "0.3 K", minimum_on = "10 min", minimum_off = "10 min" }]
"""  # noqa: E501
    text = case.source_text.replace("[numerics]", f"{rules}\n[numerics]").replace('"15 min"', '"5 min"')
    from simulator.case.loader import load_text

    with run_dry(load_text(text)) as ruled:
        share, seconds = ruled["fan_share"].values, ruled["time"].values
    first = float(seconds[np.flatnonzero(share > 0.0)[0]])
    assert len(pieces) >= 2
    # rows every five minutes
    assert pieces[1][0] / 1000.0 == pytest.approx(first, abs=330.0)
