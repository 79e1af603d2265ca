"""Unit and name written to a new dataset.

A results file has two hundred of these texts, and the upper layer of the file library looks up for each of
them what is the same for all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import h5py
import numpy as np
from h5py import h5a, h5s, h5t

if TYPE_CHECKING:
    from simulator.store.entry import Entry

__all__ = ["label"]

_TEXT = h5py.string_dtype()
_IN_FILE, _IN_MEMORY = h5t.py_create(_TEXT, logical=True), h5t.py_create(_TEXT)
_ONE = h5s.create(h5s.SCALAR)


def label(dataset: h5py.Dataset, entry: Entry) -> None:
    """Say of a new dataset what it is: attributes `units` and `long_name`, as CF has them."""
    _write(dataset, b"units", entry.unit)
    _write(dataset, b"long_name", entry.long_name)


def _write(dataset: Any, name: bytes, text: str) -> None:
    attribute = h5a.create(dataset.id, name, _IN_FILE, _ONE)
    attribute.write(np.asarray(text, dtype=_TEXT), mtype=_IN_MEMORY)
