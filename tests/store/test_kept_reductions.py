"""Kept reductions give the same run, and a spoilt cache is as good as none."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.run.plan import plan
from simulator.section.kept_reduction import kept_reduction
from simulator.store.kept_reductions import MOST_FILES, KeptReductions
from tests.run.rigs import small_case


class Counting(KeptReductions):
    def __init__(self, folder):
        super().__init__(folder)
        self.hits = 0

    def get(self, fingerprint):
        found = super().get(fingerprint)
        self.hits += found is not None
        return found


@pytest.fixture(scope="module")
def prepared():
    return plan(small_case({"numerics": {"cell_scale": 1.0}}))


def _reduce(keeper, prepared, tolerance=0.01):
    start = (prepared.start_temperature - prepared.reference)[:, None]
    return kept_reduction(keeper, prepared.operators, start, shortest=20.0, longest=1e5, tolerance=tolerance)


def test_a_kept_reduction_is_the_one_that_was_made(tmp_path, prepared):
    keeper = Counting(tmp_path)
    made = _reduce(keeper, prepared)
    assert keeper.hits == 0
    kept = _reduce(keeper, prepared)
    assert keeper.hits == 1
    assert np.array_equal(kept.modes, made.modes)
    assert np.array_equal(kept.rates, made.rates)
    assert kept.error == made.error
    assert kept.shifts == made.shifts


def test_another_tolerance_is_another_reduction(tmp_path, prepared):
    keeper = Counting(tmp_path)
    coarse = _reduce(keeper, prepared, tolerance=1.0)
    fine = _reduce(keeper, prepared, tolerance=1e-4)
    assert keeper.hits == 0
    assert fine.rates.size > coarse.rates.size


@pytest.mark.parametrize(
    "spoil", [lambda data: b"", lambda data: data[: len(data) // 2], lambda data: b"x" * 999]
)
def test_a_spoilt_file_is_passed_over(tmp_path, prepared, spoil):
    made = _reduce(KeptReductions(tmp_path), prepared)
    (path,) = tmp_path.rglob("*.npz")
    path.write_bytes(spoil(path.read_bytes()))
    again = _reduce(KeptReductions(tmp_path), prepared)
    assert np.array_equal(again.modes, made.modes)


def test_a_folder_that_cannot_be_made_costs_nothing_but_time(tmp_path, prepared):
    blocked = tmp_path / "file"
    blocked.write_text("")
    assert _reduce(KeptReductions(blocked), prepared).rates.size > 0
    assert blocked.read_text() == ""


def test_old_files_are_forgotten(tmp_path):
    keeper = KeptReductions(tmp_path)
    for number in range(MOST_FILES + 5):
        keeper.put(f"{number:032x}", {"rates": np.zeros(1)})
    assert len(list(tmp_path.rglob("*.npz"))) == MOST_FILES
