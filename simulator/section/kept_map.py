"""Weights of a section map, taken from a keeper: to triangulate takes a library that is slow to load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.keeper import are_finite, are_numbers, digest_of, taken_or_made
from simulator.section.map_weights import MapWeights

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.operators import SectionOperators

__all__ = ["kept_map_weights"]


def kept_map_weights(keeper: Keeper | None, operators: SectionOperators) -> MapWeights:
    """Take the weights of a section map from `keeper`, or make them and hand them over; see `map_matrix`."""

    def make() -> MapWeights:
        from simulator.section.sampling import map_matrix  # noqa: PLC0415 - slow to load

        made = map_matrix(operators)
        return MapWeights(made.data, made.indices, made.indptr)

    return taken_or_made(
        keeper,
        lambda: digest_of(("map", operators.layout)),
        lambda kept: _map_of(kept, operators),
        make,
        lambda made: made.__dict__,
    )


def _map_of(kept: Arrays, operators: SectionOperators) -> MapWeights | None:
    """Put it together; None when the arrays are not those of a map of this section."""
    if kept.keys() != {"weights", "cells", "begin"} or not are_finite(kept):
        return None
    weights, cells, begin = kept["weights"], kept["cells"], kept["begin"]
    count = operators.mesh.solid.size
    fits = weights.ndim == 1 and cells.shape == weights.shape and begin.shape == (count + 1,)
    if not fits or begin[0] != 0 or begin[-1] != weights.size or (np.diff(begin) < 0).any():
        return None
    if not (are_numbers(cells, operators.cells) and are_numbers(begin, weights.size + 1)):
        return None
    return MapWeights(weights, cells.astype(np.int32), begin.astype(np.int32))
