"""`ductfloor overnight`, `charge` and `movie` as they are typed."""

from __future__ import annotations

import json

import pytest


def test_overnight_puts_the_ways_side_by_side(ductfloor, case_file, tmp_path) -> None:
    outcome = ductfloor("overnight", case_file, "--limit", "41 degF", "--price", "0.2 EUR", "--no-cold-snap")
    assert outcome.code == 0, outcome.err
    head = next(line for line in outcome.out.splitlines() if "off" in line and "thermostat" in line)
    assert head.split() == ["on", "off", "(case)", "thermostat"]
    assert "Hours below 5.0 degC" in outcome.out
    assert "EUR" in outcome.out
    assert "carbon monoxide" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80
    assert (tmp_path / "shed-fan-choice.png").stat().st_size > 10_000


def test_overnight_as_json(ductfloor, case_file, tmp_path) -> None:
    outcome = ductfloor("overnight", case_file, "--json", "--no-picture", "--no-cold-snap")
    told = json.loads(outcome.out)
    assert [night["name"] for night in told["nights"]] == ["on", "off", "thermostat"]
    assert told["limit"] == {"value": 0.0, "unit": "degC"}
    assert told["files"] == []
    assert not list(tmp_path.glob("*.png"))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--limit", "5"), "--limit"),
        (("--limit", "5 ft"), "is a unit of length"),
        (("--price", "cheap"), "is no price of a kilowatt-hour"),
        (("--night", "9"), "the run has no such night"),
        (("--watch", "cat"), "--watch"),
    ],
)
def test_overnight_says_what_is_wrong(ductfloor, case_file, words, told) -> None:
    outcome = ductfloor("overnight", case_file, "--no-picture", *words)
    assert outcome.code == 2
    assert told in outcome.err


def test_charge_of_a_case_and_of_its_results(ductfloor, case_file, tmp_path) -> None:
    assert ductfloor("run", case_file, "--no-pictures", "--quiet").code == 0
    of_case = ductfloor("charge", case_file, "--json", "--no-picture", "--ahead", "1 days")
    of_results = ductfloor("charge", "shed.h5", "--json", "--no-picture", "--ahead", "1 days")
    assert of_case.code == of_results.code == 0, of_case.err + of_results.err
    one, other = json.loads(of_case.out), json.loads(of_results.out)
    assert one["charge_under_floor"] == other["charge_under_floor"]
    assert one["next_hour"]["best"] in {"floor", "do not burn"}


def test_charge_in_words_with_a_picture(ductfloor, case_file, tmp_path) -> None:
    outcome = ductfloor("charge", case_file, "--units", "US", "--ahead", "1 days", "--at", "+6 h")
    assert outcome.code == 0, outcome.err
    assert "Held under the floor" in outcome.out
    assert "BTU" in outcome.out
    assert "The next hour of fire" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80
    assert (tmp_path / "shed-charge.png").stat().st_size > 10_000


def test_charge_of_another_file_is_refused(ductfloor, tmp_path) -> None:
    (tmp_path / "x.h5").write_text("nothing")
    outcome = ductfloor("charge", "x.h5")
    assert outcome.code == 2
    assert "is not a results file" in outcome.err


def test_movie(ductfloor, barn, tmp_path) -> None:
    outcome = ductfloor("movie", barn, "--to", "+12 h", "--json")
    assert outcome.code == 0, outcome.err
    told = json.loads(outcome.out)
    # maps every four hours: 0, 4, 8, 12 h
    assert told["frames"] == 4
    assert (tmp_path / "barn.gif").stat().st_size > 10_000


@pytest.mark.parametrize("command", ["overnight", "charge", "movie", "report"])
def test_help_gives_examples(ductfloor, command) -> None:
    outcome = ductfloor(command, "--help")
    assert outcome.code == 0
    assert f"ductfloor {command} " in outcome.out.partition("Examples:")[2]


RECORDED = """\
kind = "csv"
file = "records.csv"
[weather.columns]
time = { column = "time", unit = "h" }
temperature = { column = "outside", unit = "degC" }
"""
RECORDS = "time,outside\n" + "".join(f"{hour},{-5 - hour % 3}\n" for hour in range(25))


@pytest.fixture
def with_records(case_file, tmp_path, monkeypatch):
    """The small case in a folder of its own, with weather of its own, and its results in another one."""
    home, away = tmp_path / "home", tmp_path / "away"
    home.mkdir()
    away.mkdir()
    text = case_file.read_text(encoding="utf-8")
    constant = 'kind = "constant"\ntemperature = "-5 degC"\n'
    assert constant in text
    text = text.replace(constant, RECORDED)
    (home / "shed.toml").write_text(text, encoding="utf-8")
    (home / "records.csv").write_text(RECORDS, encoding="utf-8")
    monkeypatch.chdir(away)
    return home


def test_charge_of_results_finds_the_files_of_the_case_from_anywhere(ductfloor, with_records) -> None:
    assert ductfloor("run", with_records / "shed.toml", "--no-pictures", "-q").code == 0
    words = ("charge", "shed.h5", "--json", "--no-picture", "--ahead", "1 h")
    found = ductfloor(*words)
    assert found.code == 0, found.err
    (with_records / "records.csv").write_text(RECORDS.replace("-6", "-9"), encoding="utf-8")
    changed = ductfloor(*words)
    assert changed.code == 2
    assert "no longer what it was at the run" in changed.err
    (with_records / "records.csv").unlink()
    gone = ductfloor(*words)
    assert gone.code == 2
    assert "names a file that is not there" in gone.err
