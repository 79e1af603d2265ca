"""Houses for the tests: made by hand, run over one step, and an independent full balance of their faces."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import root

from simulator.house import house_kernels as kernels
from simulator.physics.enclosure import radiant_areas
from simulator.physics.sky import sky_share

SIGMA = 5.670374419e-8
ACCOUNT = {
    kernels.SUN: 1.0,
    kernels.CONDENSATION_HEAT: 1.0,
    kernels.COVER_LOSS: -1.0,
    kernels.SKY_LOSS: -1.0,
    kernels.AIR_LEAK: -1.0,
    kernels.STORED_MASS: -1.0,
    kernels.EVAPORATION: -1.0,
    kernels.TO_ROOM: -1.0,
    kernels.TO_FLOOR: -1.0,
}


def house(
    area=(10.0,),
    resistance=(0.004,),
    *,
    tilt=90.0,
    emissivity=0.9,
    cover=0.0,
    sun_inside=0.5,
    mass_capacity=(),
    mass_area=(),
    mass_film=8.0,
    mass_sun=0.0,
    floor_area=24.0,
    floor_film=8.0,
    sun_to_floor=0.5,
    **more,
) -> kernels.HouseFixed:
    """Build the fixed part from plain numbers; what is left out is nothing, dry or one for all."""
    areas = np.asarray(area, dtype=float)
    masses = np.asarray(mass_area, dtype=float)

    def each(value, like):
        return np.broadcast_to(np.asarray(value, dtype=float), like.shape).copy()

    cosine = np.cos(np.radians(each(tilt, areas)))
    grey = each(emissivity, areas)
    inside = np.full(1 + masses.size, 0.9)
    radiant = radiant_areas(np.concatenate([areas, [floor_area], masses]), np.concatenate([grey, inside]))
    rest = {
        "volume": 0.0, "air_changes": 0.0, "wind_changes": 0.0, "pressure": 101325.0, "wet": False,
        "sun_kept": 1.0, "leaf_area": 0.0, "leaf_day": 200.0, "leaf_night": 2000.0, "leaf_sun": 0.0,
        "soil_area": 0.0,
    }  # fmt: skip
    return kernels.HouseFixed(
        area=areas,
        resistance=each(resistance, areas),
        cover_resistance=each(cover, areas),
        emissivity=grey,
        cosine=cosine,
        sky_share=sky_share(cosine),
        sun_inside=each(sun_inside, areas),
        radiant=radiant[: areas.size],
        mass_capacity=np.asarray(mass_capacity, dtype=float),
        mass_conductance=each(mass_film, masses) * masses,
        mass_sun=each(mass_sun, masses),
        mass_radiant=radiant[areas.size + 1 :],
        floor_area=floor_area,
        floor_film=floor_film,
        floor_radiant=radiant[areas.size] if floor_film > 0.0 else 0.0,
        sun_to_floor=sun_to_floor if floor_film > 0.0 else 0.0,
        **{**rest, **more},
    )


def weather(
    fixed, *, length=300.0, outside=273.15, ratio=0.002, sky=None, wind=4.0, cover=0.0, let_in=0.0, taken=0.0
):
    """Inputs of a step."""
    count = fixed.area.size
    row = np.zeros(kernels.HEAD + 2 * count)
    row[kernels.LENGTH], row[kernels.OUTSIDE], row[kernels.OUTSIDE_RATIO] = length, outside, ratio
    row[kernels.SKY] = outside if sky is None else sky
    row[kernels.WIND], row[kernels.COVER] = wind, cover
    row[kernels.HEAD : kernels.HEAD + count] = let_in
    row[kernels.HEAD + count :] = taken
    return row


@dataclass
class Step:
    """What one step gave."""

    out: np.ndarray
    flows: np.ndarray
    star: float
    inside: np.ndarray
    outside: np.ndarray
    mean_masses: np.ndarray
    masses: np.ndarray
    passes: int
    work: np.ndarray = field(repr=False)

    @property
    def missing(self) -> float:
        """What the account of heat does not close by [J]."""
        return float(sum(sign * self.flows[place] for place, sign in ACCOUNT.items()))


def step(
    fixed, inputs, *, guess=293.15, floor=293.15, ratio=0.007, masses=(), room=None, final_ratio=None
) -> Step:
    """Open a step at the guess and close it at `room`."""
    old = np.asarray(masses, dtype=float)
    work = np.full(kernels.work_size(fixed), np.nan)
    out, flows = np.full(kernels.OUT, np.nan), np.full(kernels.FLOWS, np.nan)
    temperatures = np.full(1 + 2 * fixed.area.size + old.size, np.nan)
    new = old.copy()
    passes = kernels.open_house(fixed, old, inputs, guess, floor, ratio, work, out)
    kernels.close_house(
        fixed, old, inputs, work, guess if room is None else room, floor,
        ratio if final_ratio is None else final_ratio, new, flows, temperatures,
    )  # fmt: skip
    count = fixed.area.size
    return Step(
        out, flows, temperatures[0], temperatures[1 : 1 + count], temperatures[1 + count : 1 + 2 * count],
        temperatures[1 + 2 * count :], new, passes, work,
    )  # fmt: skip


def natural(air: float, face: float, cosine: float) -> float:
    """Heat [W/m2] of still air to a face by the turbulent relations of the handbook, written anew."""
    difference = air - face
    rising = difference * cosine > 0.0
    factor = 9.482 / (7.283 - abs(cosine)) if rising else 1.810 / (1.382 + abs(cosine))
    return factor * np.sign(difference) * abs(difference) ** (4.0 / 3.0)


def faces_by_root(fixed, inputs, *, room: float, floor: float) -> tuple[np.ndarray, np.ndarray, float]:
    """Inside and outside faces and node of a dry house without masses, from its nonlinear balance at once."""
    count = fixed.area.size
    air, sky, wind = inputs[kernels.OUTSIDE], inputs[kernels.SKY], inputs[kernels.WIND]
    let_in = inputs[kernels.HEAD : kernels.HEAD + count]
    taken = inputs[kernels.HEAD + count :]
    covered = np.where(fixed.cover_resistance > 0.0, inputs[kernels.COVER], 0.0)
    through = (1 - covered) / fixed.resistance + covered / (fixed.resistance + fixed.cover_resistance)

    def miss(unknown):
        inner, outer, star = unknown[:count], unknown[count : 2 * count], unknown[-1]
        residuals = []
        node = fixed.floor_radiant * SIGMA * (floor**4 - star**4)
        for i in range(count):
            warms_inside = (1 - covered[i]) * fixed.sun_inside[i] * taken[i]
            stays_outside = taken[i] - warms_inside + covered[i] * let_in[i]
            long_wave = fixed.radiant[i] / fixed.area[i] * SIGMA * (star**4 - inner[i] ** 4)
            passing = through[i] * (inner[i] - outer[i])
            view = ((1 + fixed.cosine[i]) / 2) ** 1.5
            away = (4 + 4 * wind) * (outer[i] - air)
            away += fixed.emissivity[i] * SIGMA * view * (outer[i] ** 4 - sky**4)
            away += fixed.emissivity[i] * SIGMA * (1 - view) * (outer[i] ** 4 - air**4)
            residuals.append(natural(room, inner[i], fixed.cosine[i]) + long_wave + warms_inside - passing)
            residuals.append(passing + stays_outside - away)
            node -= fixed.area[i] * long_wave
        return [*residuals, node]

    begin = np.concatenate([np.full(count, 0.6 * room + 0.4 * air), np.full(count, air + 1.0), [room]])
    found = root(miss, begin, method="hybr", tol=1e-12)
    assert np.max(np.abs(miss(found.x))) < 1e-6
    return found.x[:count], found.x[count : 2 * count], float(found.x[-1])
