"""One-dimensional solutions of H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed. (1959).

Formulas from memory; numbers evaluated apart from this program. Solid: 1.5 W/(m.K), 2.0 MJ/(m3.K). The
section is a strip without ducts, advanced by the scheme and at the cells of an ordinary run; each group ends
with the same at a quarter of the cells, whose errors must be some sixteen times smaller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from simulator.section.layout import Solid
from tests.published.cases import run
from tests.published.conduction import (
    DAY,
    DIFFUSIVITY,
    FIXED,
    GROUND,
    HOUR,
    block,
    floor_surface,
    loads_of,
    march,
    profile,
)
from tests.published.registry import RECOMPUTED, Row, check, verify

SOURCE = "Carslaw & Jaeger (1959)"
FINE = 0.25

# erfc(eta), section 2.4.
STEP = {0.1: 0.887537, 0.25: 0.723674, 0.5: 0.479500, 1.0: 0.157299, 2.0: 0.004678}
# Section 2.7, film 10 W/(m2.K): hours -> surface, 0.10 m, 0.20 m.
WARMED = {
    1: (0.29621, 0.03256, 0.00085),
    4: (0.47124, 0.19132, 0.05554),
    8: (0.56683, 0.31537, 0.14886),
    12: (0.62146, 0.39333, 0.22330),
}
# Section 3.11, slab of 0.2 m, adiabatic back, film 10 W/(m2.K): hours -> back, middle, surface.
SLAB = {
    1: (0.998303, 0.967435, 0.703790),
    8: (0.701282, 0.623720, 0.407633),
    24: (0.264062, 0.234759, 0.153352),
}
# Section 2.6, surface swinging daily: depth [m] -> amplitude and lag [h].
WAVE = {0.05: (0.70600, 1.3298), 0.10: (0.49843, 2.6596), 0.20: (0.24844, 5.3192), 0.30: (0.12383, 7.9788)}
# Section 2.6, air swinging daily over a film of 10 W/(m2.K): amplitude and lag [h] of the surface.
WAVE_FILM = (0.43559, 1.8041)
DAMPING_DEPTH = 0.14362
"""sqrt(a P / pi) [m], daily."""


def step_rows(cell_scale: float = 1.0, solid: Solid = GROUND) -> Iterator[Row]:
    operators = block(0.05, 3.0, cell_scale=cell_scale, solid=solid)
    load = loads_of(operators, floor=1.0)
    end = 8 * HOUR
    legs = [(end / 1280, 8), (end / 160, 159)]
    *_, (_, cells) = march(operators, np.zeros(operators.cells), legs, lambda _: load)
    found = profile(operators, cells, 1.0)
    for eta, published in STEP.items():
        ours = float(found(2.0 * eta * math.sqrt(DIFFUSIVITY * end)))
        yield Row(f"step of surface temperature, x = {2 * eta:g} sqrt(a t)", ours, published, 0.002)


def film_rows(cell_scale: float = 1.0, film: float = 10.0) -> Iterator[Row]:
    operators = block(0.05, 3.0, film=film, cell_scale=cell_scale)
    load = loads_of(operators, floor=1.0)
    legs = [(37.5, 8), (300.0, 143)]
    for time, cells in march(operators, np.zeros(operators.cells), legs, lambda _: load):
        hours = round(time / HOUR, 6)
        if hours in WARMED:
            found = profile(operators, cells, 1.0)
            for place, published in zip((0.0, 0.1, 0.2), WARMED[hours], strict=True):
                name = f"{place:.2f} m deep" if place else "surface"
                yield Row(
                    f"step of air over a film: {name}, {hours:g} h", float(found(place)), published, 0.002
                )


def slab_rows(cell_scale: float = 1.0, thickness: float = 0.2) -> Iterator[Row]:
    operators = block(0.05, thickness, film=10.0, cell_scale=cell_scale)
    load = loads_of(operators, floor=0.0)
    legs = [(37.5, 8), (300.0, 287)]
    for time, cells in march(operators, np.ones(operators.cells), legs, lambda _: load):
        hours = round(time / HOUR, 6)
        if hours in SLAB:
            found = profile(operators, cells, 0.0)
            for place, name, published in zip(
                (0.2, 0.1, 0.0), ("back", "middle", "surface"), SLAB[hours], strict=True
            ):
                yield Row(f"cooling slab: {name}, {hours:g} h", float(found(place)), published, 0.004)


def swing(times: list[float], values: list[float]) -> tuple[float, float]:
    """Amplitude, and lag [h] behind a cosine, of a daily wave."""
    angle = 2.0 * math.pi / DAY * np.array(times)
    parts = np.column_stack((np.cos(angle), np.sin(angle), np.ones_like(angle)))
    cosine, sine, _ = np.linalg.lstsq(parts, np.array(values), rcond=None)[0]
    return float(np.hypot(cosine, sine)), float(np.mod(np.arctan2(sine, cosine) / (2 * math.pi) * 24.0, 24.0))


def wave_rows(cell_scale: float = 1.0, film: float = FIXED) -> Iterator[Row]:
    operators = block(0.05, 2.0, film=film, cell_scale=cell_scale)
    amplitude, lag = (1.0, 0.0) if film == FIXED else WAVE_FILM
    # The exact wave at the start leaves nothing to die away but the error of the mesh.
    depth = operators.cell_depth / DAMPING_DEPTH
    start = amplitude * np.exp(-depth) * np.cos(depth + 2.0 * math.pi * lag / 24.0)
    places = [0.0] if film != FIXED else list(WAVE)
    times, values = [], []
    for time, cells in march(
        operators, start, [(600.0, 288)], lambda t: loads_of(operators, floor=math.cos(2 * math.pi * t / DAY))
    ):
        if time > DAY:
            air = math.cos(2.0 * math.pi * time / DAY)
            found = profile(operators, cells, air)
            times.append(time)
            values.append([float(found(z)) if z else floor_surface(operators, cells, air) for z in places])
    for number, place in enumerate(places):
        published = WAVE[place] if place else WAVE_FILM
        ours = swing(times, [row[number] for row in values])
        name = f"daily wave, {place:.2f} m deep" if place else "daily wave of air over a film, surface"
        yield Row(f"{name}: amplitude", ours[0], published[0], 0.002)
        yield Row(f"{name}: lag", ours[1], published[1], 0.06 if place else 0.01, "h", 3)


def case_rows(solver: str, film: str = "1e9 W/(m2.K)") -> Iterator[Row]:
    """A whole run whose outside air swings; read in the ground 3 m beside the building, every hour."""
    found = run(
        site={"duration": "6 days"},
        weather={"kind": "daily wave", "mean": "0 degC", "amplitude": "10 K", "warmest_at": "00:00"},
        ground={"outside_width": "4 m", "outside_film": film},
        fan={"mass_flow": "0.001 kg/s"},
        heat={"kind": "none"},
        timetable={"start": {"fan": "off"}},
        numerics={"stations": 1, "step": "10 min", "solver": solver},
        output={"interval": "1 h", "fields": "1 h"},
    )
    last = found["field_time"] > 5 * DAY
    fields = found["ground_temperature"][last, 0, :, np.argmin(np.abs(found["section_across"] - 4.5))]
    air = 10.0 * np.cos(2.0 * math.pi * found["field_time"][last] / DAY)
    depth = np.concatenate(([0.0], found["section_depth"]))
    curves = [CubicSpline(depth, np.concatenate(([top], row))) for top, row in zip(air, fields, strict=True)]
    for place in (0.10, 0.20):
        values = [float(curve(place)) for curve in curves]
        ours = swing(found["field_time"][last].tolist(), values)
        name = f"daily wave beside the building ({solver} solver), {place:.2f} m deep"
        yield Row(f"{name}: amplitude", ours[0] / 10.0, WAVE[place][0], 0.002)
        yield Row(f"{name}: lag", ours[1], WAVE[place][1], 0.06, "h", 3)


def finest(name: str, rows: Iterable[Row], within: float) -> Row:
    """Largest error of a group at quarter cells, leaving out lags."""
    worst = max(abs(row.ours - row.published) for row in rows if not row.unit)
    return Row(f"{name}: largest error with cells quartered", worst, 0.0, within)


@check(f"{SOURCE} 2.4", RECOMPUTED)
def step_of_surface() -> Iterable[Row]:
    yield from step_rows()
    yield finest("step of surface temperature", step_rows(FINE), 2e-4)


@check(f"{SOURCE} 2.7", RECOMPUTED)
def step_over_film() -> Iterable[Row]:
    yield from film_rows()
    yield finest("step of air over a film", film_rows(FINE), 2e-4)


@check(f"{SOURCE} 3.11", RECOMPUTED)
def cooling_slab() -> Iterable[Row]:
    yield from slab_rows()
    yield finest("cooling slab", slab_rows(FINE), 3e-4)


@check(f"{SOURCE} 2.6", RECOMPUTED)
def daily_wave() -> Iterable[Row]:
    yield from wave_rows()
    yield from wave_rows(film=10.0)
    yield finest("daily wave", wave_rows(FINE), 2e-4)


@check(f"{SOURCE} 2.6", RECOMPUTED)
def daily_wave_of_a_case() -> Iterable[Row]:
    yield from case_rows("full")
    yield from case_rows("reduced")


@pytest.mark.parametrize(
    "checked",
    [step_of_surface, step_over_film, cooling_slab, daily_wave, daily_wave_of_a_case],
    ids=lambda each: each.name,
)
def test_solutions(checked) -> None:
    checked.verify()


@pytest.mark.parametrize(
    "rows",
    [
        lambda: step_rows(solid=Solid("ground", 1.6, 2.0e6)),
        lambda: film_rows(film=10.5),
        lambda: slab_rows(thickness=0.205),
        lambda: wave_rows(film=10.5),
        lambda: case_rows("full", film="200 W/(m2.K)"),
    ],
)
def test_planted_errors_are_found(rows) -> None:
    with pytest.raises(AssertionError):
        verify(rows())


def test_error_falls_with_the_square_of_the_cells() -> None:
    coarse, fine = (max(abs(row.ours - row.published) for row in film_rows(scale)) for scale in (1.0, 0.5))
    # Steps are short enough to leave the mesh's error alone; order 2 gives a ratio of 4.
    assert 3.0 < coarse / fine < 5.0
