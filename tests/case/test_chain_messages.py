"""Every table of the heat chain: what it means in SI, and the one message for each slip."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from simulator.case.loader import load_text
from simulator.case.schema import Case
from simulator.case.schema_stove import FUELS
from simulator.errors import CaseError

Refusal = Callable[..., str]
Build = Callable[..., Case]


def test_units_at_the_door(build_chain: Build) -> None:
    """Factors: US gallon of 231 cubic inches, International Table BTU (as in test_units)."""
    case = build_chain()
    assert case.water is not None
    assert case.water.tank_volume == pytest.approx(300 * 231 * 0.0254**3)
    assert case.water.pump_flow == pytest.approx(1.4 * 231 * 0.0254**3 / 60.0)
    assert case.coils[0].water_volume == pytest.approx(0.0015)
    assert case.stove is not None
    assert case.stove.heating_value == 18.8e6
    assert case.room.kind == "house"
    assert [surface.azimuth for surface in case.room.surfaces] == [180.0, 0.0]
    assert case.controls is not None
    assert case.controls.rules[0].share == 1.0


def test_pellets_as_fired_keep_the_standard() -> None:
    """ISO 17225-2 class A1: at most 10 % water, at least 16.5 MJ/kg as fired.

    The water's evaporation takes 2.443 MJ/kg at 25 degC (steam tables).
    """
    dry, moisture, _ = FUELS["pellets"]
    assert moisture <= 0.10
    assert dry * (1.0 - moisture) - 2.443e6 * moisture >= 16.5e6


def test_a_bag_of_pellets(build_chain: Build) -> None:
    """18.1 kg burn 6 to 7 h, so 12 to 15 kW fired (common practice, no source), with the fuel's defaults."""
    case = build_chain(
        ('fuel = "logs"', 'fuel = "pellets"\nrate = "2.75 kg/h"'), ('load = "6 kg", ', 'feed = "on", ')
    )
    stove = case.stove
    assert stove is not None
    assert stove.burn == "steady"
    assert stove.rate is not None
    assert 6.0 < 18.1 / (stove.rate * 3600.0) < 7.0
    as_fired = stove.heating_value * (1.0 - stove.moisture) - 2.443e6 * stove.moisture
    assert 12e3 < stove.rate * as_fired < 15e3
    assert case.timetable_compiled.values_from(0).feed == 1.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('fuel = "logs"', 'fuel = "log"', 'allowed: "logs", "pellets", "chips"; did you mean \'logs\'?'),
        ("efficiency = 0.75", "", "stove: needs efficiency, or flue_temperature; for example"),
        (
            "efficiency = 0.75",
            'efficiency = 0.75\nflue_temperature = "220 degC"',
            'stove.flue_temperature = "220 degC": is given beside efficiency',
        ),
        (
            "efficiency = 0.75",
            "efficiency = 75",
            "stove.efficiency = 75: must not be above 0.98; allowed: 0.05 to",
        ),
        ("efficiency = 0.75", 'efficiency = 0.75\nmoisture = "15 %"', "stove.moisture"),
        (
            "efficiency = 0.75",
            'efficiency = 0.75\nrate = "1 kg/h"',
            'stove.rate = "1 kg/h": belongs to burn = "steady"; here burn = "batches"',
        ),
        (
            "efficiency = 0.75",
            'efficiency = 0.75\nheating_value = "18.8 MJ"',
            "is a unit of energy, but an energy per mass is needed; use one of MJ/kg, kWh/kg, BTU/lb",
        ),
        (
            "efficiency = 0.75",
            'efficiency = 0.75\nburn = "steady"',
            'stove.rate: is missing: a steady fire needs the fuel it burns per time; give rate = "1.5 kg/h"',
        ),
        ('kind = "stove"', 'kind = "none"', "does nothing beside heat.kind"),
        ('load = "6 kg", ', "", "stove: finds no fuel: the timetable lays on no load; give one, for example"),
        ('load = "6 kg", ', 'load = "6 kW", ', "is a unit of power, but a mass is needed"),
        (
            'load = "6 kg", ',
            'load = "6 kg", heat = "on", ',
            'timetable.daily[2].heat = "on": does not fit heat.kind = "stove"; its heat follows the fuel',
        ),
        (
            'load = "6 kg", ',
            'load = "6 kg", feed = "on", ',
            'timetable.daily[2].feed = "on": does not fit stove.burn = "batches"; give load',
        ),
        (
            'hydraulic_diameter = "12 cm"',
            'hydraulic_diameter = "40 cm"',
            "is more than that of a round duct of the same cross_section, 0.319 m; allowed: up to 0.319 m",
        ),
        (
            'metal_mass = "5 kg"',
            'metal_mass = "5 kg"\narrangement = "crossflow"',
            "did you mean 'cross flow'?",
        ),
        (
            'tank_volume = "300 gal"',
            'tank_volume = "300 gal"\nlayers = 4',
            "water.height: is missing: layers need the water's height",
        ),
        (
            'pump_flow = "1.4 gpm"',
            'pump_flow = "1.4 gallons"',
            "is a unit of volume, but a water flow is needed",
        ),
        (
            'pump_flow = "1.4 gpm"',
            'pump_flow = "1.4 gpm"\nsafe_low = "86 degF"\nsafe_high = "50 degF"',
            'water.safe_high = "50 degF": must be above safe_low',
        ),
        (
            'azimuth = "south"',
            'azimuth = "sideways"',
            "is not an angle; allowed: 0 to 360 deg; write it like",
        ),
        ('azimuth = "south"', "", "room.surfaces[1].azimuth: is missing: a surface that does not lie flat"),
        (
            'tilt = "35 deg"',
            'tilt = "135 deg"',
            'room.surfaces[1].tilt = "135 deg": must not be above 90 deg',
        ),
        ("transmittance = 0.8", "", "room.surfaces[1].transmittance: is missing: glazing needs it"),
        (
            "transmittance = 0.8",
            "transmittance = 0.8\nabsorptance = 0.3",
            "room.surfaces[1].absorptance = 0.3: makes, with transmittance 0.8, more than the whole",
        ),
        ('azimuth = "0 deg"', 'azimuth = "0 deg"\ntransmittance = 0.1', 'does not fit kind = "wall"'),
        (
            'name = "walls"',
            'name = "roof"',
            'room.surfaces[2].name = "roof": is the name of another one before',
        ),
        (
            "sun_share = 0.2",
            "sun_share = 0.6",
            "room.masses[1].sun_share = 0.6: takes, with the floor and the masses before it, more than",
        ),
        (
            "longitude = -93.2",
            "longitude = 93.2",
            "site.longitude = 93.2: does not fit time_zone = -6: the sun would stand highest 11.8 h off",
        ),
        ("[[coils]]", "[coils]", "coils: must be a list; write [[coils]] for each entry"),
        ("[water]", "[[water]]", "water: must be a table of keys; write [water]: there is only one"),
        ("[[controls.rules]]", "[controls.rules]", "must be a list; write [[controls.rules]] for each"),
        ("latitude = 46.5", 'latitude = "46.5 N"', 'site.latitude = "46.5 N": is not an angle'),
        (
            "sun_to_floor = 0.5",
            'sun_to_floor = 0.5\nplants = { leaf_area = "9 m2" }',
            "room.plants: gives off vapour, but there is no table [moisture]; give [moisture]",
        ),
        ('switch = "fan"', 'switch = "feed"', 'controls.rules[1].switch = "feed": does not fit stove.burn'),
        ('to = "on"', "to = 1.6", "must not be above 1.5"),
        ('switch = "fan"\nto = "on"', 'switch = "pump"\nto = 1.2', "only a fan runs faster than on"),
        (
            'off_when = "supply below floor by 1 K and room above 10 degC"',
            "",
            "controls.rules[1].dead_band: is missing: without off_when a rule needs a dead band",
        ),
        (
            'off_when = "supply',
            'dead_band = "1 K"\noff_when = "supply',
            'controls.rules[1].dead_band = "1 K": is given beside off_when',
        ),
        ("room below 8 degC", "rom below 8 degC", '"rom" is no quantity known here; allowed: room, floor, '),
        ('kind = "pump stops"', 'kind = "pump stop"', "did you mean 'pump stops'?"),
        (
            'kind = "pump stops"',
            'kind = "pump stops"\nsize = 2',
            'does not fit kind = "pump stops"; leave it out',
        ),
        (
            'kind = "pump stops"',
            'kind = "filter clogged"',
            "upsets[1].size: is missing: how much of the flow path",
        ),
        (
            'kind = "pump stops"',
            'kind = "filter clogged"\nsize = 1',
            "must be below 1; allowed: above 0, below 1",
        ),
        ('kind = "pump stops"', 'kind = "fire over-fed"\nsize = 0.5', "must not be below 1: more is burnt"),
        (
            "at = 2031-01-16T21:00:00",
            "at = 2031-01-19T21:00:00",
            "lies outside the run; allowed: 2031-01-15T18:00:00 to 2031-01-17T18:00:00",
        ),
        (
            "at = 2031-01-16T21:00:00",
            "at = 2031-01-16T21:00:00\nuntil = 2031-01-16T20:00:00",
            "upsets[1].until = 2031-01-16T20:00:00: must be later than at",
        ),
        ('{ at = "07:00", cover', '{ at = "07:00", covr', "unknown key 'covr'; did you mean 'cover'?"),
        ('cover = "on"', "cover = 1.5", "must not be above 1; allowed: 0 to 1"),
        ("daily = [", 'start = { load = "6 kg" }\ndaily = [', "timetable.start.load: unknown key 'load'"),
    ],
)
def test_message(chain_refusal: Refusal, old: str, new: str, message: str) -> None:
    told = chain_refusal((old, new))
    assert message in told
    assert told.startswith("shed.toml:")


def cut(text: str, first: str, last: str) -> str:
    """Piece of a text from one word up to just before another one."""
    begin = text.index(first)
    return text[begin : text.index(last, begin)]


def without(build_chain: Build, first: str, last: str) -> tuple[str, str]:
    return cut(build_chain().source_text, first, last), ""


@pytest.mark.parametrize(
    ("first", "last", "message"),
    [
        ("[stove]", "[hood]", "heat.kind: needs a table [stove]; give the stove that is meant"),
        (
            "[hood]",
            "[[coils]]",
            'heat.kind = "stove": needs a table [hood]; give the hood that leads the air',
        ),
        ("[[coils]]", "[water]", "water: is warmed by nothing: there are no [[coils]]"),
        ("[water]", "[room]", "coils: need a table [water]; give the tank and pump"),
    ],
)
def test_parts_that_need_each_other(
    build_chain: Build, chain_refusal: Refusal, first: str, last: str, message: str
) -> None:
    told = chain_refusal(without(build_chain, first, last))
    assert message.partition(": ")[2] in told


def test_what_has_no_tank_or_stove(refusal: Refusal) -> None:
    rule = '[[controls.rules]]\nswitch = "fan"\nto = "on"\ndead_band = "1 K"\non_when = '
    assert 'looks at "tank top", but there is no tank; give a table [water]' in refusal(
        add=f'{rule}"room below 8 degC or tank top above 30 degC"\n'
    )
    assert 'looks at "hood", but there is no stove; give a table [stove]' in refusal(
        add=f'{rule}"hood above floor by 5 K"\n'
    )
    assert "finds no pump" in refusal(add=rule.replace("fan", "pump") + '"room below 8 degC"\n')
    assert "finds no night cover" in refusal(add=rule.replace("fan", "cover") + '"room below 8 degC"\n')
    at = "at = 2031-01-16T21:00:00\n"
    assert "finds no stove" in refusal(add=f'[[upsets]]\n{at}kind = "fire over-fed"\n')
    assert "finds no pump" in refusal(add=f'[[upsets]]\n{at}kind = "pump stops"\n')
    assert "finds no night cover" in refusal(add=f'[[upsets]]\n{at}kind = "cover left off"\n')
    assert "finds no stove" in refusal(add='[timetable]\ndaily = [{ at = "09:00", load = "6 kg" }]\n')


def test_fan_and_power_upsets_fit_every_case(build: Build) -> None:
    case = build(
        add='[[upsets]]\nat = 2031-01-16T21:00:00\nkind = "fan stops"\n'
        '[[upsets]]\nat = 2031-01-16T22:00:00\nkind = "power cut"\n'
        '[[upsets]]\nat = 2031-01-16T23:00:00\nkind = "filter clogged"\nsize = 0.5\n'
    )
    assert [upset.label for upset in case.upsets] == ["fan stops", "power cut", "filter clogged"]


CONSTANT = 'kind = "constant"\ntemperature = "20 degF"\nsun = "100 W/m2"\n'
WAVE = 'kind = "daily wave"\nmean = "20 degF"\namplitude = "5 K"\n'
CSV = """kind = "csv"
file = "weather.csv"
columns.time = { column = "time" }
columns.temperature = { column = "outside", unit = "degF" }
"""


@pytest.mark.parametrize(
    ("weather", "left_out", "told"),
    [
        (CONSTANT, ("latitude", "longitude", "time_zone"), None),
        (WAVE, ("latitude", "longitude", "time_zone"), None),
        (WAVE + 'sun_peak = "300 W/m2"\n', ("longitude", "time_zone"), None),
        (WAVE + 'sun_peak = "300 W/m2"\n', ("latitude",), "site.latitude: is missing: sun on the surfaces"),
        (CSV, ("latitude",), "site.latitude: is missing: sun on the surfaces of a house needs it"),
        (CSV, ("longitude",), "site.longitude: is missing"),
        (CSV, ("time_zone",), "site.time_zone: is missing"),
    ],
)
def test_where_the_sun_stands(
    chain: str, tmp_path: Path, weather: str, left_out: tuple[str, ...], told: str | None
) -> None:
    (tmp_path / "weather.csv").write_text("x", encoding="utf-8")
    text = chain.replace(CONSTANT, weather)
    for key in left_out:
        text = re.sub(rf"\n{key} = .*", "", text)
    if told is None:
        assert load_text(text, folder=tmp_path).site.longitude is None
        return
    with pytest.raises(CaseError) as caught:
        load_text(text, folder=tmp_path)
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("longitude", "zone"),
    [(-160.517, -9), (-99.13, -6), (0.0, 0), (75.99, 8), (-157.5, 14), (172.6, 12), (-8.6, 1)],
)
def test_real_places_fit_their_clock(build_chain: Build, longitude: float, zone: float) -> None:
    """Alaska, Mexico City, Greenwich, Kashgar, Kiritimati, Christchurch, western Spain (from memory)."""
    case = build_chain(
        ("longitude = -93.2", f"longitude = {longitude}"), ("time_zone = -6", f"time_zone = {zone}")
    )
    assert case.site.longitude == longitude


def test_defaults_by_the_kind_of_surface(build_chain: Build) -> None:
    room = build_chain().room
    assert room.kind == "house"
    assert room.surfaces[1].transmittance == 0.0
    assert room.surfaces[0].absorptance + room.surfaces[0].transmittance <= 1.0
    assert room.has_cover


def test_clear_sheet_takes_what_is_left_at_most(build_chain: Build) -> None:
    room = build_chain(("transmittance = 0.8", "transmittance = 0.97")).room
    assert room.kind == "house"
    assert room.surfaces[0].absorptance == pytest.approx(0.03)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ('columns.beam = { column = "direct" }', "weather.columns.beam: needs diffuse beside it"),
        ('columns.diffuse = { column = "diffuse" }', "weather.columns.diffuse: needs beam beside it"),
        ('columns.wind = { column = "wind", unit = "W" }', "but a velocity is needed"),
        ('columns.cloud = { column = "cloud", unit = "octas" }', 'allowed: "%", "share", "tenths", "eig'),
        ('columns.humidity = { column = "rh", unit = "g/kg" }', 'allowed: "%", "share"'),
    ],
)
def test_columns_of_a_weather_table(chain: str, tmp_path: Path, lines: str, told: str) -> None:
    (tmp_path / "weather.csv").write_text("x", encoding="utf-8")
    with pytest.raises(CaseError) as caught:
        load_text(chain.replace(CONSTANT, f"{CSV}{lines}\n"), folder=tmp_path)
    assert told in str(caught.value)


def test_columns_count_in_shares(chain: str, tmp_path: Path) -> None:
    """Eight eighths, ten tenths and 100 % are the whole."""
    (tmp_path / "weather.csv").write_text("x", encoding="utf-8")
    lines = 'columns.humidity = { column = "rh" }\ncolumns.cloud = { column = "n", unit = "eighths" }\n'
    weather = load_text(chain.replace(CONSTANT, CSV + lines), folder=tmp_path).weather
    assert weather.kind == "csv"
    assert weather.columns.humidity is not None
    assert weather.columns.cloud is not None
    assert weather.columns.humidity.factor * 100.0 == pytest.approx(1.0)
    assert weather.columns.cloud.factor * 8.0 == pytest.approx(1.0)
