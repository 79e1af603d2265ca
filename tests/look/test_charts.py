"""Charts draw the stored numbers, in both systems, and keep their words apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.dates import num2date
from matplotlib.figure import Figure

from simulator.errors import DuctfloorError
from simulator.look.branch_profile import branch_profile_chart
from simulator.look.charts import comparison_chart, night_chart
from simulator.look.ledger_bars import ledger_bars
from simulator.store.reader import Results
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of, words_of


@pytest.fixture(scope="module")
def night() -> Results:
    return make_results(Shape(hours=12, rows_per_hour=4, maps=4))


@pytest.fixture(scope="module")
def other() -> Results:
    return make_results(Shape(hours=10, rows_per_hour=4, maps=2, warming=9.0, title="other $a_b$"))


def line_named(axes: Axes, name: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = [line for line in axes.lines if line.get_gid() == name]
    return np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)


def all_charts(results: Results) -> list[Figure]:
    return [
        night_chart(results),
        night_chart(results, units="US"),
        branch_profile_chart(results, [8, 24, -1]),
        comparison_chart([results], ["$only_1$ <b> " + "long " * 30]),
        ledger_bars(results),
        ledger_bars(results, units="US"),
    ]


def test_no_words_overlap_or_leave_the_sheet(night: Results) -> None:
    long = make_results(Shape(hours=480, rows_per_hour=0.5, maps=3, title="a^b_c$ " * 25, stations=2))
    short = make_results(Shape(hours=1, rows_per_hour=1, maps=1, fan_hours=(0, 24)))
    charts = [*all_charts(night), *all_charts(long), night_chart(short), comparison_chart([short], ["one"])]
    for number, figure in enumerate(charts):
        assert not collisions(figure), number


def test_night_chart_draws_what_is_stored(night: Results) -> None:
    warm = night_chart(night).axes[0]
    for name, stored in (
        ("room", "room_temperature"),
        ("outside", "outside_temperature"),
        ("floor, mean", "floor_mean_temperature"),
    ):
        moments, values = line_named(warm, name)
        np.testing.assert_array_equal(values, night[stored].values)
        assert num2date(moments[0]).strftime("%Y-%m-%d %H:%M") == "2024-01-15 18:00"


def test_air_is_drawn_only_while_it_moves(night: Results) -> None:
    _, air = line_named(night_chart(night).axes[0], "air into the ducts")
    np.testing.assert_array_equal(np.isfinite(air), night["mass_flow"].values > 0.0)


def test_fan_hours_are_shaded(night: Results) -> None:
    axes = night_chart(night).axes[0]
    (shade,) = [each for each in axes.collections if isinstance(each, PolyCollection)]
    (path,) = shade.get_paths()
    begin, end = path.vertices[:, 0].min(), path.vertices[:, 0].max()
    # The made-up fan runs from 19:00; a row speaks for the time since the row before it.
    assert [num2date(edge).strftime("%H:%M") for edge in (begin, end)] == ["18:45", "00:45"]
    said = " ".join(text.get_text() for text in words_of(night_chart(night)))
    assert "the fan runs, 6 h in all" in said


@pytest.mark.parametrize("units", ["SI", "US"])
def test_second_scales_agree(night: Results, units: str) -> None:
    figure = night_chart(night, units=units)  # type: ignore[arg-type]
    figure.canvas.draw()
    warm, flows = figure.axes
    low, high = warm.get_ylim()
    (fahrenheit,) = warm.child_axes
    # 0 degC = 32 degF and 100 degC = 212 degF.
    assert fahrenheit.get_ylim() == pytest.approx((low * 1.8 + 32.0, high * 1.8 + 32.0))
    # 1 W = 3.412142 BTU/h: NIST Special Publication 811 (2008), appendix B.8, 1 BTU(IT)/h = 0.2930711 W.
    (british,) = flows.child_axes
    assert british.get_ylim()[1] * 0.2930711 == pytest.approx(flows.get_ylim()[1], rel=1e-6)
    left_label = fahrenheit if units == "US" else warm
    left = min(left_label.yaxis.get_tightbbox().x0, 200.0)
    assert left < 100.0


def test_heat_flows_are_drawn_as_means_of_their_rows(night: Results) -> None:
    flows = night_chart(night).axes[1]
    _, heater = line_named(flows, "heater")
    assert np.isnan(heater[0]), "the first row has no time before it"
    np.testing.assert_array_equal(heater[1:], night["heater_power"].values[1:])


def test_large_heat_flows_are_in_kilowatts() -> None:
    strong = make_results(Shape(hours=2, rows_per_hour=4, maps=2, extra={"heater_power": 9000.0}))
    flows = night_chart(strong).axes[1]
    assert flows.get_ylabel() == "heat flow [kW]"
    assert line_named(flows, "heater")[1][1:] == pytest.approx(9.0)


def test_night_chart_takes_part_of_the_time(night: Results) -> None:
    part = night_chart(night, "2024-01-15T22:00", "2024-01-16T02:00")
    _, values = line_named(part.axes[0], "room")
    assert values.size == 17
    with pytest.raises(DuctfloorError, match="before its beginning"):
        night_chart(night, 10, 5)


def test_deep_ground_is_the_weighted_mean_of_the_lowest_cells(night: Results) -> None:
    axes = night_chart(night).axes[0]
    (name,) = {str(line.get_gid()) for line in axes.lines if str(line.get_gid()).startswith("ground ")}
    _, values = line_named(axes, name)
    ground = night["ground_temperature"].values
    under = np.abs(night["section_across"].values) < 4.0
    widths = np.diff(night["section_across_edges"].values)[under]
    wanted = [(layer[:, -1][:, under] @ widths).mean() / widths.sum() for layer in ground]
    np.testing.assert_allclose(values, wanted, rtol=1e-6)


def test_comparison_overlays_series_on_the_time_since_the_start(night: Results, other: Results) -> None:
    figure = comparison_chart([night, other], ["with", "without $x_1$"])
    lines = [line for line in figure.axes[0].lines if line.get_gid() == "compared"]
    for line, results in zip(lines, (night, other), strict=True):
        np.testing.assert_array_equal(line.get_ydata(), results["floor_mean_temperature"].values)
        assert line.get_xdata()[-1] == pytest.approx(results["time"].values[-1] / 3600.0)
    ends = [text.get_text() for text in words_of(figure) if text.get_gid() == "line end"]
    assert ends == ["with", "without $x_1$"]
    styles = {line.get_linestyle() for line in lines}
    assert len(styles) == 2, "lines must differ without colour"


def test_comparison_refuses_what_cannot_be_compared(night: Results) -> None:
    with pytest.raises(DuctfloorError, match="1 results and 2 labels"):
        comparison_chart([night], ["a", "b"])
    with pytest.raises(DuctfloorError, match="only series with one value a row"):
        comparison_chart([night], ["a"], "wall_temperature")
    with pytest.raises(DuctfloorError, match="no dataset 'warmth'"):
        comparison_chart([night], ["a"], "warmth")


@pytest.mark.parametrize("name", ["fan_share", "heater_power", "ledger_heater", "mass_flow"])
def test_comparison_of_other_quantities(night: Results, name: str) -> None:
    figure = comparison_chart([night], ["it"], name, by="date")
    figure.canvas.draw()
    (line,) = [line for line in figure.axes[0].lines if line.get_gid() == "compared"]
    factor = 1.0 / 3.6e6 if name == "ledger_heater" else 1.0
    np.testing.assert_allclose(line.get_ydata(), night[name].values * factor)


def bars_of(figure: Figure) -> dict[str, float]:
    return {str(bar.get_gid()): bar.get_width() for bar in figure.axes[0].patches}


def test_ledger_bars_are_in_kilowatt_hours(night: Results) -> None:
    bars = bars_of(ledger_bars(night))
    for name, width in bars.items():
        value = night[name].values[-1] / 3.6e6
        assert abs(width) == pytest.approx(abs(value))
    assert "ledger_sun" not in bars, "nothing came from the sun"
    assert {"ledger_heater", "ledger_duct", "ledger_floor", "ledger_envelope"} <= set(bars)


def test_ledger_between_two_times(night: Results) -> None:
    bars = bars_of(ledger_bars(night, "2024-01-15T20:00", "2024-01-15T22:00"))
    # The made-up heater gives 2.6 kW the whole time.
    assert bars["ledger_heater"] == pytest.approx(5.2)
    with pytest.raises(DuctfloorError, match="after its beginning"):
        ledger_bars(night, 3, 3)


def test_ledger_shows_heat_that_goes_the_other_way_as_lost() -> None:
    against = {"ledger_bottom": -7.2e6, "ledger_heater": 3.6e6}
    at_start = dict.fromkeys(against, 0.0)
    results = make_results(Shape(hours=1, rows_per_hour=1, maps=1, extra=against, extra_at_start=at_start))
    figure = ledger_bars(results)
    bars = bars_of(figure)
    assert bars["ledger_bottom"] == pytest.approx(2.0)
    assert bars["ledger_heater"] == pytest.approx(1.0)
    said = text_of(figure)
    assert "to below the ground" in said
    assert "from below the ground" not in said


def test_ledger_scales_agree(night: Results) -> None:
    figure = ledger_bars(night, units="US")
    figure.canvas.draw()
    axes = figure.axes[0]
    (british,) = axes.child_axes
    # 1 kWh = 3412.142 BTU: NIST Special Publication 811 (2008), appendix B.8, 1 BTU(IT) = 1055.056 J.
    assert british.get_xlim()[1] * 1000.0 * 1055.056 / 3.6e6 == pytest.approx(axes.get_xlim()[1], rel=1e-6)
