"""Cautions of the plant on courses that were made up, so that every moment and time is known beforehand."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from simulator.answers.cautions import cautions
from simulator.answers.cautions_plant import Alarm, plant_cautions
from simulator.answers.plant_events import Event, crossings
from simulator.answers.plant_limits import PLANT_LIMITS

START = dt.datetime(2031, 1, 20, 16, 0)
MINUTES = np.arange(0.0, 481.0)
SECONDS = 60.0 * MINUTES
DUCTS = 333.15
CASE = {
    "ducts": {"service_temperature": DUCTS},
    "stove": {"service_temperature": 723.15},
    "hood": {"fan_service_temperature": 333.15},
    "coils": [{"boiling_temperature": 373.15}, {"boiling_temperature": 371.15, "name": "upper coil"}],
    "water": {"safe_low": 283.15, "safe_high": 303.15},
    "upsets": [{"at": "2031-01-20T18:00:00", "kind": "pump stops", "name": "the pump gives up"}],
}
STEADY = {
    "outside_temperature": 0.0, "room_temperature": 15.0, "supply_temperature": 40.0, "mass_flow": 0.1,
    "floor_highest_temperature": 20.0, "wall_temperature": 20.0, "shell_temperature": 50.0,
    "hood_wall_temperature": 30.0, "fan_air_temperature": 40.0, "stove_gas_temperature": 200.0,
    "fuel_rate": 5e-4, "tank_layer_temperature": 20.0, "tank_temperature": 20.0,
    "coil_water_temperature": 30.0, "fan_setting": 1.0, "pump_setting": 1.0,
}  # fmt: skip


@pytest.fixture
def plant(make_results):
    """Results of a plant that keeps every limit, save for the courses that are changed."""

    def make(case: dict | None = None, **changes):
        courses = {name: np.full(MINUTES.size, value) for name, value in STEADY.items()}
        courses |= {"fuel_burnt": 5e-4 * SECONDS, **changes}
        text = json.dumps({**CASE, **(case or {})})
        parts = frozenset({"stove", "water", "switching"})
        names = {"coil": ("near", "far"), "layer": ("bottom", "top")}
        return make_results(START, SECONDS, {"parts": parts, "names": names}, text, **courses)

    return make


def ramp(begin: float, per_minute: float, value: float, highest: float) -> np.ndarray:
    """Course that rises (or falls) from a minute on until it stays."""
    rising = value + per_minute * np.maximum(MINUTES - begin, 0.0)
    return np.minimum(rising, highest) if per_minute > 0.0 else np.maximum(rising, highest)


def named(found, name: str):
    return next((one for one in found if one.limit.name == name), None)


def test_a_plant_within_its_limits_is_told_of_carbon_monoxide_only(plant) -> None:
    assert [one.limit.name for one in plant_cautions(plant(), DUCTS)] == ["carbon monoxide"]


def test_other_runs_have_no_plant(make_results) -> None:
    assert plant_cautions(make_results(START, SECONDS), DUCTS) == []


def test_time_to_act_from_the_upset_to_boiling(plant) -> None:
    # The pump stops at 18:00, minute 120; from 30 degC at 5 K a minute 98 degC is passed after 13.6 minutes.
    far = np.stack([np.full(MINUTES.size, 30.0), ramp(120.0, 5.0, 30.0, 120.0)], axis=1)
    alarm = named(plant_cautions(plant(coil_water_temperature=far), DUCTS), "coil boils")
    assert alarm.time_to_act == pytest.approx(13.6 * 60.0)
    assert alarm.crossed_at == START + dt.timedelta(minutes=133.6)
    assert alarm.place == "upper coil"
    assert alarm.event == '"the pump gives up"'
    assert alarm.limit.severity == "danger"
    told = alarm.text("US")
    # 98 degC = 208.4 degF
    assert "water in the coil (upper coil) rises above 208.4 degF at 2031-01-20 18:13" in told
    assert '13.6 min after "the pump gives up": that is all the time there is to act' in told
    assert "licensed plumber" in told


def test_a_time_shorter_than_the_rows_are_apart_is_told_as_such(plant) -> None:
    # 40 degC at 18:00 and 90 degC a minute later: 60 degC is passed after 24 s of a straight line.
    alarm = named(
        plant_cautions(plant(fan_air_temperature=ramp(120.0, 50.0, 40.0, 90.0)), DUCTS), "fan too hot"
    )
    assert alarm.time_to_act == pytest.approx(24.0)
    assert alarm.apart == 60.0
    assert "less than 1.0 min after" in alarm.text()


def test_the_milder_limit_of_a_subject_gives_way(plant) -> None:
    hot = np.tile(ramp(120.0, 5.0, 30.0, 100.0)[:, None], (1, 2))
    names = [one.limit.name for one in plant_cautions(plant(coil_water_temperature=hot), DUCTS)]
    assert "coil boils" in names
    assert "coil near boiling" not in names


@pytest.mark.parametrize(
    ("name", "changes"),
    [
        ("stove too hot", {"shell_temperature": ramp(60.0, 10.0, 50.0, 460.0)}),
        ("hot shell, touched", {"hood_wall_temperature": ramp(60.0, 1.0, 30.0, 66.0)}),
        ("fan too hot", {"fan_air_temperature": ramp(60.0, 1.0, 40.0, 61.0)}),
        ("ducts too hot", {"supply_temperature": ramp(60.0, 1.0, 40.0, 61.0)}),
        ("coil near boiling", {"coil_water_temperature": np.tile(ramp(60.0, 1.0, 30.0, 92.0)[:, None], 2)}),
        (
            "scald within minutes",
            {"tank_layer_temperature": np.tile(ramp(60.0, 1.0, 20.0, 50.0)[:, None], 2)},
        ),
        (
            "scald within seconds",
            {"tank_layer_temperature": np.tile(ramp(60.0, 1.0, 20.0, 61.0)[:, None], 2)},
        ),
        ("tank too warm", {"tank_layer_temperature": np.tile(ramp(60.0, 1.0, 20.0, 31.0)[:, None], 2)}),
        ("tank too cold", {"tank_layer_temperature": np.tile(ramp(60.0, -1.0, 20.0, 9.0)[:, None], 2)}),
        ("frost near", {"room_temperature": ramp(60.0, -1.0, 15.0, 1.0)}),
        ("frost on water lines", {"room_temperature": ramp(60.0, -1.0, 15.0, -1.0)}),
        ("cool flue", {"stove_gas_temperature": ramp(60.0, -2.0, 200.0, 110.0)}),
        ("flue gas near its dew point", {"stove_gas_temperature": ramp(60.0, -2.0, 200.0, 60.0)}),
        ("floor for feet", {"floor_highest_temperature": ramp(60.0, 1.0, 20.0, 30.0)}),
        ("floor at the edge", {"floor_highest_temperature": ramp(60.0, 1.0, 20.0, 36.0)}),
        ("floor that burns", {"floor_highest_temperature": ramp(60.0, 1.0, 20.0, 44.0)}),
    ],
)
def test_every_limit_is_told_when_it_is_passed_by_a_degree(plant, name, changes) -> None:
    limit = next(one for one in PLANT_LIMITS if one.name == name)
    alarm = named(plant_cautions(plant(case={"upsets": []}, **changes), DUCTS), name)
    assert isinstance(alarm, Alarm)
    assert alarm.limit is limit
    assert (alarm.time_to_act, alarm.event) == (None, "")
    series = next(iter(changes.values()))
    series = series if series.ndim == 1 else series[:, 0]
    past = series >= alarm.allowed - 273.15 if limit.side == "above" else series <= alarm.allowed - 273.15
    # between the last row before and the first one after
    first = int(np.flatnonzero(past)[0])
    assert START + dt.timedelta(minutes=first - 1) <= alarm.crossed_at <= START + dt.timedelta(minutes=first)
    extreme = series.max() if limit.side == "above" else series.min()
    assert alarm.worst == pytest.approx(extreme + 273.15)
    assert alarm.beyond == pytest.approx(60.0 * past.sum(), abs=61.0)


def test_every_limit_has_a_source_and_says_what_to_do() -> None:
    for limit in PLANT_LIMITS:
        assert limit.source
        assert limit.act.endswith(".")
        assert limit.severity == "caution" or limit.call or limit.subject == "floor"


def test_a_makers_figure_may_be_reached(plant) -> None:
    assert (
        named(plant_cautions(plant(fan_air_temperature=np.full(MINUTES.size, 60.0)), DUCTS), "fan too hot")
        is None
    )


def test_gas_is_not_judged_while_the_fire_warms_up(plant) -> None:
    # cold gas in the first half hour of the fire only
    gas = np.where(MINUTES < 29.0, 60.0, 200.0)
    names = [one.limit.name for one in plant_cautions(plant(stove_gas_temperature=gas), DUCTS)]
    assert "cool flue" not in names
    assert "little draught" not in names


def test_little_draught_by_hand(plant) -> None:
    # 80 degC in 0 degC: 9.80665 x 101325 / 287.055 x (1/273.15 - 1/353.15) = 2.871 Pa/m; 12 Pa take 4.18 m.
    # 45 degC: 1.793 Pa/m and 6.69 m.
    def draught(gas: float):
        return named(
            plant_cautions(plant(stove_gas_temperature=np.full(MINUTES.size, gas)), DUCTS), "little draught"
        )

    assert draught(80.0) is None
    found = draught(45.0)
    assert found.numbers["pull"][0] == pytest.approx(1.793, abs=0.002)
    assert found.numbers["height"][0] == pytest.approx(6.69, abs=0.01)
    assert "carbon monoxide" in found.text()


def test_steam_and_a_fire_without_a_fan(plant) -> None:
    still = np.where(MINUTES >= 100.0, 0.0, 0.1)
    found = plant_cautions(
        plant(steam_vented=np.maximum(MINUTES - 200.0, 0.0) * 0.01, mass_flow=still), DUCTS
    )
    steam = named(found, "steam")
    assert steam.numbers["water"][0] == pytest.approx(2.8)
    assert steam.moment == START + dt.timedelta(minutes=201)
    alone = named(found, "fire without a fan")
    assert alone.moment == START + dt.timedelta(minutes=100)
    assert alone.numbers["burning"][0] == pytest.approx(381 * 60.0)


def test_switching_off_counts_as_an_event(plant) -> None:
    setting = np.where(MINUTES > 60.0, 0.0, 1.0)
    results = plant(
        case={"upsets": []}, pump_setting=setting, fan_air_temperature=ramp(60.0, 1.0, 40.0, 70.0)
    )
    alarm = named(plant_cautions(results, DUCTS), "fan too hot")
    assert alarm.event == "the pump is switched off"
    assert alarm.time_to_act == pytest.approx(20 * 60.0, abs=61.0)


def test_a_case_file_is_read_with_its_units(plant, make_results) -> None:
    text = '[stove]\nservice_temperature = "400 degF"\n[[upsets]]\n'
    text += 'at = 2031-01-20T16:30:00\nkind = "fan stops"\n'
    courses = {name: np.full(MINUTES.size, value) for name, value in STEADY.items()}
    courses["shell_temperature"] = ramp(30.0, 10.0, 100.0, 250.0)
    layout = {"parts": frozenset({"stove"}), "names": {}}
    results = make_results(START, SECONDS, layout, text, **courses)
    alarm = named(plant_cautions(results, DUCTS), "stove too hot")
    # 400 degF = 204.444 degC
    assert alarm.allowed == pytest.approx(204.4444 + 273.15)
    assert alarm.time_to_act == pytest.approx(10.44444 * 60.0)


@pytest.mark.parametrize(
    "text",
    ["", "[", "[" * 100_000, "5", "{}", "[stove]\nservice_temperature = 5",
     '{"stove": {"service_temperature": "x"}}',
     '{"upsets": [{"at": "soon"}, 5, {}], "coils": 7, "hood": []}', "upsets = [{at = 2031-01-20T18:00:00Z}]"],
)  # fmt: skip
def test_a_case_text_that_was_tampered_with_falls_back_on_the_usual_limits(plant, make_results, text) -> None:
    courses = {name: np.full(MINUTES.size, value) for name, value in STEADY.items()}
    courses["shell_temperature"] = ramp(30.0, 10.0, 100.0, 500.0)
    results = make_results(START, SECONDS, {"parts": frozenset({"stove"}), "names": {}}, text, **courses)
    # 450 degC is the schema's default
    assert named(plant_cautions(results, DUCTS), "stove too hot").allowed == pytest.approx(723.15)


def test_the_plant_tells_a_subject_once_and_dangers_come_first(plant) -> None:
    results = plant(
        supply_temperature=ramp(120.0, 2.0, 40.0, 62.0), floor_highest_temperature=np.full(MINUTES.size, 30.0)
    )
    found = cautions(results)
    assert [one.limit.name for one in found if one.limit.subject == "duct"] == ["ducts too hot"]
    assert [one.limit.name for one in found if one.limit.subject == "floor"] == ["floor for feet"]
    severities = [one.limit.severity for one in found]
    assert severities == sorted(severities, key=lambda severity: severity != "danger")
    data = json.loads(json.dumps([one.as_dict() for one in found]))
    ducts = next(one for one in data if one["name"] == "ducts too hot")
    assert ducts["seconds_to_act"] == pytest.approx(600.0, abs=1e-6)


def test_crossings_between_rows_and_their_events() -> None:
    times = np.array([0.0, 60.0, 120.0, 180.0, 240.0])
    beyond = np.array([-1.0, -0.5, 0.5, -2.0, 2.0])
    pump = Event("the pump", 30.0, "pump stops")
    found = crossings(times, beyond, [pump])
    assert [one.at for one in found] == pytest.approx([90.0, 210.0])
    assert found[0].time_to_act == pytest.approx(60.0)
    # The second time has nothing to do with what went wrong before the first one.
    assert found[1].event is None
    assert crossings(times, np.array([1.0, 2.0, 3.0, 4.0, 5.0]), [pump])[0].event is None
    assert crossings(times, np.full(5, np.nan), [pump]) == []
