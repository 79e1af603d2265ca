"""The faces of a house, its masses and the radiant node between them, with coefficients held or taken anew.

See `house_kernels` for what they belong to, and for the layout of `inputs`, `masses` and `work`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.kernel import kernel
from simulator.physics.cover_kernels import (
    LEAST_DIFFERENCE,
    inside_film,
    outside_film,
    radiative_film,
)
from simulator.physics.moist_air_kernels import (
    dew_point,
    latent_heat,
    mass_transfer_coefficient,
    saturation_ratio,
    saturation_ratio_slope,
)

LENGTH, OUTSIDE, OUTSIDE_RATIO, SKY, WIND, COVER = range(6)
HEAD = 6
"""Places in `inputs`, and where the surfaces' sun begins."""
STAR, ROOM_GUESS, FLOOR_RADIATIVE, FLOOR_TAKES, LEAK_HEAT, LEAK_AIR, LATENT, SUN_INSIDE = range(8)
SUN_ON_FLOOR, LEAF_K, LEAF_RATIO, SOIL_K, SOIL_RATIO, FLOOR_GIVES, FLOOR_YIELDS = range(8, 15)
WORK_HEAD = 15
OUT_AIR, OUT_SKY, THROUGH, IN_AIR, IN_CONSTANT, IN_RADIANT, WET_HEAT, WET_SLOPE, WET_K, WET_RATIO = range(10)
FACE_IN, FACE_OUT, FACE_BEFORE, SUN_IN, SUN_OUT = 10, 11, 12, 13, 14
PER_SURFACE = 15
MASS_AIR, MASS_RADIANT, MASS_KEEP, MASS_WEIGHT, MASS_SUN, MASS_MEAN, MASS_BEFORE = range(7)
PER_MASS = 7
"""Places in `work`: a head, then rows of each surface, then of each mass."""
MOST_PASSES = 80
EASY_PASSES = 25
"""Passes from which faces, masses and node go only half the way to where films, dew and long waves call them:
these may call to and fro."""
SETTLED = 1e-7
"""Change of a face [K] at which the coefficients are settled."""
LEAST_RESISTANCE = 1e-6
"""Of a sheet [m2.K/W]."""


class HouseFixed(NamedTuple):
    """What never changes: S surfaces and M masses, SI units; the shares are [-]."""

    area: np.ndarray
    resistance: np.ndarray
    cover_resistance: np.ndarray
    emissivity: np.ndarray
    cosine: np.ndarray
    sky_share: np.ndarray
    sun_inside: np.ndarray
    radiant: np.ndarray
    mass_capacity: np.ndarray
    mass_conductance: np.ndarray
    mass_sun: np.ndarray
    mass_radiant: np.ndarray
    floor_area: float
    floor_film: float
    floor_radiant: float
    sun_to_floor: float
    sun_kept: float
    volume: float
    air_changes: float
    wind_changes: float
    pressure: float
    wet: bool
    leaf_area: float
    leaf_day: float
    leaf_night: float
    leaf_sun: float
    soil_area: float


@kernel
def work_size(fixed: HouseFixed) -> int:
    """Size of `work`."""
    return WORK_HEAD + PER_SURFACE * fixed.area.size + PER_MASS * fixed.mass_capacity.size


@kernel
def place_sun(fixed: HouseFixed, inputs: np.ndarray, work: np.ndarray) -> None:
    """Share out the sun: kept inside in all, on the floor, on masses, on the faces of the surfaces [W]."""
    surfaces = fixed.area.size
    inside = 0.0
    for i in range(surfaces):
        let_in = inputs[HEAD + i] * fixed.area[i]
        taken = inputs[HEAD + surfaces + i] * fixed.area[i]
        bare = 1.0 - inputs[COVER] if fixed.cover_resistance[i] > 0.0 else 1.0
        inside += bare * let_in
        within = bare * fixed.sun_inside[i] * taken
        at = WORK_HEAD + PER_SURFACE * i
        work[at + SUN_IN] = within
        # A drawn cover stops the sun at the sheet outside it.
        work[at + SUN_OUT] = taken - within + (1.0 - bare) * let_in
    inside *= fixed.sun_kept
    work[SUN_INSIDE] = inside
    work[SUN_ON_FLOOR] = inside * fixed.sun_to_floor
    for m in range(fixed.mass_capacity.size):
        work[WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m + MASS_SUN] = inside * fixed.mass_sun[m]


@kernel
def solve_faces(
    fixed: HouseFixed,
    masses: np.ndarray,
    inputs: np.ndarray,
    work: np.ndarray,
    room: float,
    from_floor: float,
    by_floor: float,
    floor: float,
) -> float:
    """Solve the faces, mean masses and the radiant node at a room temperature; return the largest change [K].

    The node gets `from_floor` + `by_floor` (floor - node) [W]. Temperatures here are above the room's guess.
    """
    surfaces = fixed.area.size
    base = work[ROOM_GUESS]
    air = room - base
    outside = inputs[OUTSIDE] - base
    sky = inputs[SKY] - base
    top = from_floor + by_floor * (floor - base)
    bottom = by_floor
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        out = work[at + OUT_AIR] + work[at + OUT_SKY]
        through = work[at + THROUGH]
        series = out * through / (out + through)
        rest = (work[at + OUT_AIR] * outside + work[at + OUT_SKY] * sky + work[at + SUN_OUT]) / out
        heat = work[at + SUN_IN] + work[at + WET_HEAT] + work[at + IN_CONSTANT]
        heat += work[at + IN_AIR] * air + series * rest
        total = work[at + IN_AIR] + series + work[at + WET_SLOPE]
        radiant = work[at + IN_RADIANT]
        # The face without the node's influence, and the conductance by which it holds the node.
        top += radiant * heat / (total + radiant)
        bottom += radiant * total / (total + radiant)
    for m in range(fixed.mass_capacity.size):
        at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
        radiant = work[at + MASS_RADIANT]
        total = work[at + MASS_AIR] + work[at + MASS_KEEP]
        heat = work[at + MASS_SUN] + work[at + MASS_AIR] * air + work[at + MASS_KEEP] * (masses[m] - base)
        top += radiant * heat / (total + radiant)
        bottom += radiant * total / (total + radiant)
    star = top / bottom if bottom > 0.0 else air
    change = abs(star + base - work[STAR])
    work[STAR] = star + base
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        out = work[at + OUT_AIR] + work[at + OUT_SKY]
        through = work[at + THROUGH]
        series = out * through / (out + through)
        rest = (work[at + OUT_AIR] * outside + work[at + OUT_SKY] * sky + work[at + SUN_OUT]) / out
        heat = work[at + SUN_IN] + work[at + WET_HEAT] + work[at + IN_CONSTANT]
        heat += work[at + IN_AIR] * air + series * rest
        radiant = work[at + IN_RADIANT]
        inner = (heat + radiant * star) / (work[at + IN_AIR] + series + work[at + WET_SLOPE] + radiant)
        outer = (out * rest + through * inner) / (out + through)
        change = max(change, abs(inner + base - work[at + FACE_IN]), abs(outer + base - work[at + FACE_OUT]))
        work[at + FACE_IN] = inner + base
        work[at + FACE_OUT] = outer + base
    for m in range(fixed.mass_capacity.size):
        at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
        heat = work[at + MASS_SUN] + work[at + MASS_AIR] * air + work[at + MASS_KEEP] * (masses[m] - base)
        heat += work[at + MASS_RADIANT] * star
        mean = heat / (work[at + MASS_AIR] + work[at + MASS_KEEP] + work[at + MASS_RADIANT])
        change = max(change, abs(mean + base - work[at + MASS_MEAN]))
        work[at + MASS_MEAN] = mean + base
    return float(change)


@kernel
def take_coefficients(
    fixed: HouseFixed, inputs: np.ndarray, work: np.ndarray, room: float, floor: float, ratio: float
) -> None:
    """Take every coefficient from the latest faces and the guesses."""
    surfaces = fixed.area.size
    star = work[STAR]
    length = inputs[LENGTH]
    moving = 0.0
    dew = 0.0
    if fixed.wet:
        moving = mass_transfer_coefficient(1.0, ratio, room)
        dew = dew_point(ratio, fixed.pressure)
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        area, inner, outer = fixed.area[i], work[at + FACE_IN], work[at + FACE_OUT]
        film = inside_film(room, inner, fixed.cosine[i])
        # The film grows with the third root of the difference: its tangent settles in few passes.
        steeper = area * film / 3.0 if abs(room - inner) > LEAST_DIFFERENCE else 0.0
        work[at + IN_AIR] = area * film + steeper
        work[at + IN_CONSTANT] = -steeper * (room - inner)
        work[at + IN_RADIANT] = fixed.radiant[i] * radiative_film(inner, star)
        emitting = area * fixed.emissivity[i]
        share = fixed.sky_share[i]
        work[at + OUT_SKY] = emitting * share * radiative_film(outer, inputs[SKY])
        work[at + OUT_AIR] = area * outside_film(inputs[WIND])
        work[at + OUT_AIR] += emitting * (1.0 - share) * radiative_film(outer, inputs[OUTSIDE])
        work[at + WET_HEAT] = 0.0
        work[at + WET_SLOPE] = 0.0
        work[at + WET_K] = 0.0
        work[at + WET_RATIO] = 0.0
        if inner < dew:
            saturated = saturation_ratio(inner, fixed.pressure)
            moved = area * film * moving
            heat = moved * latent_heat(inner)
            slope = heat * saturation_ratio_slope(inner, fixed.pressure)
            work[at + WET_K] = moved
            work[at + WET_RATIO] = saturated
            work[at + WET_HEAT] = heat * (ratio - saturated) + slope * (inner - work[ROOM_GUESS])
            work[at + WET_SLOPE] = slope
    for m in range(fixed.mass_capacity.size):
        at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
        whole = fixed.mass_conductance[m]
        radiant = min(fixed.mass_radiant[m] * radiative_film(work[at + MASS_MEAN], star), whole)
        work[at + MASS_RADIANT] = radiant
        work[at + MASS_AIR] = whole - radiant
        x = max(whole * length / fixed.mass_capacity[m], 1e-9)
        weight = 0.5 + x / 12.0 if x < 1e-3 else 1.0 / -math.expm1(-x) - 1.0 / x
        work[at + MASS_WEIGHT] = weight
        work[at + MASS_KEEP] = fixed.mass_capacity[m] / (length * weight)
    by_floor = fixed.floor_radiant * radiative_film(floor, star)
    work[FLOOR_RADIATIVE] = min(by_floor, fixed.floor_film * fixed.floor_area)
