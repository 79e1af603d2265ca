"""Weights of a section map, taken from a keeper: to triangulate takes a library that is slow to load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp

from simulator.section.keeper import are_finite, are_numbers
from simulator.section.kept_transition import name_of

if TYPE_CHECKING:
    from simulator.section.keeper import Arrays, Keeper
    from simulator.section.operators import SectionOperators

__all__ = ["kept_map_matrix"]


def kept_map_matrix(keeper: Keeper | None, operators: SectionOperators) -> sp.csr_array:
    """Take the weights of a section map from `keeper`, or make them and hand them over; see `map_matrix`."""
    name = name_of(operators.layout, "map")
    kept = None if keeper is None else keeper.get(name)
    found = None if kept is None else _map_of(kept, operators)
    if found is None:
        from simulator.section.sampling import map_matrix  # noqa: PLC0415 - slow to load

        found = map_matrix(operators)
        if keeper is not None:
            arrays = {"data": found.data, "indices": found.indices, "indptr": found.indptr}
            keeper.put(name, {key: np.asarray(array, dtype=np.float64) for key, array in arrays.items()})
    return found


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
