"""Chunks packed here are read by the file library's own filters."""

from __future__ import annotations

import zlib
from pathlib import Path

import h5py
import numpy as np
import pytest

from simulator.store.blocks import packed_chunk, rounded_field, write_packed


def kept(folder: Path, values: np.ndarray) -> tuple[np.ndarray, int]:
    """Values as the library (HDF5 with its shuffle and deflate filters) reads them, and bytes in the file."""
    with h5py.File(folder / "chunk.h5", "w") as file:
        dataset = file.create_dataset(
            "d", values.shape, values.dtype, chunks=values.shape, shuffle=True, compression="gzip"
        )
        write_packed(dataset, 0, packed_chunk(values))
    with h5py.File(folder / "chunk.h5") as file:
        return file["d"][()], file["d"].id.get_storage_size()


@pytest.mark.parametrize("kind", ["f4", "f8"])
@pytest.mark.parametrize("shape", [(1, 3, 5), (1, 12, 40, 90), (64,), (1, 24, 52, 61)])
def test_the_file_library_reads_what_is_packed_here(kind, shape, tmp_path):
    noise = np.random.default_rng(7).normal(280.0, 20.0, shape).astype(kind)
    noise.reshape(-1)[::11] = np.nan
    found, _ = kept(tmp_path, noise)
    assert found.tobytes() == noise.tobytes()


@pytest.mark.parametrize("special", [0.0, -0.0, np.inf, -np.inf, np.nan, 1e-45, 3e38])
def test_even_maps_and_strange_numbers_come_back(special, tmp_path):
    values = np.full((1, 8, 64, 64), special, dtype="f4")
    found, stored = kept(tmp_path, values)
    assert found.tobytes() == values.tobytes()
    assert stored < 0.01 * values.nbytes


def warm_ground() -> np.ndarray:
    """Made-up ground: a fall with depth, warm rings round ducts, weaker from station to station."""
    station, depth, across = np.ogrid[0:1:24j, 0:3:52j, -6:6:294j]
    field = 283.0 + 8.0 * np.exp(-depth) * np.cos(0.3 * across)
    for middle in (-3.0, -1.0, 1.0, 3.0):
        field = field + 12.0 * np.exp(-station) * np.exp(-4.0 * np.hypot(across - middle, depth - 0.5))
    return rounded_field(field)[np.newaxis]


def test_maps_take_little_more_than_with_plain_packing(tmp_path):
    values = warm_ground()
    found, stored = kept(tmp_path, values)
    assert found.tobytes() == values.tobytes()
    planes = values.reshape(-1).view(np.uint8).reshape(-1, 4).T
    assert stored <= 1.3 * len(zlib.compress(planes.tobytes(), 1))


def test_rounding_is_to_the_nearest_step_of_a_1024th_kelvin():
    kelvin = np.random.default_rng(3).uniform(200.0, 900.0, (2, 3, 500))
    exact = (kelvin - 273.15) * 1024.0
    rounded = rounded_field(kelvin).astype(np.float64) * 1024.0
    assert (rounded == np.rint(rounded)).all()
    assert np.abs(rounded - exact).max() <= 0.5 + 1e-9
    assert np.isnan(rounded_field(np.full((1, 1, 1), np.nan))).all()
