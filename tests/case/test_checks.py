"""Does a case fit together: messages of the checks across tables."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from simulator.case.schema import Case

WIDE = ('depth = "10 ft"', 'depth = "10 ft"\noutside_width = "3 ft"')


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            [('thickness = "4 in"', 'thickness = "10 ft"')],
            (
                'workshop.toml:9: ground.depth = "10 ft": the floor\'s layers are 3.048 m thick and '
                "reach the "
                "model's bottom; allowed: more than 3.048 m; make the ground deeper"
            ),
        ),
        (
            [('thickness = "2 ft"', 'thickness = "10 ft"')],
            (
                'workshop.toml:13: ground.layers[1].thickness = "10 ft": reaches 3.15 m down, so the '
                "layers under it "
                "lie below the model's bottom; ground.depth is 3.048 m: make it larger, or leave out "
                "the lower layers"
            ),
        ),
        (
            [('{ material = "sand", thickness = "2 ft" }', '{ material = "sand" }')],
            (
                "workshop.toml:13: ground.layers[1].thickness: is missing; only the last layer may "
                "leave out its "
                "thickness"
            ),
        ),
        (
            [('{ material = "loam" }', '{ material = "loam", thickness = "1 ft" }')],
            (
                'workshop.toml:14: ground.layers[2].thickness = "1 ft": the layers end 1.016 m below '
                "the finished "
                "floor, but the model's bottom is at 3.048 m; leave out the last layer's thickness: it "
                "then goes "
                "down to ground.depth"
            ),
        ),
        (
            [('depth = "18 in"', 'depth = "2 in"')],
            (
                'workshop.toml:23: ducts.depth = "2 in": puts the top of the duct above the finished '
                "floor: its "
                "outside radius is 0.0508 m; allowed: more than 0.0508 m; depth is that of the duct's "
                "centreline"
            ),
        ),
        (
            [('depth = "18 in"', 'depth = "10 ft"')],
            (
                'workshop.toml:23: ducts.depth = "10 ft": puts the duct\'s underside at 3.099 m, at or '
                "below the "
                "model's bottom; allowed: less than 2.997 m; make ground.depth larger"
            ),
        ),
        (
            [('spacing = "2 ft"', 'spacing = "4 ft"')],
            (
                'workshop.toml:22: ducts.spacing = "4 ft": duct 1 reaches 3.099 m from the middle, past '
                "the edge; "
                "allowed: up to 3.048 m from the middle line; make floor.width larger, or move the "
                "ducts inward"
            ),
        ),
        (
            [('spacing = "2 ft"', 'spacing = "4 in"')],
            (
                'workshop.toml:22: ducts.spacing = "4 in": makes neighbouring ducts touch: each is '
                "0.1016 m wide "
                "outside; allowed: more than 0.1016 m"
            ),
        ),
        (
            [
                (
                    'count = 6\nspacing = "2 ft"\ndepth = "18 in"\n',
                    (
                        'lanes = [\n{ across = "0 m", depth = "18 in" },\n{ across = "2 in", depth = "20 '
                        'in" },\n]\n'
                    ),
                ),
            ],
            (
                "workshop.toml:23: ducts.lanes[2]: duct 2 touches duct 1: their centres are 0.07184 m apart; "
                "allowed: more than 0.1016 m"
            ),
        ),
        (
            [
                (
                    'count = 6\nspacing = "2 ft"\ndepth = "18 in"\n',
                    (
                        'lanes = [\n{ across = "0 m", depth = "18 in" },\n{ across = "10 ft", depth = "20 '
                        'in" },\n]\n'
                    ),
                ),
            ],
            (
                'workshop.toml:23: ducts.lanes[2].across = "10 ft": duct 2 reaches 3.099 m from the '
                "middle, past the "
                "edge; allowed: up to 3.048 m from the middle line; make floor.width larger, or move "
                "the ducts inward"
            ),
        ),
        (
            [('diameter = "4 in"', 'diameter = "4 in"\nwall_heat_capacity = "1 MJ/(m3.K)"')],
            (
                'workshop.toml:25: ducts.wall_heat_capacity = "1 MJ/(m3.K)": needs a wall_thickness; '
                "give wall_thickness, or leave both out"
            ),
        ),
        (
            [('diameter = "4 in"', 'diameter = "4 in"\nlength = "41 ft"')],
            (
                'workshop.toml:25: ducts.length = "41 ft": is more than the floor\'s length; allowed: '
                "up to 12.34 m; "
                "make floor.length larger"
            ),
        ),
        (
            [('width = "20 ft"', 'width = "20 ft"\nedge_wall = "8 in"')],
            (
                'workshop.toml:18: floor.edge_wall = "8 in": stands beside the floor, but the model '
                "does not reach "
                "that far; allowed: up to 0 m (ground.outside_width); make ground.outside_width larger"
            ),
        ),
        (
            [
                (
                    'width = "20 ft"',
                    (
                        'width = "20 ft"\nedge_insulation = { material = "XPS", thickness = "2 in", depth = '
                        '"3 ft" }'
                    ),
                )
            ],
            (
                'workshop.toml:18: floor.edge_insulation.thickness = "2 in": lies beside the floor, but '
                "the model does "
                "not reach that far; allowed: up to 0 m (ground.outside_width); make "
                "ground.outside_width larger"
            ),
        ),
        (
            [
                WIDE,
                (
                    'width = "20 ft"',
                    (
                        'width = "20 ft"\nedge_insulation = { material = "XPS", thickness = "2 in", depth = '
                        '"11 ft" }'
                    ),
                ),
            ],
            (
                'workshop.toml:19: floor.edge_insulation.depth = "11 ft": lies below the model\'s bottom; '
                "allowed: up to 3.048 m"
            ),
        ),
        (
            [('depth = "10 ft"', 'depth = "10 ft"\nsurface_level = "10 ft"')],
            (
                'workshop.toml:10: ground.surface_level = "10 ft": lies at or below the model\'s bottom; '
                "allowed: less than 3.048 m"
            ),
        ),
        (
            [
                (
                    'depth = "10 ft"',
                    (
                        'depth = "10 ft"\npatches = [{ material = "clay", across_from = "1 m", '
                        'across_to = "4 m", '
                        'depth_from = "1 m", depth_to = "2 m" }]'
                    ),
                )
            ],
            (
                'workshop.toml:10: ground.patches[1].across_to = "4 m": lies outside the model; '
                "allowed: -3.048 m to "
                "3.048 m; half the floor's width plus ground.outside_width is the limit"
            ),
        ),
        (
            [
                (
                    'depth = "10 ft"',
                    (
                        'depth = "10 ft"\npatches = [{ material = "clay", across_from = "1 m", '
                        'across_to = "2 m", '
                        'depth_from = "1 m", depth_to = "4 m" }]'
                    ),
                )
            ],
            (
                'workshop.toml:10: ground.patches[1].depth_to = "4 m": lies below the model\'s bottom; '
                "allowed: up to 3.048 m"
            ),
        ),
        (
            [
                (
                    'depth = "10 ft"',
                    (
                        'depth = "10 ft"\npatches = [{ material = "clay", across_from = "1 m", '
                        'across_to = "0 m", '
                        'depth_from = "1 m", depth_to = "2 m" }]'
                    ),
                )
            ],
            'workshop.toml:10: ground.patches[1].across_to = "0 m": must lie beyond across_from',
        ),
    ],
)
def test_refused(refusal: Callable[..., str], changes: list[tuple[str, str]], message: str) -> None:
    assert refusal(*changes) == message


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (
            '[numerics]\nstep = "6 h"\n',
            'workshop.toml:34: numerics.step = "6 h": is longer than the run; site.',
        ),
        (
            '[output]\ninterval = "3 d"\n',
            'workshop.toml:34: output.interval = "3 d": is longer than the run; site.duration is 7200 s',
        ),
    ],
)
def test_refused_times(refusal: Callable[..., str], lines: str, message: str) -> None:
    assert refusal(('duration = "2 days"', 'duration = "2 h"'), add=lines).startswith(message)


def test_too_many_rows(refusal: Callable[..., str]) -> None:
    text = refusal(('duration = "2 days"', 'duration = "7000 days"'), add='[output]\ninterval = "0.1 s"\n')
    assert text == (
        'workshop.toml:34: output.interval = "0.1 s": makes 6.05e+09 rows of results; allowed: up to '
        "10,000,000 "
        "rows; make it longer, or the run shorter"
    )


@pytest.mark.parametrize(
    "changes",
    [
        # Each just inside a limit that the refusals above overstep.
        [('depth = "18 in"', 'depth = "2.1 in"')],
        [('depth = "18 in"', 'depth = "9 ft 9 in"')],
        [('spacing = "2 ft"', 'spacing = "47 in"')],
        [('spacing = "2 ft"', 'spacing = "4.1 in"')],
        [('diameter = "4 in"', 'diameter = "4 in"\nlength = "40 ft 6 in"')],
        [('{ material = "loam" }', '{ material = "loam", thickness = "7 ft 8 in" }')],
        [WIDE, ('width = "20 ft"', 'width = "20 ft"\nedge_wall = "3 ft"')],
        [('width = "20 ft"', 'width = "20 ft"\nfilm = "0 W/(m2.K)"')],
        [('width = "20 ft"', 'width = "20 ft"\nfilm = "1e9 W/(m2.K)"')],
        [('count = 6\nspacing = "2 ft"', "count = 1")],
    ],
)
def test_accepted(build: Callable[..., Case], changes: list[tuple[str, str]]) -> None:
    assert build(*changes).title == "Workshop"


def test_places_and_levels(build: Callable[..., Case]) -> None:
    case = build()
    foot = 0.3048
    assert [across for across, _ in case.ducts.places] == pytest.approx(
        [number * foot for number in (-5, -3, -1, 1, 3, 5)]
    )
    assert [depth for _, depth in case.ducts.places] == pytest.approx([1.5 * foot] * 6)
    levels = [(top, bottom, layer.material) for top, bottom, layer in case.ground_levels]
    third = foot / 3
    assert levels == [
        (pytest.approx(third), pytest.approx(2 * foot + third), "sand"),
        (pytest.approx(2 * foot + third), pytest.approx(10 * foot), "loam"),
    ]
    assert case.duct_length == case.floor.length == pytest.approx(40.5 * foot)
    assert case.floor.area == pytest.approx(810 * foot**2)
    assert math.isclose(case.floor.thickness, third)


def test_lanes_are_kept_as_given(build: Callable[..., Case]) -> None:
    lanes = 'lanes = [{ across = "1 m", depth = "0.5 m" }, { across = "-2 m", depth = "0.8 m" }]\n'
    case = build(('count = 6\nspacing = "2 ft"\ndepth = "18 in"\n', lanes))
    assert case.ducts.places == [(1.0, 0.5), (-2.0, 0.8)]
