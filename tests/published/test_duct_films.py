"""Film coefficient inside ducts.

V. Gnielinski, On heat transfer in tubes, Int. J. Heat Mass Transfer 63 (2013) 134-140, with Konakov's
friction (VDI Heat Atlas, 2010, section G1): formulas from memory, numbers evaluated apart from this program,
Prandtl number 0.71. Y. A. Cengel, Heat Transfer, example of hot-air ducts through an attic, from memory; its
numbers were recomputed and agree to 0.2 %.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import pytest

from simulator.physics import internal_flow, internal_flow_kernels
from tests.published.cases import run
from tests.published.registry import MEMORY, RECOMPUTED, Row, check, verify

PRANDTL = 0.71
KONAKOV = {3e3: 0.04416, 4e3: 0.04026, 5e3: 0.03758, 1e4: 0.03078, 2e4: 0.02567, 5e4: 0.02065, 1e5: 0.01778}
DEVELOPED = {3e3: 9.708, 4e3: 13.136, 5e3: 16.226, 1e4: 29.295, 2e4: 50.730, 5e4: 103.45, 1e5: 177.95}
# Mean over 100 diameters, wall of one temperature, flow and temperature developing.
MEAN = {
    500: 3.852, 1000: 4.118, 2000: 4.658, 2300: 4.813, 3000: 8.491, 4000: 13.745, 6000: 19.982, 10000: 30.655
}  # fmt: skip


@check("Konakov's friction, VDI Heat Atlas (2010) G1", RECOMPUTED)
def smooth_friction() -> Iterable[Row]:
    for reynolds, published in KONAKOV.items():
        ours = float(internal_flow.smooth_turbulent_friction(reynolds))
        yield Row(f"friction of a smooth duct, Re {reynolds:g}", ours, published, 6e-6)


def developed_rows(prandtl: float = PRANDTL) -> Iterator[Row]:
    for reynolds, published in DEVELOPED.items():
        ours = internal_flow_kernels.turbulent_nusselt(reynolds, prandtl)
        yield Row(
            f"developed Nusselt number, Re {reynolds:g}", ours, published, round(7e-5 * published, 5), "", 3
        )


@check("Gnielinski with Konakov's friction, VDI Heat Atlas (2010) G1", RECOMPUTED)
def developed_nusselt() -> Iterable[Row]:
    yield from developed_rows()


@check("Gnielinski, Int. J. Heat Mass Transfer 63 (2013) 134", RECOMPUTED)
def mean_nusselt() -> Iterable[Row]:
    for reynolds, published in MEAN.items():
        ours = float(internal_flow.mean_nusselt(reynolds, PRANDTL, 0.1, 10.0))
        yield Row(f"mean Nusselt number over 100 diameters, Re {reynolds}", ours, published, 6e-4, "", 3)


SIDE, LENGTH = 0.2, 8.0
FLOW = 0.15 * 0.9994
"""Mass flow of the example, by its own density [kg/s]."""


def attic_rows(length: float = LENGTH) -> Iterator[Row]:
    """Square duct of 0.2 m, 8 m long, air 80 degC at 0.15 m3/s, walls 60 degC; the book has Dittus-Boelter.

    A round duct of the same hydraulic diameter and velocity carries pi/4 of the flow past pi/4 of the wall,
    so its air leaves at the same temperature: a whole run, with its own film and walls held by the ground.
    """
    found = run(
        site={"duration": "1 min"},
        weather={"kind": "constant", "temperature": "80 degC"},
        ground={
            "layers": [{"conductivity": "1000 W/(m.K)", "heat_capacity": "100 MJ/(m3.K)"}],
            "start": {"kind": "uniform", "temperature": "60 degC"},
        },
        floor={"length": f"{length} m"},
        ducts={"diameter": f"{SIDE} m", "film": None},
        fan={"mass_flow": f"{FLOW * math.pi / 4.0} kg/s", "air_heat_capacity": "1008 J/(kg.K)"},
        heat={"kind": "none"},
        numerics={"stations": 16, "step": "20 s"},
        output={"interval": "1 min", "fields": "0 h"},
    )
    ours = float(found["exit_temperature"][-1])
    # Two fits of the same kind of data, one with an entrance: films differ by 5 %, as such fits do.
    yield Row("hot-air duct through an attic: exit", ours, 71.3, 0.4, "degC", 2)
    yield Row(
        "hot-air duct through an attic: heat given off", FLOW * 1008.0 * (80.0 - ours), 1313.0, 60.0, "W", 0
    )


@check("Cengel, Heat Transfer, hot-air ducts in the attic", MEMORY)
def attic_duct() -> Iterable[Row]:
    yield from attic_rows()


@pytest.mark.parametrize(
    "checked", [smooth_friction, developed_nusselt, mean_nusselt, attic_duct], ids=lambda each: each.name
)
def test_films(checked) -> None:
    checked.verify()


def test_planted_errors_are_found() -> None:
    with pytest.raises(AssertionError):
        verify(developed_rows(prandtl=0.7102))
    with pytest.raises(AssertionError):
        verify(attic_rows(length=9.0))
