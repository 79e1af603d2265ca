"""Tables of stove, water and house to lay over the small cases of `rigs`; scenarios made up for the tests."""

from __future__ import annotations

import datetime as dt
from typing import Any

START = dt.datetime(2031, 1, 15, 16)

STOVE: dict[str, Any] = {
    "heat": {"kind": "stove"},
    "stove": {
        "fuel": "logs",
        "burn": "batches",
        "burn_time": "60 min",
        "efficiency": 0.75,
        "mass": "60 kg",
        "surface": "1.2 m2",
        "bare_share": 0.2,
    },
    "hood": {
        "wall_area": "2 m2",
        "cross_section": "0.06 m2",
        "hydraulic_diameter": "0.12 m",
        "wall_mass": "15 kg",
    },
    "timetable": {
        "start": {"fan": "on", "pump": "on"},
        "dated": [
            {"at": START + dt.timedelta(minutes=10), "load": "2 kg"},
            {"at": START + dt.timedelta(minutes=90), "load": "1.5 kg"},
        ],
    },
}
PELLETS: dict[str, Any] = {
    "heat": {"kind": "stove"},
    "stove": {
        "fuel": "pellets",
        "burn": "steady",
        "rate": "1.2 kg/h",
        "air_ratio": 2.2,
        "flue_temperature": "160 degC",
        "mass": "60 kg",
        "surface": "1.2 m2",
    },
    "hood": STOVE["hood"],
    "timetable": {
        "start": {"fan": "on", "feed": "off"},
        "dated": [
            {"at": START + dt.timedelta(minutes=20), "feed": "on"},
            {"at": START + dt.timedelta(minutes=170), "feed": "off"},
        ],
    },
}
WATER: dict[str, Any] = {
    "coils": [
        {"name": "upper", "conductance": "60 W/K", "water_volume": "1 L", "metal_mass": "2 kg"},
        {
            "name": "lower",
            "conductance": "40 W/K",
            "water_volume": "1 L",
            "metal_mass": "2 kg",
            "arrangement": "counter flow",
        },
    ],
    "water": {
        "tank_volume": "300 L",
        "layers": 3,
        "height": "1.2 m",
        "temperature": "16 degC",
        "heat_loss": "4 W/K",
        "make_up": "3 L/h",
        "make_up_temperature": "8 degC",
        "pump_flow": "5 L/min",
        "pump_power": "25 W",
    },
}
PLACE: dict[str, Any] = {"site": {"latitude": 46.5, "longitude": 9.8, "time_zone": 1}}
HOUSE: dict[str, Any] = {
    **PLACE,
    "weather": {
        "kind": "daily wave",
        "mean": "-2 degC",
        "amplitude": "5 K",
        "sun_peak": "400 W/m2",
        "sunrise": "08:00",
        "sunset": "17:30",
    },
    "room": {
        "kind": "house",
        "temperature": "14 degC",
        "volume": "30 m3",
        "heat_capacity": "150 kJ/K",
        "air_changes": "0.4 1/h",
        "gains": "60 W",
        "surfaces": [
            {
                "name": "south pane",
                "kind": "glazing",
                "area": "8 m2",
                "tilt": "40 deg",
                "azimuth": "180 deg",
                "transmittance": 0.75,
                "absorptance": 0.08,
                "resistance": "0.17 m2.K/W",
                "night_cover": "0.4 m2.K/W",
            },
            {
                "name": "north wall",
                "kind": "wall",
                "area": "20 m2",
                "tilt": "90 deg",
                "azimuth": "0 deg",
                "resistance": "2 m2.K/W",
                "absorptance": 0.6,
            },
        ],
        "masses": [{"name": "jars", "heat_capacity": "300 kJ/K", "area": "2 m2", "sun_share": 0.2}],
    },
}
DAMP: dict[str, Any] = {
    "moisture": {"room_humidity": 0.7, "outside_humidity": 0.8, "gain": "0.05 kg/h"},
    "room": {
        **HOUSE["room"],
        "plants": {"leaf_area": "4 m2"},
        "wet_soil": {"area": "2 m2", "wetness": 0.5},
    },
}


def rule(on_when: str, **keys: Any) -> dict[str, Any]:
    """Controls with one rule, on the fan unless said otherwise."""
    return {"controls": {"rules": [{"switch": "fan", "to": "on", "on_when": on_when, **keys}]}}


def upset(kind: str, minutes: float = 40.0, **keys: Any) -> dict[str, Any]:
    """One upset, so many minutes after the start."""
    return {"upsets": [{"at": START + dt.timedelta(minutes=minutes), "kind": kind, **keys}]}
