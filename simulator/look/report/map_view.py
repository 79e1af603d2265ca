"""Section and plan of a report: what lies over the pictures, and the readings that go with each moment."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from markupsafe import Markup, escape

from simulator.look.branches import read_branches
from simulator.look.report.frames import COLOURS_USED, Maps, Range, data_address, maps_over_time, palette
from simulator.look.report.line_chart import round_ticks
from simulator.look.report.numbers import SYSTEMS, text_of
from simulator.look.scales import LENGTH, TEMPERATURE
from simulator.look.scene import material_outlines
from simulator.look.wording import elapsed_text

if TYPE_CHECKING:
    from simulator.look.report.book import Book

__all__ = ["MapView", "map_view"]

WIDTH: Final = 700.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 14.0, 26.0, 40.0
_READINGS: Final = (
    ("room", "room_temperature"),
    ("outside", "outside_temperature"),
    ("floor, mean", "floor_mean_temperature"),
    ("air into the ducts", "supply_temperature"),
    ("air out of the ducts", "exit_temperature"),
)


@dataclass(frozen=True)
class MapView:
    """Maps as the page holds them.

    Attributes
    ----------
    section, plan : Markup
        Drawings with one picture each, that of the frame shown first.
    bars : Markup
        Colour scales of both.
    first : int
        Frame shown first.
    frames : int
    stations : list of (str, str)
        Place of each section in SI and US.
    readings : list of (str, str)
        Label and dataset of the numbers beside the maps.
    data : dict
        All that the page's script needs.
    """

    section: Markup
    plan: Markup
    section_bar: Markup
    plan_bar: Markup
    first: int
    frames: int
    stations: list[tuple[str, str]]
    readings: list[tuple[str, str]]
    data: dict[str, Any]


def map_view(book: Book, most_bytes: int) -> MapView | None:
    """Gather the maps of a run; None when it holds none."""
    maps = maps_over_time(book.results, most_bytes=most_bytes)
    if maps is None:
        return None
    for dataset in ("ground_temperature", "floor_surface_temperature", "field_time", "air_temperature"):
        book.note(dataset)
    seconds = book.seconds[maps.rows]
    first = int(np.argmin(np.abs(seconds - book.end)))
    middles = np.asarray(book.results.read("station"), dtype=np.float64)[maps.stations].tolist()
    start = maps.stations.index(maps.stations[len(maps.stations) // 2])
    data = {
        "section": [[data_address(png) for png in at] for at in maps.section],
        "plan": [data_address(png) for png in maps.plan],
        "moments": [f"{book.said(float(at))}, {elapsed_text(float(at))} after the start" for at in seconds],
        "seconds": seconds.tolist(),
        "fields": maps.fields,
        "readings": {dataset: _readings(book, dataset, maps) for _, dataset in _READINGS},
        "ducts": [
            [[_colour(maps.section_range, warmth) for warmth in duct.warmth.tolist()] for duct in at]
            for at in maps.ducts
        ],
        "ductWarmth": [[_texts(duct.warmth.tolist()) for duct in at] for at in maps.ducts],
        "station": start,
        "range": {
            "section": [maps.section_range.low, maps.section_range.high],
            "plan": [maps.plan_range.low, maps.plan_range.high],
        },
        "palette": palette()[:COLOURS_USED].tolist(),
    }
    return MapView(
        section=_section(maps, start, first),
        plan=_plan(book, maps, first),
        section_bar=_bar(maps.section_range, "ground and air"),
        plan_bar=_bar(maps.plan_range, "floor surface"),
        first=first,
        frames=len(maps.fields),
        stations=[(f"{place:.2f} m", f"{float(LENGTH.to_us(place)):.1f} ft") for place in middles],
        readings=list(_READINGS),
        data=data,
    )


def _readings(book: Book, dataset: str, maps: Maps) -> list[list[Any]]:
    """Value as stored and text in both systems, for each frame."""
    course = book.course(dataset)[maps.rows]
    flows = np.asarray(book.results.read("mass_flow"), dtype=np.float64)[maps.rows] > 0.0
    still = dataset in {"supply_temperature", "exit_temperature"}
    return [
        [value, *(text_of(value, "degC", system) for system in SYSTEMS)]
        if moves or not still
        else [None, "no flow", "no flow"]
        for value, moves in zip(course.tolist(), flows.tolist(), strict=True)
    ]


def _texts(values: list[float]) -> list[list[str]]:
    return [
        [text_of(value, "degC", system) for system in SYSTEMS] if math.isfinite(value) else ["no flow"] * 2
        for value in values
    ]


def _colour(limits: Range, warmth: float) -> str:
    if not math.isfinite(warmth):
        return "#ffffff"
    red, green, blue = palette()[int(limits.indices(np.array([warmth]))[0])].tolist()
    return f"#{red:02x}{green:02x}{blue:02x}"


def _frame(
    across: tuple[float, float], down: tuple[float, float], words: tuple[str, str], tallest: float
) -> tuple[float, float, float, list[str]]:
    """Scale [px/m], width and height of the picture, and its axes in both systems.

    `across` and `down` are first and last place; `down` counts from the top.
    """
    scale = (WIDTH - LEFT - RIGHT) / (across[1] - across[0])
    tall = (down[1] - down[0]) * scale
    if tall > tallest:
        scale *= tallest / tall
        tall = tallest
    wide = (across[1] - across[0]) * scale
    parts = []
    for system in SYSTEMS:
        factor = 1.0 if system == "SI" else LENGTH.factor
        unit = LENGTH.si if system == "SI" else LENGTH.us
        parts.append(f'<g class="{system.lower()}">')
        for tick in round_ticks(across[0] * factor, across[1] * factor, 8):
            x = LEFT + (tick / factor - across[0]) * scale
            parts.append(f'<path class="tick" d="M{x:.1f} {TOP + tall:.1f}v5"/>')
            parts.append(f'<text class="middle" x="{x:.1f}" y="{TOP + tall + 19:.1f}">{_signed(tick)}</text>')
        most = max(2, int(tall / 28.0))
        for tick in round_ticks(down[0] * factor, down[1] * factor, min(most, 6)):
            y = TOP + (tick / factor - down[0]) * scale
            parts.append(f'<path class="tick" d="M{LEFT:.1f} {y:.1f}h-5"/>')
            parts.append(f'<text class="end" x="{LEFT - 8:.1f}" y="{y + 4.5:.1f}">{_signed(tick)}</text>')
        parts.append(
            f'<text class="end" x="{LEFT + wide:.1f}" y="{TOP + tall + 36:.1f}">{words[0]} [{unit}]</text>'
            f'<text x="4" y="14">{words[1]} [{unit}]</text></g>'
        )
    return scale, wide, tall, parts


def _signed(value: float) -> str:
    return f"{value:.4g}".replace("-", "\N{MINUS SIGN}")


def _section(maps: Maps, station: int, first: int) -> Markup:
    scene = maps.scene
    left, right = maps.across
    scale, wide, tall, axes = _frame(
        (left, right), (0.0, maps.depth), ("across, from the middle of the floor", "depth"), 420.0
    )

    def x_of(place: float) -> float:
        return LEFT + (place - left) * scale

    parts = [_picture("section", maps.section[station][first], wide, tall)]
    inner, outer = material_outlines(scene)
    for lines, name in ((inner, "between"), (outer, "edge")):
        path = "".join(
            f"M{x_of(line[0, 0]):.1f} {TOP + line[0, 1] * scale:.1f}L{x_of(line[1, 0]):.1f} "
            f"{TOP + line[1, 1] * scale:.1f}"
            for line in lines
            if max(line[0, 1], line[1, 1]) <= maps.depth + 1e-9
            and max(abs(line[0, 0]), abs(line[1, 0])) <= right + 1e-9
        )
        parts.append(f'<path class="{name}" d="{path}"/>')
    half = scene.floor_half_width
    parts.append(f'<path class="floor" d="M{x_of(-half):.1f} {TOP:.1f}H{x_of(half):.1f}"/>')
    parts.append(f'<text class="middle" x="{x_of(0.0):.1f}" y="{TOP - 7:.1f}">room</text>')
    for number, at in enumerate(maps.ducts):
        hidden = "" if number == station else " hidden"
        parts.append(f'<g class="ducts{hidden}" data-station="{number}">')
        for duct in at:
            fill = _colour(maps.section_range, float(duct.warmth[first]))
            radius = max(duct.radius * scale, 2.5)
            parts.append(
                f'<circle cx="{x_of(duct.across):.1f}" cy="{TOP + duct.depth * scale:.1f}" r="{radius:.1f}" '
                f'fill="{fill}"><title>{escape(duct.kind)} in the duct</title></circle>'
            )
        parts.append("</g>")
    return _drawing("section-map", "Ground across the floor", tall, [*parts, *axes, _cross(wide, tall)])


def _plan(book: Book, maps: Maps, first: int) -> Markup:
    along, across = maps.scene.along_edges, maps.scene.floor_across_edges
    scale, wide, tall, axes = _frame(
        (float(along[0]), float(along[-1])), (float(across[0]), float(across[-1])),
        ("along the floor, from its start", "across"), 300.0,
    )  # fmt: skip
    parts = [_picture("plan", maps.plan[first], wide, tall)]
    for branch in read_branches(book.results):
        route = branch.route
        for place, begin, end in zip(route.across, route.begin, route.end, strict=True):
            x0, x1 = (LEFT + (float(value) - float(along[0])) * scale for value in (begin, end))
            y = TOP + (float(place) - float(across[0])) * scale
            parts.append(f'<path class="route halo" d="M{x0:.1f} {y:.1f}H{x1:.1f}"/>')
            parts.append(f'<path class="route" d="M{x0:.1f} {y:.1f}H{x1:.1f}"/>')
            middle, tip = (x0 + x1) / 2.0, 6.0 if x1 > x0 else -6.0
            parts.append(f'<path class="tip" d="M{middle + tip:.1f} {y:.1f}l{-2 * tip:.1f} -5v10z"/>')
    parts.append(f'<rect class="frame" x="{LEFT}" y="{TOP}" width="{wide:.1f}" height="{tall:.1f}"/>')
    title = "Floor surface from above, ducts below it"
    return _drawing("plan-map", title, tall, [*parts, *axes, _cross(wide, tall)])


def _picture(name: str, png: bytes, wide: float, tall: float) -> str:
    return (
        f'<image id="{name}-picture" x="{LEFT:.1f}" y="{TOP:.1f}" width="{wide:.1f}" height="{tall:.1f}" '
        f'preserveAspectRatio="none" href="{data_address(png)}"/>'
    )


def _cross(wide: float, tall: float) -> str:
    return (
        f'<g class="cross hidden" data-box="{LEFT:.1f} {TOP:.1f} {wide:.1f} {tall:.1f}">'
        '<circle class="halo" r="6"/><circle r="6"/></g>'
    )


def _drawing(name: str, title: str, tall: float, parts: list[str]) -> Markup:
    height = TOP + tall + BOTTOM
    return Markup(
        f'<svg id="{name}" class="map" tabindex="0" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="img" '
        f'aria-label="{title}" aria-describedby="{name}-reading">{"".join(parts)}</svg>'
    )


def _bar(limits: Range, words: str) -> Markup:
    """Colour scale with degC and degF."""
    parts = [f'<svg class="bar" viewBox="0 0 {WIDTH:.0f} 48" role="img" aria-label="Colours of {words}">']
    steps = 64
    wide = (WIDTH - LEFT - 60.0) / steps
    for number in range(steps):
        entry = round(number / (steps - 1) * (COLOURS_USED - 1))
        red, green, blue = palette()[entry].tolist()
        parts.append(
            f'<rect x="{LEFT + number * wide:.2f}" y="8" width="{wide + 0.4:.2f}" height="14" '
            f'fill="#{red:02x}{green:02x}{blue:02x}"/>'
        )
    for system in SYSTEMS:
        change, back = (TEMPERATURE.to_us, TEMPERATURE.to_si)
        low, high = (
            (limits.low, limits.high)
            if system == "SI"
            else (float(change(limits.low)), float(change(limits.high)))
        )
        parts.append(f'<g class="{system.lower()}">')
        for tick in round_ticks(low, high, 8):
            celsius = tick if system == "SI" else float(back(tick))
            x = LEFT + (celsius - limits.low) / (limits.high - limits.low) * wide * steps
            parts.append(f'<path class="tick" d="M{x:.1f} 22v5"/>')
            parts.append(f'<text class="middle" x="{x:.1f}" y="42">{_signed(tick)}</text>')
        unit = TEMPERATURE.si if system == "SI" else TEMPERATURE.us
        parts.append(f'<text x="{WIDTH - 50:.0f}" y="21">{unit}</text></g>')
    return Markup("".join([*parts, "</svg>"]))
