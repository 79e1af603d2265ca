"""Weights of a section map, taken from a keeper: to triangulate takes a library that is slow to load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp

from simulator.section.keeper import are_finite, are_numbers, digest_of, taken_or_made

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.operators import SectionOperators

__all__ = ["kept_map_matrix"]


def kept_map_matrix(keeper: Keeper | None, operators: SectionOperators) -> sp.csr_array:
    """Take the weights of a section map from `keeper`, or make them and hand them over; see `map_matrix`."""

    def make() -> sp.csr_array:
        from simulator.section.sampling import map_matrix  # noqa: PLC0415 - slow to load

        return map_matrix(operators)

    return taken_or_made(
        keeper,
        lambda: digest_of(("map", operators.layout)),
        lambda kept: _map_of(kept, operators),
        make,
        lambda made: {"data": made.data, "indices": made.indices, "indptr": made.indptr},
    )


def _map_of(kept: Arrays, operators: SectionOperators) -> sp.csr_array | None:
    """Put it together; None when the arrays are not those of a map of this section."""
    if kept.keys() != {"data", "indices", "indptr"} or not are_finite(kept):
        return None
    data, indices, rows = kept["data"], kept["indices"], kept["indptr"]
    count = operators.mesh.solid.size
    fits = data.ndim == 1 and indices.shape == data.shape and rows.shape == (count + 1,)
    if not fits or rows[0] != 0 or rows[-1] != data.size or (np.diff(rows) < 0).any():
        return None
    if not (are_numbers(indices, operators.cells) and are_numbers(rows, data.size + 1)):
        return None
    parts = data, indices.astype(np.int32), rows.astype(np.int32)
    return sp.csr_array(parts, shape=(count, operators.cells))
