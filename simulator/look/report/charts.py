"""Which charts a report holds: temperatures over time, and along the ducts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from markupsafe import Markup

from simulator.look.branches import branch_air, read_branches
from simulator.look.report.line_chart import (
    Line,
    LineChart,
    Tick,
    chart_markup,
    round_ticks,
    time_ticks,
)
from simulator.look.scales import LENGTH, TEMPERATURE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.look.branches import Branch
    from simulator.look.report.book import Book
    from simulator.look.scales import FloatArray

__all__ = ["Key", "Picture", "along_ducts", "over_time"]

SHORT_RUN: Final = 3.0 * 86400.0
EVE: Final = 43200.0
FIRE: Final = 1.0  # [W] a heater that gives more burns
ALONG_NOTE: Final = (
    "Solid: what moves in the duct; dashed: the duct's wall. Air warmer than the wall heats the ground."
)
MOST_BRANCHES: Final = 2
_ROOMS: Final = (
    ("room", "room_temperature", 3),
    ("floor, mean", "floor_mean_temperature", 2),
    ("floor, coldest place", "floor_lowest_temperature", 4),
    ("outside", "outside_temperature", 0),
    ("water in the tank", "tank_temperature", 5),
)
_DUCTS: Final = (
    ("air into the ducts", "supply_temperature", 1),
    ("air out of the ducts", "exit_temperature", 0),
    ("floor, mean", "floor_mean_temperature", 2),
)


@dataclass(frozen=True)
class Key:
    """An entry under a chart that tells which line is which."""

    name: str
    colour: str
    dashes: str
    dataset: str


@dataclass(frozen=True)
class Picture:
    """A drawing with its title, a sentence, and its key."""

    title: str
    note: str
    drawing: Markup
    keys: list[Key]


def over_time(book: Book) -> list[Picture]:
    """Draw temperatures over the night, and over the whole run when that is much longer."""
    whole = float(book.seconds[0]), float(book.seconds[-1])
    short = whole[1] - whole[0] <= SHORT_RUN
    near = whole if short else (max(book.begin - EVE, whole[0]), book.end)
    pictures = [
        _courses(book, "Room, floor and outside", _ROOMS, near),
        _courses(book, "Air through the ducts", _DUCTS, near),
    ]
    if not short:
        pictures.append(_courses(book, "Room, floor and outside, whole run", _ROOMS, whole))
    return pictures


def _courses(
    book: Book, title: str, series: tuple[tuple[str, str, int], ...], span: tuple[float, float]
) -> Picture:
    inside = (book.seconds >= span[0] - 1e-6) & (book.seconds <= span[1] + 1e-6)
    seconds = book.seconds[inside]
    flows = book.course("mass_flow")[inside] > 0.0
    lines = []
    for name, dataset, style in series:
        if dataset not in book.results:
            continue
        values = book.course(dataset)[inside]
        if dataset in {"supply_temperature", "exit_temperature"}:
            values = np.where(flows, values, np.nan)
        if np.isfinite(values).any():
            lines.append(Line(name, seconds, values, dataset, style))
    fan = book.course("fan_share")[inside] > 0.0
    ticks = time_ticks(book.start, *span)
    words = f"{book.said(span[0])} to {book.said(span[1])}"
    note = f"{words}. Shaded: the fan runs." if fan.any() else f"{words}. The fan is off."
    chart = LineChart(
        f"{title}, {words}", lines, TEMPERATURE, {"SI": ticks, "US": ticks},
        {"SI": "local time", "US": "local time"}, _spans(seconds, fan),
    )  # fmt: skip
    return Picture(title, note, chart_markup(chart), _keys(lines))


def _keys(lines: list[Line]) -> list[Key]:
    return [Key(line.name, line.colour, line.dashes, line.dataset) for line in lines]


def _spans(seconds: FloatArray, holds: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Stretches in which something held; a row tells of the time that led to it."""
    found: list[tuple[float, float]] = []
    for number in np.flatnonzero(holds[1:]).tolist():
        begin, end = float(seconds[number]), float(seconds[number + 1])
        if found and found[-1][1] == begin:
            begin = found.pop()[0]
        found.append((begin, end))
    return found


def along_ducts(book: Book) -> list[Picture]:
    """Draw air and wall along the longest branches at telling moments."""
    results = book.results
    branches = sorted(read_branches(results), key=lambda branch: -branch.route.length)
    kinds: dict[str, Branch] = {}
    for branch in branches:
        kinds.setdefault(branch.route.kind, branch)
    chosen = list(kinds.values())[:MOST_BRANCHES]
    moments = _telling_rows(book)
    pictures = []
    for branch in chosen:
        lines = []
        for style, row in enumerate(moments):
            air = branch_air(results, branch, row)
            when = book.said(float(book.seconds[row]))[-5:]
            if not np.isfinite(air).any():
                continue
            source = "flue_gas_temperature" if branch.route.kind == "flue" else "air_temperature"
            book.note(source)
            x = branch.along.ends
            what = "gas" if branch.route.kind == "flue" else "air"
            lines.append(Line(f"{what} at {when}", x, air.T.ravel(), source, style, 0))
            wall = branch.at_stations(np.asarray(results.read("wall_temperature", row), dtype=np.float64))
            book.note("wall_temperature")
            lines.append(Line(f"wall at {when}", branch.along.middle, wall, "wall_temperature", style, 1))
        if not lines:
            continue
        length = float(branch.along.end[-1])
        ticks = {
            "SI": [Tick(place, f"{place:g}") for place in round_ticks(0.0, length)],
            "US": [
                Tick(float(LENGTH.to_si(place)), f"{place:g}")
                for place in round_ticks(0.0, float(LENGTH.to_us(length)))
            ],
        }
        words = {"SI": "way of the air [m]", "US": "way of the air [ft]"}
        title = f"Along {branch.route.name}"
        chart = LineChart(title, lines, TEMPERATURE, ticks, words)
        pictures.append(Picture(title, ALONG_NOTE, chart_markup(chart), _keys(lines)))
    return pictures


def _telling_rows(book: Book) -> list[int]:
    """Rows at which air moves: first in the night, when the fire goes out, the last one."""
    inside = np.flatnonzero(
        (book.seconds > book.begin + 1e-6) & (book.seconds <= book.end + 1e-6)
        & (np.asarray(book.results.read("mass_flow")) > 0.0)
    )  # fmt: skip
    if not inside.size:
        return [int(np.searchsorted(book.seconds, book.end - 1e-6))]
    heat = np.asarray(book.results.read("heater_power"))[inside] > FIRE
    hot = inside[heat]
    rows = {int(inside[0]), int(inside[-1])}
    if hot.size:
        rows |= {int(hot[-1])}
    else:
        rows |= {int(inside[inside.size // 2])}
    return sorted(rows)
