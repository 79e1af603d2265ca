"""What was understood from a case is drawn where the case puts it, to scale, with words that keep apart."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle

from simulator.case.loader import load, load_text
from simulator.errors import DuctfloorError
from simulator.look.case_picture import case_picture
from tests.look.reading import collisions, text_of, words_of

HEAD = """
title = "Sail loft $x$ & <b>"
[site]
start = 2024-01-15T18:00:00
duration = "12 h"
[weather]
kind = "constant"
temperature = "-4 degC"
[ground]
depth = "3 m"
outside_width = "2 m"
surface_level = "0.2 m"
bottom = { kind = "adiabatic" }
start = { kind = "uniform", temperature = "10 degC" }
layers = [{ material = "sand", thickness = "0.8 m" }, { material = "clay" }]
[floor]
width = "6 m"
length = "12 m"
layers = [{ material = "concrete", thickness = "0.1 m" }]
edge_insulation = { material = "XPS", thickness = "0.1 m", depth = "0.6 m" }
[fan]
flow = "0.1 m3/s"
[heat]
kind = "none"
[room]
kind = "fixed"
temperature = "18 degC"
"""
EVEN = 'count = 4\nspacing = "1.2 m"\ndepth = "0.5 m"\ndiameter = "0.2 m"\n'
LAYOUTS = {
    "parallel": EVEN,
    "there and back": EVEN + 'layout = "there and back"\n',
    "serpentine": EVEN + 'layout = "serpentine"\nalong_from = "1 m"\nlength = "8 m"\n',
    "two tiers": EVEN + 'layout = "two tiers"\nlower_depth = "0.9 m"\npasses = 2\n',
    "from the far end": EVEN + 'inlet_end = "far"\n',
    "branches": """diameter = "0.15 m"
[[ducts.branches]]
name = "north loop, with a name longer than the room beside a floor"
extra_length = "2 m"
runs = [
    { across = "-2 m", depth = "0.5 m", along_to = "9 m" },
    { across = "-1 m", depth = "0.5 m", along_from = "9 m", along_to = "0 m" },
]
[[ducts.branches]]
runs = [{ across = "2 m", depth = "0.7 m", along_from = "3 m" }]
[flue]
across = "0.5 m"
depth = "0.6 m"
along_from = "1 m"
along_to = "11 m"
diameter = "150 mm"
rate = "2 kg/h"
temperature = "250 degC"
jacket = { diameter = "250 mm", flow = "0.05 m3/s" }
""",
}


def picture(layout: str, units: str | None = None) -> Figure:
    return case_picture(load_text(HEAD + "[ducts]\n" + LAYOUTS[layout]), units=units)  # type: ignore[arg-type]


def parts(figure: Figure) -> tuple[Axes, Axes]:
    section, plan = figure.axes
    return section, plan


def lines_named(axes: Axes, name: str) -> list[Line2D]:
    return [line for line in axes.lines if line.get_gid() == name]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("units", ["SI", "US"])
def test_no_words_overlap_or_leave_the_sheet(layout: str, units: str) -> None:
    assert not collisions(picture(layout, units))


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_metre_is_as_long_across_as_along(layout: str) -> None:
    figure = picture(layout)
    figure.canvas.draw()
    for axes in parts(figure):
        origin, right, up = axes.transData.transform([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])
        assert abs(right[0] - origin[0]) == pytest.approx(abs(up[1] - origin[1]), rel=1e-6)


def test_the_section_shows_ducts_in_their_places_with_the_way_of_the_air() -> None:
    section, _ = parts(picture("two tiers"))
    circles = [patch for patch in section.patches if isinstance(patch, Circle)]
    centres = {tuple(np.round(circle.get_center(), 6)) for circle in circles}
    assert centres == {(across, depth) for across in (-1.8, -0.6, 0.6, 1.8) for depth in (0.5, 0.9)}
    assert all(circle.get_radius() == pytest.approx(0.1) for circle in circles)
    # Out below and back above: a cross is air that goes away, a dot is air that comes.
    assert {float(line.get_ydata()[0]) for line in lines_named(section, "away")} == {0.9}  # type: ignore[index]
    assert {float(line.get_ydata()[0]) for line in lines_named(section, "back")} == {0.5}  # type: ignore[index]


def test_a_flue_lies_inside_its_jacket() -> None:
    section, plan = parts(picture("branches"))
    circles = [patch for patch in section.patches if isinstance(patch, Circle)]
    here = [circle.get_radius() for circle in circles if circle.get_center() == (0.5, 0.6)]
    assert sorted(here) == pytest.approx([0.075, 0.125])
    written = {text.get_text() for text in words_of(plan.figure, "duct air")}  # type: ignore[arg-type]
    assert written >= {"flue, in", "flue, out", "jacket, in", "jacket, out"}
    assert "Flue run: 10.00 m (32.8 ft), in a jacket." in text_of(plan.figure)  # type: ignore[arg-type]


def test_the_plan_follows_the_air_through_its_turns() -> None:
    _, plan = parts(picture("serpentine"))
    (way,) = lines_named(plan, "duct")
    assert np.asarray(way.get_xdata(), dtype=float).tolist() == pytest.approx([1, 9, 9, 1, 1, 9, 9, 1])
    expected = [-1.8, -1.8, -0.6, -0.6, 0.6, 0.6, 1.8, 1.8]
    assert np.asarray(way.get_ydata(), dtype=float).tolist() == pytest.approx(expected)
    markers = [str(line.get_marker()) for line in lines_named(plan, "flow")]
    assert markers == [">", "<", ">", "<"]
    assert len(lines_named(plan, "open end")) == 2


def test_the_plan_of_an_inlet_at_the_far_end_points_back() -> None:
    _, plan = parts(picture("from the far end"))
    assert [str(line.get_marker()) for line in lines_named(plan, "flow")] == ["<"] * 4
    words = {text.get_text(): text.get_position()[0] for text in words_of(plan.figure, "duct air")}  # type: ignore[arg-type]
    assert words["air in"] > 12.0
    assert words["air out"] < 0.0


def test_runs_above_each_other_are_drawn_side_by_side() -> None:
    _, plan = parts(picture("two tiers"))
    for way in lines_named(plan, "duct"):
        lower, upper = np.unique(np.round(np.asarray(way.get_ydata(), dtype=float), 9))
        gap = plan.transData.transform([(0.0, upper), (0.0, lower)])[:, 1]
        assert gap[0] - gap[1] >= 7.0 - 1e-6


def test_lengths_are_told() -> None:
    # Four runs of 8 m, three turns of 1.2 m; 1 ft = 0.3048 m exactly.
    said = text_of(picture("serpentine"))
    assert "1 branch, 32.00 m (105.0 ft) under the floor, 35.60 m (116.8 ft) of pipe" in said
    assert "4 branches, 12.00 m (39.4 ft) under the floor." in text_of(picture("parallel"))
    assert "Sail loft $x$ & <b>" in said


def test_materials_in_sight_are_named_once_and_pointed_at() -> None:
    figure = picture("parallel")
    named = sorted(text.get_text() for text in words_of(figure, "material"))
    assert named == ["XPS", "clay", "concrete", "sand"]


def test_unknown_units_are_refused() -> None:
    with pytest.raises(DuctfloorError, match="allowed: SI or US"):
        picture("parallel", "metric")


@pytest.mark.parametrize(
    "path", sorted((Path(__file__).parents[2] / "cases").glob("*.toml")), ids=lambda p: p.stem
)
def test_every_case_that_ships_can_be_drawn(path: Path) -> None:
    assert not collisions(case_picture(load(path)))


def test_hundreds_of_ducts_are_drawn() -> None:
    many = 'count = 300\nspacing = "40 mm"\ndepth = "0.5 m"\ndiameter = "30 mm"\n'
    wide = HEAD.replace('width = "6 m"', 'width = "13 m"')
    for layout in ("parallel", "there and back"):
        figure = case_picture(load_text(f'{wide}[ducts]\n{many}layout = "{layout}"\n'))
        assert not collisions(figure)
