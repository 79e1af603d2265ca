"""The chart of a branch, from a results file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from simulator.errors import DuctfloorError
from simulator.look.branch_chart import Course, draw_branch
from simulator.look.branches import WATER, Branch, branch_air, pick_branch, read_branches
from simulator.look.picking import When, instants, pick_time, shown_units, titles
from simulator.look.scales import FloatArray, Units, length_text
from simulator.look.theme import COLOURS, themed
from simulator.look.wording import moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["branch_profile_chart"]


@themed
def branch_profile_chart(
    results: Results,
    times: Sequence[When] = (-1,),
    *,
    branch: int | str = 1,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw air and wall temperature along a branch at chosen times, and where it is wet.

    Parameters
    ----------
    results : Results
    times : sequence of int, str, datetime or datetime64
        Up to seven rows, as indices or as local dates and times.
    branch : int or str
        Number of the branch, from 1, or its name.
    units : {"SI", "US"}, optional
        The system on the left and below; that of the case when left out.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time or branch, or too many times are asked for.
    """
    shown = shown_units(results, units)
    if not 1 <= len(times) <= len(COLOURS):
        raise DuctfloorError(f"{len(times)} times: allowed: 1 to {len(COLOURS)}")
    branches = read_branches(results)
    number, chosen = pick_branch(branches, branch)
    rows = [pick_time(results, when, "time") for when in times]
    lines = titles(results)
    lines.append(_place(chosen, number, len(branches), shown))
    courses = [_course(results, chosen, row) for row in rows]
    stream = "gas" if chosen.route.kind == "flue" else "air"
    said = f"Lines: {stream}. Dots: wall of the duct"
    lines.append(f"{said}, filled where it is wet." if courses[0].wet is not None else f"{said}.")
    name = chosen.route.name if chosen.route.kind == "air" else f"the {chosen.route.name}"
    title = f"{stream.capitalize()} and wall along {name}"
    return draw_branch(chosen.along, courses, title, lines, shown, stream=stream, figure=figure)


def _place(branch: Branch, number: int, count: int, units: Units) -> str:
    """Which branch of how many, where it lies, and how long it is."""
    route = branch.route
    said = f"Branch {number} of {count}: {length_text(route.length, units=units)} under the floor"
    if route.across.size > 1:
        return f"{said} in {route.across.size} runs."
    where = length_text(float(route.across[0]), units=units)
    return f"{said}, {where} from the middle line, {length_text(float(route.depth[0]), units=units)} deep."


def _course(results: Results, branch: Branch, row: int) -> Course:
    def read(name: str) -> FloatArray:
        return np.asarray(results.read(name, row), dtype=np.float64)

    label = moment_text(instants(results)[row])
    air = branch_air(results, branch, row)
    if branch.route.kind == "flue":
        wall = read("flue_wall_temperature")[branch.station]
        burns = bool(np.isfinite(air).any())
        return Course(label, air, wall, wet=(wall < float(read("flue_dew_temperature"))) & burns)
    wall = branch.at_stations(read("wall_temperature"))
    if branch.route.kind == "jacket" or WATER not in results:
        return Course(label, air, wall)
    water = branch.at_stations(read(WATER))
    return Course(label, air, wall, wet=water > 0.0, water=water)
