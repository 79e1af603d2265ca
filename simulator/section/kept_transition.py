"""Triangles round the ducts, taken from a keeper: to triangulate takes a library that is slow to load."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.keeper import are_finite, are_numbers
from simulator.section.transition import Transition, build_transition

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.layout import SectionLayout
    from simulator.section.mesh import RectangularMesh
    from simulator.section.near_field import Ring

__all__ = ["kept_transition", "name_of"]


def kept_transition(
    keeper: Keeper | None, layout: SectionLayout, mesh: RectangularMesh, rings: tuple[Ring, ...]
) -> Transition:
    """Take the triangles round the ducts from `keeper`, or make them and hand them over.

    They depend on the layout alone, whose text is therefore their name; see `build_transition`.
    """
    if keeper is None or not rings:
        return build_transition(layout, mesh, rings)
    name = name_of(layout, "triangles")
    kept = keeper.get(name)
    found = None if kept is None else _transition_of(kept, mesh, rings)
    if found is None:
        found = build_transition(layout, mesh, rings)
        keeper.put(name, {key: np.asarray(array, dtype=np.float64) for key, array in vars(found).items()})
    return found


def name_of(layout: SectionLayout, kind: str) -> str:
    """Name under which something is kept that depends on the layout alone."""
    return hashlib.sha256(f"{kind} {layout!r}".encode()).hexdigest()[:32]


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
