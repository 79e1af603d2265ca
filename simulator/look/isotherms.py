"""Isotherms at round temperatures, each with its temperature written along it where there is room."""

from __future__ import annotations

from dataclasses import dataclass

import contourpy
import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Colormap, Normalize
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from simulator.look.placing import Corners, TakenPlaces, write_at
from simulator.look.scales import TEMPERATURE, FloatArray, Units
from simulator.look.theme import SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, text_width

__all__ = ["Levels", "contrast", "draw_isotherms", "pad_to_edges", "round_levels"]

STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
USUAL_LINES = 8
MOST_LINES = 24
LEAST_SPAN = 0.05  # [K] below this a map counts as even: stored fields are rounded to about 0.001 K
# Ground that still has its round start temperature is even but for rounding, and a line through it would be
# scribble: each line is drawn this much above its name [K], or a tenth of a step where that is less.
ABOVE_NAME = 0.01
LEAST_STRAIGHTNESS = 0.97
LEAST_STRAIGHTNESS_IF_BARE = 0.8  # small rings round a duct, rather than no label at all
LABELS_PER_LEVEL = 3
PIXELS_PER_LABEL = 700.0
PIXELS_APART = 220.0  # labels of the same isotherm


@dataclass(frozen=True, eq=False)
class Levels:
    """Temperatures [degC] to draw lines for, the words along them, and how far above they are drawn [K]."""

    celsius: FloatArray
    texts: tuple[str, ...]
    above: float = 0.0


def round_levels(values: FloatArray, weights: FloatArray, units: Units) -> Levels:
    """Pick round temperatures that show most of a map.

    The step follows the range that holds all but one hundredth of the area at either end, so that a hot duct
    does not take all lines for itself; beyond that range the step is wider where lines would crowd.

    Parameters
    ----------
    values : float [degC]
        NaN where there is nothing.
    weights : float
        Area of each value, same shape.
    units : {"SI", "US"}
        Round in degC or in degF.

    Returns
    -------
    Levels
        Empty when the map is even to 0.05 K.
    """
    known = np.isfinite(values)
    shown = values[known]
    nothing = Levels(np.empty(0), ())
    if shown.size == 0 or float(np.ptp(shown)) < LEAST_SPAN:
        return nothing
    order = np.argsort(shown)
    ranked = shown[order]
    share = np.cumsum(weights[known][order])
    low, high = np.interp([0.01, 0.99], share / share[-1], ranked)
    marks = np.array([ranked[0], ranked[-1], low, high], dtype=np.float64)
    first, last, low, high = (TEMPERATURE.to_us(marks) if units == "US" else marks).tolist()
    # Where nearly everything is even, what differs sets the step.
    bulk = max(high - low, (last - first) / MOST_LINES)
    step = _first_step(bulk, USUAL_LINES)
    coarse = max(step, _first_step(last - first, MOST_LINES - USUAL_LINES))
    fine_ladder = _multiples(step, first, last)
    fine_ladder = fine_ladder[(fine_ladder > low - step) & (fine_ladder < high + step)]
    ladder = np.unique(np.round(np.concatenate([fine_ladder, _multiples(coarse, first, last)]), 6))
    decimals = 0 if step >= 1.0 else 1 if step >= 0.1 else 2
    texts = tuple(f"{round(level, 6) + 0.0:.{decimals}f}°".replace("-", "−") for level in ladder)
    kelvin = step / TEMPERATURE.factor if units == "US" else step
    return Levels(
        TEMPERATURE.to_si(ladder) if units == "US" else ladder, texts, min(ABOVE_NAME, kelvin / 10.0)
    )


def _first_step(span: float, lines: int) -> float:
    return next((step for step in STEPS if span / step <= lines), STEPS[-1])


def _multiples(step: float, first: float, last: float) -> FloatArray:
    """Multiples of a step strictly between two values."""
    ladder = np.arange(np.ceil(first / step), np.floor(last / step) + 1.0, dtype=np.float64) * step
    return ladder[(ladder > first) & (ladder < last)]


def pad_to_edges(
    x: FloatArray, x_edges: FloatArray, y: FloatArray, y_edges: FloatArray, values: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Carry cell values on to the outer edges, so that lines reach them; values have shape (y, x)."""
    wide_x = np.concatenate([x_edges[:1], x, x_edges[-1:]])
    wide_y = np.concatenate([y_edges[:1], y, y_edges[-1:]])
    return wide_x, wide_y, np.pad(values, 1, mode="edge")


def contrast(colour: tuple[float, float, float, float]) -> str:
    """Black or white, whichever stands out more from a colour.

    Relative luminance and its threshold for equal contrast: Web Content Accessibility Guidelines 2.1,
    "relative luminance" and "contrast ratio"; sqrt(1.05 x 0.05) - 0.05 = 0.179.
    """
    channels = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour[:3]]
    luminance = 0.2126 * channels[0] + 0.7152 * channels[1] + 0.0722 * channels[2]
    return "#000000" if luminance > 0.179 else "#ffffff"


def draw_isotherms(
    axes: Axes,
    grid: tuple[FloatArray, FloatArray, FloatArray],
    levels: Levels,
    colours: tuple[Colormap, Normalize],
    taken: TakenPlaces,
    frame: Bbox,
) -> list[Text]:
    """Draw lines of equal temperature and write on them; the axes must have their final place and limits.

    Parameters
    ----------
    axes : Axes
    grid : x (X,), y (Y,), values (Y, X) [degC]
    levels : Levels
    colours : Colormap, Normalize
        Those of the map below, to choose black or white.
    taken : TakenPlaces
        Places to keep free; those of the labels are added.
    frame : Bbox [px]
        Where labels may stand.

    Returns
    -------
    list of Text
    """
    x, y, values = grid
    if min(values.shape) < 2:
        return []
    generator = contourpy.contour_generator(x, y, np.ma.masked_invalid(values))
    texts: list[Text] = []
    for level, words in zip(levels.celsius, levels.texts, strict=True):
        lines = [np.asarray(line, dtype=np.float64) for line in generator.lines(float(level) + levels.above)]
        lines = [line for line in lines if len(line) > 1]
        ground = colours[0](float(colours[1](level)))
        ink = contrast(ground)
        axes.add_collection(
            LineCollection(lines, colors=ink, linewidths=0.9, alpha=0.75, zorder=2.0), autolim=False
        )
        texts += _write_along(axes, lines, words, (ink, ground), taken, frame)
    return texts


def _write_along(
    axes: Axes,
    lines: list[FloatArray],
    words: str,
    paint: tuple[str, tuple[float, float, float, float]],
    taken: TakenPlaces,
    frame: Bbox,
) -> list[Text]:
    dots = axes.get_figure(root=True).dpi  # type: ignore[union-attr]
    width = text_width(words, SIZE_NOTE) * dots + 3.0
    height = 1.1 * SIZE_NOTE / POINTS_PER_INCH * dots
    tracks = [axes.transData.transform(line) for line in lines]
    tracks.sort(key=lambda track: -_lengths(track)[-1])
    texts: list[Text] = []
    written: list[FloatArray] = []
    for straightness in (LEAST_STRAIGHTNESS, LEAST_STRAIGHTNESS_IF_BARE):
        if texts:
            break
        for track in tracks:
            places = _places(track, (width, height, straightness), frame, taken)
            for _ in range(1 + int(_lengths(track)[-1] // PIXELS_PER_LABEL)):
                free = [
                    place
                    for place in places
                    if taken.are_free(place[2], 3.0)
                    and all(np.hypot(*(place[0] - other)) > PIXELS_APART for other in written)
                ]
                if not free or len(texts) >= LABELS_PER_LEVEL:
                    break
                # Flat writing first; then far from what is written already.
                far = _clearances([place[2] for place in free], taken)
                middle, angle, corners = free[int(np.argmin([abs(place[1]) for place in free] - far))]
                taken.take(Bbox.from_extents(*corners))
                written.append(middle)
                texts.append(
                    write_at(
                        axes,
                        middle,
                        words,
                        rotation=angle,
                        rotation_mode="anchor",
                        ha="center",
                        va="center_baseline",
                        color=paint[0],
                        bbox={"facecolor": paint[1], "edgecolor": "none", "pad": 0.8},
                        zorder=2.5,
                        gid="isotherm",
                    )
                )
    return texts


def _lengths(track: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(track, axis=0).T))])


def _clearances(boxes: list[Corners], taken: TakenPlaces) -> FloatArray:
    """(N,) distance [px] of each box from the nearest taken place, up to a tenth of an isotherm's share."""
    edges = np.array(boxes, dtype=np.float64)
    away = ((edges[:, :2] + edges[:, 2:]) / 2.0)[:, np.newaxis] - taken.middles()
    nearest = np.hypot(away[..., 0], away[..., 1]).min(axis=1, initial=np.inf)
    return np.asarray(np.minimum(nearest, PIXELS_PER_LABEL / 10.0))


def _places(
    track: FloatArray, size: tuple[float, float, float], frame: Bbox, taken: TakenPlaces
) -> list[tuple[FloatArray, float, Corners]]:
    """Stretches of a line straight enough to write on: middle [px], angle [degrees], box [px]."""
    width, height, straightness = size
    along = _lengths(track)
    if along[-1] < 1.5 * width:
        return []
    starts = np.arange(0.0, along[-1] - width, max(width / 4.0, 6.0))
    begins, middles, ends = (
        np.column_stack([np.interp(starts + part, along, track[:, k]) for k in (0, 1)])
        for part in (0.0, width / 2.0, width)
    )
    chords = ends - begins
    angles = np.degrees(np.arctan2(chords[:, 1], chords[:, 0]))
    angles = (angles + 90.0) % 180.0 - 90.0
    turns = np.radians(angles)
    half_x = (width * np.abs(np.cos(turns)) + height * np.abs(np.sin(turns))) / 2.0
    half_y = (width * np.abs(np.sin(turns)) + height * np.abs(np.cos(turns))) / 2.0
    boxes = np.column_stack(
        [middles[:, 0] - half_x, middles[:, 1] - half_y, middles[:, 0] + half_x, middles[:, 1] + half_y]
    )
    inside = (boxes[:, 0] > frame.x0) & (boxes[:, 2] < frame.x1)
    inside &= (boxes[:, 1] > frame.y0) & (boxes[:, 3] < frame.y1)
    inside &= np.hypot(chords[:, 0], chords[:, 1]) >= straightness * width
    places = []
    for place in np.flatnonzero(inside):
        left, low, right, high = boxes[place].tolist()
        if taken.are_free((left, low, right, high), 3.0):
            places.append((middles[place], float(angles[place]), (left, low, right, high)))
    return places
