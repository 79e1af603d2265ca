"""Maps drawn from weights, against the sparse matrices of scipy."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp

from simulator.section.map_weights import MapWeights


@pytest.mark.parametrize("empty", [[], [0], [11], [0, 1, 5, 6, 11], list(range(12))])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_map_is_the_product_of_a_sparse_matrix(empty, mirrored) -> None:
    chance = np.random.default_rng(7)
    across, down, cells = 4, 3, 9
    dense = chance.normal(size=(across * down, cells)) * (chance.random((across * down, cells)) < 0.4)
    dense[:, 2] += 1.0
    dense[empty] = 0.0
    matrix = sp.csr_array(dense)
    temperature = chance.normal(size=(5, cells))
    drawn = MapWeights(matrix.data, matrix.indices, matrix.indptr).draw(
        temperature, (across, down), mirrored=mirrored
    )
    expected = (matrix @ temperature.T).T
    expected[:, empty] = np.nan
    expected = expected.reshape(5, across, down).transpose(0, 2, 1)
    if mirrored:
        expected = np.concatenate((expected[..., ::-1], expected), axis=-1)
    np.testing.assert_allclose(drawn, expected, rtol=1e-14, atol=1e-14)
