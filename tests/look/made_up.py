"""Results with made-up but smooth temperatures, written and read by the real store, in any shape wanted."""

from __future__ import annotations

import itertools
import json
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simulator.air.path import FLUE_GAS, JACKET_AIR, Way, path_of
from simulator.case.loader import load_text
from simulator.case.schema import Case
from simulator.run.observers import Geometry, Moment
from simulator.store.catalogue import KELVIN_AT_0_DEGC, SERIES
from simulator.store.contents import series_of
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter

HOUR = 3_600_000


CASE = """
title = {title}
[site]
start = 2024-01-15T18:00:00
duration = "12 h"
[weather]
kind = "constant"
temperature = "-4 degC"
[ground]
depth = "{depth} m"
bottom = {{kind = "adiabatic"}}
start = {{kind = "uniform", temperature = "10 degC"}}
layers = [{{material = "concrete"}}]
[floor]
width = "{width} m"
length = "{length} m"
[ducts]
count = {ducts}
layout = "{layout}"
spacing = "{spacing} m"
depth = "{duct_depth} m"
diameter = "{diameter} m"
[fan]
flow = "0.1 m3/s"
[heat]
kind = "none"
[room]
kind = "fixed"
temperature = "18 degC"
[output]
units = "{units}"
"""
HUMID = """
[moisture]
room_humidity = 0.8
"""
FLUE = """
[flue]
across = "0 m"
depth = "{flue_depth} m"
diameter = "0.12 m"
rate = "2 kg/h"
temperature = "200 degC"
jacket = {{ diameter = "0.25 m", flow = "0.03 m3/s" }}
stack = {{ height = "5 m", diameter = "0.12 m" }}
"""


@dataclass
class Shape:
    """What to make up; lengths [m], temperatures [degC]."""

    title: str = "Evening charge of the barn floor"
    units: str = "SI"
    width: float = 8.0
    length: float = 12.0
    outside: float = 1.5
    depth: float = 3.0
    surface_level: float = 0.3
    ducts: int = 4
    spacing: float = 1.5
    layout: str = "parallel"
    duct_depth: float = 0.5
    duct_radius: float = 0.1
    stations: int = 12
    hours: float = 12.0
    rows_per_hour: float = 12.0
    maps: int = 13
    ground: float = 9.0
    warming: float = 18.0
    supply: float = 42.0
    even: bool = False
    fan_hours: tuple[float, float] = (1.0, 7.0)
    humid: bool = False
    flue: bool = False
    materials: tuple[str, ...] = ("concrete", "damp sand", "clay soil")
    layer_ends: tuple[float, ...] = (0.12, 0.9)
    extra: dict[str, Any] = field(default_factory=dict)
    extra_at_start: dict[str, Any] = field(default_factory=dict)


def edges_of(low: float, high: float, around: list[float], finest: float) -> np.ndarray:
    """Edges that are fine near the given places and coarser away from them, and hit all of them."""
    marks = sorted({low, high, *[m for m in around if low < m < high]})
    edges = [low]
    for a, b in itertools.pairwise(marks):
        count = max(int(np.ceil(np.sqrt((b - a) / finest) * 3)), 2)
        t = np.linspace(0.0, 1.0, count + 1)[1:]
        edges += list(a + (b - a) * (t - 0.1 * np.sin(2 * np.pi * t) / 2))
    return np.array(edges)


def duct_places(shape: Shape) -> np.ndarray:
    return (np.arange(shape.ducts) - (shape.ducts - 1) / 2.0) * shape.spacing


def case_of(shape: Shape) -> Case:
    told = vars(shape) | {
        "title": json.dumps(shape.title, ensure_ascii=False),
        "diameter": 2.0 * shape.duct_radius,
        "flue_depth": shape.duct_depth + FLUE_BELOW,
    }
    return load_text((CASE + HUMID * shape.humid + FLUE * shape.flue).format(**told))


def geometry_of(shape: Shape, case: Case) -> Geometry:
    half = shape.width / 2.0
    ducts = duct_places(shape)
    depths = np.full(ducts.size, shape.duct_depth)
    if shape.flue:
        ducts, depths = np.append(ducts, 0.0), np.append(depths, shape.duct_depth + FLUE_BELOW)
    across_edges = edges_of(-half - shape.outside, half + shape.outside, [-half, half, *ducts], 0.06)
    depth_edges = edges_of(0.0, shape.depth, [*shape.layer_ends, shape.surface_level, shape.duct_depth], 0.05)
    across = (across_edges[1:] + across_edges[:-1]) / 2.0
    depth = (depth_edges[1:] + depth_edges[:-1]) / 2.0
    material = np.searchsorted(np.array(shape.layer_ends), depth)[:, None] + np.zeros(across.size, dtype=int)
    beside = np.abs(across) > half
    material[(depth < shape.layer_ends[0])[:, None] & beside] = 1
    material[(depth < shape.surface_level)[:, None] & beside] = -1
    floor = np.abs(across) < half
    x_edges = np.linspace(0.0, shape.length, shape.stations + 1)
    rows = int(shape.hours * shape.rows_per_hour) + 1
    series = np.unique(np.round(np.linspace(0.0, shape.hours * HOUR, rows)).astype(np.int64))
    ways = [
        Way(
            branch.name,
            tuple(
                (int(np.argmin(np.abs(ducts - run.across))), run.begin, run.end) for run in branch.stretches
            ),
            (branch.extra_length, *branch.turns),
            float(number),  # unlike losses, so that no two become one
        )
        for number, branch in enumerate(case.duct_branches)
    ]
    if shape.flue:
        run = ((ducts.size - 1, 0.0, shape.length),)
        ways += [Way("flue", run, (0.0,), 0.0, FLUE_GAS), Way("jacket", run, (0.0,), 0.0, JACKET_AIR)]
    path = path_of(ways, x_edges)
    with_map = np.unique(np.linspace(0, series.size - 1, shape.maps).round().astype(int))
    fields = series[with_map]
    return Geometry(
        series_ticks=series,
        field_ticks=fields,
        station_x=(x_edges[1:] + x_edges[:-1]) / 2.0,
        station_dx=np.diff(x_edges),
        edges_x=x_edges,
        lane_across=ducts,
        lane_depth=depths,
        lane_ducts=np.ones(ducts.size),
        duct_across=ducts,
        duct_depth=depths,
        duct_lane=np.arange(ducts.size),
        floor_across=across[floor],
        floor_width_cells=np.diff(across_edges)[floor],
        map_across=across,
        map_depth=depth,
        map_across_edges=across_edges,
        map_depth_edges=depth_edges,
        map_material=material,
        material_names=shape.materials,
        duct_radius=shape.duct_radius,
        building_half_width=half,
        floor_thickness=shape.layer_ends[0],
        duct_inside_radius=np.append(np.full(shape.ducts, shape.duct_radius), [0.125] * shape.flue),
        branch_names=path.branch_names,
        branch_ducts=path.branch_ducts,
        branch_length=path.branch_length,
        branch_loss=path.branch_loss,
        branch_group=path.branch_group,
        segment_branch=path.segment_branch,
        segment_lane=path.segment_lane,
        segment_station=path.segment_station,
        segment_run=path.segment_run,
        segment_direction=path.direction,
        segment_begin=path.begin,
        segment_end=path.end,
        parts=frozenset(["moisture"] * shape.humid + ["flue"] * shape.flue),
    )


def ground_of(shape: Shape, geometry: Geometry, warm: float) -> np.ndarray:
    """A warm hill round every duct that fades along the duct, over cold ground [degC]."""
    y, z = np.meshgrid(geometry.map_across, geometry.map_depth)
    base = shape.ground + 1.5 * np.tanh(z - 1.0)
    base = base - 6.0 * np.exp(-np.maximum(z, 0.0)) * (np.abs(y) > shape.width / 2.0)
    hills = np.zeros_like(y)
    for across, depth in zip(geometry.duct_across, geometry.duct_depth, strict=True):
        hills += np.exp(-np.hypot(y - across, z - depth) / 0.35)
    along = np.exp(-geometry.station_x / shape.length)[:, None, None]
    field = base + warm * shape.warming * np.minimum(hills, 1.3) * along
    if shape.even:
        field = np.full_like(field, shape.ground)
    field[:, geometry.map_material == -1] = np.nan
    return field


def make_results(shape: Shape | None = None) -> Results:
    shape = shape or Shape()
    case = case_of(shape)
    geometry = geometry_of(shape, case)
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    stations, lanes = geometry.station_x.size, geometry.lane_across.size
    ledger = dict.fromkeys((n for n in SERIES if n.startswith("ledger_")), 0.0)
    before = 0
    for tick in geometry.series_ticks.tolist():
        hour = tick / HOUR
        on = shape.fan_hours[0] <= hour % 24.0 < shape.fan_hours[1]
        warm = float(np.clip((hour - shape.fan_hours[0]) / 6.0, 0.0, 1.0))
        warm *= np.exp(-max(hour - 7.0, 0.0) / 30.0)
        values: dict[str, Any] = {}
        ground = ground_of(shape, geometry, warm)
        floor = np.abs(geometry.map_across) < shape.width / 2.0
        surface = ground[:, 0, :][:, floor]
        supply = shape.ground if shape.even else shape.supply
        k = geometry.map_depth.searchsorted(shape.duct_depth)
        wall = np.stack([ground[:, k, geometry.map_across.searchsorted(a)] for a in geometry.lane_across])
        wall_at_edges = np.pad(wall, ((0, 0), (0, 1)), mode="edge")
        fade = np.exp(-geometry.edges_x / shape.length)[None, :] * (1.0 - 0.05 * np.arange(lanes))[:, None]
        fade[:, 0] = 1.0
        air = wall_at_edges + (supply - wall_at_edges) * fade if on else wall_at_edges
        values["outside_temperature"] = -4.0 + 5.0 * np.cos(2 * np.pi * (hour - 20.0) / 24.0)
        values["room_temperature"] = 17.0 + 2.0 * np.cos(2 * np.pi * (hour - 4.0) / 24.0)
        values["supply_temperature"] = supply if on else values["room_temperature"]
        values["exit_temperature"] = float(air[:, -1].mean())
        values["floor_mean_temperature"] = float(surface.mean())
        values["floor_lowest_temperature"] = float(surface.min())
        values["floor_highest_temperature"] = float(surface.max())
        values["ground_mean_temperature"] = float(np.nanmean(ground))
        values["lane_exit_temperature"] = air[:, -1]
        values["air_temperature"] = air
        values["wall_temperature"] = wall
        values["floor_station_temperature"] = surface.mean(axis=1)
        values["floor_surface_temperature"] = surface
        values["fan_share"] = float(on)
        values["mass_flow"] = 0.12 * on
        values["reynolds_number"] = 12000.0 * on
        values["film_coefficient"] = 9.0 * on
        values["heater_power"] = 2600.0 * on
        values["fan_power"] = 60.0 * on
        values["duct_heat"] = 2100.0 * on * np.exp(-(hour % 24.0) / 9.0)
        values["floor_heat"] = 90.0 + 400.0 * warm
        values["return_heat"] = 500.0 * on
        values["envelope_loss"] = 640.0
        values["infiltration_loss"] = 120.0
        values["sun_gain"] = values["other_gain"] = 0.0
        values["outside_ground_loss"], values["bottom_heat"] = 45.0, 12.0
        values["sides_heat"] = values["exhaust_loss"] = 0.0
        values["duct_heat_per_length"] = np.zeros((lanes, stations)) + 10.0 * on
        seconds = (tick - before) / 1000.0
        before = tick
        for account, flow in LEDGER_FLOWS.items():
            ledger[account] += values[flow] * seconds
        ledger["ledger_stored_room"] = -0.2 * 3.6e6 * min(hour / 12.0, 1.0)
        ledger["ledger_stored_ground"] = ledger["ledger_duct"] + ledger["ledger_bottom"]
        ledger["ledger_stored_ground"] -= ledger["ledger_floor"] + ledger["ledger_outside_ground"]
        ledger["ledger_handled"] = ledger["ledger_heater"] * 2.0
        values.update(ledger)
        if shape.humid:
            values["water_held"] = (
                0.02 * hour * (geometry.station_x > 0.6 * shape.length) * np.ones((lanes, 1))
            )
        if shape.flue:
            values.update(flue_of(shape, geometry, hour))
        for name, entry in series_of(geometry).items():
            if name not in values:
                sizes = {"lane": lanes, "station": stations, "edge": stations + 1,
                         "branch": geometry.branch_ducts.size}  # fmt: skip
                values[name] = np.zeros([sizes[dim] for dim in entry.dims[1:]])
        values.update(shape.extra if tick else shape.extra | shape.extra_at_start)
        in_kelvin = {
            name: value + KELVIN_AT_0_DEGC
            if name == "floor_surface_temperature" or SERIES[name].is_temperature
            else value
            for name, value in values.items()
        }
        with_map = tick in geometry.field_ticks
        if not with_map:
            in_kelvin.pop("floor_surface_temperature")
        writer.record(Moment(tick, in_kelvin, ground + KELVIN_AT_0_DEGC if with_map else None))
    writer.finish({"steps": 1})
    return writer.results()


def flue_of(shape: Shape, geometry: Geometry, hour: float) -> dict[str, Any]:
    """A fire that burns with the fan, and gas that cools on its way below its dew point."""
    on = shape.fan_hours[0] <= hour % 24.0 < shape.fan_hours[1]
    strength = np.sin(np.pi * np.clip((hour - shape.fan_hours[0]) / np.ptp(shape.fan_hours), 0.0, 1.0))
    entry = 20.0 + 180.0 * strength
    along = 15.0 + (entry - 15.0) * np.exp(-geometry.edges_x / shape.length)
    return {
        "flue_mass_flow": 0.01 * on,
        "flue_entry_temperature": entry if on else np.nan,
        "flue_exit_temperature": along[-1],
        "flue_gas_temperature": along,
        "flue_wall_temperature": 10.0 + 0.6 * (along[:-1] - 10.0),
        "flue_dew_temperature": 45.0,
        "flue_condensation": 1e-5 * on * (strength < 0.5),
        "flue_stack_wall_temperature": 5.0 + 0.5 * along[-1],
        "flue_draught": 0.15 * (along[-1] + 4.0) * on,
        "flue_resistance": 6.0 * strength,
        "flue_margin": 0.15 * (along[-1] + 4.0) - 9.0 * strength - 6.0 if on else np.nan,
        "jacket_mass_flow": 0.03 * on,
        "jacket_exit_temperature": 20.0 + 20.0 * strength,
    }


FLUE_BELOW = 0.1  # [m] from the ducts down to the flue run
LEDGER_FLOWS = {
    "ledger_heater": "heater_power",
    "ledger_fan": "fan_power",
    "ledger_duct": "duct_heat",
    "ledger_floor": "floor_heat",
    "ledger_return": "return_heat",
    "ledger_envelope": "envelope_loss",
    "ledger_infiltration": "infiltration_loss",
    "ledger_sun": "sun_gain",
    "ledger_other_gain": "other_gain",
    "ledger_outside_ground": "outside_ground_loss",
    "ledger_bottom": "bottom_heat",
    "ledger_sides": "sides_heat",
    "ledger_exhaust": "exhaust_loss",
}
