"""Maps over time for a report: small palette pictures, all on one colour scale, with what lies over them."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import matplotlib as mpl
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from simulator.look.branches import branch_air, read_branches
from simulator.look.maps import shown_depth
from simulator.look.picking import row_of
from simulator.look.scene import Scene, read_scene
from simulator.look.theme import COLOUR_MAP

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.look.scales import FloatArray
    from simulator.store.reader import Results

__all__ = [
    "COLOURS_USED", "DuctCircle", "Maps", "Range", "data_address", "maps_over_time", "palette", "png_of",
    "resampled",
]  # fmt: skip

MOST_FRAMES: Final = 49
MOST_STATIONS: Final = 3
MOST_BYTES: Final = 3_000_000
WIDE: Final = 340
BESIDE: Final = 0.8
"""Ground shown beside the floor, in depths shown."""
LEAST_SPAN: Final = 1.0
BEYOND: Final = 0.002
"""Share of the map at either end that the colours do not tell apart."""
COLOURS_USED: Final = 255
"""Shades of the colour scale; one more entry of the palette stands for no ground."""

Bytes = NDArray[np.uint8]


@dataclass(frozen=True)
class Range:
    """Lowest and highest temperature [degC] of one colour scale, the same for every frame."""

    low: float
    high: float

    def indices(self, values: FloatArray) -> Bytes:
        """Entries of the palette for temperatures; the last one where there is nothing."""
        share = (values - self.low) / (self.high - self.low)
        shade = np.clip(np.rint(share * (COLOURS_USED - 1)), 0, COLOURS_USED - 1)
        return np.where(np.isfinite(values), shade, COLOURS_USED).astype(np.uint8)


@dataclass(frozen=True, eq=False)
class DuctCircle:
    """A duct in the section at one station [m], with the temperature in it at each frame [degC]."""

    across: float
    depth: float
    radius: float
    kind: str
    warmth: FloatArray


@dataclass(frozen=True, eq=False)
class Maps:
    """Frames of section and plan.

    Attributes
    ----------
    fields, rows : list of int
        Of each frame: row of the maps, and the row of the series at the same time.
    stations : list of int
        Where the section is cut, indices from 0.
    section : list of list of bytes
        PNG of each frame, for each station.
    plan : list of bytes
    section_range, plan_range : Range
    across : (float, float) [m]
    depth : float [m]
        Part of the section that is shown.
    ducts : list of list of DuctCircle
        For each station.
    scene : Scene
    """

    fields: list[int]
    rows: list[int]
    stations: list[int]
    section: list[list[bytes]]
    plan: list[bytes]
    section_range: Range
    plan_range: Range
    across: tuple[float, float]
    depth: float
    ducts: list[list[DuctCircle]]
    scene: Scene


def maps_over_time(results: Results, *, most_bytes: int = MOST_BYTES) -> Maps | None:
    """Draw section and plan for moments spread over a run; fewer of them where the page would grow too large.

    Parameters
    ----------
    results : Results
    most_bytes : int
        Size that all pictures together may have, as stored in the page.

    Returns
    -------
    Maps or None
        None when the results hold no maps.
    """
    if not results.field_rows:
        return None
    scene = read_scene(results)
    depth = shown_depth(scene)
    across = _shown_across(scene, depth)
    stations = _spread(int(np.asarray(results.read("station")).size), MOST_STATIONS)
    frames = min(MOST_FRAMES, results.field_rows)
    while True:
        fields = _spread(results.field_rows, frames)
        section, section_range = _sections(results, scene, fields, stations, (across, depth))
        plan, plan_range = _plans(results, scene, fields)
        size = sum(map(len, plan)) + sum(len(picture) for at in section for picture in at)
        if size * 4 / 3 <= most_bytes or frames <= 6:
            break
        frames = max(int(frames * most_bytes / (size * 4 / 3)), 6)
    rows = [row_of(results, field) for field in fields]
    return Maps(
        fields, rows, stations, section, plan, section_range, plan_range, across, depth,
        [_circles(results, station, rows) for station in stations], scene,
    )  # fmt: skip


def _spread(count: int, most: int) -> list[int]:
    places = np.linspace(0, count - 1, min(count, most)).round()
    return sorted({int(place) for place in places})


def _shown_across(scene: Scene, depth: float) -> tuple[float, float]:
    """Floor and some of the ground beside it; to cell edges, so that pictures and lines agree."""
    half = scene.floor_half_width + BESIDE * depth
    edges = scene.across_edges
    inside = edges[(edges >= -half) & (edges <= half)]
    # A floor beside its own ground there is in made-up files only: all of the ground is shown.
    shown = inside if inside.size > 1 else edges
    return float(shown[0]), float(shown[-1])


def _sections(
    results: Results,
    scene: Scene,
    fields: list[int],
    stations: list[int],
    shown: tuple[tuple[float, float], float],
) -> tuple[list[list[bytes]], Range]:
    (left, right), depth = shown
    tall = max(round(WIDE * depth / (right - left)), 24)
    across = left + (np.arange(WIDE) + 0.5) * (right - left) / WIDE
    down = (np.arange(tall) + 0.5) * depth / tall
    grids = []
    for field in fields:
        ground = np.asarray(results.read("ground_temperature", field)[stations], dtype=np.float64)
        grids.append(
            [
                resampled(part, (scene.depth, scene.across), (down, across),
                          (scene.depth_edges, scene.across_edges))
                for part in ground
            ]
        )  # fmt: skip
    limits = _range([grid for at in grids for grid in at])
    pictures = [[png_of(limits.indices(at[number])) for at in grids] for number in range(len(stations))]
    return pictures, limits


def _plans(results: Results, scene: Scene, fields: list[int]) -> tuple[list[bytes], Range]:
    along, across = scene.along_edges, scene.floor_across_edges
    middles = np.asarray(results.read("station"), np.float64), np.asarray(results.read("across"), np.float64)
    tall = int(np.clip(round(WIDE * np.ptp(across) / np.ptp(along)), 24, WIDE))
    x = along[0] + (np.arange(WIDE) + 0.5) * np.ptp(along) / WIDE
    y = across[0] + (np.arange(tall) + 0.5) * np.ptp(across) / tall
    surfaces = [
        resampled(np.asarray(results.read("floor_surface_temperature", field), np.float64).T,
                  (middles[1], middles[0]), (y, x), (across, along))
        for field in fields
    ]  # fmt: skip
    limits = _range(surfaces)
    return [png_of(limits.indices(surface)) for surface in surfaces], limits


def _range(values: Sequence[FloatArray]) -> Range:
    """Range of all but the outermost: a few cells at a hot duct would leave the ground in one colour."""
    known = np.concatenate([part[np.isfinite(part)].ravel() for part in values])
    low, high = np.quantile(known, (BEYOND, 1.0 - BEYOND)).tolist() if known.size else (0.0, 1.0)
    lacking = max(LEAST_SPAN - (high - low), 0.0) / 2.0
    return Range(low - lacking, high + lacking)


def resampled(
    values: FloatArray,
    middles: tuple[FloatArray, FloatArray],
    wanted: tuple[FloatArray, FloatArray],
    edges: tuple[FloatArray, FloatArray],
) -> FloatArray:
    """Take values of cells (Z, Y) to other places, on straight lines between the middles of cells.

    Parameters
    ----------
    values : (Z, Y) float
        NaN where there is nothing.
    middles, edges : two arrays each
        Of the cells, downward and across.
    wanted : two arrays (P,), (Q,)

    Returns
    -------
    (P, Q) float
        NaN in cells that have none.
    """
    known = np.isfinite(values)
    filled = np.where(known, values, 0.0)

    def along_first(grid: FloatArray) -> FloatArray:
        cell = np.clip(np.searchsorted(middles[0], wanted[0]) - 1, 0, max(middles[0].size - 2, 0))
        after = np.minimum(cell + 1, middles[0].size - 1)
        gap = np.maximum(middles[0][after] - middles[0][cell], 1e-12)
        share = np.clip((wanted[0] - middles[0][cell]) / gap, 0.0, 1.0)[:, None]
        return (1.0 - share) * grid[cell] + share * grid[after]

    def along_second(grid: FloatArray) -> FloatArray:
        return np.stack([np.interp(wanted[1], middles[1], row) for row in grid])

    weight = along_second(along_first(known.astype(np.float64)))
    total = along_second(along_first(filled))
    cells = [
        np.clip(np.searchsorted(edge, place, side="right") - 1, 0, edge.size - 2)
        for edge, place in zip(edges, wanted, strict=True)
    ]
    there = known[np.ix_(cells[0], cells[1])]
    return np.where(there & (weight > 0.0), total / np.maximum(weight, 1e-12), np.nan)


def palette() -> Bytes:
    """(256, 3) colours: the scale from cold to warm, then white for no ground."""
    shades = mpl.colormaps[COLOUR_MAP](np.linspace(0.0, 1.0, COLOURS_USED))[:, :3]
    return np.vstack([np.rint(shades * 255.0), [[255.0, 255.0, 255.0]]]).astype(np.uint8)


def png_of(indices: Bytes) -> bytes:
    """Write entries of the palette (P, Q) as a PNG."""
    picture = Image.fromarray(indices, mode=None)
    picture = picture.convert("P")
    picture.putpalette(palette().tobytes())
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


def data_address(png: bytes) -> str:
    """Write a picture so that a page can hold it."""
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


def _circles(results: Results, station: int, rows: list[int]) -> list[DuctCircle]:
    """Ducts that pass a station, the widest first."""
    found = []
    for branch in read_branches(results):
        air = np.stack([branch_air(results, branch, row).mean(axis=0) for row in rows])
        for segment in np.flatnonzero(branch.station == station).tolist():
            run = int(branch.along.run[segment])
            found.append(
                DuctCircle(
                    float(branch.route.across[run]), float(branch.route.depth[run]), branch.inside_radius,
                    branch.route.kind, air[:, segment],
                )
            )  # fmt: skip
    return sorted(found, key=lambda duct: -duct.radius)
