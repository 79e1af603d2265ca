"""`ductfloor check` on a case that burns fuel: its tables, its rules, its loads."""

from __future__ import annotations

import json
from pathlib import Path

COLD_WEEK = Path(__file__).parents[2] / "cases" / "cold-week.toml"


def test_tables_of_the_heat_chain_are_listed(ductfloor) -> None:
    outcome = ductfloor("check", COLD_WEEK)
    assert outcome.code == 0, outcome.err
    lines = outcome.out.splitlines()
    assert max(map(len, lines[1:])) <= 80
    for heading in ("[stove]", "[hood]", "[[coils]], number 1", "[water]", "[controls]"):
        assert heading in lines
    told = {line.split("  ")[1].strip(): line for line in lines if line.startswith("  ")}
    # 1100 L = 290.6 US gal, 5.3 L/min = 1.4 US gal/min (231 cubic inches), 140 W/K = 265.39 BTU/(h.degF)
    assert "1100 L (290.59 gal)" in told["tank_volume"]
    assert "5.3 L/min (1.4001 gpm)" in told["pump_flow"]
    assert "140 W/K (265.39 BTU/(h.F))" in told["conductance"]
    assert told["heating_value"].endswith("derived")
    assert "start_up" not in told
    assert "180 deg" in told["surfaces[1].azimuth"]
    assert "coil water above 80 degC" in told["rules[1].on_when"]


def test_switches_and_loads_are_listed(ductfloor) -> None:
    lines = ductfloor("check", COLD_WEEK).out.splitlines()
    at = lines.index("Timetable")
    assert lines[at + 1].split() == ["from", "fan", "pump", "cover"]
    assert lines[at + 3].split() == ["2031-02-16", "17:30", "off", "off", "on"]
    assert "  While a rule of [controls] is engaged, it goes before this." in lines
    at = lines.index("Loads of fuel")
    assert lines[at + 2].split() == ["2031-02-16", "16:00", "3.0", "kg"]
    # Seven days of 3 + 3 + 3 + 4 kg
    assert "  in all 91.0 kg in 28 loads" in lines


def test_other_programs_get_loads_and_rules(ductfloor) -> None:
    data = json.loads(ductfloor("check", COLD_WEEK, "--json").out)
    assert data["loads"][0] == {"at": "2031-02-16T16:00:00", "mass_kg": 3.0}
    assert data["switches"][1]["cover_share"] == 1.0
    rule = data["inputs"]["controls.rules[1].on_when"]["value"]
    assert rule["any_of"] == [[{"quantity": "coil water", "above": True, "other": None, "value": 353.15}]]
    assert data["inputs"]["coils[1].conductance"]["value"] == 140.0
