"""What a spot check found, taken from a keeper: the same modes need no second one."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.spot_check import SpotCheck, spot_check

if TYPE_CHECKING:
    from simulator.section.keeper import Keeper
    from simulator.section.reduced import ReducedSection

__all__ = ["kept_spot_check"]


def kept_spot_check(keeper: Keeper | None, section: ReducedSection, periods: tuple[float, ...]) -> SpotCheck:
    """Take what `spot_check` finds from `keeper`, or carry it out and hand that over.

    It is looked up under the very numbers of modes and mesh, not under what they were made from: modes that
    were spoilt on the way are checked anew.
    """
    name = _name(section, periods) if keeper is not None else ""
    kept = None if keeper is None else keeper.get(name)
    if kept is not None and kept.keys() == {"difference"} and kept["difference"].shape == ():
        found = float(kept["difference"])
        if found >= 0.0:
            return SpotCheck(periods, found)
    checked = spot_check(section, periods)
    if keeper is not None:
        keeper.put(name, {"difference": np.array(checked.difference)})
    return checked


def _name(section: ReducedSection, periods: tuple[float, ...]) -> str:
    operators, modal = section.operators, section.modal
    digest = hashlib.blake2b(repr((periods, operators.layout)).encode(), digest_size=16)
    matrix = operators.stiffness
    arrays = [
        section.reduction.modes, section.reduction.rates, operators.capacity, matrix.indptr, matrix.indices,
        matrix.data, operators.injection, operators.reading, operators.floor_cells,
    ]  # fmt: skip
    if modal is not None:
        arrays += [modal.rates, modal.injection, modal.reading]
    for array in arrays:
        digest.update(np.ascontiguousarray(array).tobytes())
    return digest.hexdigest()
