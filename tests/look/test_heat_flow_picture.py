"""The flow picture: to scale, in balance with what it was given, and nothing covers anything."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.patches import PathPatch, Rectangle

from simulator.errors import DuctfloorError
from simulator.look.heat_flow_layout import arrange
from simulator.look.heat_flow_links import straighten
from simulator.look.heat_flow_picture import heat_flow_picture, heat_flow_picture_of_results
from tests.examples import examples
from tests.look.made_up import Shape, make_results
from tests.look.reading import collisions, text_of

KWH = 3.6e6
FIRE = [
    ("fuel", "stove", 86 * KWH), ("stove", "flue", 20 * KWH), ("stove", "room", 9 * KWH),
    ("stove", "warm air", 56 * KWH), ("fan", "warm air", 1.2 * KWH), ("stove", "kept in the stove", 1 * KWH),
    ("warm air", "tank", 25 * KWH), ("warm air", "floor and ground", 27 * KWH),
    ("warm air", "room", 5.2 * KWH),
    ("tank", "room", 3 * KWH), ("tank", "kept in the tank", 22 * KWH), ("sun", "room", 12 * KWH),
    ("sun", "floor and ground", 6 * KWH), ("floor and ground", "room", 18 * KWH),
    ("floor and ground", "kept in the ground", 13 * KWH), ("floor and ground", "earth", 2 * KWH),
    ("room", "walls and roof", 40 * KWH), ("room", "leaking air", 7.2 * KWH),
]  # fmt: skip
PARTS = ("fuel", "stove", "air", "tank", "floor", "room", "walls", "kept in the floor", "flue")
some_flows = st.lists(
    st.tuples(
        st.sampled_from(PARTS),
        st.sampled_from(PARTS),
        st.one_of(st.floats(-1e9, 1e9), st.just(0.0), st.floats(-1.0, 1.0)),
    ),
    max_size=14,
)


def bars(figure) -> dict[str, Rectangle]:
    return {
        patch.get_gid().removeprefix("part "): patch
        for patch in figure.findobj(Rectangle)
        if (patch.get_gid() or "").startswith("part ")
    }


def test_bars_are_to_scale() -> None:
    drawn = bars(heat_flow_picture(FIRE))
    per_kilowatt_hour = drawn["fuel"].get_height() / 86
    for name, amount in {"stove": 86, "flue": 20, "sun": 18, "tank": 25, "room": 47.2, "fan": 1.2}.items():
        assert drawn[name].get_height() == pytest.approx(amount * per_kilowatt_hour)


def test_ribbons_are_as_thick_as_their_heat_and_reach_their_bars() -> None:
    figure = heat_flow_picture(FIRE)
    drawn = bars(figure)
    per_kilowatt_hour = drawn["fuel"].get_height() / 86
    ribbons = {patch.get_gid(): patch.get_path().vertices for patch in figure.findobj(PathPatch)}
    assert len(ribbons) == len(FIRE)
    for source, target, heat in FIRE:
        corners = ribbons[f"{source} to {target}"]
        # the outline runs along the upper edge and back along the lower one
        count = (len(corners) - 1) // 2
        upper, lower = corners[:count], corners[count:-1][::-1]
        np.testing.assert_allclose(lower[:, 1] - upper[:, 1], heat / KWH * per_kilowatt_hour, rtol=1e-9)
        for end, name in ((0, source), (-1, target)):
            bar = drawn[name]
            assert bar.get_y() - 1e-9 <= upper[end, 1]
            assert lower[end, 1] <= bar.get_y() + bar.get_height() + 1e-9


@pytest.mark.parametrize("units", ["SI", "US"])
def test_no_words_cover_each_other(units) -> None:
    assert collisions(heat_flow_picture(FIRE, lines=["A cold night"], units=units, share_of="fuel")) == []


def test_words_say_amounts_and_shares() -> None:
    # 1 kWh = 3,412.14 BTU
    text = text_of(heat_flow_picture(FIRE, units="US", share_of="fuel"))
    assert "293 thousand BTU, 100 %" in text
    assert "Shares are of the heat of the fuel, 293 thousand BTU (86.0 kWh)" in text
    assert "20.0 kWh, 23 %" in text_of(heat_flow_picture(FIRE, share_of="fuel"))
    # 86 + 1.2 + 18
    assert "Shares are of all heat put in, 105 kWh" in text_of(heat_flow_picture(FIRE))


def test_heat_that_runs_backwards_changes_its_ends() -> None:
    links, _ = straighten(
        [("floor", "kept in the ground", -5.0), ("room", "walls", -2.0), ("floor", "room", 3.0)]
    )
    assert set(links) == {
        ("taken from the ground", "floor", 5.0),
        ("walls", "room", 2.0),
        ("floor", "room", 3.0),
    }


def test_a_ring_is_cut_at_its_thinnest() -> None:
    links, _ = straighten([("air", "floor", 5.0), ("floor", "room", 3.0), ("room", "air", 1.0)])
    assert set(links) == {
        ("air", "floor", 5.0), ("floor", "room", 3.0),
        ("room", "back to air", 1.0), ("back from room", "air", 1.0),
    }  # fmt: skip


def test_the_thinnest_flows_are_counted_and_left_out() -> None:
    figure = heat_flow_picture([*FIRE, ("room", "keyhole", 1.0)])
    assert "keyhole" not in text_of(figure)
    assert "Left out as too thin: 1." in text_of(figure)


@given(some_flows)
@settings(max_examples=examples(60))
def test_any_list_is_laid_out_in_order(flows) -> None:
    links, _ = straighten(flows)
    laid_out = arrange(flows, 3.0, 0.4)
    assert all(heat > 0.0 for _, _, heat in links)
    # Along every ribbon heat moves to the right.
    for ribbon in laid_out.ribbons:
        assert laid_out.names[ribbon.source].column < laid_out.names[ribbon.target].column
        assert (
            len(ribbon.pieces) == laid_out.names[ribbon.target].column - laid_out.names[ribbon.source].column
        )
    # Parts of one column keep apart, words and all.
    for one, other in itertools.combinations(laid_out.parts, 2):
        if one.column == other.column:
            above, below = sorted((one, other), key=lambda part: part.top)
            reach = max(above.thickness, above.middle - above.top + 0.5 * above.least)
            start = below.top - below.above - max(0.5 * (below.least - below.thickness), 0.0)
            assert above.top + reach <= start + 1e-9
    for part in laid_out.parts:
        assert part.top - part.above >= -1e-9
        assert part.top + part.thickness <= laid_out.height + 1e-9
    # Nothing is lost: what goes in at the left is what the first column's parts carry.
    come = sum(heat for _, target, heat in links)
    assert sum(part.comes for part in laid_out.parts) == pytest.approx(come)


@given(some_flows)
@settings(max_examples=examples(10))
def test_any_list_is_drawn_without_collisions(flows) -> None:
    assert collisions(heat_flow_picture(flows)) == []


def test_nothing_at_all() -> None:
    assert "no heat moved" in text_of(heat_flow_picture([]))


def test_names_are_never_read_as_mark_up() -> None:
    text = text_of(heat_flow_picture([("$\\frac{", "<b>room</b>", KWH)]))
    assert "$\\frac{" in text
    assert "<b>room</b>" in text


def test_of_results() -> None:
    with make_results(Shape()) as results:
        figure = heat_flow_picture_of_results(results)
        assert collisions(figure) == []
        assert "Evening charge of the barn floor" in text_of(figure)
        with pytest.raises(DuctfloorError, match="must lie after"):
            heat_flow_picture_of_results(results, 3, 3)
