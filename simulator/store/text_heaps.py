"""A look at where a results file keeps its texts, before the file library sees it.

The library (HDF5 1.14) goes round for ever where the size of a text is damaged to -16. Layout of these
collections: HDF5 File Format Specification, version 3.0, III.E "Disk Format: Level 1E - Global Heap".
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["texts_are_sound"]

_MARK: Final = b"GCOL\x01\x00\x00\x00"
_HEAD: Final = struct.Struct("<8sQ")
_OBJECT: Final = struct.Struct("<HH4xQ")
_WINDOW: Final = 4 * 2**20
"""Bytes looked at from either end: a run writes its texts before its first row and after its last."""


def texts_are_sound(path: Path) -> bool:
    """Whether no collection of texts near the ends of a file has a size that leads out of it or back.

    Raises
    ------
    OSError
        When the file cannot be read.
    """
    with path.open("rb") as file:
        first = file.read(_WINDOW)
        end = file.seek(0, 2)
        file.seek(max(end - _WINDOW, len(first)))
        return _are_sound(first) and _are_sound(file.read())


def _are_sound(data: bytes) -> bool:
    place = data.find(_MARK)
    while place >= 0:
        if not _is_sound(data, place):
            return False
        place = data.find(_MARK, place + len(_MARK))
    return True


def _is_sound(data: bytes, place: int) -> bool:
    """Walk the objects of one collection; number 0 is the free space at its end, its head included."""
    if place + _HEAD.size > len(data):
        return True
    end = place + _HEAD.unpack_from(data, place)[1]
    at = place + _HEAD.size
    while at + _OBJECT.size <= min(end, len(data)):
        number, _, size = _OBJECT.unpack_from(data, at)
        length = size if number == 0 else _OBJECT.size + -(-size // 8) * 8
        if length < _OBJECT.size or at + length > end:
            return False
        at += length
    return True
