"""How wet the ducts were, out of courses written by hand."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from simulator.answers.findings import judge_ducts
from simulator.answers.moisture import duct_moisture

START = dt.datetime(2031, 1, 15, 18)
SECONDS = 3600.0 * np.arange(49.0)
PERIMETER = 2.0 * math.pi * 0.05
# Two lanes of one duct each, one station of half a metre.
LAYOUT = {
    "lane_across": np.zeros(2), "lane_depth": np.ones(2), "lane_ducts": np.ones(2),
    "duct_across": np.zeros(2), "duct_depth": np.ones(2), "duct_lane": np.array([0, 1]),
    "duct_inside_radius": np.full(2, 0.05), "parts": frozenset({"moisture"}),
}  # fmt: skip


def build(make_results, film: np.ndarray, **more: np.ndarray):
    """Results with a film of water [kg/m2] in the first lane; the second stays dry."""
    water = np.zeros((49, 2, 1))
    water[:, 0, 0] = film * PERIMETER
    # Room of 20 degC at 50 %: 7.262 g/kg, psychrolib; saturated at 9.27 degC.
    quiet = {
        "room_temperature": np.full(49, 20.0), "room_relative_humidity": np.full(49, 0.5),
        "room_humidity_ratio": np.full(49, 0.007262), "humidity_ratio": np.full(49, 0.007262),
        "duct_surface_temperature": np.full(49, 20.0),
    }  # fmt: skip
    return make_results(START, SECONDS, layout=LAYOUT, water_held=water, **(quiet | more))


def names(results) -> list[str]:
    found = duct_moisture(results, 0.0, SECONDS[-1])
    return [finding.limit.name for finding in judge_ducts(found)]


def test_hours_wet_and_share_of_the_length(make_results) -> None:
    film = np.zeros(49)
    film[5:11] = 0.01
    film[20:22] = 0.01
    results = build(
        make_results, film,
        water_condensed=np.linspace(0.0, 3.0, 49), water_dried=np.linspace(0.0, 2.0, 49),
        water_drained=np.linspace(0.0, 0.5, 49), water_standing=film,
        ledger_latent=np.linspace(0.0, 2.5e6, 49),
    )  # fmt: skip
    found = duct_moisture(results, 0.0, SECONDS[-1])
    assert found.wet_hours == pytest.approx(8.0)
    assert found.longest_wet_hours == pytest.approx(6.0)
    assert found.wet_share == pytest.approx(0.5)
    assert (found.settled, found.dried, found.drained) == pytest.approx((3.0, 2.0, 0.5))
    assert found.latent_heat == pytest.approx(2.5e6)
    assert found.longest_damp_hours == 0.0
    assert found.deepest_film == pytest.approx(0.01)
    half = duct_moisture(results, 0.0, SECONDS[24])
    assert half.settled == pytest.approx(1.5)
    assert names(results) == []


@pytest.mark.parametrize(
    ("surface", "damp"),
    # Saturated at 9.27 degC; 80 % at 12.67 degC (psychrolib: 7.262 g/kg at 12.67 degC is 80.0 %).
    [(9.0, 48.0), (12.5, 48.0), (12.9, 0.0)],
)
def test_damp_walls_are_those_over_80_per_cent(make_results, surface, damp) -> None:
    results = build(make_results, np.zeros(49), duct_surface_temperature=np.full(49, surface))
    found = duct_moisture(results, 0.0, SECONDS[-1])
    assert found.longest_damp_hours == pytest.approx(damp)
    assert names(results) == (["mould in the ducts"] if damp else [])


def test_humidity_at_the_wall_counts_with_the_sites_pressure(make_results) -> None:
    # At 80 kPa the same vapour pressure is a larger ratio: p_w = w p / (0.622 + w).
    ratio = 0.621945 * 1169.4 / (80000.0 - 1169.4)
    for surface, damp in ((12.5, 48.0), (12.9, 0.0)):
        results = build(
            make_results, np.zeros(49), room_humidity_ratio=np.full(49, ratio),
            humidity_ratio=np.full(49, ratio), duct_surface_temperature=np.full(49, surface),
        )  # fmt: skip
        assert duct_moisture(results, 0.0, SECONDS[-1]).longest_damp_hours == pytest.approx(damp)


def test_water_that_stands_is_told(make_results) -> None:
    film = np.linspace(0.0, 0.5, 49)
    results = build(make_results, film, water_standing=film)
    assert names(results) == ["standing water", "mould in the ducts"]
    (first, second) = judge_ducts(duct_moisture(results, 0.0, SECONDS[-1]))
    assert "0.5 kg" in first.text("SI")
    assert "1.1 lb" in first.text("US")
    assert "spores" in second.text("SI")


def test_a_dry_run_has_no_answer(make_results) -> None:
    assert duct_moisture(make_results(START, SECONDS), 0.0, SECONDS[-1]) is None


def test_lines_and_numbers(make_results) -> None:
    found = duct_moisture(build(make_results, np.zeros(49)), 0.0, SECONDS[-1])
    lines = dict(found.as_rows("SI"))
    assert lines["Duct wet"] == "never"
    assert lines["Room's relative humidity"] == "50 to 50 %"
    told = found.as_dict()
    assert {told[name]["unit"] for name in ("settled", "drained", "most_standing")} == {"kg"}
    assert told["wet_hours"]["unit"] == told["longest_damp_hours"]["unit"] == "h"
    assert told["latent_heat"]["unit"] == "J"
    assert told["deepest_film"]["unit"] == "kg/m2"
    assert told["wet_share"]["unit"] == told["highest_room_humidity"]["unit"] == "1"
