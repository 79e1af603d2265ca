"""Checks across the tables of a case: whether it all fits together."""

from __future__ import annotations

import math
from collections.abc import Iterator

from simulator.case.explain import Problem, path_of_key
from simulator.case.schema import Case
from simulator.errors import CaseError

#: lengths closer than this count as equal [m]
CLOSE = 1e-6
_MOST_ROWS = 10_000_000


def check(case: Case) -> list[Problem]:
    """Return every problem found; none when the case fits together.

    Parameters
    ----------
    case : Case
        Every key is valid by itself.
    """
    return [
        *_layers(case),
        *_ducts(case),
        *_neighbours(case),
        *_beside_the_floor(case),
        *_patches(case),
        *_times(case),
        *_timetable(case),
    ]


def _m(value: float) -> str:
    """Write a length."""
    return f"{value:.4g} m"


def _layers(case: Case) -> Iterator[Problem]:
    """Check floor and ground layers against the model's depth."""
    thickness, depth = case.floor.thickness, case.ground.depth
    if thickness >= depth - CLOSE:
        problem = f"the floor's layers are {_m(thickness)} thick and reach the model's bottom"
        yield Problem(("ground", "depth"), problem, f"more than {_m(thickness)}", "make the ground deeper")
        return
    top = thickness
    last = len(case.ground.layers) - 1
    for number, layer in enumerate(case.ground.layers):
        path = ("ground", "layers", number, "thickness")
        if layer.thickness is None:
            if number < last:
                yield Problem(path, "is missing", fix="only the last layer may leave out its thickness")
                return
            return
        top += layer.thickness
        if number < last and top >= depth - CLOSE:
            yield Problem(
                path,
                f"reaches {_m(top)} down, so the layers under it lie below the model's bottom",
                fix=f"ground.depth is {_m(depth)}: make it larger, or leave out the lower layers",
            )
            return
    if abs(top - depth) > 1e-3:
        yield Problem(
            ("ground", "layers", last, "thickness"),
            f"the layers end {_m(top)} below the finished floor, but the model's bottom is at {_m(depth)}",
            fix="leave out the last layer's thickness: it then goes down to ground.depth",
        )


def _ducts(case: Case) -> Iterator[Problem]:
    """Check that every duct lies in the ground or floor, under the floor's width."""
    radius, half_width = case.ducts.outside_radius, case.floor.width / 2.0
    for number, (across, depth) in enumerate(case.ducts.places):
        lane = case.ducts.lanes is not None
        path: tuple[str | int, ...] = ("ducts", "lanes", number) if lane else ("ducts",)
        if depth <= radius + CLOSE:
            yield Problem(
                (*path, "depth"),
                f"puts the top of the duct above the finished floor: its outside radius is {_m(radius)}",
                f"more than {_m(radius)}",
                "depth is that of the duct's centreline",
            )
            return
        if depth + radius >= case.ground.depth - CLOSE:
            yield Problem(
                (*path, "depth"),
                f"puts the duct's underside at {_m(depth + radius)}, at or below the model's bottom",
                f"less than {_m(case.ground.depth - radius)}",
                "make ground.depth larger",
            )
            return
        if abs(across) + radius > half_width + CLOSE:
            yield Problem(
                (*path, "across" if lane else "spacing" if case.ducts.spacing is not None else "diameter"),
                f"duct {number + 1} reaches {_m(abs(across) + radius)} from the middle, past the edge",
                f"up to {_m(half_width)} from the middle line",
                "make floor.width larger, or move the ducts inward",
            )
            return
    if case.ducts.wall_heat_capacity > 0.0 and case.ducts.wall_thickness <= 0.0:
        yield Problem(
            ("ducts", "wall_heat_capacity"),
            "needs a wall_thickness",
            fix="give wall_thickness, or leave both out",
        )
    if case.duct_length > case.floor.length + CLOSE:
        yield Problem(
            ("ducts", "length"), "is more than the floor's length", f"up to {_m(case.floor.length)}",
            "make floor.length larger",
        )  # fmt: skip


def _neighbours(case: Case) -> Iterator[Problem]:
    """Check that no two ducts touch."""
    ducts = case.ducts
    apart = 2.0 * ducts.outside_radius
    if ducts.lanes is None:
        if ducts.spacing is not None and (ducts.count or 0) > 1 and ducts.spacing <= apart + CLOSE:
            yield Problem(
                ("ducts", "spacing"),
                f"makes neighbouring ducts touch: each is {_m(apart)} wide outside",
                f"more than {_m(apart)}",
            )
        return
    places = ducts.places
    for second in range(1, len(places)):
        for first in range(second):
            distance = math.dist(places[first], places[second])
            if distance <= apart + CLOSE:
                yield Problem(
                    ("ducts", "lanes", second),
                    f"duct {second + 1} touches duct {first + 1}: their centres are {_m(distance)} apart",
                    f"more than {_m(apart)}",
                )
                return


def _beside_the_floor(case: Case) -> Iterator[Problem]:
    """Check edge wall, edge insulation and outside surface against the ground beside the building."""
    ground, floor = case.ground, case.floor
    fix = "make ground.outside_width larger"
    if floor.edge_wall > ground.outside_width + CLOSE:
        yield Problem(
            ("floor", "edge_wall"),
            "stands beside the floor, but the model does not reach that far",
            f"up to {_m(ground.outside_width)} (ground.outside_width)",
            fix,
        )
    insulation = floor.edge_insulation
    if insulation is not None:
        if insulation.thickness > ground.outside_width + CLOSE:
            yield Problem(
                ("floor", "edge_insulation", "thickness"),
                "lies beside the floor, but the model does not reach that far",
                f"up to {_m(ground.outside_width)} (ground.outside_width)",
                fix,
            )
        if insulation.depth > ground.depth + CLOSE:
            yield Problem(
                ("floor", "edge_insulation", "depth"),
                "lies below the model's bottom",
                f"up to {_m(ground.depth)}",
            )
    if ground.surface_level >= ground.depth - CLOSE:
        yield Problem(
            ("ground", "surface_level"),
            "lies at or below the model's bottom",
            f"less than {_m(ground.depth)}",
        )


def _patches(case: Case) -> Iterator[Problem]:
    """Check that patches lie in the model."""
    half_width = case.floor.width / 2.0 + case.ground.outside_width
    for number, patch in enumerate(case.ground.patches):
        path = ("ground", "patches", number)
        for key, value in (("across_from", patch.across_from), ("across_to", patch.across_to)):
            if abs(value) > half_width + CLOSE:
                yield Problem(
                    (*path, key), "lies outside the model", f"-{_m(half_width)} to {_m(half_width)}",
                    "half the floor's width plus ground.outside_width is the limit",
                )  # fmt: skip
        if patch.depth_to > case.ground.depth + CLOSE:
            yield Problem(
                (*path, "depth_to"), "lies below the model's bottom", f"up to {_m(case.ground.depth)}"
            )


def _times(case: Case) -> Iterator[Problem]:
    """Check step and intervals against the length of the run."""
    duration = case.site.duration
    fix = f"site.duration is {duration:g} s"
    if case.numerics.step > duration:
        yield Problem(("numerics", "step"), "is longer than the run", fix=fix)
    if case.output.interval > duration:
        yield Problem(("output", "interval"), "is longer than the run", fix=fix)
    rows = duration / case.output.interval
    if rows > _MOST_ROWS:
        yield Problem(
            ("output", "interval"), f"makes {rows:.3g} rows of results", f"up to {_MOST_ROWS:,} rows",
            "make it longer, or the run shorter",
        )  # fmt: skip


def _timetable(case: Case) -> Iterator[Problem]:
    """Check that the timetable fits the run and the heater."""
    try:
        _ = case.timetable_compiled
    except CaseError as error:
        yield Problem(path_of_key(error.key or "timetable"), error.problem, error.allowed, error.fix)
