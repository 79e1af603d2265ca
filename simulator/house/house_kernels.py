"""The house over one step: what surfaces, masses, leaves and leaks do to the room, as a straight line.

`open_house` settles every nonlinear coefficient at a guess of the step's mean room, floor and humidity and
keeps them in `work`; with these the house is linear in the room's temperature. `close_house` takes the final
room and books every joule with the same coefficients, so the account closes at any room temperature:

    SUN + CONDENSATION_HEAT = COVER_LOSS + SKY_LOSS + AIR_LEAK + STORED_MASS + EVAPORATION + TO_ROOM +
    TO_FLOOR

    TO_ROOM  = length (GAIN + LOSS (inputs[OUTSIDE] - room))        room: mean over the step [K]
    TO_FLOOR = length floor_area FLOOR_GAIN

Surfaces hold no heat: an outside and an inside face with a resistance between. Masses are states; their mean
over a step is (1 - w) old + w new with w = 1 / (1 - e^-x) - 1 / x, x = length over the mass's time constant,
which is exact for steady surroundings and stays quiet for any step (exponential fitting: W. Liniger and R.
Willoughby, SIAM J. Numerical Analysis 7 (1970) 47-66). Long waves inside go through one radiant node
(`physics/enclosure.py`).

The floor's film is one for air and long waves. Its radiative part h (at most the film) is re-directed: the
room gives h floor_area (floor - room) to the radiant node (in GAIN and LOSS, which may so be below 0), and
the node gives the floor h (node - room) (in FLOOR_GAIN, held at the guess; the room's gift then changes with
the room as it would were the floor to answer).

Layout
------
inputs (HEAD + 2 S,)
    LENGTH [s], OUTSIDE [K], OUTSIDE_RATIO [kg/kg], SKY [K], WIND [m/s], COVER [share of the night cover that
    is on], then per surface sun let in [W/m2], then per surface sun taken up [W/m2].
out (OUT,)
    LOSS [W/K], GAIN [W], FLOOR_GAIN [W/m2], VAPOUR_GAIN [kg/s], VAPOUR_LOSS [kg/s per unit of ratio]; vapour
    to the room's air = VAPOUR_GAIN + VAPOUR_LOSS (inputs[OUTSIDE_RATIO] - ratio), leaking air included.
flows (FLOWS,) [J over the step; the last four kg]
    See the names below.
temperatures (1 + 2 S + M,) [K, means over the step]
    Radiant node, inside faces, outside faces, masses.
masses (M,), new_masses (M,) [K]
    At the beginning and the end of the step.
work (work_size,)
    Kept between the two calls, not longer.
"""

from __future__ import annotations

import numpy as np

from simulator.house.face_kernels import (
    COVER,
    EASY_PASSES,
    FACE_BEFORE,
    FACE_IN,
    FACE_OUT,
    FLOOR_GIVES,
    FLOOR_RADIATIVE,
    FLOOR_TAKES,
    FLOOR_YIELDS,
    HEAD,
    IN_AIR,
    IN_CONSTANT,
    LATENT,
    LEAF_K,
    LEAF_RATIO,
    LEAK_AIR,
    LEAK_HEAT,
    LEAST_RESISTANCE,
    LENGTH,
    MASS_AIR,
    MASS_BEFORE,
    MASS_MEAN,
    MASS_SUN,
    MASS_WEIGHT,
    MOST_PASSES,
    OUT_AIR,
    OUT_SKY,
    OUTSIDE,
    OUTSIDE_RATIO,
    PER_MASS,
    PER_SURFACE,
    ROOM_GUESS,
    SETTLED,
    SKY,
    SOIL_K,
    SOIL_RATIO,
    STAR,
    SUN_IN,
    SUN_INSIDE,
    SUN_ON_FLOOR,
    SUN_OUT,
    THROUGH,
    WET_HEAT,
    WET_K,
    WET_RATIO,
    WET_SLOPE,
    WIND,
    WORK_HEAD,
    HouseFixed,
    place_sun,
    solve_faces,
    take_coefficients,
    work_size,
)
from simulator.kernel import kernel
from simulator.physics.air_kernels import density, heat_capacity, within_fit
from simulator.physics.cover_kernels import leaf_conductance, leaf_ratio, pore_resistance
from simulator.physics.moist_air_kernels import latent_heat, mass_transfer_coefficient, saturation_ratio

__all__ = [
    "AIR_LEAK",
    "CONDENSATION_HEAT",
    "CONDENSED",
    "COVER",
    "COVER_LOSS",
    "EVAPORATED",
    "EVAPORATION",
    "FLOOR_GAIN",
    "FLOWS",
    "GAIN",
    "HEAD",
    "LENGTH",
    "LOSS",
    "OUT",
    "OUTSIDE",
    "OUTSIDE_RATIO",
    "SKY",
    "SKY_LOSS",
    "STORED_MASS",
    "SUN",
    "SUN_LET_IN",
    "SUN_TO_FLOOR",
    "TO_FLOOR",
    "TO_ROOM",
    "VAPOUR_GAIN",
    "VAPOUR_LEAKED",
    "VAPOUR_LOSS",
    "VAPOUR_TO_ROOM",
    "WIND",
    "HouseFixed",
    "close_house",
    "open_house",
    "work_size",
]

LOSS, GAIN, FLOOR_GAIN, VAPOUR_GAIN, VAPOUR_LOSS = range(5)
OUT = 5
"""Places in `out`."""
SUN, SUN_TO_FLOOR, SUN_LET_IN, COVER_LOSS, SKY_LOSS, AIR_LEAK, STORED_MASS = range(7)
EVAPORATION, CONDENSATION_HEAT, TO_ROOM, TO_FLOOR = 7, 8, 9, 10
CONDENSED, EVAPORATED, VAPOUR_LEAKED, VAPOUR_TO_ROOM = 11, 12, 13, 14
FLOWS = 15
"""Places in `flows`: SUN is all that the house takes up; SUN_LET_IN what passes glazing and night cover
and stays; AIR_LEAK and VAPOUR_LEAKED go to the outside; VAPOUR_TO_ROOM = EVAPORATED - CONDENSED -
VAPOUR_LEAKED [kg]."""
MOST_YIELD = 6.0
"""Largest rate at which the floor's gift to the node changes with the room, over the long waves' own."""
MOST_SUN = 1500.0
"""Most that a leaf takes up [W/m2]; only a leaf smaller than any would be called to more."""
SOIL_FILM = 3.0
"""Film of the air at wet soil [W/(m2.K)] where the floor has none."""


@kernel
def _leaks_and_vapour(
    fixed: HouseFixed, inputs: np.ndarray, work: np.ndarray, room: float, floor: float, ratio: float
) -> None:
    """Fill leaking air, and what leaves and wet soil give off, at the guess."""
    changes = fixed.air_changes + fixed.wind_changes * inputs[WIND]
    air = within_fit(room)
    work[LEAK_AIR] = fixed.volume * changes * density(air, fixed.pressure)
    work[LEAK_HEAT] = work[LEAK_AIR] * heat_capacity(air)
    work[LEAF_K] = 0.0
    work[LEAF_RATIO] = 0.0
    work[SOIL_K] = 0.0
    work[SOIL_RATIO] = 0.0
    work[LATENT] = 0.0
    if not fixed.wet:
        return
    inside = work[SUN_INSIDE]
    if fixed.leaf_area > 0.0:
        resistance = pore_resistance(fixed.leaf_day, fixed.leaf_night, inside / fixed.floor_area)
        on_leaves = min(fixed.leaf_sun * inside / fixed.leaf_area, MOST_SUN)
        saturated = leaf_ratio(room, fixed.pressure, on_leaves)
        if saturated > ratio:
            work[LEAF_K] = fixed.leaf_area * leaf_conductance(room, fixed.pressure, resistance)
            work[LEAF_RATIO] = saturated
            work[LATENT] += work[LEAF_K] * (saturated - ratio) * latent_heat(air)
    if fixed.soil_area > 0.0:
        film = fixed.floor_film - work[FLOOR_RADIATIVE] / fixed.floor_area
        film = film if fixed.floor_film > 0.0 else SOIL_FILM
        work[SOIL_K] = fixed.soil_area * mass_transfer_coefficient(film, ratio, room)
        work[SOIL_RATIO] = saturation_ratio(floor, fixed.pressure)
        work[LATENT] += work[SOIL_K] * (work[SOIL_RATIO] - ratio) * latent_heat(floor)


@kernel
def _to_air(fixed: HouseFixed, inputs: np.ndarray, work: np.ndarray, room: float, to_node: float) -> float:
    """Heat to the room's air [W] with the latest faces; `to_node` [W] of it goes on to the radiant node."""
    surfaces = fixed.area.size
    heat = work[LEAK_HEAT] * (inputs[OUTSIDE] - room) - work[LATENT] - to_node
    heat += work[SUN_INSIDE] - work[SUN_ON_FLOOR]
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        heat += work[at + IN_AIR] * (work[at + FACE_IN] - room) - work[at + IN_CONSTANT]
    for m in range(fixed.mass_capacity.size):
        at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
        heat += work[at + MASS_AIR] * (work[at + MASS_MEAN] - room) - work[at + MASS_SUN]
    return float(heat)


@kernel
def open_house(
    fixed: HouseFixed,
    masses: np.ndarray,
    inputs: np.ndarray,
    room: float,
    floor: float,
    ratio: float,
    work: np.ndarray,
    out: np.ndarray,
) -> int:
    """Settle the house at guessed means of a step and fill `out`; see the module.

    Parameters
    ----------
    fixed : HouseFixed
    masses : (M,) float [K]
        At the beginning of the step.
    inputs : (HEAD + 2 S,) float
    room, floor : float [K]
        Guessed means of room air and floor surface.
    ratio : float [kg/kg]
        Guessed mean humidity ratio of the room.
    work : (work_size,) float
        Overwritten; nothing in it matters beforehand.
    out : (OUT,) float
        Overwritten.

    Returns
    -------
    int
        Passes taken; 0 where the coefficients did not settle.
    """
    surfaces = fixed.area.size
    work[ROOM_GUESS] = room
    work[STAR] = room - 1.0
    place_sun(fixed, inputs, work)
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        inner = room - 0.3 * (room - inputs[OUTSIDE])
        work[at + FACE_IN] = inner
        work[at + FACE_OUT] = room - 0.9 * (room - inputs[OUTSIDE])
        cover = fixed.cover_resistance[i]
        sheet = max(fixed.resistance[i], LEAST_RESISTANCE)
        share = inputs[COVER] if cover > 0.0 else 0.0
        work[at + THROUGH] = fixed.area[i] * ((1.0 - share) / sheet + share / (sheet + cover))
    for m in range(fixed.mass_capacity.size):
        work[WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m + MASS_MEAN] = masses[m]
    passes = 0
    for number in range(MOST_PASSES):
        take_coefficients(fixed, inputs, work, room, floor, ratio)
        star = work[STAR]
        for i in range(surfaces):
            at = WORK_HEAD + PER_SURFACE * i
            work[at + FACE_BEFORE] = work[at + FACE_IN]
        for m in range(fixed.mass_capacity.size):
            at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
            work[at + MASS_BEFORE] = work[at + MASS_MEAN]
        if solve_faces(fixed, masses, inputs, work, room, 0.0, work[FLOOR_RADIATIVE], floor) < SETTLED:
            passes = number + 1
            break
        if number >= EASY_PASSES:
            for i in range(surfaces):
                at = WORK_HEAD + PER_SURFACE * i
                work[at + FACE_IN] = 0.5 * (work[at + FACE_IN] + work[at + FACE_BEFORE])
            for m in range(fixed.mass_capacity.size):
                at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
                work[at + MASS_MEAN] = 0.5 * (work[at + MASS_MEAN] + work[at + MASS_BEFORE])
            work[STAR] = 0.5 * (work[STAR] + star)
    _leaks_and_vapour(fixed, inputs, work, room, floor, ratio)
    h = work[FLOOR_RADIATIVE]
    takes = h * (work[STAR] - room)
    work[FLOOR_TAKES] = takes
    gives = h * (floor - room)
    work[FLOOR_GIVES] = gives
    # What the room hands from the floor to the node may change with the room at any rate, as both sides book
    # it; what the floor gets back is held. The rate that gives the room the slope it has with a floor that
    # answers lets guesses of the room settle at once.
    solve_faces(fixed, masses, inputs, work, room + 1.0, 0.0, h, floor)
    wanted = _to_air(fixed, inputs, work, room + 1.0, gives - h)
    solve_faces(fixed, masses, inputs, work, room + 1.0, gives - takes, 0.0, floor)
    held = _to_air(fixed, inputs, work, room + 1.0, gives)
    work[FLOOR_YIELDS] = 0.0
    if h > 0.0:
        solve_faces(fixed, masses, inputs, work, room + 1.0, gives - h - takes, 0.0, floor)
        by_rate = (_to_air(fixed, inputs, work, room + 1.0, gives - h) - held) / h
        if by_rate > 0.0:
            work[FLOOR_YIELDS] = min(max((wanted - held) / by_rate, 0.0), MOST_YIELD * h)
    # Two points of the straight line.
    from_floor = gives - work[FLOOR_YIELDS]
    solve_faces(fixed, masses, inputs, work, room + 1.0, from_floor - takes, 0.0, floor)
    slope = _to_air(fixed, inputs, work, room + 1.0, from_floor)
    solve_faces(fixed, masses, inputs, work, room, gives - takes, 0.0, floor)
    at_guess = _to_air(fixed, inputs, work, room, gives)
    slope -= at_guess
    out[LOSS] = -slope
    out[GAIN] = at_guess + slope * (inputs[OUTSIDE] - room)
    out[FLOOR_GAIN] = (work[SUN_ON_FLOOR] + takes) / fixed.floor_area
    gain = work[LEAF_K] * work[LEAF_RATIO] + work[SOIL_K] * work[SOIL_RATIO]
    loss = work[LEAF_K] + work[SOIL_K]
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        gain += work[at + WET_K] * work[at + WET_RATIO]
        loss += work[at + WET_K]
    out[VAPOUR_GAIN] = gain - loss * inputs[OUTSIDE_RATIO]
    out[VAPOUR_LOSS] = loss + work[LEAK_AIR]
    return passes


@kernel
def close_house(
    fixed: HouseFixed,
    masses: np.ndarray,
    inputs: np.ndarray,
    work: np.ndarray,
    room: float,
    floor: float,
    ratio: float,
    new_masses: np.ndarray,
    flows: np.ndarray,
    temperatures: np.ndarray,
) -> None:
    """Book the step at its final mean room [K] and humidity ratio [kg/kg].

    With the coefficients of `open_house`; `floor` [K] is the guess that it was given. Fills `new_masses`,
    `flows` and `temperatures`.
    """
    surfaces = fixed.area.size
    length = inputs[LENGTH]
    from_floor = work[FLOOR_GIVES] - work[FLOOR_YIELDS] * (room - work[ROOM_GUESS])
    solve_faces(fixed, masses, inputs, work, room, from_floor - work[FLOOR_TAKES], 0.0, floor)
    flows[:] = 0.0
    temperatures[0] = work[STAR]
    condensed = 0.0
    for i in range(surfaces):
        at = WORK_HEAD + PER_SURFACE * i
        inner, outer = work[at + FACE_IN], work[at + FACE_OUT]
        temperatures[1 + i] = inner
        temperatures[1 + surfaces + i] = outer
        flows[SUN] += length * (work[at + SUN_IN] + work[at + SUN_OUT])
        flows[COVER_LOSS] += length * work[at + OUT_AIR] * (outer - inputs[OUTSIDE])
        flows[SKY_LOSS] += length * work[at + OUT_SKY] * (outer - inputs[SKY])
        flows[CONDENSATION_HEAT] += length * (
            work[at + WET_HEAT] - work[at + WET_SLOPE] * (inner - work[ROOM_GUESS])
        )
        condensed += work[at + WET_K] * (ratio - work[at + WET_RATIO])
    for m in range(fixed.mass_capacity.size):
        at = WORK_HEAD + PER_SURFACE * surfaces + PER_MASS * m
        change = (work[at + MASS_MEAN] - masses[m]) / work[at + MASS_WEIGHT]
        new_masses[m] = masses[m] + change
        flows[STORED_MASS] += fixed.mass_capacity[m] * change
        temperatures[1 + 2 * surfaces + m] = work[at + MASS_MEAN]
    flows[SUN_LET_IN] = length * work[SUN_INSIDE]
    flows[SUN] += flows[SUN_LET_IN]
    flows[SUN_TO_FLOOR] = length * work[SUN_ON_FLOOR]
    flows[AIR_LEAK] = length * work[LEAK_HEAT] * (room - inputs[OUTSIDE])
    flows[EVAPORATION] = length * work[LATENT]
    flows[TO_ROOM] = length * _to_air(fixed, inputs, work, room, from_floor)
    flows[TO_FLOOR] = length * (work[SUN_ON_FLOOR] + work[FLOOR_TAKES])
    given = work[LEAF_K] * (work[LEAF_RATIO] - ratio) + work[SOIL_K] * (work[SOIL_RATIO] - ratio)
    flows[CONDENSED] = length * condensed
    flows[EVAPORATED] = length * given
    flows[VAPOUR_LEAKED] = length * work[LEAK_AIR] * (ratio - inputs[OUTSIDE_RATIO])
    flows[VAPOUR_TO_ROOM] = flows[EVAPORATED] - flows[CONDENSED] - flows[VAPOUR_LEAKED]
