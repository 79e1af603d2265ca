"""Checks across the tables of a case: whether it all fits together."""

from __future__ import annotations

import math
from collections.abc import Iterator

from simulator.case.checks_chain import check_chain
from simulator.case.duct_ways import same_place
from simulator.case.explain import Problem, path_of_key
from simulator.case.schema import Case
from simulator.errors import CaseError

#: lengths closer than this count as equal [m]
CLOSE = 1e-6
#: shortest straight run [m]
SHORTEST_RUN = 0.01
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
        *_flue(case),
        *_beside_the_floor(case),
        *_patches(case),
        *_freezing(case),
        *_times(case),
        *_timetable(case),
        *check_chain(case),
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


def _freezing(case: Case) -> Iterator[Problem]:
    """Freezing needs the full mesh."""
    if case.ground.freezing and case.numerics.solver in {"reduced", "full"}:
        yield Problem(
            ("numerics", "solver"),
            "does not fit ground.freezing, which needs the full mesh solved directly",
            '"auto" or "direct"',
        )


def _ducts(case: Case) -> Iterator[Problem]:
    """Check that every duct lies in the ground or floor, under the floor's width and length."""
    radius = case.ducts.outside_radius
    for number, (path, (across, depth)) in enumerate(_duct_paths(case)):
        problem = _out_of_place(case, path, f"duct {number + 1}", across, depth, radius)
        if problem is not None:
            yield problem
            return
    if case.ducts.wall_heat_capacity > 0.0 and case.ducts.wall_thickness <= 0.0:
        yield Problem(
            ("ducts", "wall_heat_capacity"),
            "needs a wall_thickness",
            fix="give wall_thickness, or leave both out",
        )
    floor = case.floor.length
    if case.ducts.branches is None:
        if case.ducts.along_from >= floor - CLOSE:
            yield Problem(("ducts", "along_from"), "lies beyond the floor", f"less than {_m(floor)}")
            return
        if case.duct_branches[0].stretches[0].length > floor - case.ducts.along_from + CLOSE:
            yield Problem(
                ("ducts", "length"), "is more than the floor's length", f"up to {_m(floor)}",
                "make floor.length larger",
            )  # fmt: skip
        return
    for number, branch in enumerate(case.duct_branches):
        for place, run in enumerate(branch.stretches):
            path = ("ducts", "branches", number, "runs", place)
            yield from _along(case, path, run.begin, run.end)


def _along(case: Case, path: tuple[str | int, ...], begin: float, end: float) -> Iterator[Problem]:
    """Check where a run begins and ends along the floor."""
    floor = case.floor.length
    for key, value in (("along_from", begin), ("along_to", end)):
        if value > floor + CLOSE:
            yield Problem(
                (*path, key), "lies beyond the floor", f"up to {_m(floor)}", "make floor.length larger"
            )
    if abs(end - begin) < SHORTEST_RUN:
        yield Problem((*path, "along_from"), "leaves a run without length", f"at least {_m(SHORTEST_RUN)}")


def _duct_paths(case: Case) -> Iterator[tuple[tuple[str | int, ...], tuple[float, float]]]:
    """Key and place of every duct or run."""
    ducts = case.ducts
    if ducts.branches is not None:
        for number, branch in enumerate(ducts.branches):
            for place, run in enumerate(branch.runs):
                yield ("ducts", "branches", number, "runs", place), (run.across, run.depth)
        return
    for number, centre in enumerate(ducts.places):
        yield ("ducts", "lanes", number) if ducts.lanes is not None else ("ducts",), centre


def _out_of_place(
    case: Case, path: tuple[str | int, ...], name: str, across: float, depth: float, radius: float
) -> Problem | None:
    """Return what is wrong with a place as seen across the ducts."""
    half_width = case.floor.width / 2.0
    even = path == ("ducts",)
    deep = "lower_depth" if even and case.ducts.depth != depth else "depth"
    if depth <= radius + CLOSE:
        return Problem(
            (*path, deep),
            f"puts the top of the {'flue' if path == ('flue',) else 'duct'} above the finished floor: "
            f"its outside radius is {_m(radius)}",
            f"more than {_m(radius)}",
            "depth is that of the duct's centreline",
        )
    if depth + radius >= case.ground.depth - CLOSE:
        return Problem(
            (*path, deep),
            f"puts the {'flue' if path == ('flue',) else 'duct'}'s underside at {_m(depth + radius)}, "
            "at or below the model's bottom",
            f"less than {_m(case.ground.depth - radius)}",
            "make ground.depth larger",
        )
    if abs(across) + radius > half_width + CLOSE:
        key = "across" if not even else "spacing" if case.ducts.spacing is not None else "diameter"
        return Problem(
            (*path, key),
            f"{name} reaches {_m(abs(across) + radius)} from the middle, past the edge",
            f"up to {_m(half_width)} from the middle line",
            "make floor.width larger, or move the ducts inward",
        )
    return None


def _neighbours(case: Case) -> Iterator[Problem]:
    """Check that no two ducts touch."""
    ducts = case.ducts
    apart = 2.0 * ducts.outside_radius
    if ducts.lanes is None and ducts.branches is None:
        if ducts.spacing is not None and (ducts.count or 0) > 1 and ducts.spacing <= apart + CLOSE:
            yield Problem(
                ("ducts", "spacing"),
                f"makes neighbouring ducts touch: each is {_m(apart)} wide outside",
                f"more than {_m(apart)}",
            )
            return
        if ducts.layout == "two tiers" and (ducts.lower_depth or 0.0) - (ducts.depth or 0.0) <= apart + CLOSE:
            yield Problem(
                ("ducts", "lower_depth"),
                f"makes the tiers touch: each duct is {_m(apart)} wide outside",
                f"more than {_m((ducts.depth or 0.0) + apart)}",
            )
            return
    elif ducts.lanes is not None:
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
    else:
        yield from _runs_apart(case, apart)
    flue = case.flue
    if flue is None:
        return
    least = ducts.outside_radius + flue.outside_radius
    for number, (_, place) in enumerate(_duct_paths(case)):
        distance = math.dist(place, flue.place)
        if distance <= least + CLOSE:
            yield Problem(
                ("flue", "across"),
                f"the flue touches duct {number + 1}: their centres are {_m(distance)} apart",
                f"more than {_m(least)}",
            )
            return


def _runs_apart(case: Case, apart: float) -> Iterator[Problem]:
    """Check that runs neither touch nor lie in the same stretch of the same place."""
    runs = [
        (("ducts", "branches", number, "runs", place), run)
        for number, branch in enumerate(case.duct_branches)
        for place, run in enumerate(branch.stretches)
    ]
    for second in range(1, len(runs)):
        path, run = runs[second]
        for _, other in runs[:second]:
            if same_place(run.place, other.place):
                shared = min(max(run.begin, run.end), max(other.begin, other.end))
                shared -= max(min(run.begin, run.end), min(other.begin, other.end))
                if shared > CLOSE:
                    yield Problem(path, f"shares {_m(shared)} of the same place with another run")
                    return
                continue
            distance = math.dist(run.place, other.place)
            if distance <= apart + CLOSE:
                yield Problem(
                    path,
                    f"touches another run, or its line: the centres are {_m(distance)} apart",
                    f"more than {_m(apart)}, or exactly the same place",
                )
                return


def _flue(case: Case) -> Iterator[Problem]:
    """Check the flue run's place and what the moisture table needs of the room."""
    flue = case.flue
    if flue is not None:
        problem = _out_of_place(case, ("flue",), "the flue", flue.across, flue.depth, flue.outside_radius)
        if problem is not None:
            yield problem
        yield from _along(case, ("flue",), *flue.ends(case.floor.length))
    moisture = case.moisture
    if moisture is not None and moisture.gain is not None:
        if case.room.kind == "fixed":
            yield Problem(
                ("moisture", "gain"),
                'needs a room of kind "air node" or "house"',
                fix="leave it out: humidity is held",
            )
        elif case.room.volume <= 0.0:
            yield Problem(("moisture", "gain"), "needs the room's volume", fix="give room.volume")


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
