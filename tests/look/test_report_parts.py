"""Parts of the report: directions of flows, ticks, thinning, resampling, and how numbers are written."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.look.report.frames import Range, resampled
from simulator.look.report.heat_flow import flow_markup, heat_flows
from simulator.look.report.line_chart import round_ticks, thinned, time_ticks
from simulator.look.report.numbers import Number, text_of


def ledger(accounts):
    def find(dataset):
        value = accounts.get(dataset)
        return None if value is None else Number(value, dataset, "change", 0.0, 1.0)

    return find


def test_heat_that_runs_backward_is_turned_round() -> None:
    flows = heat_flows(
        ledger(
            {"ledger_heater": 9.0, "ledger_duct": -4.0, "ledger_stored_ground": -6.0, "ledger_bottom": -1.0}
        )
    )
    ways = {flow.number.dataset: (flow.begin, flow.end) for flow in flows}
    assert ways == {
        "ledger_heater": ("in", "air"),
        "ledger_duct": ("ground", "air"),
        "ledger_stored_ground": ("in", "ground"),
        "ledger_bottom": ("ground", "out"),
    }
    assert all(flow.size > 0.0 for flow in flows)


@pytest.mark.parametrize("whole", [False, True])
def test_what_comes_in_goes_out_when_the_books_close(whole) -> None:
    # signs of the accounts as their long names tell them: sources less sinks less what is stored is 0
    generator = np.random.default_rng(3)
    name = "whole" if whole else "ledger"
    sources = ["fuel", "sun", "fan"] if whole else ["heater", "fan", "sun"]
    accounts = {
        f"{name}_{source}": float(value)
        for source, value in zip(sources, generator.normal(5, 9, 3), strict=True)
    }
    accounts[f"{name}_envelope"] = 7.0
    accounts[f"{name}_stored_ground"] = sum(accounts[f"{name}_{source}"] for source in sources) - 7.0
    flows = heat_flows(ledger(accounts), whole=whole)
    coming = sum(flow.size for flow in flows if flow.begin == "in")
    going = sum(flow.size for flow in flows if flow.end == "out")
    assert coming == pytest.approx(going)
    assert "<svg" in flow_markup(flows, "x")


def test_no_heat_is_said() -> None:
    assert "No heat moved" in flow_markup(heat_flows(ledger({})), "x")


def test_ticks_are_round_and_inside() -> None:
    assert round_ticks(12.1, 50.6) == [20.0, 30.0, 40.0, 50.0]
    assert round_ticks(-0.3, 0.35) == pytest.approx([-0.2, 0.0, 0.2])
    ticks = time_ticks(dt.datetime(2031, 2, 20, 13, 20), 0.0, 86400.0)
    assert [tick.text for tick in ticks] == ["18:00", "21 Feb", "06:00", "12:00"]
    # 13:20 to 18:00 are 4 h 40 min
    assert ticks[0].place == 16800.0


def test_a_thinned_course_keeps_its_extremes() -> None:
    x = np.arange(20000.0)
    y = np.sin(x / 700.0)
    y[13333], y[42] = 9.0, -9.0
    few_x, few_y = thinned(x, y, 300)
    assert few_x.size <= 320
    assert (few_y.min(), few_y.max()) == (-9.0, 9.0)
    assert (few_x[0], few_x[-1]) == (0.0, 19999.0)


def test_resampling_is_exact_for_what_is_straight() -> None:
    z_edges, y_edges = np.array([0.0, 0.1, 0.4, 1.0, 2.0]), np.array([-1.0, 0.0, 0.2, 1.4])
    z, y = (z_edges[1:] + z_edges[:-1]) / 2, (y_edges[1:] + y_edges[:-1]) / 2
    values = 3.0 + 2.0 * z[:, None] - 5.0 * y[None]
    places = np.linspace(z[0], z[-1], 17), np.linspace(y[0], y[-1], 23)
    found = resampled(values, (z, y), places, (z_edges, y_edges))
    assert found == pytest.approx(3.0 + 2.0 * places[0][:, None] - 5.0 * places[1][None])
    values[0, 0] = np.nan
    assert np.isnan(resampled(values, (z, y), places, (z_edges, y_edges))[0, 0])


def test_colours_span_the_range_and_mark_nothing() -> None:
    entries = Range(10.0, 20.0).indices(np.array([9.0, 10.0, 15.0, 20.0, 99.0, np.nan]))
    assert entries.tolist() == [0, 0, 127, 254, 254, 255]


@pytest.mark.parametrize(
    ("value", "unit", "si", "us"),
    [
        (-10.6, "degC", "−10.6 °C", "12.9 °F"),
        (3.6e6, "J", "1.00 kWh", "3,410 BTU"),
        (0.0, "J", "0 kWh", "0 BTU"),
        (1000.0, "W", "1.00 kW", "3,410 BTU/h"),
        (float("nan"), "degC", "no reading", "no reading"),
    ],
)
def test_numbers_in_both_systems(value, unit, si, us) -> None:
    # 1 kWh is 3412 BTU (3.6e6 / 1055.056)
    assert (text_of(value, unit, "SI"), text_of(value, unit, "US")) == (si, us)
