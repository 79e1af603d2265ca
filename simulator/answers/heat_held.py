"""Heat held by floor and ground, and how deep it has gone, out of maps of the ground."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Cells", "deepest_share", "excess_profile", "reach", "read_cells"]


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of the maps of the ground.

    Attributes
    ----------
    capacity : (S, Z, Y) float [J/K]
        0 where there is no ground.
    under : (Y,) bool
        Between the building's edges.
    depth, depth_edges : (Z,), (Z + 1,) float [m]
    """

    capacity: FloatArray
    under: NDArray[np.bool_]
    depth: FloatArray
    depth_edges: FloatArray

    def heat(self, excess: FloatArray, *, under_floor: bool) -> float:
        """Heat [J] of temperatures (S, Z, Y) above a reference [K]."""
        known = np.where(self.capacity > 0.0, excess, 0.0) * self.capacity
        return float(known[:, :, self.under].sum() if under_floor else known.sum())


def read_cells(results: Results, heat_capacities: Sequence[float]) -> Cells:
    """Read the cells of a run.

    Parameters
    ----------
    results : Results
    heat_capacities : sequence of float [J/(m3.K)]
        Of each material, in the order of the results.

    Returns
    -------
    Cells
    """
    material = np.asarray(results.read("section_material"), dtype=np.int64)
    across = np.asarray(results.read("section_across_edges"), dtype=np.float64)
    down = np.asarray(results.read("section_depth_edges"), dtype=np.float64)
    lengths = np.asarray(results.read("station_length"), dtype=np.float64)
    volumetric = np.append(np.asarray(heat_capacities, dtype=np.float64), 0.0)[material]
    area = np.outer(np.diff(down), np.diff(across))
    middle = np.asarray(results.read("section_across"), dtype=np.float64)
    half = float(results.attrs["building_half_width_m"])
    return Cells(
        capacity=lengths[:, None, None] * (volumetric * area)[None],
        under=np.abs(middle) < half,
        depth=np.asarray(results.read("section_depth"), dtype=np.float64),
        depth_edges=down,
    )


def excess_profile(cells: Cells, excess: FloatArray) -> FloatArray:
    """Mean of temperatures (S, Z, Y) above a reference under the floor, for every depth (Z,) [K]."""
    capacity = cells.capacity[:, :, cells.under]
    warmth = np.where(capacity > 0.0, excess[:, :, cells.under], 0.0) * capacity
    whole = capacity.sum(axis=(0, 2))
    return np.where(whole > 0.0, warmth.sum(axis=(0, 2)) / np.maximum(whole, 1e-300), 0.0)


def reach(depth: FloatArray, profile: FloatArray, share: float = 0.1, least: float = 0.05) -> float | None:
    """Depth [m] to which heat has gone: below it the ground is warmed by less than a share of the most.

    Parameters
    ----------
    depth : (Z,) float [m]
        Rising.
    profile : (Z,) float [K]
        Temperature above the reference.
    share : float
        Of the largest excess anywhere.
    least : float [K]
        With less than this everywhere no heat has gone anywhere.

    Returns
    -------
    float or None
        On straight lines between the depths; the last depth when it is warm down to there.

    Notes
    -----
    In a half-space whose surface was stepped up a time t ago the excess is erfc(z / (2 sqrt(a t))) of it
    (Carslaw & Jaeger 1959, 2.5), so a tenth is left at z = 2.326 sqrt(a t).
    """
    largest = float(np.max(profile))
    if largest < least:
        return None
    mark = share * largest
    warm = np.flatnonzero(profile >= mark)
    last = int(warm[-1])
    if last == profile.size - 1:
        return float(depth[-1])
    fall = float(profile[last] - profile[last + 1])
    part = float(profile[last] - mark) / fall if fall > 0.0 else 0.0
    return float(depth[last] + part * (depth[last + 1] - depth[last]))


def deepest_share(edges: FloatArray, heat: FloatArray, share: float = 0.9) -> float | None:
    """Depth [m] above which a share of the heat lies.

    Parameters
    ----------
    edges : (Z + 1,) float [m]
    heat : (Z,) float [J]
        Of each layer above the reference; colder layers count as nothing.
    share : float

    Returns
    -------
    float or None
        None where no layer holds any.
    """
    held = np.concatenate(([0.0], np.cumsum(np.maximum(heat, 0.0))))
    if held[-1] <= 0.0:
        return None
    return float(np.interp(share * held[-1], held, edges))
