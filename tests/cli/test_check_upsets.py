"""`ductfloor check --upsets`: a small case with a heater, in words and for programs; nothing is left."""

from __future__ import annotations

import json
from pathlib import Path


def test_upsets_are_told_in_words(ductfloor, case_file) -> None:
    before = case_file.read_bytes()
    outcome = ductfloor("check", case_file, "--upsets")
    assert outcome.code == 0, outcome.err
    lines = outcome.out.splitlines()
    assert lines[0] == f"{case_file} is sound."
    assert max(map(len, lines[1:])) <= 80
    # No heat flows once the fan stands, and nothing gets hotter than before: no limit on heat is passed.
    at = lines.index("All upsets")
    assert [line.split("  ")[1] for line in lines[at + 2 : at + 5]] == [
        "fan stops", "power cut", "filter clogged",
    ]  # fmt: skip
    assert "No limit is passed because of it." in outcome.out
    assert "carbon monoxide" in outcome.out
    assert outcome.err == ""
    assert case_file.read_bytes() == before
    assert [path.name for path in Path().iterdir()] == ["shed.toml"]


def test_upsets_are_told_to_programs(ductfloor, case_file) -> None:
    data = json.loads(ductfloor("check", case_file, "--json", "--upsets").out)
    trials = data["upsets"]["trials"]
    assert [trial["kind"] for trial in trials] == ["fan stops", "power cut", "filter clogged"]
    fan = trials[0]
    assert fan["failure"] is None
    # The fan runs from 18:00 to 24:00: it fails half-way.
    assert (fan["at"], fan["until"]) == ("2031-01-15 21:00", "2031-01-16 09:00")
    floor = next(one for one in fan["extremes"] if one["what"] == "floor surface")
    assert floor["lowest_degC"] <= floor["lowest_without_upset_degC"] + 1e-6
    assert fan["nearest_limit"]["margin_K"] > 0.0
    assert "upsets" not in json.loads(ductfloor("check", case_file, "--json").out)
