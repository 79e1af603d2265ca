"""Chunks packed by threads of their own while the run goes on; they reach the file in the order they came."""

from __future__ import annotations

from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

from simulator.store.blocks import packed_chunk, write_packed

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    import numpy as np

    from simulator.store.blocks import PackedChunk

__all__ = ["Packer"]

_THREADS = 2
_MOST_BYTES = 50e6
"""Of the chunks held in memory, packed or not, before the run waits for the first of them."""


class Packer:
    """Packs chunks outside the thread that runs; packing needs nothing of the interpreter, so both go on."""

    def __init__(self) -> None:
        self._threads: ThreadPoolExecutor | None = None
        self._waiting: deque[tuple[Sequence[Any], int, Future[list[PackedChunk]], int]] = deque()
        self._held = 0

    def put(
        self,
        datasets: Sequence[Any],
        row: int,
        chunks: Callable[[], Sequence[np.ndarray[Any, Any]]],
        size: int,
    ) -> None:
        """Take a whole chunk of each dataset; made and packed later, and written with `settle` at the latest.

        Parameters
        ----------
        datasets : sequence of h5py.Dataset
            See `blocks.write_packed`.
        row : int
            First row of the chunks.
        chunks : callable
            Gives all of each chunk, in the numbers of the file; of arrays that nobody changes any more.
        size : int
            Bytes that it holds on to meanwhile.
        """
        if self._threads is None:
            self._threads = ThreadPoolExecutor(_THREADS, thread_name_prefix="pack")
        packed = self._threads.submit(lambda: [packed_chunk(chunk) for chunk in chunks()])
        self._waiting.append((datasets, row, packed, size))
        self._held += size
        while self._held > _MOST_BYTES:
            self._write_first()

    def settle(self) -> None:
        """Write all that was taken.

        Raises
        ------
        OSError, RuntimeError
            When the file cannot be written.
        """
        while self._waiting:
            self._write_first()

    def close(self) -> None:
        """End the threads and forget what was not written."""
        self._waiting.clear()
        self._held = 0
        if self._threads is not None:
            self._threads.shutdown(cancel_futures=True)
            self._threads = None

    def _write_first(self) -> None:
        datasets, row, packed, size = self._waiting.popleft()
        self._held -= size
        for dataset, chunk in zip(datasets, packed.result(), strict=True):
            write_packed(dataset, row, chunk)
