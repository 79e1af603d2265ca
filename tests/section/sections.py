"""Sections made up for tests, without a case file."""

from __future__ import annotations

from typing import Any

from simulator.section.layout import Face, Lane, Region, SectionLayout, Solid, Surface

SAND = Solid("sand", 1.5, 2.0e6)
CONCRETE = Solid("concrete", 2.0, 2.2e6)
FOAM = Solid("foam", 0.035, 5.0e4)

UNIFORM_FLUX = 1000.0
"""Levelling resistance [m2.K/W] that leaves the heat flow round a pipe uniform."""


def section(
    lanes: list[tuple[float, float, float]],
    *,
    width: tuple[float, float] = (-1.0, 1.0),
    depth: float = 2.0,
    layers: list[tuple[Solid, float]] | None = None,
    patches: list[tuple[Solid, float, float, float, float]] | None = None,
    film: float = 8.0,
    levelling: float = 0.1,
    wall_heat_capacity: float = 0.0,
    **rest: Any,
) -> SectionLayout:
    """A floor from side to side; lanes are (across, depth, radius), layers (solid, thickness)."""
    low, high = width
    half = max(abs(low), abs(high))
    rows = layers or [(SAND, depth)]
    solids = list(dict.fromkeys([solid for solid, _ in rows] + [patch[0] for patch in patches or []]))
    regions, top = [], 0.0
    for solid, thickness in rows:
        regions.append(Region(-half, half, top, top + thickness, solids.index(solid)))
        top += thickness
    regions += [Region(y0, y1, z0, z1, solids.index(solid)) for solid, y0, y1, z0, z1 in patches or []]
    kind = {"bottom": Face(rest.pop("bottom", "adiabatic")), "sides": Face(rest.pop("sides", "adiabatic"))}
    return SectionLayout(
        y_min=low,
        y_max=high,
        depth=depth,
        solids=tuple(solids),
        regions=tuple(regions),
        surfaces=(Surface("floor", -half, half, film),),
        lanes=tuple(Lane(y, z, r, r, levelling, wall_heat_capacity) for y, z, r in lanes),
        building_half_width=half,
        **kind,
        **rest,
    )


def two_pipes(cell_scale: float) -> SectionLayout:
    """One half of a slab on sand with a pipe in the middle and one beside it, held at a temperature below."""
    return section(
        [(0.0, 0.35, 0.05), (0.45, 0.35, 0.05)], width=(0.0, 1.0), depth=1.5,
        layers=[(CONCRETE, 0.1), (SAND, 1.4)], bottom="temperature", mirrored=True, cell_scale=cell_scale,
    )  # fmt: skip
