"""What a case says about floor, ground and ducts, turned into the picture of what was understood."""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.case.units import shown_unit
from simulator.errors import DuctfloorError
from simulator.look.route_marks import EndWords
from simulator.look.routes import Route, flue_routes, routes_of
from simulator.look.scales import Units, length_text
from simulator.look.theme import themed
from simulator.look.understood import Block, Ground, draw_understood
from simulator.section.layout import SectionLayout, layout_from_case

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

    from simulator.case.duct_ways import DuctBranch
    from simulator.case.schema import Case

__all__ = ["case_picture"]

# Ground is drawn down to this many times the depth of the deepest duct and some more, and never as a sliver.
DEPTHS_BELOW_DUCT = 1.5
MORE_DEPTH = 1.0  # [m]
LEAST_SHAPE = 0.15
NEARLY_ALL = 0.75
ANY_FILM = 10.0  # [W/(m2.K)] the picture does not depend on it
ALIKE = 1e-6  # [m]


@themed
def case_picture(case: Case, *, units: Units | None = None, figure: Figure | None = None) -> Figure:
    """Draw the section across the ducts and the plan of the floor as a case describes them.

    Parameters
    ----------
    case : Case
        A validated case; nothing is run.
    units : {"SI", "US"}, optional
        The system that comes first; that of the case when left out. Both are always shown.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such system of units.
    """
    shown = units or case.output.units
    if shown not in ("SI", "US"):
        raise DuctfloorError(f"units {shown!r}: allowed: SI or US")
    layout, _ = layout_from_case(case, ANY_FILM)
    routes = routes_of(case.duct_branches, 2.0 * case.ducts.outside_radius)
    if case.flue is not None:
        routes = (*routes, *flue_routes(case.flue, case.floor.length))
    lines = [case.title] if case.title.strip() else []
    lines.append(_said(case.duct_branches, shown))
    lines += _chain_said(case, shown)
    marks = "In the section a cross is air that moves away from the reader, a dot is air that comes."
    lines.append(_flue_said(case, shown) + marks)
    return draw_understood(_ground(case, layout), routes, _end_words(routes), lines, shown, figure)


def _ground(case: Case, layout: SectionLayout) -> Ground:
    reach = layout.y_max
    blocks = tuple(
        Block(
            across=(max(region.y0, -reach), min(region.y1, reach)),
            depth=(region.z0, region.z1),
            material=layout.solids[region.solid].name,
        )
        for region in layout.regions
    )
    deepest = max(depth for _, depth in case.ducts.places)
    if case.flue is not None:
        deepest = max(deepest, case.flue.depth)
    wanted = max(DEPTHS_BELOW_DUCT * deepest + MORE_DEPTH, LEAST_SHAPE * 2.0 * reach)
    return Ground(
        blocks=blocks,
        half_width=layout.building_half_width,
        reach=reach,
        depth=layout.depth if wanted > NEARLY_ALL * layout.depth else wanted,
        surface=layout.surface_level_outside,
        length=case.floor.length,
    )


def _said(branches: Sequence[DuctBranch], units: Units) -> str:
    """How many branches, and how long."""
    buried = [branch.buried_length for branch in branches]
    whole = [branch.length for branch in branches]
    count = "1 branch" if len(branches) == 1 else f"{len(branches)} branches"
    said = f"{count}, {_range(buried, units)} under the floor"
    if max(whole) - max(buried) > ALIKE or min(whole) - min(buried) > ALIKE:
        said += f", {_range(whole, units)} of pipe with turns and pipe outside"
    return said + "."


def _chain_said(case: Case, units: Units) -> list[str]:
    """Say what warms the air and the room beside the ground: stove, water and house, in a line each."""
    lines = []
    if case.stove is not None:
        way = "in loads" if case.stove.burn == "batches" else "by a steady feed"
        said = f"Stove burning {case.stove.fuel} {way}"
        if case.water is not None:
            coils = "1 coil" if len(case.coils) == 1 else f"{len(case.coils)} coils"
            said += f"; {coils} and a tank of {_plain(case.water.tank_volume, 'water volume', units)}"
        lines.append(said + ".")
    if case.room.kind == "house":
        areas = {"glazing": 0.0, "wall": 0.0}
        for surface in case.room.surfaces:
            areas[surface.kind] += surface.area
        glass, wall = (_plain(areas[kind], "area", units) for kind in ("glazing", "wall"))
        cover = ", with a night cover" if case.room.has_cover else ""
        lines.append(f"House of {glass} glazing and {wall} wall{cover}.")
    return lines


def _plain(value: float, dimension: str, units: Units) -> str:
    """Write a quantity to three digits in both systems, the chosen one first."""
    said = []
    for system in ("SI", "US") if units == "SI" else ("US", "SI"):
        unit = shown_unit(dimension, system, value)
        said.append(f"{float(f'{unit.number(value):.3g}'):,.10g} {unit.label}")
    return f"{said[0]} ({said[1]})"


def _flue_said(case: Case, units: Units) -> str:
    flue = case.flue
    if flue is None:
        return ""
    begin, end = flue.ends(case.floor.length)
    jacket = "bare" if flue.jacket is None else "in a jacket"
    return f"Flue run: {length_text(abs(end - begin), units=units)}, {jacket}. "


def _range(lengths: Sequence[float], units: Units) -> str:
    shortest, longest = min(lengths), max(lengths)
    if longest - shortest <= ALIKE:
        return length_text(longest, units=units)
    return f"{length_text(shortest, units=units)} to {length_text(longest, units=units)}"


def _end_words(routes: Sequence[Route]) -> list[EndWords]:
    air = [route for route in routes if route.kind == "air"]
    if len(air) > 1 and all(route.across.size == 1 for route in air):
        ways = {float(route.directions[0]) for route in air}
        if len(ways) == 1 and len(air) == len(routes):
            # Alike and side by side: the names of the branches would say nothing.
            return [EndWords("air in", "air out")] * len(routes)
    return [EndWords(f"{route.name}, in", f"{route.name}, out") for route in routes]
