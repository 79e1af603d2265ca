"""Kept triangles, map weights and spot checks are those that were made; spoilt ones are as if not there."""

from __future__ import annotations

import copy
import dataclasses
import subprocess
import sys

import numpy as np
import pytest

from simulator.section.kept_map import kept_map_weights
from simulator.section.kept_spot_check import kept_spot_check
from simulator.section.operators import build_operators
from simulator.section.reduced import ReducedSection
from simulator.section.reduction import Reduction, reduce_section
from simulator.section.sampling import map_matrix
from simulator.section.spot_check import spot_check
from tests.section.sections import section, two_pipes


class Shelf:
    """A keeper in memory that counts."""

    def __init__(self) -> None:
        self.arrays: dict[str, dict[str, np.ndarray]] = {}
        self.put_in = 0

    def get(self, fingerprint):
        found = self.arrays.get(fingerprint)
        return None if found is None else dict(found)

    def put(self, fingerprint, arrays) -> None:
        self.put_in += 1
        self.arrays[fingerprint] = {
            name: np.asarray(array, dtype=np.float64) for name, array in arrays.items()
        }


def same_operators(one, other) -> bool:
    """To the last bit, whatever is in them."""
    matrices = (one.stiffness != other.stiffness).nnz == 0 and one.stiffness.nnz == other.stiffness.nnz
    names = [
        field.name for field in dataclasses.fields(one) if isinstance(getattr(one, field.name), np.ndarray)
    ]
    assert len(names) > 10
    return matrices and all(np.array_equal(getattr(one, name), getattr(other, name)) for name in names)


def test_a_mesh_of_kept_triangles_is_the_one_that_was_made() -> None:
    shelf = Shelf()
    plain = build_operators(two_pipes(2.0))
    made, again = build_operators(two_pipes(2.0), shelf), build_operators(two_pipes(2.0), shelf)
    assert shelf.put_in == 1
    assert same_operators(plain, made)
    assert same_operators(plain, again)


def test_kept_weights_of_a_map_are_those_that_were_made() -> None:
    shelf = Shelf()
    operators = build_operators(two_pipes(2.0))
    for _ in range(2):
        kept = kept_map_weights(shelf, operators)
        made = map_matrix(operators)
        assert np.array_equal(kept.weights, made.data)
        assert np.array_equal(kept.cells, made.indices)
        assert np.array_equal(kept.begin, made.indptr)
    assert shelf.put_in == 1


def test_another_layout_is_another_mesh() -> None:
    """A duct that lies a hair deeper, a finer mesh, another soil: nothing is mixed up."""
    layout = section([(0.0, 0.5, 0.05)])
    others = [
        section([(0.0, 0.5 + 1e-9, 0.05)]),
        dataclasses.replace(layout, cell_scale=1.5 * layout.cell_scale),
        dataclasses.replace(
            layout, solids=(dataclasses.replace(layout.solids[0], water=0.1), *layout.solids[1:])
        ),
    ]
    shelf = Shelf()
    for number, one in enumerate([layout, *others], start=1):
        build_operators(one, shelf)
        kept_map_weights(shelf, build_operators(one))
        assert shelf.put_in == 2 * number


def test_to_use_what_is_kept_loads_neither_triangulation_nor_sparse_matrices(tmp_path) -> None:
    code = (
        "import sys; from pathlib import Path\n"
        "import numpy as np\n"
        "from simulator.section.operators import build_operators\n"
        "from simulator.section.kept_map import kept_map_weights\n"
        "from simulator.store.kept_reductions import KeptReductions\n"
        "from tests.section.sections import two_pipes\n"
        f"keeper = KeptReductions(Path({str(tmp_path)!r}), kind='meshes')\n"
        "operators = build_operators(two_pipes(2.0), keeper)\n"
        "weights = kept_map_weights(keeper, operators)\n"
        "weights.draw(np.ones((3, operators.cells)), operators.mesh.solid.shape)\n"
        "print('scipy.spatial' in sys.modules, 'scipy.sparse' in sys.modules)\n"
        "print(len(list(keeper.folder().glob('*.npz'))))\n"
    )
    told = [
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.split()
        for _ in range(2)
    ]
    assert told == [["True", "True", "2"], ["False", "False", "2"]]


SPOILING = {
    "a name is missing": lambda arrays: arrays.pop(sorted(arrays)[0]),
    "a name too many": lambda arrays: arrays.update(more=np.zeros(1)),
    "not a number": lambda arrays: arrays[sorted(arrays)[-1]].flat.__setitem__(0, np.nan),
    "a row less": lambda arrays: arrays.update({name: array[:-1] for name, array in arrays.items()}),
    "another shape": lambda arrays: arrays.update(
        {name: array.ravel()[:, None] for name, array in arrays.items()}
    ),
}


@pytest.mark.parametrize("spoil", SPOILING.values(), ids=SPOILING)
@pytest.mark.parametrize("kind", ["triangles", "map"])
def test_spoilt_arrays_are_passed_over(kind, spoil) -> None:
    spoilt_and_made_anew(kind, spoil)


@pytest.mark.parametrize(
    ("kind", "name", "value"),
    [
        ("triangles", "corner", -1.0), ("triangles", "corner", 1e9), ("triangles", "corner", 0.5),
        ("triangles", "solid", 99.0), ("map", "cells", 1e9), ("map", "cells", -1.0),
        ("map", "begin", 3.0),
    ],
)  # fmt: skip
def test_numbers_of_cells_that_do_not_exist_are_passed_over(kind, name, value) -> None:
    spoilt_and_made_anew(kind, lambda arrays: arrays[name].flat.__setitem__(0, value))


def same_weights(one, other) -> bool:
    return all(np.array_equal(array, vars(other)[name]) for name, array in vars(one).items())


def spoilt_and_made_anew(kind, spoil) -> None:
    shelf = Shelf()
    operators = build_operators(two_pipes(2.0))

    def make():
        if kind == "map":
            return kept_map_weights(shelf, operators)
        return build_operators(two_pipes(2.0), shelf)

    good = copy.deepcopy(make())
    ((name, arrays),) = shelf.arrays.items()
    spoil(arrays)
    before = {key: array.copy() for key, array in shelf.arrays[name].items()}
    again = make()
    assert same_weights(good, again) if kind == "map" else same_operators(good, again)
    assert shelf.put_in == 2, "the good one takes the place of the spoilt one"
    assert before.keys() != shelf.arrays[name].keys() or any(
        not np.array_equal(before[key], shelf.arrays[name][key]) for key in before
    )


@pytest.fixture(scope="module")
def reduced() -> ReducedSection:
    operators = build_operators(two_pipes(2.0))
    start = np.zeros((operators.cells, 1))
    reduction = reduce_section(operators, start, shortest=90.0, longest=1e6, tolerance=0.005)
    return ReducedSection(operators, reduction)


def test_a_kept_spot_check_is_the_one_that_was_made(reduced) -> None:
    shelf = Shelf()
    periods = (3600.0, 86400.0)
    truth = spot_check(reduced, periods)
    assert kept_spot_check(shelf, reduced, periods) == truth
    assert kept_spot_check(shelf, reduced, periods) == truth
    assert shelf.put_in == 1
    kept_spot_check(shelf, reduced, (7200.0,))
    assert shelf.put_in == 2


def test_spoilt_modes_are_never_passed_as_checked(reduced) -> None:
    """One number of one mode is enough; and what is no difference is not taken for one."""
    shelf = Shelf()
    periods = (3600.0,)
    kept_spot_check(shelf, reduced, periods)
    modes = reduced.reduction.modes.copy()
    modes[reduced.operators.floor_cells] *= 1.5
    spoilt = Reduction(modes, reduced.reduction.rates, reduced.reduction.error, reduced.reduction.shifts)
    found = kept_spot_check(shelf, ReducedSection(reduced.operators, spoilt), periods).difference
    assert found > 100.0 * spot_check(reduced, periods).difference
    for wrong in (np.array(-1.0), np.array(np.nan), np.array([0.0])):
        for arrays in shelf.arrays.values():
            arrays["difference"] = wrong
        assert kept_spot_check(shelf, reduced, periods) == spot_check(reduced, periods)
