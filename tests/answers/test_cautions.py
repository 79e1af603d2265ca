"""Limits are told when they are passed, not below; numbers are written here anew from their sources."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from simulator.answers.cautions import LIMITS, STANDING, Peak, cautions, judge, peaks_of_results

ZERO = 273.15
PVC_U = 60.0 + ZERO  # usual continuous rating of PVC-U pipe
COOL = 20.0 + ZERO


def names(series: str, celsius: float, service: float = PVC_U) -> list[str]:
    return [caution.limit.name for caution in judge({series: Peak(celsius + ZERO)}, service)]


@pytest.mark.parametrize(
    ("series", "celsius", "name"),
    [
        # EN 1264-2: 29 degC where people stay, 35 degC along the edges; ISO 7730: 19 to 29 degC (memory)
        ("floor_highest_temperature", 29.0, "floor where people stay"),
        ("floor_highest_temperature", 35.0, "floor at the edge of a room"),
        # ISO 13732-1 (memory): 43 degC for contact of 8 h and longer; bare metal 51 degC 1 min, 65 degC 1 s
        ("floor_highest_temperature", 43.0, "floor that people lie on"),
        ("supply_temperature", 51.0, "bare metal, touched for a minute"),
        ("supply_temperature", 65.0, "bare metal, touched for a moment"),
        # Fire and Materials 31 (2007) 125: wood kept at 77 degC and more may ignite by itself
        ("supply_temperature", 77.0, "wood near hot surface"),
        ("wall_temperature", 77.0, "wood near hot surface"),
    ],
)
def test_each_limit_tells_at_its_number_and_not_below(series: str, celsius: float, name: str) -> None:
    assert name in names(series, celsius + 1e-9)
    assert name not in names(series, celsius - 0.01)


@pytest.mark.parametrize("series", ["supply_temperature", "wall_temperature"])
@pytest.mark.parametrize("rating", [50.0, 60.0, 90.0])
def test_ducts_are_held_to_the_rating_of_the_case(series: str, rating: float) -> None:
    assert "duct service temperature" in names(series, rating + 0.01, rating + ZERO)
    assert "duct service temperature" not in names(series, rating, rating + ZERO)


def test_only_the_worst_of_one_subject_is_told_and_dangers_come_first() -> None:
    peaks = {
        "supply_temperature": Peak(70.0 + ZERO),
        "wall_temperature": Peak(68.0 + ZERO),
        "floor_highest_temperature": Peak(36.0 + ZERO),
    }
    told = judge(peaks, PVC_U)
    assert [caution.limit.subject for caution in told] == ["duct", "hot parts", "floor"]
    assert [caution.limit.severity for caution in told] == ["danger", "danger", "caution"]
    assert told[-1].limit.name == "floor at the edge of a room"
    assert told[0].series == "supply_temperature"


def test_a_cool_floor_needs_no_caution() -> None:
    assert judge({"supply_temperature": Peak(COOL), "floor_highest_temperature": Peak(COOL)}, PVC_U) == []


def test_the_text_names_series_value_limit_and_time_in_either_system() -> None:
    peak = Peak(70.0 + ZERO, np.datetime64("2031-01-15T18:30:00"))
    told = judge({"supply_temperature": peak}, PVC_U)[0]
    for system, reached, limit in (("SI", "70", "60"), ("US", "158", "140")):
        text = told.text(system)
        assert text.startswith("supply temperature reaches")
        assert reached in text
        assert limit in text
        assert "2031-01-15 18:30" in text


def test_every_limit_has_its_source_and_the_standing_advice_names_the_four_dangers() -> None:
    assert all(limit.source and limit.message for limit in LIMITS)
    told = " ".join(advice.message.lower() for advice in STANDING)
    for word in ("carbon monoxide", "flue gas", "fire", "water", "local codes", "licensed"):
        assert word in told


class FakeResults(dict):
    """Just enough of a results file: series by name, times and the text of the case."""

    def __init__(self, case_text: str, **series: object) -> None:
        quiet = {"floor_highest_temperature": [20.0, 20.0, 20.0], "wall_temperature": [[[20.0]]] * 3}
        values = {"mass_flow": [1.0, 1.0, 0.0], **quiet, **series}
        super().__init__(
            {name: SimpleNamespace(values=np.array(value, dtype=float)) for name, value in values.items()}
        )
        self.case_text = case_text
        self.attrs = {"shown_in": "SI"}
        self.time = np.datetime64("2031-01-15T18:00") + np.arange(3) * np.timedelta64(30, "m")


def test_the_peak_of_a_run_is_found_with_its_time() -> None:
    results = FakeResults(
        "",
        supply_temperature=[40.0, 66.0, np.nan],
        wall_temperature=[[[20.0, 21.0]], [[22.0, 23.0]], [[30.0, np.nan]]],
    )
    peaks = peaks_of_results(results)
    assert peaks["supply_temperature"].temperature == pytest.approx(66.0 + ZERO)
    assert peaks["supply_temperature"].moment == np.datetime64("2031-01-15T18:30")
    assert peaks["wall_temperature"].temperature == pytest.approx(30.0 + ZERO)


def test_air_that_stands_is_not_judged() -> None:
    results = FakeResults("", supply_temperature=[40.0, 45.0, 300.0])
    assert peaks_of_results(results)["supply_temperature"].temperature == pytest.approx(45.0 + ZERO)


@pytest.mark.parametrize(
    ("case_text", "told"),
    [
        ("", ["duct"]),
        ('[ducts]\nservice_temperature = "50 degC"', ["duct"]),
        ('[ducts]\nservice_temperature = "150 degF"', []),  # 65.6 degC
        ('[ducts]\nmaterial = "galvanised steel"', []),  # no plastic
        ('[ducts]\nmaterial = "clay"\nservice_temperature = "50 degC"', ["duct"]),
        ('[ducts]\nmaterial = "PVC"', ["duct"]),
    ],
)
def test_a_run_is_judged_by_the_service_temperature_of_its_case(case_text: str, told: list[str]) -> None:
    results = FakeResults(case_text, supply_temperature=[40.0, 64.0, 20.0])
    found = [caution.limit.subject for caution in cautions(results) if caution.limit.subject == "duct"]
    assert found == told


def test_without_any_flow_or_number_nothing_is_judged() -> None:
    results = FakeResults("", mass_flow=[0.0, 0.0, 0.0], supply_temperature=[90.0, 90.0, 90.0])
    assert "supply_temperature" not in peaks_of_results(results)
    assert cautions(results) == []
