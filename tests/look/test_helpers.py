"""Words, scales, spreading and files."""

from __future__ import annotations

import threading
import time
import xml.etree.ElementTree as ET
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.transforms import Bbox
from PIL import Image

from simulator.errors import DuctfloorError
from simulator.look.isotherms import contrast, pad_to_edges, round_levels
from simulator.look.maps import section_map
from simulator.look.placing import TakenPlaces, spread
from simulator.look.save import save
from simulator.look.scales import ENERGY, FLUX, LENGTH, TEMPERATURE, length_text, temperature_text
from simulator.look.theme import new_figure, themed, under_theme
from simulator.look.wording import add_heading, clean, elapsed_text, fit, moment_text, text_width
from tests.examples import examples
from tests.look.made_up import Shape, make_results


def test_fixed_points_of_both_scales() -> None:
    # Definitions: 0 degC = 32 degF, 100 degC = 212 degF, -40 is the same in both.
    assert TEMPERATURE.to_us([0.0, 100.0, -40.0]) == pytest.approx([32.0, 212.0, -40.0])
    assert TEMPERATURE.to_si([32.0, 212.0, -40.0]) == pytest.approx([0.0, 100.0, -40.0])
    # 1 ft = 0.3048 m: international yard and pound agreement, 1959.
    assert LENGTH.to_us(0.3048) == pytest.approx(1.0)
    # NIST Special Publication 811 (2008), appendix B.8: 1 kWh = 3.6 MJ, 1 BTU(IT) = 1.055056e3 J.
    assert ENERGY.to_us(1.0) == pytest.approx(3.6e6 / 1.055056e3 / 1e3, rel=1e-6)
    # 1 BTU/(h ft) = 0.2930711 W / 0.3048 m.
    assert FLUX.to_si(1.0) == pytest.approx(0.2930711 / 0.3048, rel=1e-6)


def test_temperatures_and_lengths_in_words() -> None:
    assert temperature_text(20.0) == "20.0 °C (68 °F)"
    assert temperature_text(20.0, units="US") == "68 °F (20.0 °C)"
    assert temperature_text(-0.04, both=False) == "0.0 °C"
    assert temperature_text(-5.0, both=False) == "−5.0 °C"
    assert temperature_text(float("nan")) == "no reading"
    assert length_text(3.048) == "3.05 m (10.0 ft)"


def test_words_are_cleaned() -> None:
    assert clean("a\x00b\n\tc\u202ed\ufeff") == "a b cd"
    assert clean("$x$ <b>") == "$x$ <b>"
    assert clean("漢") == "\N{REPLACEMENT CHARACTER}"


@settings(max_examples=examples(60))
@given(st.text(max_size=300))
def test_any_title_can_be_drawn(title: str) -> None:
    figure = new_figure(2.0)
    (text, _) = add_heading(figure, title, ["below"])
    figure.canvas.draw()
    assert text.get_window_extent().x1 <= 1200.0


def test_cut_text_fits_and_keeps_its_beginning() -> None:
    words = "a rather long name that will not fit"
    cut = fit(words, 1.0, 11.0)
    assert cut.endswith("…")
    assert words.startswith(cut[:-1])
    assert text_width(cut, 11.0) <= 1.0
    assert fit("short", 3.0, 11.0) == "short"


def test_times_in_words() -> None:
    assert moment_text(np.datetime64("2024-01-15T06:00:00.000")) == "2024-01-15 06:00"
    assert moment_text(np.datetime64("2024-01-15T06:00:07.000")) == "2024-01-15 06:00:07"
    assert elapsed_text(1800.0) == "30 min"
    assert elapsed_text(36000.0) == "10 h"
    assert elapsed_text(20 * 86400.0) == "20 days"


@given(
    st.lists(st.floats(-50.0, 150.0), min_size=1, max_size=12),
    st.floats(0.1, 30.0),
)
def test_spread_keeps_order_distance_and_limits(wanted: list[float], gap: float) -> None:
    places = np.array(wanted)
    placed = spread(places, gap, 0.0, 100.0)
    order = np.argsort(places, kind="stable")
    reached = min(gap, 100.0 / max(len(wanted) - 1, 1))
    assert np.all(np.diff(placed[order]) >= reached - 1e-9)
    assert placed.min() >= -1e-9
    assert placed.max() <= 100.0 + 1e-9


def test_spread_moves_no_more_than_needed() -> None:
    np.testing.assert_allclose(spread(np.array([10.0, 50.0, 90.0]), 10.0, 0.0, 100.0), [10.0, 50.0, 90.0])
    np.testing.assert_allclose(spread(np.array([50.0, 50.0]), 10.0, 0.0, 100.0), [45.0, 55.0])
    np.testing.assert_allclose(spread(np.array([99.0, 98.0]), 10.0, 0.0, 100.0), [100.0, 90.0])


def test_taken_places_are_kept_free() -> None:
    taken = TakenPlaces()
    taken.take(Bbox.from_bounds(0.0, 0.0, 10.0, 10.0))
    assert not taken.is_free(Bbox.from_bounds(11.0, 0.0, 5.0, 5.0), 2.0)
    assert taken.is_free(Bbox.from_bounds(13.0, 0.0, 5.0, 5.0), 2.0)


def test_levels_are_round_and_inside() -> None:
    values = np.linspace(10.3, 17.9, 400).reshape(20, 20)
    levels = round_levels(values, np.ones_like(values), "SI")
    np.testing.assert_allclose(levels.celsius, np.arange(11.0, 18.0))
    assert levels.texts[0] == "11°"
    in_us = round_levels(values, np.ones_like(values), "US")
    np.testing.assert_allclose(in_us.celsius * 1.8 + 32.0, np.arange(52.0, 64.1, 2.0))
    assert not round_levels(np.full((3, 3), 9.0), np.ones((3, 3)), "SI").celsius.size
    assert not round_levels(np.full((3, 3), np.nan), np.ones((3, 3)), "SI").celsius.size


def test_one_hot_spot_does_not_take_all_lines() -> None:
    values = np.linspace(10.0, 14.0, 10000).reshape(100, 100)
    values[:3, :3] = 80.0
    levels = round_levels(values, np.ones_like(values), "SI")
    assert np.sum((levels.celsius > 10.0) & (levels.celsius < 14.0)) >= 1
    assert levels.celsius.size <= 25


def test_padding_reaches_the_edges() -> None:
    x, y, values = pad_to_edges(
        np.array([0.5]),
        np.array([0.0, 1.0]),
        np.array([1.0, 3.0]),
        np.array([0.0, 2.0, 4.0]),
        np.array([[5.0], [6.0]]),
    )
    assert (x[0], x[-1], y[0], y[-1]) == (0.0, 1.0, 0.0, 4.0)
    np.testing.assert_array_equal(values, [[5, 5, 5], [5, 5, 5], [6, 6, 6], [6, 6, 6]])


def test_letters_stand_out() -> None:
    assert contrast((1.0, 1.0, 1.0, 1.0)) == "#000000"
    assert contrast((0.0, 0.0, 0.3, 1.0)) == "#ffffff"


@pytest.fixture(scope="module")
def figure() -> Figure:
    return section_map(make_results(Shape(hours=1, rows_per_hour=1, maps=1, title="<b> & $x_1$")))


def test_png_is_1200_pixels_wide(figure: Figure, tmp_path: Path) -> None:
    target = save(figure, tmp_path / "ground.png")
    assert imread(target).shape[1] == 1200
    assert [path.name for path in tmp_path.iterdir()] == ["ground.png"]


def test_svg_is_sound_and_repeatable(figure: Figure, tmp_path: Path) -> None:
    one, two = save(figure, tmp_path / "one.svg"), save(figure, str(tmp_path / "two.SVG"))
    assert ET.fromstring(one.read_text(encoding="utf-8")).tag.endswith("svg")
    assert one.read_bytes() == two.read_bytes()


@pytest.mark.parametrize("name", ["ground.pdf", "ground", "ground.png.bak"])
def test_other_endings_are_refused(figure: Figure, tmp_path: Path, name: str) -> None:
    with pytest.raises(DuctfloorError, match=r"\.png or \.svg"):
        save(figure, tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_a_missing_folder_is_explained_and_nothing_left(figure: Figure, tmp_path: Path) -> None:
    with pytest.raises(DuctfloorError, match="cannot be written"):
        save(figure, tmp_path / "nowhere" / "ground.png")
    (tmp_path / "taken.png").mkdir()
    with pytest.raises(DuctfloorError, match="cannot be written"):
        save(figure, tmp_path / "taken.png")
    assert [path.name for path in tmp_path.iterdir()] == ["taken.png"]


def test_readers_settings_neither_matter_nor_change(tmp_path: Path) -> None:
    results = make_results(Shape(hours=1, rows_per_hour=1, maps=1))
    plain = save(section_map(results), tmp_path / "plain.png").read_bytes()
    with mpl.rc_context({"font.size": 30.0, "axes.facecolor": "black", "savefig.bbox": "tight"}):
        odd = save(section_map(results), tmp_path / "odd.png").read_bytes()
        assert mpl.rcParams["font.size"] == 30.0
    assert plain == odd


def test_no_window_state_is_touched() -> None:
    import sys

    before = "matplotlib.pyplot" in sys.modules
    section_map(make_results(Shape(hours=1, rows_per_hour=1, maps=1)))
    assert ("matplotlib.pyplot" in sys.modules) == before


def test_a_given_figure_is_used() -> None:
    given_figure = new_figure(6.0)
    results = make_results(Shape(hours=1, rows_per_hour=1, maps=1))
    assert section_map(results, figure=given_figure) is given_figure
    assert given_figure.axes


def test_threads_draw_in_turn() -> None:
    seen: list[float] = []

    @themed
    def read() -> None:
        time.sleep(0.005)
        seen.append(float(mpl.rcParams["font.size"]))

    before = float(mpl.rcParams["font.size"])
    threads = [threading.Thread(target=read) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(seen) == {11.0}
    assert float(mpl.rcParams["font.size"]) == before


@pytest.mark.parametrize("face", ["white", (1.0, 1.0, 1.0, 0.0)])
def test_a_picture_holds_what_the_drawing_library_writes_itself(tmp_path, face):
    """Pixel for pixel; the fourth channel only where something shines through."""
    figure = new_figure(2.0)
    figure.set_facecolor(face)
    figure.add_axes((0.1, 0.2, 0.8, 0.7)).plot([0.0, 1.0, 0.5], color="#0072B2")
    canvas = figure.canvas
    with Image.open(save(figure, tmp_path / "a.png")) as ours:
        assert figure.canvas is canvas
        assert ours.mode == ("RGB" if face == "white" else "RGBA")
        figure.savefig(tmp_path / "b.png", facecolor=figure.get_facecolor())
        with Image.open(tmp_path / "b.png") as theirs:
            assert ours.info["dpi"] == theirs.info["dpi"]
            assert np.array_equal(np.asarray(ours.convert("RGBA")), np.asarray(theirs.convert("RGBA")))


def test_a_theme_within_a_theme_keeps_the_outer_one_and_ends_with_it():
    before = dict(mpl.rcParams)
    with under_theme():
        held = mpl.rcParams["font.size"]
        with under_theme():
            assert mpl.rcParams["font.size"] == held
        assert mpl.rcParams["font.size"] == held
    assert dict(mpl.rcParams) == before
    with pytest.raises(ZeroDivisionError), under_theme():
        raise ZeroDivisionError
    assert dict(mpl.rcParams) == before


def test_free_places_are_those_that_overlap_nothing():
    """Against the drawing library's own test of boxes."""
    corners = np.random.default_rng(5).uniform(0.0, 100.0, (60, 4))
    boxes = [Bbox.from_extents(*row) for row in corners]
    taken = TakenPlaces()
    for box in boxes[:8]:
        taken.take(box)
    free = 0
    for box in boxes[8:]:
        small = Bbox.from_bounds(box.x0, box.y0, 5.0, 4.0)
        expected = not any(small.padded(2.0).overlaps(other) for other in boxes[:8])
        assert taken.is_free(small, 2.0) == expected
        free += expected
    assert 0 < free < 52
