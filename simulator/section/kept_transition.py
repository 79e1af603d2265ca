"""Triangles round the ducts, taken from a keeper: to triangulate takes a library that is slow to load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.keeper import are_finite, are_numbers, digest_of, taken_or_made
from simulator.section.transition import Transition, build_transition

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.layout import SectionLayout
    from simulator.section.mesh import RectangularMesh
    from simulator.section.near_field import Ring

__all__ = ["kept_transition"]


def kept_transition(
    keeper: Keeper | None, layout: SectionLayout, mesh: RectangularMesh, rings: tuple[Ring, ...]
) -> Transition:
    """Take the triangles round the ducts from `keeper`, or make them and hand them over.

    They depend on the layout alone, whose text is therefore their name; see `build_transition`.
    """
    return taken_or_made(
        keeper if rings else None,
        lambda: digest_of(("triangles", layout)),
        lambda kept: _transition_of(kept, mesh, rings),
        lambda: build_transition(layout, mesh, rings),
        lambda made: made.__dict__,
    )


def _transition_of(kept: Arrays, mesh: RectangularMesh, rings: tuple[Ring, ...]) -> Transition | None:
    """Put it together; None when the arrays are not those of triangles in this mesh."""
    if kept.keys() != Transition.__dataclass_fields__.keys() or not are_finite(kept):
        return None
    ny, nz = mesh.solid.shape
    nodes = ny * nz + sum(ring.sectors for ring in rings)
    count = kept["area"].size
    shapes = {
        "dropped": (ny, nz), "kept_dual": (ny + 1, nz + 1), "corner": (count, 3),
        "stiffness": (count, 3, 3), "area": (count,), "solid": (count,),
    }  # fmt: skip
    if any(kept[key].shape != shape for key, shape in shapes.items()):
        return None
    if not (are_numbers(kept["corner"], nodes) and are_numbers(kept["solid"], int(mesh.solid.max()) + 1)):
        return None
    return Transition(
        dropped=kept["dropped"] != 0.0,
        kept_dual=kept["kept_dual"] != 0.0,
        corner=kept["corner"].astype(np.int64),
        stiffness=kept["stiffness"],
        area=kept["area"],
        solid=kept["solid"].astype(np.int64),
    )
