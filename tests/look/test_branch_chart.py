"""The chart of a branch: air, wall and wet stretches stand where they were put, words keep apart."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from simulator.look.branch_chart import Along, Course, draw_branch, stretches
from simulator.look.theme import themed
from tests.look.reading import collisions, text_of, words_of

PER_RUN = 12


def loops(runs: int = 3) -> Along:
    """Runs of 6 m in twelve segments, after 1 m of lead and with 1 m of bends between them."""
    begin = np.concatenate([1.0 + 7.0 * run + 0.5 * np.arange(PER_RUN) for run in range(runs)])
    return Along(begin, begin + 0.5, np.repeat(np.arange(runs), PER_RUN))


def course(along: Along, label: str, *, flowing: bool = True, water: np.ndarray | None = None) -> Course:
    wall = 10.0 + 3.0 * np.exp(-along.begin / 10.0)
    air = np.stack([wall[-1] + 30.0 * np.exp(-place / 8.0) for place in (along.begin, along.end)])
    wet = None if water is None else water > 0.0
    return Course(label, air if flowing else np.full_like(air, np.nan), wall, wet, water)


def draw(along: Along, courses: list[Course], units: str = "SI") -> Figure:
    lines = ["Long words " * 30, "Lines: air. Dots: wall."]
    return themed(draw_branch)(along, courses, "Air and wall", lines, units)  # type: ignore[arg-type]


def lines_named(figure: Figure, name: str) -> list[tuple[np.ndarray, np.ndarray]]:
    return [
        (np.asarray(line.get_xdata(), dtype=float), np.asarray(line.get_ydata(), dtype=float))
        for line in figure.axes[0].lines
        if line.get_gid() == name
    ]


def test_stretches_join_where_segments_touch_and_stop_at_bends() -> None:
    along = loops(2)
    wet = (along.begin >= 5.0) & (along.begin < 9.0)
    # The first run ends at 7 m, the second begins at 8 m.
    assert stretches(along, wet) == [(5.0, 2.0), (8.0, 1.0)]
    assert stretches(along, np.zeros(wet.size, dtype=bool)) == []


def test_air_is_drawn_at_both_ends_of_every_segment_and_wall_in_the_middle() -> None:
    along = loops()
    one = course(along, "06:00")
    figure = draw(along, [one])
    ((x, air),) = lines_named(figure, "air")
    np.testing.assert_array_equal(x[::2], along.begin)
    np.testing.assert_array_equal(x[1::2], along.end)
    np.testing.assert_array_equal(air[::2], one.air[0])
    np.testing.assert_array_equal(air[1::2], one.air[1])
    ((x, wall),) = lines_named(figure, "wall")
    np.testing.assert_array_equal(x, (along.begin + along.end) / 2.0)
    np.testing.assert_array_equal(wall, one.wall)


def test_turns_and_runs_are_marked() -> None:
    figure = draw(loops(), [course(loops(), "06:00")])
    assert [float(x[0]) for x, _ in lines_named(figure, "turn")] == [7.5, 14.5]
    assert [text.get_text() for text in words_of(figure, "run")] == ["run 1", "run 2", "run 3"]
    assert not words_of(draw(loops(1), [course(loops(1), "06:00")]), "run")


def test_wet_stretches_are_marked_with_their_length_and_water() -> None:
    along = loops()
    water = np.where((along.begin >= 5.0) & (along.begin < 11.0), 0.2, 0.0)
    figure = draw(along, [course(along, "06:00", water=0.0 * water), course(along, "09:00", water=water)])
    strip = figure.axes[1]
    (wet,) = [each for each in strip.collections if each.get_gid() == "wet" and each.get_paths()]
    assert isinstance(wet, PolyCollection)
    spans = sorted((path.vertices[:, 0].min(), path.vertices[:, 0].max()) for path in wet.get_paths())
    assert spans == [(5.0, 7.0), (8.0, 11.0)]
    said = [text.get_text() for text in words_of(figure, "wet words")]
    assert said == ["06:00, dry", "09:00, 5.0 m wet, 1 kg"]  # 2 m + 3 m, at 0.2 kg/m
    (filled,) = [x for x, _ in lines_named(figure, "wet wall") if x.size]
    np.testing.assert_array_equal(filled, along.middle[water > 0.0])
    # 1 kg = 2.204622 lb, 5 m = 16.404 ft: NIST Special Publication 811 (2008), appendix B.8.
    in_us = draw(along, [course(along, "09:00", water=water)], "US")
    assert words_of(in_us, "wet words")[0].get_text() == "09:00, 16.4 ft wet, 2.2 lb"


def test_still_air_is_not_drawn() -> None:
    along = loops()
    figure = draw(along, [course(along, "06:00", flowing=False)])
    assert not lines_named(figure, "air")
    assert "06:00, wall, no flow" in text_of(figure)


def test_dry_cases_have_no_strip() -> None:
    along = loops()
    assert len(draw(along, [course(along, "06:00")]).axes) == 1


@pytest.mark.parametrize("units", ["SI", "US"])
@pytest.mark.parametrize("runs", [1, 3, 40])
def test_no_words_overlap(units: str, runs: int) -> None:
    along = loops(runs)
    water = np.where(along.begin > 4.0, 0.2, 0.0)
    stamps = ["2031-01-14 03:00", "2031-01-14 06:00", "2031-01-14 09:00"]
    damp = [course(along, stamp, flowing=stamp != stamps[-1], water=water) for stamp in stamps]
    for courses in (damp, [course(along, stamp) for stamp in stamps]):
        assert not collisions(draw(along, courses, units))


@pytest.mark.parametrize("units", ["SI", "US"])
def test_the_system_asked_for_stands_below(units: str) -> None:
    along = loops()
    figure = draw(along, [course(along, "06:00", water=np.zeros(along.begin.size))], units)
    labels = [
        (text.get_window_extent().y0, text.get_text())
        for text in words_of(figure)
        if text.get_text().startswith("along the branch")
    ]
    assert min(labels)[1].endswith("[m]" if units == "SI" else "[ft]")
    assert len(labels) == 2
