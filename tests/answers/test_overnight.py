"""Courses made by hand, so that every answer is known beforehand."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from simulator.answers.overnight import overnight
from simulator.errors import StoreError

START = dt.datetime(2024, 2, 28, 12, 0)
KWH = 3.6e6


@pytest.fixture
def two_days(make_results):
    """Noon to noon and noon again, every half hour; the second night is 2 K colder."""
    seconds = np.arange(0, 48.01, 0.5) * 3600.0
    hours = seconds / 3600.0
    colder = np.where(hours > 24, 2.0, 0.0)
    # V shapes with their lowest points at chosen hours after noon
    low_floor = 18.0 + np.abs((hours % 24) - 19.0) - colder
    low_room = 14.0 + 0.5 * np.abs((hours % 24) - 18.5) - colder
    # air moves from 16:00 to 22:00 each day; the exit is coldest at other times, when nothing moves
    moving = ((hours % 24) >= 4) & ((hours % 24) <= 10)
    exit_air = np.where(moving, 30.0 - (hours % 24), -40.0)
    watts_in = np.where(
        np.diff(hours, prepend=0.0) * ((hours % 24 > 4) & (hours % 24 <= 10)) > 0, 2000.0, 0.0
    )
    into = np.cumsum(watts_in * 0.6 * 1800.0)
    out_of = np.cumsum(np.where((hours % 24 > 10) & (hours % 24 <= 14), -250.0, 0.0) * 1800.0)
    return make_results(
        START,
        seconds,
        floor_mean_temperature=low_floor,
        floor_lowest_temperature=low_floor - 1.5,
        room_temperature=low_room,
        exit_temperature=exit_air,
        outside_temperature=-5.0 - 0.1 * hours,
        mass_flow=np.where(moving, 0.2, 0.0),
        ledger_heater=np.cumsum(watts_in * 1800.0),
        ledger_fan=np.cumsum(watts_in * 0.05 * 1800.0),
        ledger_duct=into + out_of,
        ledger_floor=100.0 * seconds,
        ledger_return=30.0 * seconds,
        ledger_stored_ground=into + out_of - 100.0 * seconds,
        ledger_stored_room=-2.0 * seconds,
        ledger_residual=-1e-4 * seconds,
        ledger_handled=1000.0 * seconds,
    )


def test_the_last_night(two_days):
    answer = overnight(two_days)
    assert answer.window.begin == dt.datetime(2024, 2, 29, 18, 0)
    assert answer.window.end == dt.datetime(2024, 3, 1, 9, 0)
    lows, at_end = answer.lows, answer.at_end
    assert lows["floor_mean"].temperature == pytest.approx(16.0)
    assert lows["floor_mean"].at == dt.datetime(2024, 3, 1, 7, 0)
    assert lows["floor_coldest_place"].temperature == pytest.approx(14.5)
    assert lows["room"].temperature == pytest.approx(12.0)
    assert lows["room"].at == dt.datetime(2024, 3, 1, 6, 30)
    assert lows["exit_air"].temperature == pytest.approx(20.0)
    assert lows["exit_air"].at == dt.datetime(2024, 2, 29, 22, 0)
    assert lows["outside"].at == answer.window.end
    assert lows["outside"].temperature == at_end["outside"] == pytest.approx(-9.5)
    assert at_end["floor_mean"] == pytest.approx(18.0)
    assert at_end["room"] == pytest.approx(13.25)
    assert at_end["exit_air"] is None


def test_another_night_is_warmer(two_days):
    first, last = overnight(two_days, night=1), overnight(two_days, night=2)
    assert first.lows["floor_mean"].temperature == pytest.approx(18.0)
    assert last == overnight(two_days)
    assert first.lows["floor_mean"].at == last.lows["floor_mean"].at - dt.timedelta(days=1)


def test_where_the_heat_went(two_days):
    answer = overnight(two_days)
    heat = answer.heat  # 18:00 to 09:00: 4 h of 2 kW, then 4 h of 250 W out, 15 h of 100 W up
    assert heat.heater == pytest.approx(8.0 * KWH)
    assert heat.fan == pytest.approx(0.4 * KWH)
    assert heat.put_in == pytest.approx(8.4 * KWH)
    assert heat.air_to_ground == pytest.approx(4.8 * KWH)
    assert heat.ground_to_air == pytest.approx(1.0 * KWH)
    assert heat.floor_to_room == pytest.approx(1.5 * KWH)
    assert heat.given_back == pytest.approx(2.5 * KWH)
    assert heat.return_to_room == pytest.approx(0.45 * KWH)
    assert heat.ground_change == pytest.approx(2.3 * KWH)
    assert heat.fraction_kept == pytest.approx(2.3 / 4.8)
    assert heat.room_change == pytest.approx(-0.03 * KWH)
    assert heat.residual == pytest.approx(-5.4)
    assert heat.residual_share == pytest.approx(1e-7)
    run = answer.heat_of_run
    assert run.heater == pytest.approx(24.0 * KWH)
    assert run.air_to_ground == pytest.approx(14.4 * KWH)
    assert run.ground_to_air == pytest.approx(2.0 * KWH)
    assert run.floor_to_room == pytest.approx(4.8 * KWH)


def test_a_stretch_between_rows(two_days):
    begin, end = dt.datetime(2024, 2, 28, 17, 15), dt.datetime(2024, 2, 28, 17, 20)
    answer = overnight(two_days, begin=begin, end=end)
    assert answer.heat.heater == pytest.approx(2000.0 * 300.0)
    assert answer.heat.floor_to_room == pytest.approx(100.0 * 300.0)
    assert answer.lows["floor_mean"].temperature == pytest.approx(18.0 + 19.0 - 5 - 1 / 3)
    assert answer.lows["floor_mean"].at == end
    assert answer.at_end["exit_air"] == pytest.approx(30.0 - 5 - 1 / 3)


def test_air_that_never_moves(make_results):
    seconds = np.arange(0, 12.01, 1.0) * 3600.0
    answer = overnight(make_results(START.replace(hour=20), seconds, exit_temperature=np.full(13, np.nan)))
    assert answer.lows["exit_air"] is None
    assert answer.heat.fraction_kept is None
    assert answer.heat.residual_share == 0.0
    rows = dict(answer.as_rows("SI"))
    assert rows["Air leaving the ducts: lowest"] == "no air moved"
    assert rows["Kept of what went into the ground"] == "nothing went in"
    assert answer.window.describe() == "2024-02-28 20:00 to 2024-02-29 08:00 (night 1 of 1)"
    assert not [label for label in rows if label.startswith("Whole run")]
    assert answer.as_dict()["lows"]["exit_air"] is None


def test_one_row_is_enough(make_results):
    answer = overnight(make_results(START, np.array([0.0]), room_temperature=np.array([21.5])))
    assert answer.lows["room"].temperature == answer.at_end["room"] == pytest.approx(21.5)
    assert answer.heat.put_in == 0.0


def test_no_rows_no_answer(two_days, monkeypatch):
    monkeypatch.setitem(two_days._lengths, "time", 0)
    with pytest.raises(StoreError, match="holds no rows yet"):
        overnight(two_days)


def test_plain_numbers_for_other_programs(two_days):
    told = json.loads(json.dumps(overnight(two_days).as_dict(), allow_nan=False))
    assert told["window"] == {
        "begin": "2024-02-29T18:00:00",
        "end": "2024-03-01T09:00:00",
        "night": 2,
        "nights": 2,
    }
    assert told["lows"]["room"] == {"value": pytest.approx(12.0), "unit": "degC", "at": "2024-03-01T06:30:00"}
    assert told["heat"]["put_in"] == {"value": pytest.approx(8.4 * KWH), "unit": "J"}
    assert told["heat"]["fraction_kept"]["value"] == pytest.approx(2.3 / 4.8)
    assert told["heat_of_run"]["heater"]["value"] == pytest.approx(24.0 * KWH)
    assert told["at_end"]["exit_air"] == {"value": None, "unit": "degC"}


def test_lines_in_both_systems(two_days):
    answer = overnight(two_days)
    rows = dict(answer.as_rows("SI"))
    assert rows["Window"] == "2024-02-29 18:00 to 2024-03-01 09:00 (night 2 of 2)"
    assert rows["Floor surface, mean: lowest"] == "16.0 degC at 2024-03-01 07:00"
    assert rows["Floor surface, mean: at the end"] == "18.0 degC"
    assert rows["Heat put in"] == "8.40 kWh (heater 8.00 kWh, fan 0.40 kWh)"
    assert rows["Kept of what went into the ground"] == "48 %"
    assert rows["Whole run: From duct air into the ground"] == "14.40 kWh"
    rows = dict(answer.as_rows("US"))
    # 16 degC is 60.8 degF; 1 kWh is 3412.14 BTU (international table)
    assert rows["Floor surface, mean: lowest"] == "60.8 degF at 2024-03-01 07:00"
    assert rows["Heat put in"] == "28,662 BTU (heater 27,297 BTU, fan 1,365 BTU)"


def test_a_floor_that_takes_heat_from_the_room(make_results):
    seconds = np.arange(0, 12.01, 1.0) * 3600.0
    ledgers = {"ledger_floor": -50.0 * seconds, "ledger_duct": 150.0 * seconds}
    heat = overnight(make_results(START.replace(hour=20), seconds, **ledgers)).heat
    # 12 h of 50 W down through the floor and 150 W out of the air, none back
    assert heat.floor_to_room == pytest.approx(-0.6 * KWH)
    assert heat.put_into_ground == pytest.approx(2.4 * KWH)
    assert heat.given_back == 0.0
    assert heat.fraction_kept == 1.0


def test_a_floor_that_lives_on_its_store_says_so_in_words(make_results):
    seconds = np.arange(0, 12.01, 1.0) * 3600.0
    ledgers = {"ledger_floor": 90.0 * seconds, "ledger_duct": 60.0 * seconds}
    answer = overnight(make_results(START.replace(hour=20), seconds, **ledgers))
    # 12 h of 60 W into the ground are 0.72 kWh, 12 h of 90 W out of the floor 1.08 kWh: half as much again
    assert answer.heat.fraction_kept == pytest.approx(-0.5)
    told = dict(answer.as_rows("SI"))["Kept of what went into the ground"]
    assert told == "nothing: it gave back 0.36 kWh more than went in, from heat stored before"
