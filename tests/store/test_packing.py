"""Chunks packed by threads reach the file whole, in order and as they would have been written at once."""

from __future__ import annotations

import threading

import h5py
import numpy as np
import pytest

from simulator.store import packing
from simulator.store.blocks import packed_chunk, write_packed
from simulator.store.packing import Packer

ROWS, SHAPE = 40, (3, 90, 110)


@pytest.fixture
def maps() -> np.ndarray:
    return np.cumsum(np.random.default_rng(5).normal(size=(ROWS, *SHAPE)), axis=-1).astype(np.float32)


def made(file: h5py.File, name: str) -> h5py.Dataset:
    return file.create_dataset(
        name, (ROWS, *SHAPE), "<f4", chunks=(1, *SHAPE), shuffle=True, compression="gzip", fillvalue=np.nan
    )


@pytest.mark.parametrize("most_bytes", [0.0, 1e6, 1e9])
def test_the_same_chunks_as_without_threads(tmp_path, maps, monkeypatch, most_bytes) -> None:
    monkeypatch.setattr(packing, "_MOST_BYTES", most_bytes)
    with h5py.File(tmp_path / "a.h5", "w") as file:
        plain, threaded = made(file, "plain"), made(file, "threaded")
        packer = Packer()
        for row, one in enumerate(maps):
            write_packed(plain, row, packed_chunk(one[np.newaxis]))
            packer.put([threaded], row, lambda one=one: [one[np.newaxis]], one.nbytes)
        packer.settle()
        packer.close()
        np.testing.assert_array_equal(threaded[()], maps)
        for row in range(ROWS):
            at = (row, 0, 0, 0)
            assert threaded.id.read_direct_chunk(at) == plain.id.read_direct_chunk(at)


def test_no_more_is_held_than_allowed(tmp_path, maps, monkeypatch) -> None:
    monkeypatch.setattr(packing, "_MOST_BYTES", 3.5 * maps[0].nbytes)
    with h5py.File(tmp_path / "a.h5", "w") as file:
        threaded, packer = made(file, "threaded"), Packer()
        for row, one in enumerate(maps[:10]):
            packer.put([threaded], row, lambda one=one: [one[np.newaxis]], one.nbytes)
            written = int(np.isfinite(threaded[:, 0, 0, 0]).sum())
            assert written == max(0, row + 1 - 3)
        packer.close()


def test_what_was_not_settled_is_forgotten_and_the_threads_end(tmp_path, maps) -> None:
    before = threading.active_count()
    with h5py.File(tmp_path / "a.h5", "w") as file:
        threaded, packer = made(file, "threaded"), Packer()
        packer.put([threaded], 0, lambda: [maps[:1]], maps[0].nbytes)
        assert threading.active_count() > before
        packer.close()
        assert threading.active_count() == before
        assert np.isnan(threaded[0]).all()
        packer.settle()
        # It can be used again.
        packer.put([threaded], 1, lambda: [maps[1:2]], maps[0].nbytes)
        packer.settle()
        packer.close()
        np.testing.assert_array_equal(threaded[1], maps[1])


def test_a_failure_in_a_thread_is_told_by_whoever_writes(tmp_path, maps) -> None:
    def fail() -> np.ndarray:
        raise MemoryError

    with h5py.File(tmp_path / "a.h5", "w") as file:
        threaded, packer = made(file, "threaded"), Packer()
        packer.put([threaded], 0, fail, maps[0].nbytes)
        with pytest.raises(MemoryError):
            packer.settle()
        packer.close()
