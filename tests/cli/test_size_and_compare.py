"""`ductfloor size` and `ductfloor compare` from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from simulator.case.loader import load

TARGETS = """
change = ["ducts.length = 2..6 m in 9 steps"]
[want]
"heat into the floor" = "at least 2 kWh"
[limit]
trench = "at most 5.2 m"
[price]
pipe = "$10/m"
"""


def names() -> set[str]:
    return {path.name for path in Path().iterdir()}


def test_size_from_a_targets_file(ductfloor, case_file) -> None:
    Path("t.toml").write_text(TARGETS, encoding="utf-8")
    outcome = ductfloor("size", case_file, "--targets", "t.toml", "--write", "best.toml")
    assert outcome.code == 0, outcome.err
    assert names() == {
        "shed.toml", "t.toml", "best.toml", "shed-size.json", "shed-size.png", "shed-size-kept",
    }  # fmt: skip
    data = json.loads(Path("shed-size.json").read_text(encoding="utf-8"))
    best = data["best"]
    length = float(best["values"]["ducts.length"].split()[0])
    assert best["measures"]["price"] == pytest.approx(10.0 * length)
    assert load("best.toml").ducts.length == pytest.approx(length)
    # Two lengths of the nine are longer than the trench may be.
    assert data["without_run"] == 2
    assert "hottest duct at most" in outcome.out  # the service temperature of the ducts, unasked
    assert "carbon monoxide" in outcome.out
    assert max(map(len, outcome.out.splitlines())) < 200


def test_size_with_options_says_the_same(ductfloor, case_file) -> None:
    Path("t.toml").write_text(TARGETS, encoding="utf-8")
    first = json.loads(ductfloor("size", case_file, "--targets", "t.toml", "--json", "--no-chart").out)
    second = json.loads(
        ductfloor(
            "size", case_file, "--change", "ducts.length = 2..6 m in 9 steps",
            "--want", "heat into the floor at least 2 kWh", "--limit", "trench at most 5.2 m",
            "--price", "pipe = $10/m", "--json", "--no-chart",
        ).out
    )  # fmt: skip
    assert first == second


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("change =", "chage =", "unknown key 'chage'"),
        ('change = ["', 'change = "', "is not TOML"),
        ("[want]", "[want", "is not TOML"),
        ('"at least 2 kWh"', '"2 kWh"', "is no need"),
        ('"at least 2 kWh"', '"at least 2 K"', "an energy is needed"),
        ('pipe = "$10/m"', 'pipe = "$10"', "has no length"),
        ('change = ["ducts.length = 2..6 m in 9 steps"]', "change = 4", "must be a list of texts"),
    ],
)
def test_slips_in_targets_are_told(ductfloor, case_file, old, new, told) -> None:
    Path("t.toml").write_text(TARGETS.replace(old, new), encoding="utf-8")
    outcome = ductfloor("size", case_file, "--targets", "t.toml")
    assert outcome.code == 2
    assert told in outcome.err
    assert names() == {"shed.toml", "t.toml"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (b"want = " + b"[" * 5000, "is nested too deeply"),
        (b"spread = " + b"9" * 5000, "holds an unusable number"),
        (b"\xff", "is not UTF-8 text"), (b"#" * 1_000_001, "is too large for a file of targets"),
    ],
)  # fmt: skip
def test_targets_that_cannot_be_read(ductfloor, case_file, text, told) -> None:
    Path("t.toml").write_bytes(text)
    outcome = ductfloor("size", case_file, "--targets", "t.toml")
    assert outcome.code == 2
    assert outcome.err.startswith("error: t.toml:")
    assert told in outcome.err
    assert ductfloor("size", case_file, "--targets", "/dev/zero").code == 2


def test_compare_cases_and_results(ductfloor, case_file) -> None:
    hot = case_file.with_name("hot.toml")
    hot.write_text(case_file.read_text(encoding="utf-8").replace("55 degC", "70 degC"), encoding="utf-8")
    assert ductfloor("run", case_file, "--no-pictures").code == 0
    outcome = ductfloor("compare", "shed.h5", "hot.toml")
    assert outcome.code == 0, outcome.err
    assert {"shed-and-hot-curves.png", "shed-and-hot-floor.png"} <= names()
    told = " ".join(outcome.out.split())
    assert "What was put in differs in heat.temperature (55 degC here, 70 degC there)." in told
    assert "heat.temperature 55 degC 70 degC" in told
    data = json.loads(ductfloor("compare", case_file, "hot.toml", "--json", "--no-pictures").out)
    assert data["answers"]["hottest duct"]["differences"][1] == pytest.approx(15.0, abs=1e-6)
    assert data["inputs"]["heat.temperature"]["us"] == ["131 degF", "158 degF"]


def test_floors_of_other_size_are_told(ductfloor, case_file) -> None:
    long = case_file.with_name("long.toml")
    long.write_text(case_file.read_text(encoding="utf-8").replace('"6 m"', '"7 m"'), encoding="utf-8")
    outcome = ductfloor("compare", case_file, long)
    assert outcome.code == 0
    assert "note: no map for long: the floors differ in size" in outcome.out


@pytest.mark.parametrize("files", [["shed.toml"], ["shed.toml", "missing.toml"], ["shed.toml"] * 8])
def test_wrong_files_are_bad_input(ductfloor, case_file, files) -> None:
    outcome = ductfloor("compare", *files)
    assert outcome.code == 2
    assert outcome.err.startswith("error: ")
