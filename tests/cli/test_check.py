"""`ductfloor check`: what a case means, in both systems of units."""

from __future__ import annotations

import json
from pathlib import Path


def test_a_sound_case_is_told_in_both_systems(ductfloor, case_file) -> None:
    outcome = ductfloor("check", case_file)
    assert outcome.code == 0, outcome.err
    lines = outcome.out.splitlines()
    assert lines[0] == f"{case_file} is sound."
    assert max(map(len, lines[1:])) <= 80
    told = {line.split("  ")[1].strip(): line for line in lines if line.startswith("  ") and "  " in line[2:]}
    # 10 cm = 3.9370 in, 55 degC = 131 degF, 20 W/K = 37.913 BTU/(h.degF): exact conversions, rounded
    assert "10 cm (3.937 in)" in told["diameter"]
    assert "55 degC (131 degF)" in outcome.out
    assert "20 W/K (37.913 BTU/(h.F))" in told["heat_loss"]
    assert told["roughness"].endswith("default")
    assert told["layers[1].conductivity"].endswith("derived")
    assert "carbon monoxide" in outcome.out


def test_the_timetable_is_listed(ductfloor, case_file) -> None:
    lines = ductfloor("check", case_file).out.splitlines()
    at = lines.index("Timetable")
    assert lines[at + 2].split(maxsplit=3) == ["2031-01-15", "18:00", "on", "air at 55.0 degC"]
    assert lines[at + 3].split() == ["2031-01-16", "00:00", "off", "off"]
    assert lines[at + 4] == ""


def test_a_long_timetable_is_cut(ductfloor, case_file) -> None:
    text = case_file.read_text(encoding="utf-8").replace('"15 h"', '"100 days"')
    daily = ', { at = "06:00", fan = 0.5 }, { at = "07:00", fan = "off" }]'
    case_file.write_text(text.replace('heat = "off" }]', 'heat = "off" }' + daily), encoding="utf-8")
    out = ductfloor("check", case_file).out
    assert "  and 162 more, until 2031-04-25 07:00" in out  # 1 + 1 + 2 x 100 moments, 40 of them shown
    assert "50%" in out


def test_what_will_be_simulated_is_told(ductfloor, case_file) -> None:
    data = json.loads(ductfloor("check", case_file, "--json").out)
    plan = data["plan"]
    assert plan["stations"] == 3
    assert plan["cells_per_station"] > 0
    assert plan["steps"] >= 60  # 15 h at 15 min, and more after switches


def test_json_holds_numbers_in_si(ductfloor, case_file) -> None:
    data = json.loads(ductfloor("check", case_file, "--json").out)
    assert data["inputs"]["ducts.diameter"]["value"] == 0.1
    assert data["inputs"]["ducts.diameter"]["origin"] == "given"
    first, last = data["switches"]
    assert (first["at"], first["fan_share"]) == ("2031-01-15T18:00:00", 1.0)
    assert round(first["supply_temperature_degC"], 9) == 55.0
    assert (last["at"], last["fan_share"], last["heat_power_W"]) == ("2031-01-16T00:00:00", 0.0, 0.0)


def test_a_supply_too_hot_for_the_ducts_is_told_before_any_run(ductfloor, case_file) -> None:
    text = case_file.read_text(encoding="utf-8").replace("55 degC", "70 degC")
    case_file.write_text(text, encoding="utf-8")
    outcome = ductfloor("check", case_file)
    assert outcome.code == 0
    assert "DANGER" in outcome.out
    assert "supply temperature reaches 70.0 degC: above the 60.0 degC" in outcome.out


def test_nothing_is_written(ductfloor, case_file) -> None:
    ductfloor("check", case_file)
    assert [path.name for path in Path().iterdir()] == ["shed.toml"]


def test_what_was_understood_is_drawn(ductfloor, case_file) -> None:
    outcome = ductfloor("check", case_file, "--draw", "understood.png", "--draw-fan", "fan.svg")
    assert outcome.code == 0, outcome.err
    assert outcome.out.endswith("\nwrote understood.png, fan.svg\n")
    assert Path("understood.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    assert "<svg" in Path("fan.svg").read_text(encoding="utf-8")[:2000]
    data = json.loads(ductfloor("check", case_file, "--json", "--draw", "again.png").out)
    assert data["inputs"]["ducts.diameter"]["value"] == 0.1
    assert Path("again.png").exists()


def test_a_picture_of_an_unknown_kind_is_refused(ductfloor, case_file) -> None:
    outcome = ductfloor("check", case_file, "--draw", "understood.bmp")
    assert outcome.code == 2
    assert "understood.bmp: a picture is written as .png or .svg" in outcome.err


def test_a_slip_is_told_with_its_line(ductfloor, case_file) -> None:
    text = case_file.read_text(encoding="utf-8")
    line = text.splitlines().index('depth = "40 cm"') + 1
    case_file.write_text(text.replace('depth = "40 cm"', 'depth = "40 kg"'), encoding="utf-8")
    outcome = ductfloor("check", case_file)
    assert outcome.code == 2
    assert outcome.err.startswith(f"error: {case_file}:{line}: ducts.depth")
