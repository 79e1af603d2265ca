"""Maps are to scale, and say what the results say."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from matplotlib.colors import to_rgba
from matplotlib.patches import Circle

from simulator.errors import DuctfloorError
from simulator.look.maps import plan_map, section_map
from simulator.store.reader import Results
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of, words_of

MIDNIGHT = "2024-01-16T00:00"


@pytest.fixture(scope="module")
def barn() -> Results:
    return make_results(Shape(hours=8, rows_per_hour=2, maps=5))


@pytest.fixture(scope="module")
def crowded() -> Results:
    return make_results(
        Shape(
            width=5, length=4, ducts=12, spacing=0.38, depth=2, outside=0, duct_depth=0.35, duct_radius=0.055,
            surface_level=0, hours=2, rows_per_hour=2, maps=2, fan_hours=(0, 24), units="US",
            title="$x_1$ <b> \\frac{a} & 漢字 " + "very long " * 15, layer_ends=(0.05, 0.8),
            materials=("tiles $y^2$", "<i>sand</i> of a name that does not end where it should", "rock"),
        )
    )  # fmt: skip


@pytest.fixture(scope="module")
def narrow() -> Results:
    return make_results(
        Shape(width=2.5, length=18, ducts=1, depth=6, outside=0.4, duct_depth=0.7, duct_radius=0.15,
              surface_level=0.2, hours=1, rows_per_hour=2, maps=2, stations=1, fan_hours=(0, 24))
    )  # fmt: skip


@pytest.fixture(scope="module")
def even() -> Results:
    return make_results(Shape(even=True, hours=1, rows_per_hour=2, maps=2, fan_hours=(0, 24)))


@pytest.mark.parametrize("name", ["barn", "crowded", "narrow", "even"])
@pytest.mark.parametrize("draw", [section_map, plan_map])
def test_a_metre_is_as_long_across_as_along(name: str, draw: object, request: pytest.FixtureRequest) -> None:
    figure = draw(request.getfixturevalue(name))  # type: ignore[operator]
    axes = figure.axes[0]
    figure.canvas.draw()
    origin, right, up = axes.transData.transform([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
    assert abs(right[0] - origin[0]) == pytest.approx(abs(up[1] - origin[1]), rel=1e-6)
    assert right[0] - origin[0] > 20.0, "a metre must be visible"


def test_section_shows_the_full_width_and_depth_grows_downwards(barn: Results) -> None:
    axes = section_map(barn, 0, MIDNIGHT).axes[0]
    assert axes.get_xlim() == (-5.5, 5.5)
    bottom, top = axes.get_ylim()
    assert bottom > 0.0 > top
    assert section_map(barn, 0, MIDNIGHT, whole=True).axes[0].get_ylim()[0] == pytest.approx(3.0)
    assert section_map(barn, 0, MIDNIGHT, depth=0.8).axes[0].get_ylim()[0] == pytest.approx(0.8)


@pytest.mark.parametrize(("name", "radius"), [("barn", 0.1), ("crowded", 0.055), ("narrow", 0.15)])
def test_ducts_are_true_circles_in_their_places(
    name: str, radius: float, request: pytest.FixtureRequest
) -> None:
    results = request.getfixturevalue(name)
    axes = section_map(results).axes[0]
    circles = [patch for patch in axes.patches if isinstance(patch, Circle)]
    centres = sorted(circle.get_center() for circle in circles)
    wanted = sorted(zip(results["duct_across"].values, results["duct_depth"].values, strict=True))
    np.testing.assert_allclose(centres, wanted)
    for circle in circles:
        box = circle.get_window_extent()
        metre = axes.transData.transform((1.0, 0.0))[0] - axes.transData.transform((0.0, 0.0))[0]
        assert box.width == pytest.approx(box.height, rel=1e-6)
        assert box.width == pytest.approx(2.0 * radius * metre, rel=1e-6)


def test_the_air_in_the_ducts_is_written(barn: Results) -> None:
    field = int(np.argmin(np.abs(barn.field_time - np.datetime64(MIDNIGHT))))
    row = int(np.argmin(np.abs(barn.time - barn.field_time[field])))
    air = barn.read("air_temperature", row)
    written = {text.get_text() for text in words_of(section_map(barn, 3, MIDNIGHT), "duct air")}
    assert written == {f"{(air[lane, 3] + air[lane, 4]) / 2:.1f} °C" for lane in range(4)}
    # At 02:00 the fan is off: nothing is written into the ducts, and it is said.
    still = section_map(barn, 3, "2024-01-16T02:00")
    assert not words_of(still, "duct air")
    assert "no air moves" in text_of(still)


def test_isotherms_lie_where_the_ground_has_their_temperature(barn: Results) -> None:
    figure = section_map(barn, 2, MIDNIGHT)
    labels = words_of(figure, "isotherm")
    assert len(labels) >= 5
    field = int(np.argmin(np.abs(barn.field_time - np.datetime64(MIDNIGHT))))
    ground = barn.read("ground_temperature", field)[2]
    across, depth = barn["section_across"].values, barn["section_depth"].values
    for label in labels:
        x, y = label.get_position()
        # The value lies between those of the cells around the label.
        i, k = np.searchsorted(across, x), np.searchsorted(depth, y)
        near = ground[max(k - 2, 0) : k + 2, max(i - 2, 0) : i + 2]
        named = float(label.get_text().rstrip("°").replace("−", "-"))
        assert np.nanmin(near) - 0.02 <= named <= np.nanmax(near) + 0.02


def test_isotherms_and_scales_in_the_other_system(barn: Results) -> None:
    figure = section_map(barn, 2, MIDNIGHT, units="US")
    named = {float(text.get_text().rstrip("°")) for text in words_of(figure, "isotherm")}
    ground = barn.read("ground_temperature", 3)
    assert named
    assert min(named) > np.nanmin(ground) * 1.8 + 32.0
    assert "isotherms in °F" in text_of(figure)
    assert all(text.get_text().endswith("°F") for text in words_of(figure, "duct air"))


@pytest.mark.parametrize("draw", [section_map, plan_map])
def test_an_even_map_says_how_warm_it_is(even: Results, draw: object) -> None:
    figure = draw(even)  # type: ignore[operator]
    assert not words_of(figure, "isotherm")
    (note,) = [text for text in figure.axes[0].texts if text.get_gid() == "even"]
    assert "9.0 °C (48 °F)" in note.get_text()


@pytest.mark.parametrize("units", ["SI", "US"])
@pytest.mark.parametrize("draw", [section_map, plan_map])
def test_colour_bar_has_both_scales(barn: Results, draw: object, units: str) -> None:
    figure = draw(barn, time=MIDNIGHT, units=units)  # type: ignore[operator]
    bar = figure.axes[1]
    (second,) = bar.child_axes
    figure.canvas.draw()
    low, high = bar.get_xlim()
    # Freezing and boiling water in both scales, by definition: 0 degC = 32 degF, 100 degC = 212 degF.
    assert second.get_xlim() == pytest.approx((32.0 + low * 180.0 / 100.0, 32.0 + high * 180.0 / 100.0))
    assert len(bar.get_xticks()) >= 3
    assert len(second.get_xticks()) >= 3
    assert {"°C", "°F"} <= {text.get_text() for text in bar.texts}


@pytest.mark.parametrize("draw", [section_map, plan_map])
def test_lengths_stand_in_metres_and_feet(barn: Results, draw: object) -> None:
    figure = draw(barn)  # type: ignore[operator]
    axes = figure.axes[0]
    figure.canvas.draw()
    across, up = axes.child_axes
    # One foot is 0.3048 m exactly: international yard and pound agreement, 1959.
    assert np.array(across.get_xlim()) * 0.3048 == pytest.approx(axes.get_xlim())
    assert np.array(up.get_ylim()) * 0.3048 == pytest.approx(axes.get_ylim())
    for label, unit in ((axes.get_xlabel(), "[m]"), (across.get_xlabel(), "[ft]"), (up.get_ylabel(), "[ft]")):
        assert unit in label


@pytest.mark.parametrize("name", ["barn", "crowded", "narrow", "even"])
@pytest.mark.parametrize("draw", [section_map, plan_map])
def test_no_words_overlap_or_leave_the_sheet(name: str, draw: object, request: pytest.FixtureRequest) -> None:
    assert not collisions(draw(request.getfixturevalue(name)))  # type: ignore[operator]


def test_hostile_titles_and_names_stay_plain_text(crowded: Results) -> None:
    figure = section_map(crowded)
    figure.canvas.draw()
    everything = text_of(figure)
    assert "$x_1$ <b> \\frac{a} &" in everything
    assert "漢" not in everything, "the type face has no such letter"
    assert "tiles $y^2$" in everything
    assert any(text.get_text().endswith("…") for text in words_of(figure, "material"))
    assert not any(text.get_parse_math() for text in words_of(figure) if "$" in text.get_text())


def test_materials_in_sight_are_named_once(barn: Results) -> None:
    named = [text.get_text() for text in words_of(section_map(barn, whole=True), "material")]
    assert sorted(named) == ["clay soil", "concrete", "damp sand"]
    shallow = [text.get_text() for text in words_of(section_map(barn, depth=0.6), "material")]
    assert sorted(shallow) == ["concrete", "damp sand"]


def test_no_ground_has_no_colour(barn: Results) -> None:
    """The strip above the sunken outside ground stays white; the floor beside it does not."""
    figure = section_map(barn, 0, MIDNIGHT)
    figure.canvas.draw()
    axes = figure.axes[0]
    picture = np.asarray(figure.canvas.buffer_rgba())  # type: ignore[attr-defined]

    def colour(across: float, depth: float) -> np.ndarray:
        x, y = axes.transData.transform((across, depth))
        return picture[picture.shape[0] - 1 - round(y), round(x), :3] / 255.0

    assert colour(4.7, 0.15) == pytest.approx(to_rgba("white")[:3])
    assert np.ptp(colour(0.0, 0.25)) > 0.1


def test_plan_shows_ducts_flow_and_exit_temperatures(barn: Results) -> None:
    figure = plan_map(barn, MIDNIGHT)
    axes = figure.axes[0]
    ducts = [line for line in axes.lines if line.get_gid() == "duct"]
    assert sorted(line.get_ydata()[0] for line in ducts) == pytest.approx(sorted(barn["duct_across"].values))
    assert all(line.is_dashed() for line in ducts)
    assert [line.get_marker() for line in axes.lines if line.get_gid() == "flow"] == [">"] * 4
    row = int(np.flatnonzero(barn.time == np.datetime64(MIDNIGHT))[0])
    written = " ".join(text.get_text() for text in words_of(figure, "duct air"))
    for warmth in barn.read("lane_exit_temperature", row):
        assert f"{warmth:.1f} °C ({warmth * 1.8 + 32:.0f} °F)" in written
    assert "42.0 °C" in written
    still = plan_map(barn, -1)
    assert not [line for line in still.axes[0].lines if line.get_gid() == "flow"]


def test_colours_can_be_pinned(barn: Results) -> None:
    figure = section_map(barn, limits=(0.0, 30.0))
    low, high = figure.axes[1].get_xlim()
    assert (low, high) == pytest.approx((0.0, 30.0))


def test_title_tells_where_and_when(barn: Results) -> None:
    everything = text_of(section_map(barn, 4.2, dt.datetime(2024, 1, 15, 22, 0)))
    assert "4.50 m (14.8 ft) from the floor's start" in everything
    assert "2024-01-15 22:00, 4 h after the start" in everything
    assert "Evening charge of the barn floor" in everything


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"station": 12}, "station 12: allowed: -12 to 11"),
        ({"station": 12.5}, "station at 12.5 m: allowed: 0 m to 12 m"),
        ({"time": 5}, "time 5: allowed: -5 to 4"),
        ({"time": "2024-02-01"}, "allowed: 2024-01-15 18:00 to 2024-01-16 02:00"),
        ({"time": "tomorrow"}, "not a time"),
        ({"time": dt.datetime(2024, 1, 15, 20, tzinfo=dt.UTC)}, "without a zone"),
        ({"depth": 0.0}, "must be above 0"),
        ({"depth": float("nan")}, "must be above 0"),
        ({"units": "metric"}, "allowed: SI or US"),
    ],
)
def test_wrong_choices_are_explained(barn: Results, arguments: dict[str, object], message: str) -> None:
    with pytest.raises(DuctfloorError, match=re.escape(message)):
        section_map(barn, **arguments)  # type: ignore[arg-type]


def test_results_without_maps_say_so() -> None:
    bare = make_results(Shape(hours=1, rows_per_hour=1, maps=0))
    for draw in (section_map, plan_map):
        with pytest.raises(DuctfloorError, match="hold no maps of the ground"):
            draw(bare)
