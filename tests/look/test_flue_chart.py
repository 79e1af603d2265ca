"""Pictures of a flue run draw the stored numbers and mark draught that falls short; words keep apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.dates import num2date
from matplotlib.patches import Circle

from simulator.errors import DuctfloorError
from simulator.look.branch_profile import branch_profile_chart
from simulator.look.flue_chart import flue_chart
from simulator.look.ledger_bars import ledger_bars
from simulator.look.maps import plan_map, section_map
from simulator.store.reader import Results
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of, words_of

EVENING = "2024-01-15T20:00"


@pytest.fixture(scope="module")
def stove() -> Results:
    # The fire burns from 19:00 to 01:00.
    return make_results(Shape(hours=12, rows_per_hour=4, maps=13, humid=True, flue=True))


@pytest.fixture(scope="module")
def plain() -> Results:
    return make_results(Shape(hours=2, rows_per_hour=4, maps=2))


def line_named(axes: Axes, name: str) -> tuple[np.ndarray, np.ndarray]:
    (line,) = [line for line in axes.lines if line.get_gid() == name]
    return np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float)


def test_the_chart_draws_what_is_stored_while_the_stove_burns(stove: Results) -> None:
    warm, draught = flue_chart(stove).axes
    burns = stove["flue_mass_flow"].values > 0.0
    for axes, name, stored in (
        (warm, "gas into the run", "flue_entry_temperature"),
        (warm, "gas out of the run", "flue_exit_temperature"),
        (draught, "pull", "flue_draught"),
    ):
        moments, values = line_named(axes, name)
        np.testing.assert_array_equal(values[burns], stove[stored].values[burns])
        assert np.isnan(values[~burns]).all()
        assert num2date(moments[0]).strftime("%H:%M") == "18:00"
    _, coolest = line_named(warm, "coolest pipe wall")
    np.testing.assert_array_equal(coolest, stove["flue_wall_temperature"].values.min(axis=1))
    _, needed = line_named(draught, "needed")
    margin = stove["flue_margin"].values
    np.testing.assert_allclose(needed[burns], (stove["flue_draught"].values - margin)[burns])


def test_draught_that_falls_short_is_filled_and_told_with_its_danger(stove: Results) -> None:
    figure = flue_chart(stove)
    (short,) = [each for each in figure.axes[1].collections if each.get_gid() == "short"]
    assert isinstance(short, PolyCollection)
    margin = stove["flue_margin"].values
    short_rows = np.flatnonzero(np.nan_to_num(margin, nan=1.0) < 0.0)
    assert short_rows.size > 0
    covered = [
        (path.vertices[:, 0].min(), path.vertices[:, 0].max())
        for path in short.get_paths()
        if path.vertices.size
    ]
    moments, _ = line_named(figure.axes[1], "pull")
    assert all(any(a <= moments[row] <= b for a, b in covered) for row in short_rows)
    said = text_of(figure)
    least = f"{np.nanmin(margin):.1f}".replace("-", "−")
    assert f"Smallest margin of the draught {least} Pa" in said
    assert "carbon monoxide can come back into the room" in said


@pytest.mark.parametrize("units", ["SI", "US"])
def test_no_words_overlap(stove: Results, units: str) -> None:
    for figure in (
        flue_chart(stove, units=units),  # type: ignore[arg-type]
        flue_chart(stove, "2024-01-16T03:00", -1, units=units),  # type: ignore[arg-type]
        plan_map(stove, EVENING, units=units),  # type: ignore[arg-type]
        plan_map(stove, -1, units=units),  # type: ignore[arg-type]
        section_map(stove, 5, EVENING, units=units),  # type: ignore[arg-type]
        branch_profile_chart(stove, [EVENING, -1], branch="flue", units=units),  # type: ignore[arg-type]
        branch_profile_chart(stove, [EVENING, -1], branch="jacket", units=units),  # type: ignore[arg-type]
        ledger_bars(stove, units=units),  # type: ignore[arg-type]
    ):
        assert not collisions(figure)


def test_a_cold_stove_has_a_chart(stove: Results) -> None:
    said = text_of(flue_chart(stove, "2024-01-16T03:00", -1))
    assert "The stove is out." in said
    assert "no draught to show" in said


def test_along_the_flue_gas_and_pipe_are_drawn_and_marked_wet_below_the_dew_point(stove: Results) -> None:
    row = int(np.flatnonzero(stove.time == np.datetime64(EVENING))[0])
    figure = branch_profile_chart(stove, [EVENING, -1], branch="flue")
    axes = figure.axes[0]
    _, gas = line_named(axes, "gas")
    stored = stove["flue_gas_temperature"].values[row]
    np.testing.assert_array_equal(gas[::2], stored[:-1])
    np.testing.assert_array_equal(gas[1::2], stored[1:])
    below = stove["flue_wall_temperature"].values[row] < stove["flue_dew_temperature"].values[row]
    assert 0 < below.sum() < below.size
    said = [text.get_text() for text in words_of(figure, "wet words")]
    assert said == [f"2024-01-15 20:00, {below.sum():.1f} m wet", "2024-01-16 06:00, dry"]  # stations of 1 m


def test_the_plan_tells_gas_and_jacket_apart_and_marks_wet_ducts(stove: Results) -> None:
    figure = plan_map(stove, EVENING)
    row = int(np.flatnonzero(stove.time == np.datetime64(EVENING))[0])
    written = [text.get_text() for text in words_of(figure, "duct air")]
    gas = stove["flue_gas_temperature"].values[row]
    assert any(words.startswith(f"flue, in {gas[0]:.1f} °C") for words in written)
    assert any(words.startswith(f"flue, out {gas[-1]:.1f} °C") for words in written)
    wet = [line for line in figure.axes[0].lines if line.get_gid() == "wet"]
    # Made-up water stands in the last 40 % of each of four ducts.
    assert sorted({float(np.asarray(line.get_xdata(), dtype=float).min()) for line in wet})[0] == 7.0
    assert len(wet) == len({float(np.asarray(line.get_ydata(), dtype=float)[0]) for line in wet}) == 4
    assert "Blue: wet duct." in text_of(figure)


def test_the_section_shows_the_gas_pipe_inside_its_jacket(stove: Results) -> None:
    figure = section_map(stove, 5, EVENING)
    circles = [patch for patch in figure.axes[0].patches if isinstance(patch, Circle)]
    here = [circle.get_radius() for circle in circles if circle.get_center()[0] == 0.0]
    assert here == pytest.approx([0.125, 0.06])
    row = int(np.flatnonzero(stove.time == np.datetime64(EVENING))[0])
    gas = stove["flue_gas_temperature"].values[row]
    assert f"{(gas[5] + gas[6]) / 2.0:.1f} °C" in {text.get_text() for text in words_of(figure, "duct air")}


def test_the_ledger_has_bars_for_gas_and_water() -> None:
    accounts = {"ledger_flue": 7.2e6, "ledger_latent": -3.6e6}
    results = make_results(
        Shape(hours=2, rows_per_hour=4, maps=2, extra=accounts, extra_at_start=dict.fromkeys(accounts, 0.0))
    )
    said = text_of(ledger_bars(results))
    # 1 kWh = 3.6e6 J exactly.
    assert "gas in the flue run" in said
    assert "2.00 kWh" in said
    assert "water drying in the ducts" in said
    assert "1.00 kWh" in said


def test_results_without_a_flue_are_refused(plain: Results) -> None:
    with pytest.raises(DuctfloorError, match="hold no flue run"):
        flue_chart(plain)
    stove_end = make_results(Shape(hours=2, rows_per_hour=4, maps=0, flue=True))
    with pytest.raises(DuctfloorError, match="before its beginning"):
        flue_chart(stove_end, 5, 2)
