"""How a flue run fared and what is said about it, out of courses written by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.answers.cautions import cautions
from simulator.answers.findings import RULES, findings, judge_flue
from simulator.answers.flue import flue_run

START = dt.datetime(2031, 1, 15, 16)
SECONDS = 3600.0 * np.arange(9.0)
SERVICE = 600.0 + 273.15
LAYOUT = {"parts": frozenset({"flue"})}
# Burns in the second to the sixth hour; nan where nothing burns.
BURNS = np.array([0, 0, 1, 1, 1, 1, 1, 0, 0])
OFF = np.where(BURNS == 1, 1.0, np.nan)


def build(make_results, margin=20.0, wall=150.0, stack_wall=60.0, settling=0.0, draught=25.0):
    return make_results(
        START, SECONDS, layout=LAYOUT, flue_mass_flow=0.01 * BURNS,
        flue_entry_temperature=OFF * np.array([0, 0, 100, 250, 250, 200, 90, 0, 0]),
        flue_exit_temperature=OFF * np.array([0, 0, 60, 120, 130, 110, 70, 0, 0]),
        flue_dew_temperature=np.full(9, 43.6), flue_wall_temperature=OFF * wall,
        flue_stack_wall_temperature=OFF * stack_wall, flue_draught=np.full(9, draught),
        flue_margin=OFF * margin, flue_condensation=BURNS * settling,
        ledger_flue=np.cumsum(BURNS) * 1e6,
    )  # fmt: skip


def names(results) -> list[str]:
    found = flue_run(results, 0.0, SECONDS[-1])
    return [finding.limit.name for finding in judge_flue(found, SERVICE)]


def test_temperatures_heat_and_hours_of_the_burn(make_results) -> None:
    found = flue_run(build(make_results), 0.0, SECONDS[-1])
    assert found.burning == pytest.approx(5.0)
    assert found.heat == pytest.approx(5e6)
    assert (found.hottest_entry, found.hottest_exit, found.coolest_exit) == pytest.approx(
        (250.0, 130.0, 60.0)
    )
    assert found.coolest_wall == pytest.approx(150.0)
    assert found.water == 0.0
    assert names(build(make_results)) == []


def test_draught_over_the_whole_burn(make_results) -> None:
    margin = np.array([0, 0, 1.0, 9.0, 10.0, 8.0, -2.0, 0, 0])
    found = flue_run(build(make_results, margin), 0.0, SECONDS[-1])
    assert found.smallest_margin == pytest.approx(-2.0)
    assert found.smallest_margin_at == START + dt.timedelta(hours=6)
    assert (found.margin_at_lighting, found.margin_at_end) == pytest.approx((1.0, -2.0))
    assert found.short_hours == pytest.approx(1.0)
    # Under 3 Pa in the first and the last hour of the burn.
    assert found.thin_hours == pytest.approx(2.0)


def test_a_window_inside_the_burn_has_neither_lighting_nor_end(make_results) -> None:
    found = flue_run(build(make_results), SECONDS[3], SECONDS[5])
    assert found.smallest_margin == pytest.approx(20.0)
    assert found.margin_at_lighting is None
    assert found.margin_at_end is None


@pytest.mark.parametrize(
    ("margin", "told"),
    # Common practice: under 3 Pa is thin; below 0 gas comes back.
    [(3.01, []), (2.99, ["thin draught"]), (0.0, ["thin draught"]), (-0.01, ["back-draught"])],
)
def test_draught_is_judged(make_results, margin, told) -> None:
    assert names(build(make_results, margin)) == told


def test_a_run_without_stack_is_a_danger(make_results) -> None:
    results = build(make_results, margin=np.nan, draught=np.nan, stack_wall=np.nan)
    assert names(results) == ["draught not known"]
    assert dict(flue_run(results, 0.0, SECONDS[-1]).as_rows("SI"))["Draught"].startswith("not known")


def test_wet_run_and_wet_stack(make_results) -> None:
    results = build(make_results, wall=30.0, stack_wall=40.0, settling=1e-4)
    found = flue_run(results, 0.0, SECONDS[-1])
    assert found.water == pytest.approx(1e-4 * 5 * 3600.0)
    assert found.wet_hours == pytest.approx(5.0)
    assert names(results) == ["wet flue", "wet stack"]
    text = next(iter(judge_flue(found, SERVICE))).text("SI")
    for word in ("1.8 kg", "30.0 degC", "43.6 degC", "5.00 h"):
        assert word in text


def test_too_hot_a_pipe(make_results) -> None:
    assert names(build(make_results, wall=600.0)) == []
    assert names(build(make_results, wall=601.0)) == ["flue pipe service temperature"]


def test_nothing_burnt_nothing_told(make_results) -> None:
    results = make_results(START, SECONDS, layout=LAYOUT)
    found = flue_run(results, 0.0, SECONDS[-1])
    assert found.burning == 0.0
    assert list(judge_flue(found, SERVICE)) == []
    assert found.as_rows("SI") == [("Stove", "did not burn")]


def test_dangers_of_the_flue_come_among_the_cautions_of_the_run(make_results) -> None:
    results = build(make_results, margin=-5.0, stack_wall=10.0)
    told = cautions(results)
    assert [caution.limit.name for caution in told] == ["back-draught", "wet stack"]
    assert [caution.limit.severity for caution in told] == ["danger", "caution"]
    for caution in told:
        assert caution.as_dict()["source"]
    text = told[0].text("SI")
    assert "carbon monoxide" in text
    assert "5.0 Pa" in text
    assert "licensed" in text


def test_a_run_without_flue_has_no_answer_and_no_finding(make_results) -> None:
    results = make_results(START, SECONDS)
    assert flue_run(results, 0.0, SECONDS[-1]) is None
    assert findings(results) == []


def test_every_rule_has_a_source_and_fills_its_message() -> None:
    assert all(rule.source and rule.message for rule in RULES.values())
    assert {rule.severity for rule in RULES.values()} == {"danger", "caution"}
    for name in ("back-draught", "thin draught", "draught not known", "wet flue"):
        assert RULES[name].severity == "danger"


def test_numbers_with_their_units(make_results) -> None:
    told = flue_run(build(make_results), 0.0, SECONDS[-1]).as_dict()
    units = {name: entry["unit"] for name, entry in told.items()}
    assert units["smallest_margin"] == units["margin_at_lighting"] == "Pa"
    assert units["coolest_wall"] == units["dew_point"] == "degC"
    assert units["short_hours"] == units["burning"] == "h"
    assert told["smallest_margin_at"]["value"].startswith("2031-01-15T18:00")
