"""Branches seen from above: their runs and turns, the way of the air, and words at both ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.patheffects import withStroke
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from simulator.look.paper import Sheet
from simulator.look.placing import TakenPlaces, spread, write_at
from simulator.look.routes import Kind, Route, side_steps
from simulator.look.scales import FloatArray
from simulator.look.theme import COLOURS, FAINT, INK, MUTED, SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, fit, text_width

__all__ = ["KIND_COLOURS", "EndWords", "Part", "draw_routes", "strip_width"]

WET = COLOURS[6]
KIND_COLOURS: dict[Kind, str] = {"air": INK, "flue": COLOURS[1], "jacket": COLOURS[0]}
STUB = 0.3  # [in] of duct drawn beyond the floor's edge
WORDS_AWAY = 0.45  # [in] from the floor's edge to the words
WORDS_FREE = 0.15  # [in] beyond the words
MOST_WORDS = 2.4  # [in]
LINE = 1.25  # line height in type sizes
ASIDE = 7.0  # [px] between the middles of runs that lie above each other, at least
ARROW_EVERY = 3.4  # [in]
AT_EDGE = 1e-6  # [m]


@dataclass(frozen=True)
class EndWords:
    """What is written where the air enters and leaves a branch; empty for nothing."""

    entering: str = ""
    leaving: str = ""


@dataclass(frozen=True)
class Part:
    """Part of a run, from one place along the floor to another [m]."""

    run: int
    begin: float
    end: float


def _entrance(route: Route) -> tuple[float, float, float]:
    """Place along, place across, and the side from which the air comes: -1 start of the floor, +1 far end."""
    return float(route.begin[0]), float(route.across[0]), -float(route.directions[0])


def _exit(route: Route) -> tuple[float, float, float]:
    return float(route.end[-1]), float(route.across[-1]), float(route.directions[-1])


def strip_width(routes: Sequence[Route], words: Sequence[EndWords]) -> tuple[float, float]:
    """Paper [in] that the words need beyond the start and beyond the far end of the floor."""
    needed = {-1.0: 0.0, 1.0: 0.0}
    for route, said in zip(routes, words, strict=True):
        for side, text in ((_entrance(route)[2], said.entering), (_exit(route)[2], said.leaving)):
            rows = text.split("\n")
            needed[side] = max(needed[side], *(min(text_width(row, SIZE_NOTE), MOST_WORDS) for row in rows))
    return needed[-1.0] + WORDS_AWAY + WORDS_FREE, needed[1.0] + WORDS_AWAY + WORDS_FREE


def draw_routes(
    sheet: Sheet,
    routes: Sequence[Route],
    floor: tuple[float, float],
    words: Sequence[EndWords],
    taken: TakenPlaces,
    *,
    solid: bool = False,
    flowing: Sequence[bool] = (),
    wet: Sequence[Sequence[Part]] = (),
) -> None:
    """Draw branches over a plan, with arrows along them and words at their ends.

    Parameters
    ----------
    sheet : Sheet
        The axes have their limits: metres along on the level axis, metres across on the upright one. They
        reach beyond the floor as far as `strip_width` says.
    routes : sequence of Route
    floor : (float, float) [m]
        Where the floor begins and ends along the ducts.
    words : sequence of EndWords
        One for each route.
    taken : TakenPlaces
        Those of the ducts are added.
    solid : bool
        Draw ducts as lines in full rather than dashed.
    flowing : sequence of bool
        Whether to draw arrows along each route; all when left out.
    wet : sequence of sequence of Part
        Parts of each route to be marked as wet; left out where nothing is known.
    """
    steps = side_steps(routes)
    pixel = 1.0 / (sheet.inches_per_metre * sheet.figure.dpi)
    ends: list[_End] = []
    marked = wet or [()] * len(routes)
    moving = flowing or [True] * len(routes)
    for route, aside, said, parts, moves in zip(routes, steps, words, marked, moving, strict=True):
        apart = max(ASIDE, _line_width(sheet, route, solid) * sheet.figure.dpi / POINTS_PER_INCH + 3.0)
        lines = route.across + aside * apart * pixel
        _draw_route(sheet, route, lines, floor, solid=solid, flowing=moves)
        for part in parts:
            sheet.axes.plot(
                [part.begin, part.end], [lines[part.run]] * 2, color=WET, linewidth=7.0, alpha=0.85,
                solid_capstyle="butt", zorder=2.1, gid="wet",
                path_effects=[withStroke(linewidth=9.0, foreground="white")],
            )  # fmt: skip
        for run, across in enumerate(lines.tolist()):
            (x0, y), (x1, _) = sheet.axes.transData.transform(
                [(route.begin[run], across), (route.end[run], across)]
            )
            taken.take(Bbox.from_extents(min(x0, x1), y - 4.0, max(x0, x1), y + 4.0))
        colour = KIND_COLOURS[route.kind]
        for (along, _, side), across, text in (
            (_entrance(route), float(lines[0]), said.entering),
            (_exit(route), float(lines[-1]), said.leaving),
        ):
            if text:
                ends.append(_End(text, along, across, side, colour))
    for side, edge in ((-1.0, floor[0]), (1.0, floor[1])):
        _write_ends(sheet, [end for end in ends if end.side == side], edge, side)


@dataclass(frozen=True)
class _End:
    words: str
    along: float
    across: float
    side: float
    colour: str


def _draw_route(
    sheet: Sheet, route: Route, lines: FloatArray, floor: tuple[float, float], *, solid: bool, flowing: bool
) -> None:
    axes = sheet.axes
    colour = KIND_COLOURS[route.kind]
    stub = STUB / sheet.inches_per_metre
    x = np.column_stack([route.begin, route.end]).ravel()
    y = np.repeat(lines, 2)
    open_ends = []
    for (along, _, side), number in ((_entrance(route), 0), (_exit(route), -1)):
        edge = floor[0] if side < 0.0 else floor[1]
        if abs(along - edge) <= AT_EDGE:
            x[number] = along + side * stub
        else:
            open_ends.append((along, float(y[number])))
    width = _line_width(sheet, route, solid)
    axes.plot(
        x, y, color=colour, linewidth=width, gid="duct", clip_on=False,
        zorder=2.15 if route.kind == "jacket" else 2.2,  # below the flue inside it
        dashes=(1.0, 0.0) if solid else (6.0, 3.0), alpha=0.45 if solid else 1.0,
        solid_capstyle="butt", solid_joinstyle="round", dash_joinstyle="round",
        path_effects=None if solid else [withStroke(linewidth=3.4, foreground="white", alpha=0.6)],
    )  # fmt: skip
    for place in open_ends:
        axes.plot(
            *[[value] for value in place], color=colour, marker="o", markersize=6.5, markerfacecolor="white",
            markeredgewidth=1.4, zorder=2.5, gid="open end",
        )  # fmt: skip
    if flowing:
        # Those of flue and jacket must not cover each other.
        _draw_arrows(sheet, x, y, colour, first=0.25 if route.kind == "jacket" else 0.5)


def _line_width(sheet: Sheet, route: Route, solid: bool) -> float:
    """Width of the line [pt]: true to scale for ducts drawn in full, as far as lines can be."""
    scale = sheet.inches_per_metre * POINTS_PER_INCH
    return float(np.clip(route.diameter * scale, 1.6, 16.0)) if solid else 1.6


def _draw_arrows(sheet: Sheet, x: FloatArray, y: FloatArray, colour: str, first: float) -> None:
    """Arrows along the runs, at least one on each, and one where the air leaves."""
    for run in range(x.size // 2):
        begin, end = float(x[2 * run]), float(x[2 * run + 1])
        count = max(1, round(abs(end - begin) * sheet.inches_per_metre / ARROW_EVERY))
        places = begin + (end - begin) * (np.arange(count) + first) / count
        if run == x.size // 2 - 1:
            places = np.append(places, end)
        sheet.axes.plot(
            places, np.full(places.size, y[2 * run]), color=colour, linestyle="none", zorder=2.4, gid="flow",
            marker=">" if end >= begin else "<", markersize=7.0, markeredgecolor="white", markeredgewidth=0.6,
            clip_on=False,
        )  # fmt: skip


def _write_ends(sheet: Sheet, ends: list[_End], edge: float, side: float) -> None:
    """Write words beside the floor, spread so that none cover each other, with a thin line to each end."""
    if not ends:
        return
    axes, dots = sheet.axes, sheet.figure.dpi
    if len(ends) > 1 and len({end.words for end in ends}) == 1:
        # The same for all: once, in the middle.
        middle = float(np.mean([end.across for end in ends]))
        place = axes.transData.transform((edge, middle))
        _write(sheet, (float(place[0]) + side * WORDS_AWAY * dots, float(place[1])), ends[0].words, side, INK)
        return
    height = LINE * SIZE_NOTE / POINTS_PER_INCH * dots * max(end.words.count("\n") + 1 for end in ends)
    lowest, highest = sorted(axes.transData.transform([(0.0, limit) for limit in axes.get_ylim()])[:, 1])
    order = np.argsort([end.across for end in ends], kind="stable")
    chosen = [ends[number] for number in _few_enough(order, int((highest - lowest + 2.0 * height) // height))]
    places = axes.transData.transform([(edge, end.across) for end in chosen])
    placed = spread(places[:, 1], height, float(lowest) - height / 2.0, float(highest) + height / 2.0)
    back = axes.transData.inverted()
    for end, (x, y), spot in zip(chosen, places, placed, strict=True):
        near, far = x + side * (STUB + 0.03) * dots, x + side * (WORDS_AWAY - 0.04) * dots
        joint = [(near, y), (far, spot)]
        if abs(end.along - edge) > AT_EDGE:
            joint.insert(0, tuple(axes.transData.transform((end.along, end.across))))
        path = back.transform(joint).T
        axes.plot(*path, color=MUTED if len(joint) > 2 else FAINT, linewidth=0.8, clip_on=False, zorder=2.1)
        _write(sheet, (float(x) + side * WORDS_AWAY * dots, float(spot)), end.words, side, end.colour)


def _few_enough(order: NDArray[np.int64], most: int) -> NDArray[np.int64]:
    """All of them, or evenly chosen ones with both outermost when there is no room."""
    if order.size <= most:
        return order
    return order[np.unique(np.linspace(0, order.size - 1, max(most, 2)).round().astype(np.int64))]


def _write(sheet: Sheet, spot: tuple[float, float], words: str, side: float, colour: str) -> None:
    rows = "\n".join(fit(row, MOST_WORDS, SIZE_NOTE) for row in words.split("\n"))
    write_at(
        sheet.axes, spot, rows, ha="left" if side > 0.0 else "right", va="center", color=colour,
        gid="duct air",
    )  # fmt: skip
