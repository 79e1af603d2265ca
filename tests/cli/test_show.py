"""`ductfloor show`: answers out of results that were made up."""

from __future__ import annotations

import json

import pytest


def test_the_last_night_is_shown(ductfloor, barn) -> None:
    outcome = ductfloor("show", barn)
    assert outcome.code == 0
    lines = outcome.out.splitlines()
    assert lines[0] == "Evening charge of the barn floor"
    assert lines[1] == "2024-01-16 18:00 to 2024-01-17 09:00 (night 2 of 2)"
    assert "carbon monoxide" in outcome.out
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in outcome.out


def test_the_outside_air_of_the_made_up_night(ductfloor, barn) -> None:
    # made up as -4 + 5 cos(2 pi (h - 20) / 24) with h = 0 at 18:00: lowest, -9 degC, 8 hours after 18:00
    outcome = ductfloor("show", barn, "--json", "--night", "1")
    low = json.loads(outcome.out)["overnight"]["lows"]["outside"]
    assert low["value"] == pytest.approx(-9.0)
    assert low["at"] == "2024-01-16T02:00:00"


@pytest.mark.parametrize(("units", "text"), [("SI", "-9.0 degC"), ("us", "15.8 degF"), ("US", "15.8 degF")])
def test_either_system_of_units(ductfloor, barn, units, text) -> None:
    # -9 degC is 15.8 degF exactly
    assert text in ductfloor("show", barn, "--units", units).out


def test_a_stretch_between_two_moments(ductfloor, barn) -> None:
    outcome = ductfloor("show", barn, "--from", "+2 h", "--to", "09:00")
    assert outcome.out.splitlines()[1] == "2024-01-15 20:00 to 2024-01-16 09:00"


def test_json_is_json_with_cautions(ductfloor, barn) -> None:
    data = json.loads(ductfloor("show", barn, "--json").out)
    assert data["title"] == "Evening charge of the barn floor"
    assert data["complete"] is True
    assert data["cautions"] == []
    assert "back-draught" in data["standing_cautions"]
    assert data["overnight"]["at_end"]["exit_air"]["value"] is None


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--night", "7"), "allowed: 1 to 2"),
        (("--from", "yesterday"), '--from "yesterday": is no local moment'),
        (("--to", "+9 kg"), "--to"),
        (("--to", "+1e300 s"), "--to"),
        (("--to", "+90000000000 h"), "lies beyond any calendar"),
        (("--from", "2024-01-15T20:00:00+01:00"), "is no local moment"),
        (("--night", "1", "--from", "20:00"), "give one or the other"),
    ],
)
def test_what_cannot_be_shown_is_explained(ductfloor, barn, words, told) -> None:
    outcome = ductfloor("show", barn, *words)
    assert outcome.code == 2
    assert outcome.err.startswith("error: ")
    assert told in outcome.err
    assert outcome.out == ""


def test_a_file_of_another_kind_is_refused(ductfloor, case_file) -> None:
    outcome = ductfloor("show", case_file)
    assert outcome.code == 2
    assert "is not a results file" in outcome.err


def test_a_missing_file_is_named(ductfloor) -> None:
    outcome = ductfloor("show", "missing.h5")
    assert outcome.code == 2
    assert "missing.h5: there is no such file" in outcome.err


@pytest.mark.parametrize("json_wanted", [True, False])
def test_the_way_of_the_heat_is_drawn_on_request(ductfloor, barn, json_wanted) -> None:
    outcome = ductfloor("show", barn, "--flows", "flows.png", *(["--json"] if json_wanted else []))
    assert outcome.code == 0
    # the first eight bytes of every PNG
    assert (barn.parent / "flows.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    if json_wanted:
        assert json.loads(outcome.out)["complete"] is True
    else:
        assert outcome.out.endswith("wrote flows.png\n")


def test_a_picture_of_an_unknown_kind_is_refused(ductfloor, barn) -> None:
    outcome = ductfloor("show", barn, "--flows", "flows.bmp")
    assert (outcome.code, outcome.out) == (2, "")
    assert "written as .png or .svg" in outcome.err
