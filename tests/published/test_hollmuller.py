"""Air in a pipe through a cylinder of ground: daily and yearly waves, and a step.

P. Hollmuller, Analytical characterisation of amplitude-dampening and phase-shifting in air/soil
heat-exchangers, Int. J. Heat Mass Transfer 46 (2003) 4303-4317 (paper not seen; solution re-derived from its
statement, numbers evaluated apart from this program). The step is a Laplace inversion of the same problem.
Whole runs; the model's own air keeps no heat, so the time the air takes to pass, 3.9 s, is added to our lags.
"""

from __future__ import annotations

import functools
import math
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import iv, kv

from tests.published.cases import CAPACITY_FLOW, LENGTH, RADIUS, STEP, run
from tests.published.registry import RECOMPUTED, Row, check, verify

DAY, YEAR = 86400.0, 365.25 * 86400.0
PASSAGE = LENGTH / (0.02 / (math.pi * RADIUS**2)) / 3600.0
"""Time the air takes to pass [h]."""
REACH = 0.2
"""Radius of the adiabatic cylinder of case A [m]."""
# amplitude at the exit over that at the inlet; lag [h]
CASE_A, CASE_C, CASE_D = (0.36624, 0.6512), (0.38832, 0.4920), (0.56638, 91.22)
# hours -> exit over step of the inlet, unbounded ground
STEP_INLET = {
    0.1: 0.30940, 0.5: 0.34260, 1.0: 0.36165, 2.0: 0.38304, 4.0: 0.40601,
    8.0: 0.42964, 16.0: 0.45310, 24.0: 0.46650, 48.0: 0.48855,
}  # fmt: skip


def square(side: float) -> dict[str, dict[str, Any]]:
    """Tables of a square block with the duct in its middle."""
    return {
        "ground": {"depth": f"{side} m"},
        "floor": {"width": f"{side} m"},
        "ducts": {"depth": f"{side / 2} m"},
    }


def cylinder(radius: float, strips: int = 10) -> dict[str, dict[str, Any]]:
    """The same with everything outside a circle filled in by strips of next to no conductivity and capacity.

    The strips follow the circle in steps that keep the area of each column.
    """

    def area(y: float) -> float:
        return 0.5 * (y * math.sqrt(max(radius**2 - y**2, 0.0)) + radius**2 * math.asin(min(y / radius, 1.0)))

    edges = radius * np.sin(np.linspace(0.0, math.pi / 2.0, strips + 1))
    patches = []
    for low, high in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        height = (area(high) - area(low)) / (high - low)
        patches += [
            {
                "across_from": f"{side[0]:.6f} m", "across_to": f"{side[1]:.6f} m",
                "depth_from": f"{rows[0]:.6f} m", "depth_to": f"{rows[1]:.6f} m",
                "conductivity": "1e-6 W/(m.K)", "heat_capacity": "1 J/(m3.K)",
            }
            for side in ((low, high), (-high, -low))
            for rows in ((0.0, radius - height), (radius + height, 2.0 * radius))
        ]  # fmt: skip
    tables = square(2.0 * radius)
    tables["ground"]["patches"] = patches
    return tables


def swing(found: dict[str, NDArray[Any]], period: float) -> tuple[float, float]:
    """Amplitude and lag [h] of the exit air over the last period, for a cosine of STEP at the inlet."""
    last = found["time"] > found["time"][-1] - period + 1.0
    angle = 2.0 * math.pi / period * found["time"][last]
    parts = np.column_stack((np.cos(angle), np.sin(angle), np.ones_like(angle)))
    cosine, sine, _ = np.linalg.lstsq(parts, found["exit_temperature"][last], rcond=None)[0]
    lag = float(np.arctan2(sine, cosine)) / (2.0 * math.pi) * period / 3600.0
    return float(np.hypot(cosine, sine)) / STEP, lag + PASSAGE


def by_series(
    period: float, periods: int, tables: dict[str, dict[str, Any]], *, step: str, **numerics: float
) -> tuple[float, float]:
    """A run whose inlet follows a table of values, a cosine."""
    rows = 144 if period == DAY else 360
    moments = np.arange(periods * rows + 1) * period / rows
    values = STEP * np.cos(2.0 * math.pi * moments / period)
    lines = [f"{moment:.0f},{value:.7f}" for moment, value in zip(moments, values, strict=True)]
    columns = {"time": {"column": "moment", "unit": "s"}, "temperature": {"column": "air", "unit": "degC"}}
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "inlet.csv").write_text("\n".join(["moment,air", *lines]), encoding="utf-8")
        found = run(
            folder=Path(folder),
            site={"duration": f"{periods * period:.0f} s"},
            heat={"kind": "supply series", "file": "inlet.csv", "columns": columns},
            numerics={"step": step, **numerics},
            output={"interval": step, "fields": "0 h"},
            **tables,
        )
    return swing(found, period)


def wave_rows(
    name: str, ours: tuple[float, float], published: tuple[float, float], within: tuple[float, float]
) -> Iterator[Row]:
    yield Row(f"{name}: amplitude", ours[0], published[0], within[0])
    yield Row(f"{name}: lag", ours[1], published[1], within[1], "h")


SOURCE = "Hollmuller, Int. J. Heat Mass Transfer 46 (2003) 4303"


def daily_in_cylinder(film: float = 10.0) -> tuple[float, float]:
    tables = cylinder(REACH)
    tables["ducts"]["film"] = f"{film} W/(m2.K)"
    return by_series(DAY, 5, tables, step="10 min", stations=40)


@check(f"{SOURCE}, adiabatic cylinder", RECOMPUTED)
def daily_wave_in_cylinder() -> Iterable[Row]:
    yield from wave_rows(
        "daily wave, adiabatic at 0.2 m (case A)", daily_in_cylinder(), CASE_A, (8e-4, 0.003)
    )


@check(f"{SOURCE}, unbounded ground", RECOMPUTED)
def daily_wave_unbounded() -> Iterable[Row]:
    ours = by_series(DAY, 4, square(2.0), step="10 min", stations=40)
    yield from wave_rows("daily wave, unbounded ground (case C)", ours, CASE_C, (8e-4, 0.005))
    fine = by_series(DAY, 6, square(2.0), step="10 min", stations=40, cell_scale=0.5)
    yield from wave_rows("daily wave, unbounded ground, cells halved", fine, CASE_C, (2e-4, 0.0015))


@check(f"{SOURCE}, unbounded ground", RECOMPUTED)
def daily_wave_of_weather() -> Iterable[Row]:
    found = run(
        site={"duration": "4 days"},
        weather={
            "kind": "daily wave", "mean": "0 degC", "amplitude": f"{STEP} degC", "warmest_at": "00:00"
        },
        heat={"kind": "none"},
        numerics={"stations": 40, "step": "10 min"},
        output={"interval": "10 min", "fields": "0 h"},
        **square(2.0),
    )  # fmt: skip
    yield from wave_rows(
        "daily wave of outside air drawn in (case C)", swing(found, DAY), CASE_C, (8e-4, 0.005)
    )


@check(f"{SOURCE}, unbounded ground", RECOMPUTED)
def yearly_wave() -> Iterable[Row]:
    ours = by_series(YEAR, 4, square(32.0), step="6 h", stations=10)
    yield from wave_rows("yearly wave, unbounded ground (case D)", ours, CASE_D, (0.0015, 0.6))


@check(f"{SOURCE}, unbounded ground", RECOMPUTED, slow=True)
def yearly_wave_halved() -> Iterable[Row]:
    ours = by_series(YEAR, 6, square(32.0), step="6 h", stations=10, cell_scale=0.5)
    yield from wave_rows("yearly wave, unbounded ground, cells halved", ours, CASE_D, (5e-4, 0.2))


@functools.cache
def step_history(cell_scale: float = 1.0, film: float = 10.0) -> dict[float, float]:
    tables = square(4.0)
    tables["ducts"]["film"] = f"{film} W/(m2.K)"
    found = run(
        site={"duration": "48 h"},
        numerics={"stations": 40, "step": "2 min", "cell_scale": cell_scale},
        output={"interval": "6 min", "fields": "0 h"},
        **tables,
    )
    rows = {hours: int(np.argmin(np.abs(found["time"] - 3600.0 * hours))) for hours in STEP_INLET}
    assert all(found["time"][row] == 3600.0 * hours for hours, row in rows.items())
    return {hours: float(found["exit_temperature"][row]) / STEP for hours, row in rows.items()}


def step_rows(film: float = 10.0) -> Iterator[Row]:
    for hours, ours in step_history(film=film).items():
        yield Row(f"step at the inlet, exit after {hours:g} h", ours, STEP_INLET[hours], 8e-4)


@check("step at the inlet of a pipe in unbounded ground, Laplace inversion", RECOMPUTED)
def step_inlet() -> Iterable[Row]:
    yield from step_rows()
    fine = step_history(cell_scale=0.5)
    worst = max(abs(fine[hours] - published) for hours, published in STEP_INLET.items())
    yield Row("step at the inlet, largest error with cells halved", worst, 0.0, 2.5e-4)


@pytest.mark.parametrize(
    "checked",
    [daily_wave_in_cylinder, daily_wave_unbounded, daily_wave_of_weather, yearly_wave, step_inlet],
    ids=lambda each: each.name,
)
def test_pipe(checked) -> None:
    checked.verify()


@pytest.mark.slow
def test_yearly_wave_with_cells_halved() -> None:
    yearly_wave_halved.verify()


def exact_wave(period: float, reach: float = math.inf) -> tuple[float, float]:
    """Amplitude and lag from exp(-U P L / (m cp)), 1/U = 1/h + 1/Y, Y of the ground's Bessel functions."""
    q = np.sqrt(2j * math.pi / period / 0.75e-6)
    near = q * RADIUS
    if math.isinf(reach):
        admittance = 1.5 * q * kv(1, near) / kv(0, near)
    else:
        far = q * reach
        admittance = 1.5 * q * (iv(1, far) * kv(1, near) - kv(1, far) * iv(1, near))
        admittance /= kv(1, far) * iv(0, near) + iv(1, far) * kv(0, near)
    u = 1.0 / (1.0 / 10.0 + 1.0 / admittance)
    exponent = u * 2.0 * math.pi * RADIUS * LENGTH / CAPACITY_FLOW
    return math.exp(-exponent.real), exponent.imag / (2.0 * math.pi) * period / 3600.0 + PASSAGE


@pytest.mark.parametrize(
    ("period", "reach", "published"),
    [(DAY, REACH, CASE_A), (DAY, math.inf, CASE_C), (YEAR, math.inf, CASE_D)],
)
def test_formulas_give_the_stated_numbers(period, reach, published) -> None:
    assert exact_wave(period, reach) == pytest.approx(published, rel=1e-4)


def test_a_film_one_percent_out_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(step_rows(film=10.1))
    with pytest.raises(AssertionError):
        verify(wave_rows("planted", daily_in_cylinder(film=10.1), CASE_A, (8e-4, 0.003)))
